"""What was corrected in a case: what stood there first, what it says now, who says so and why."""

from collections.abc import Mapping
from typing import Any

from troubleshoot.advice.instruction import ROLE_NAMES
from troubleshoot.advice.phrases import lower_first
from troubleshoot.advice.said import AFTERWARDS
from troubleshoot.case.entries import UNLISTED, Corrected, Retract
from troubleshoot.case.journal import Entry, Journal
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.show.html.words import OUTCOME_WORDS, moment, plain

HEADS = {"closed": "How it ended", "note": "Remark", "since": "Since"}
NAMES_IT = ("finding", "circumstance", "action", "sign")
"""The key that says what an entry is about, by kind."""
NO_WORD = ("answer", "quantity", "complaint", "text", "title")
"""Keys whose values speak for themselves."""


def corrected(rules: RuleBase, journal: Journal) -> tuple[tuple[str, str], ...]:
    """When, and what in a sentence; entries that were only answered anew are left out."""
    out = []
    for entry in journal:
        said = entry.said
        if isinstance(said, Corrected | Retract) and said.why:
            by = f" Says {ROLE_NAMES[said.by]}:" if said.by else " Why:"
            first = journal[said.entry]
            now = said.to if isinstance(said, Corrected) else {}
            what = _changed(rules, first, now) if now else f"{_told(rules, first)} does not hold."
            out.append((moment(entry.at), f"{what}{by} {said.why}"))
    return tuple(out)


def _head(rules: RuleBase, entry: Entry) -> str:
    if entry.kind in NAMES_IT:
        return _value(rules, entry.kind, entry.data.get(entry.kind), entry.data)
    return HEADS.get(entry.kind, plain(entry.kind).capitalize())


def _told(rules: RuleBase, entry: Entry) -> str:
    said = {k: v for k, v in entry.data.items() if k not in (*NAMES_IT, "by", "sure")}
    return f"{_head(rules, entry)} ({_words(rules, said, entry.data)})"


def _changed(rules: RuleBase, first: Entry, now: Mapping[str, Any]) -> str:
    old = {k: v for k, v in first.data.items() if now.get(k) != v}
    new = {k: v for k, v in now.items() if first.data.get(k) != v}
    was, instead = _words(rules, old, first.data), _words(rules, new, {**first.data, **now})
    return f"{_head(rules, first)}: {instead or 'nothing'} (it said: {was or 'nothing'})."


def _words(rules: RuleBase, keys: Mapping[str, Any], whole: Mapping[str, Any]) -> str:
    return ", ".join(
        ("" if key in NO_WORD else f"{plain(key)} ") + _value(rules, key, value, whole)
        for key, value in keys.items()
    )


def _value(rules: RuleBase, key: str, value: Any, whole: Mapping[str, Any]) -> str:
    """A value as a person says it; what the rules do not know stands as it is."""
    if isinstance(value, list):
        return " and ".join(_value(rules, key, one, whole) for one in value)
    if isinstance(value, float):
        return f"{value:g}"
    pools: Mapping[str, Mapping[str, Any]] = {
        "cause": rules.causes, "complaint": rules.complaints, "finding": rules.findings,
        "circumstance": rules.circumstances, "action": rules.actions, "sign": rules.signs,
    }  # fmt: skip
    found = pools.get(key, {}).get(str(value))
    if value == UNLISTED:
        return "something not in the rule base"
    if found is not None:
        return str(found.name) if key in NAMES_IT else lower_first(found.name)
    words: Mapping[str, Mapping[str, str]] = {
        "outcome": OUTCOME_WORDS, "complaint_now": AFTERWARDS, "by": ROLE_NAMES, "role": ROLE_NAMES,
    }  # fmt: skip
    if key == "answer" and whole.get("finding") in rules.findings:
        answers = rules.findings[str(whole["finding"])].answers
        return lower_first(answers.get(str(value), plain(str(value))))
    return words.get(key, {}).get(str(value)) or plain(str(value))
