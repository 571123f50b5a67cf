"""What a journal says that cannot be, or cannot be used as it stands: said, never refused.

A conversation never writes such entries; a file, a correction or a book from elsewhere may.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from troubleshoot.case import entries
from troubleshoot.case.journal import Entry, Journal, standing
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import RuleBase


@dataclass(frozen=True)
class Odd:
    """One such thing: the number of its entry, and a sentence that says what to do."""

    entry: int
    sentence: str


def oddities(journal: Journal, rules: RuleBase, machine: Machine) -> tuple[Odd, ...]:
    """All of them, in the order of the journal. Pure."""
    kept = standing(journal)
    # An answer to what was asked of an earlier complaint stays when another one is chosen.
    complaints = [e.said.complaint for e in kept if isinstance(e.said, entries.Complaint)]
    found = [
        Odd(entry.number, text) for entry in kept for text in _of(entry, complaints, rules, machine)
    ]
    return tuple(sorted([*found, *_twice(kept, rules)], key=lambda odd: odd.entry))


def _of(
    entry: Entry, complaints: Sequence[str], rules: RuleBase, machine: Machine
) -> Iterator[str]:
    match entry.said:
        case entries.Circumstance(circumstance=name) if complaints:
            meant = rules.circumstances[name]
            if meant.complaints and set(complaints).isdisjoint(meant.complaints):
                yield (
                    f"“{meant.name}” is not asked of this complaint "
                    f"({rules.complaints[complaints[-1]].name}): look whether the complaint is the "
                    "one that is meant."
                )
        case entries.Finding(finding=name):
            finding = rules.findings[name]
            if complaints and not any(rules.is_in_world(name, c) for c in complaints):
                yield (
                    f"“{finding.name}” says nothing of this complaint "
                    f"({rules.complaints[complaints[-1]].name}): look whether the complaint is the "
                    "one that is meant."
                )
            if not machine.allows(finding.machine):
                yield (
                    f"“{finding.name}” cannot be seen on this coater as its profile has it: "
                    "correct the profile or the finding."
                )
        case entries.Action(action=name, complaint_now=outcome):
            action = rules.actions[name]
            if not machine.allows(action.machine):
                yield (
                    f"“{action.name}” cannot be done on this coater as its profile has it: correct "
                    "the profile or the action."
                )
            if action.cures and action.kind == "remedy" and outcome is None:
                yield (
                    f"“{action.name}” is a remedy, and what the complaint did then is not said: "
                    "add complaint_now (cured, better, unchanged or worse)."
                )
            if not action.cures and outcome is not None:
                yield (
                    f"“{action.name}” only looks and cures nothing, and yet the complaint is said "
                    f"to be {outcome} after it: write what was seen as findings, and what cured it "
                    "as the action."
                )
        case _:
            pass


def _twice(kept: Iterable[Entry], rules: RuleBase) -> Iterator[Odd]:
    """The same finding told and read from a log, with nothing done between."""
    told: dict[str, type] = {}
    for entry in kept:
        said = entry.said
        if isinstance(said, entries.Epoch) or (
            isinstance(said, entries.Action) and said.complaint_now is not None
        ):
            told.clear()
        names = (
            [said.finding]
            if isinstance(said, entries.Finding) and said.replaces is None
            else list(said.findings)
            if isinstance(said, entries.Reading)
            else []
        )
        for name in names:
            if told.setdefault(name, type(said)) is not type(said):
                yield Odd(
                    entry.number,
                    f"“{rules.findings[name].name}” is told and read from a log, with nothing done "
                    "between: the one that stands later counts.",
                )
            told[name] = type(said)
