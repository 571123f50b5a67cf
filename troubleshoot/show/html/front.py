"""The first page of a report: what must be seen in five seconds, and the line to sign."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from troubleshoot.advice.instruction import ROLE_NAMES, Box
from troubleshoot.advice.page import CasePage
from troubleshoot.advice.phrases import lower_first
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.known import Seen
from troubleshoot.knowledge.model import RuleBase, Term
from troubleshoot.readings.quantity import in_lab_unit
from troubleshoot.show.html.paper import drawn
from troubleshoot.show.html.words import OUTCOME_WORDS

PROVED_BY_THEM = (
    "The person in charge, or qualified service, looks at the repair and records that it is proved."
)
MOST_FOUND = 4


@dataclass(frozen=True)
class Seeable:
    """An answer with a picture of it, as an address."""

    text: str
    picture: str


def pictures(case: Deduction, name: str) -> tuple[Seeable, ...]:
    """The answers of a finding that are drawn."""
    finding = case.rules.findings[name]
    found = (
        (text, drawn(case.rules, finding.drawings.get(a))) for a, text in finding.answers.items()
    )
    return tuple(Seeable(text, address) for text, address in found if address)


def picture_of(rules: RuleBase, seen: Seen) -> str | None:
    """The picture of what was seen, as an address."""
    return drawn(rules, rules.findings[seen.finding].drawings.get(seen.answer))


def hazards(page: CasePage) -> tuple[Box, ...]:
    """The cautions of the next step, in their short form; what stops or bans stands above it."""
    return _plain(box for box in page.cautions if box.id in page.step.hazards)


def beside(page: CasePage) -> tuple[Box, ...]:
    """The other cautions in force."""
    return _plain(box for box in page.cautions if box.id not in page.step.hazards)


def _plain(boxes: Iterable[Box]) -> tuple[Box, ...]:
    return tuple(box for box in boxes if not (box.stop or box.danger))


def proof(page: CasePage) -> str:
    """How a cure of what the verdict names is proved; empty where there is nothing to prove."""
    if page.dangers:
        return PROVED_BY_THEM
    cure = page.found.remedy if page.found else None
    if cure is None or not cure.do.proof:
        return ""
    sure = cure.above or (page.found is not None and page.found.verdict.settled)
    return cure.do.proof if sure else f"Once something was put right: {lower_first(cure.do.proof)}"


def outcome(case: Deduction) -> tuple[tuple[str, str], ...]:
    """How the case was closed, as label and text; empty while it is open."""
    closed = case.known.closed
    if closed is None:
        return ()
    out = [("Outcome", OUTCOME_WORDS[closed.outcome])]
    for name in closed.causes:
        cause = case.rules.causes.get(name)
        out.append(("Cause", cause.name if cause else "a cause not in this rule base"))
    more = (("Proved by", closed.proved_by), ("Closed by", closed.by), ("Note", closed.note))
    out += [(label, _named(case.rules, text)) for label, text in more if text]
    figures = (
        ("Minutes spent", closed.minutes, ""), ("Coater stood still", closed.downtime, " h"),
        ("Cost", closed.cost, ""),
    )  # fmt: skip
    out += [(label, f"{n:g}{unit}") for label, n, unit in figures if n is not None]
    return (*out, ("Part used", closed.part)) if closed.part else tuple(out)


def ended(page: CasePage) -> str:
    """What a closed case came to, in a sentence of the past."""
    closed = page.case.known.closed
    assert closed is not None
    causes = page.case.rules.causes
    names = [
        causes[c].name if c in causes else "something not in this rule base" for c in closed.causes
    ]
    was = f"It was: {' and '.join(lower_first(n) for n in names)}" if names else ""
    if closed.outcome == "cured":
        text = f"{was or 'It was put right'}."
        return text if closed.is_proved or not was else f"{text} This was not proved."
    said = {
        "workaround": "It was got round; the cause was still there.",
        "service": "It was handed to service.",
        "normal": "Nothing was wrong.",
        "comes_and_goes": "It came and went: it was to be looked at again when it showed.",
        "unsolved": "It was closed without an answer.",
    }[closed.outcome]
    return f"{said} {was}." if was else said


def found_then(page: CasePage) -> tuple[str, ...]:
    """What spoke most for the cause of a closed case, in the lab's unit."""
    grounds = page.found.grounds if page.found else None
    rows = sorted(grounds.rows if grounds else (), key=lambda r: -r.decibans)
    return tuple(
        f"{row.name}: {row.quantity or lower_first(row.answer)}"
        for row in rows[:MOST_FOUND]
        if row.decibans >= 1
    )


def done_then(case: Deduction) -> tuple[str, ...]:
    """The remedies that were done, in order."""
    names = (case.rules.actions[d.action].name for d in case.known.treatments if d is not None)
    return tuple(dict.fromkeys(names))


def _named(rules: RuleBase, text: str) -> str:
    """An id of an action or a role by its name, other text as it is."""
    action = rules.actions.get(text)
    return action.name if action else ROLE_NAMES.get(text, text)


def sign_off(case: Deduction) -> tuple[tuple[str, str], ...]:
    """The line to sign: the coater is known, the rest is written by hand."""
    return (("Coater", case.machine.name), ("Date", ""), ("Role", ""), ("Name", ""))


def bases(case: Deduction) -> str:
    """The base pressures before and after what was done, with the load they were read at."""
    read = [s for s in case.seen if s.finding in ("base_loaded", "base_empty") and s.quantity]
    before = [s for s in read if s.epoch == 0]
    after = [s for s in read if s.epoch == case.known.epoch and s.epoch > 0]
    if not after:
        return ""
    return (
        f"Base pressure before: {_base(case, before) or 'not read'}; after: {_base(case, after)}."
    )


def _base(case: Deduction, seen: list[Seen]) -> str:
    findings = case.rules.findings
    return ", ".join(
        f"{in_lab_unit(findings[s.finding], s.quantity or '', case.machine)} "
        f"{s.finding.removeprefix('base_')}"
        for s in seen
    )


def explained(page: CasePage) -> tuple[Term, ...]:
    """The words of the trade that stand on the first page or in the evidence, by name."""
    case, found, step = page.case, page.found, page.step
    said = [step.say, proof(page), *(step.do.steps if step.do else ())]
    said += [text for box in page.cautions for text in (box.text, box.hazard)]
    if case.known.complaint:
        said.append(case.rules.complaints[case.known.complaint].name)
    if page.today:
        said.append(page.today.note)
    if found:
        said += [found.verdict.sentence, *(f"{bar.name} {bar.what}" for bar in found.bars)]
        said += [
            f"{row.name} {row.answer}" for row in (found.grounds.rows if found.grounds else ())
        ]
    text = " ".join(said)
    used = (t for t in case.rules.words.values() if _stands_in(text, (t.name, *t.also)))
    return tuple(sorted(used, key=lambda term: term.name))


def _stands_in(text: str, words: Iterable[str]) -> bool:
    """Whether one of the words stands there, in the singular or the plural."""
    any_of = "|".join(re.escape(word) for word in words)
    return re.search(rf"\b(?:{any_of})s?\b", text, re.IGNORECASE) is not None
