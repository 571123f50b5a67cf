"""Going back: the last answer is taken back with the marks around it, the opening included."""

from troubleshoot.case import entries
from troubleshoot.case.journal import Entry, standing
from troubleshoot.talk.talk import Talk

STAYS = (entries.Sign, entries.MadeSafe)
"""A danger sign is not taken back by going back: the person in charge records the repair."""
BEGINS = (
    entries.Opened, entries.Role, entries.Specimen, entries.State, entries.MachineMeant,
    entries.Complaint, *STAYS,
)  # fmt: skip
"""What a case file or the opening says first: no question of the turns brought it."""


def go_back(talk: Talk) -> None:
    """Retract the last answer, or the last question of the opening with all that it brought."""
    said = standing(talk.journal)
    gone = _last(said) or _last_of_opening(said)
    if not gone:
        talk.teller.line("There is nothing to go back to.")
    for entry in gone:
        talk.add(entries.Retract(entry=entry.number))


def _last(said: list[Entry]) -> list[Entry]:
    """The last answer after the opening, with the marks around it.

    Marks are that a check was done, and what was ticked in a list.
    """
    gone = []
    for entry in reversed(said):
        if isinstance(entry.said, (entries.Opening, *BEGINS)):
            break
        gone.append(entry)
        done = isinstance(entry.said, entries.Action) and not entry.said.treats
        if not done and not isinstance(entry.said, entries.Circumstance):
            break
    return gone


def _last_of_opening(said: list[Entry]) -> list[Entry]:
    """The mark of the last opening question and what was said to it; nothing where that stays."""
    marks = [n for n, entry in enumerate(said) if isinstance(entry.said, entries.Opening)]
    if not marks:
        return []
    first = marks[-2] + 1 if len(marks) > 1 else 0
    gone = [e for e in said[first:] if not isinstance(e.said, entries.Opened)]
    if any(isinstance(e.said, STAYS) for e in gone):
        return []
    return gone[::-1]
