"""What the lab's closed cases change: the rates before and after, and how many stand behind it."""

from collections.abc import Iterator, Mapping
from typing import Any

from troubleshoot.advice.phrases import lower_first
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.reasoning.learned import (
    NOTHING_WRONG,
    Tally,
    cure_learned,
    ends_by_rules,
    ends_learned,
)
from troubleshoot.show.cases import names_of
from troubleshoot.show.html.words import book_words
from troubleshoot.show.teller import TerminalTeller

MOST = 8
"""Ends of a complaint that are shown: those that moved most."""


def as_object(rules: RuleBase, machine: Machine, tally: Tally) -> dict[str, Any]:
    """Every end of each complaint and every remedy: by the rules, now, and what was counted."""
    return {
        "book": tally.hash,
        "cases": tally.cases,
        "coater": machine.name,
        "complaints": {
            complaint: [
                {"end": end, "rules": p, "now": now, "here": here, "other_coaters": lab}
                for end, p, now, here, lab in _ends(rules, machine, complaint, tally)
            ]
            for complaint in _complaints(rules, tally)
        },
        "remedies": [
            {"remedy": a, "cause": c, "rules": p, "now": now, "tried": n, "cured": k}
            for a, c, p, now, n, k in _cures(rules, tally)
        ],
    }


def show(rules: RuleBase, machine: Machine, tally: Tally, out: TerminalTeller) -> None:
    """Print the same, the ends that moved most of each complaint."""
    names = names_of(rules) | {NOTHING_WRONG: "nothing is wrong"}
    out.title(f"What is reckoned with for {machine.name}: {book_words(tally)}")
    out.small("A case counts less the older it is, and half if nobody proved what it was.")
    for complaint in _complaints(rules, tally):
        out.title(rules.complaints[complaint].name)
        out.line("   rules     now   here  others")
        rows = sorted(_ends(rules, machine, complaint, tally), key=lambda r: -abs(r[2] - r[1]))
        for end, p, now, here, lab in sorted(rows[:MOST], key=lambda r: -r[2]):
            counts = f"{here:6.2g} {lab:7.2g}"
            out.line(f"{100 * p:6.1f} %{100 * now:6.1f} %{counts}  {lower_first(names[end])}")
    cures = list(_cures(rules, tally))
    if cures:
        out.title("How often a remedy cured")
        out.line("   rules     now  cured of tried")
        for action, cause, p, now, tried, cured in cures:
            what = f"{lower_first(names[cause])}: {lower_first(rules.actions[action].name)}"
            out.line(f"{100 * p:6.1f} %{100 * now:6.1f} %  {cured:5.2g} of {tried:<5.2g} {what}")


def _complaints(rules: RuleBase, tally: Tally) -> list[str]:
    """The complaints of which cases were counted, most first."""

    def cases(complaint: str) -> float:
        return sum(sum(place.get(complaint, {}).values()) for place in (tally.here, tally.lab))

    there = (tally.here.keys() | tally.lab.keys()) & rules.complaints.keys()
    return sorted(there, key=lambda q: (-cases(q), q))


def _ends(
    rules: RuleBase, machine: Machine, complaint: str, tally: Tally
) -> Iterator[tuple[str, float, float, float, float]]:
    now = ends_learned(rules, machine, complaint, tally)
    here: Mapping[str, float] = tally.here.get(complaint, {})
    lab: Mapping[str, float] = tally.lab.get(complaint, {})
    for end, p in ends_by_rules(rules, machine, complaint).items():
        yield end, p, now[end], here.get(end, 0.0), lab.get(end, 0.0)


def _cures(rules: RuleBase, tally: Tally) -> Iterator[tuple[str, str, float, float, float, float]]:
    for action, row in sorted(tally.cures.items()):
        by_rules = rules.actions[action].cures if action in rules.actions else {}
        for cause, (tried, cured) in sorted(row.items()):
            if cause in by_rules:
                now = cure_learned(rules, action, cause, tally)
                yield action, cause, by_rules[cause], now, tried, cured
