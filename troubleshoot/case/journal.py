"""The journal of a case: an append-only list of what was reported, observed, measured and done.

Nothing is ever changed or taken out. Going back appends an entry that retracts an earlier one; a
second look at the same thing in the same epoch appends one that says it `replaces` the first.
Everything else about a case is computed from its journal.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property
from itertools import pairwise
from typing import Any

from troubleshoot.case.entries import (
    CORRECTABLE,
    Action,
    Closed,
    Corrected,
    Epoch,
    Finding,
    Retract,
    Said,
    said_of,
)
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import RuleBase

MOST = 1000
"""Entries of the longest case, some twenty times as many as people write: all of them are read
again after every answer."""


@dataclass(frozen=True)
class Entry:
    """One line of the journal as it is kept: number (from 0), when it was made, kind and keys."""

    number: int
    at: str
    kind: str
    data: Mapping[str, Any]

    @property
    def time(self) -> datetime:
        """When it was made."""
        return datetime.fromisoformat(self.at)

    @cached_property
    def said(self) -> Said:
        """What it says. Raises `UserError` if there is no such kind, or a key is wrong."""
        return said_of(self.kind, self.data)


Journal = tuple[Entry, ...]
SUMMER = timedelta(hours=2)
"""No clock goes back by more where summer time ends (IANA time zone database: Antarctica/Troll)."""


def append(journal: Journal, at: str, kind: str, rule_base: RuleBase, **data: Any) -> Journal:
    """`enter` what comes as a kind and keys, from a file. Raises `UserError` as that does."""
    return enter(journal, at, said_of(kind, data), rule_base)


def enter(journal: Journal, at: str, said: Said, rules: RuleBase) -> Journal:
    """The journal with one entry more. Raises `UserError` if the entry cannot stand."""
    entry = Entry(len(journal), at, said.kind, said.record())
    _must_have_room(entry.number, entry.kind)
    check(entry, journal, rules)
    return (*journal, entry)


def standing(journal: Journal) -> list[Entry]:
    """The entries that have not been retracted, in order, each as it was corrected last."""
    gone: set[int] = set()
    instead: dict[int, Mapping[str, Any]] = {}
    for entry in reversed(journal):
        if entry.number in gone:
            continue
        if entry.kind == Retract.kind:
            gone.add(int(entry.data["entry"]))
        elif entry.kind == Corrected.kind:
            instead.setdefault(int(entry.data["entry"]), entry.data["to"])
    return [
        replace(e, data=instead[e.number]) if e.number in instead else e
        for e in journal
        if e.number not in gone and e.kind not in (Retract.kind, Corrected.kind)
    ]


def set_back(journal: Journal) -> Entry | None:
    """The first entry that is dated hours before the one made before it: a clock was wrong."""
    for before, entry in pairwise(journal):
        if before.time.replace(tzinfo=None) - entry.time.replace(tzinfo=None) > SUMMER:
            return entry
    return None


def check(entry: Entry, journal: Journal, rules: RuleBase) -> None:
    """Raise `UserError` unless `entry` is well formed and fits the journal so far."""
    said = entry.said
    said.must_fit(rules)
    if isinstance(said, Finding):
        earlier = latest_in_epoch(journal, said.finding)
        if earlier is not None and said.replaces != earlier.number:
            raise UserError(
                f"{said.finding}: it was already answered in this epoch (entry {earlier.number}); "
                "say that this answer replaces it, or enter what was done in between."
            )
    if isinstance(said, Retract | Corrected) and not 0 <= said.entry < entry.number:
        raise UserError(f"{said.kind}: there is no earlier entry number {said.entry}.")
    if isinstance(said, Corrected):
        _corrected(said, journal).must_fit(rules)


def _must_have_room(number: int, kind: str) -> None:
    """Raise `UserError` for an entry too many; a full case can still be closed."""
    if number >= MOST and kind != Closed.kind:
        raise UserError(
            f"A case holds at most {MOST} entries: close this one, and open another for what "
            "comes next."
        )


def _corrected(said: Corrected, journal: Journal) -> Said:
    """What an entry says instead. Raises `UserError` where it may not be corrected, or not so."""
    first = next((e for e in standing(journal) if e.number == said.entry), None)
    if first is None or not isinstance(first.said, CORRECTABLE):
        names = ", ".join(kind.kind for kind in CORRECTABLE)
        raise UserError(
            f"corrected: entry {said.entry} cannot be corrected; only what stands of these can: "
            f"{names}."
        )
    better = said_of(first.kind, said.to)
    if isinstance(first.said, Finding) and first.data["finding"] != said.to["finding"]:
        raise UserError("corrected: a finding stays what it is, only its answer is corrected.")
    return better


def latest_in_epoch(journal: Journal, finding: str) -> Entry | None:
    """The standing entry on `finding` since the last treatment, or None."""
    for entry in reversed(standing(journal)):
        said = entry.said
        if isinstance(said, Epoch) or (isinstance(said, Action) and said.treats):
            return None
        if isinstance(said, Finding) and said.finding == finding:
            return entry
    return None


def check_all(journal: Journal, rules: RuleBase) -> None:
    """Raise `UserError` when a kept journal does not fit the rules (they may have changed).

    What was corrected or taken back need not: that is the way out where a name is known no longer.
    """
    stands = {entry.number: entry for entry in standing(journal)}
    for entry in journal:
        try:
            if entry == stands.get(entry.number) or isinstance(entry.said, Retract):
                check(entry, journal[: entry.number], rules)
            elif entry.number in stands:
                stands[entry.number].said.must_fit(rules)
            elif isinstance(entry.said, Corrected):
                _corrected(entry.said, journal[: entry.number])
        except UserError as error:
            raise UserError(
                f"Entry {entry.number} does not fit these rules ({str(error).rstrip('.')}): they "
                "have changed since; correct that entry, or read the case with the rules "
                f"{journal[0].data.get('rules')}."
            ) from None


def as_records(journal: Journal) -> list[dict[str, Any]]:
    """The journal as plain records, for storage and export."""
    return [{"number": e.number, "at": e.at, "kind": e.kind, "data": dict(e.data)} for e in journal]


def from_records(records: Any) -> Journal:
    """The journal that plain records hold. Raises `UserError` where they hold none."""
    if not isinstance(records, list):
        raise UserError("The journal is no list of entries.")
    journal = []
    for number, kept in enumerate(records):
        try:
            entry = Entry(number, datetime.fromisoformat(kept["at"]).isoformat(timespec="seconds"),
                          kept["kind"], kept["data"])  # fmt: skip
            same = kept["number"] == number
        except (KeyError, TypeError, ValueError):
            raise UserError(f"Entry {number} of the journal is damaged.") from None
        if not same:
            raise UserError(f"Entry {number} of the journal is missing.")
        if not (isinstance(entry.kind, str) and isinstance(entry.data, Mapping)):
            raise UserError(f"Entry {number} of the journal is damaged.")
        _must_have_room(number, entry.kind)
        said_of(entry.kind, entry.data)
        journal.append(entry)
    return tuple(journal)
