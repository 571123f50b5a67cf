"""The journal of a case: an append-only list of what was reported, observed, measured and done.

Nothing is ever changed or taken out. Going back appends an entry that retracts an earlier one; a
second look at the same thing in the same epoch appends one that says it `replaces` the first.
Everything else about a case is computed from its journal.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from troubleshoot.case.permitted import LIFTS_A_BAN
from troubleshoot.errors import UserError, nearest
from troubleshoot.knowledge.model import ROLES, Finding, RuleBase
from troubleshoot.readings.reading import Reading
from troubleshoot.reasoning.belief import RECHECK

UNKNOWN = "unknown"
UNLISTED = "unlisted"
DEFAULT_ROLE = "student"
SURE = ("certain", "fairly")
OUTCOMES = ("cured", "workaround", "service", "normal", "comes_and_goes", "unsolved")

# kind -> (keys it must have, keys it may have)
SHAPES: dict[str, tuple[frozenset[str], frozenset[str]]] = {
    kind: (frozenset(must.split()), frozenset(may.split()))
    for kind, must, may in (
        ("opened", "rules machine", "name seen_by engine"),
        ("opening", "done", ""),
        ("machine", "name hash", ""),
        ("role", "role", ""),
        ("specimen", "irreplaceable", ""),
        ("state", "state", ""),
        ("sign", "sign present", ""),
        ("complaint", "complaint", "words"),
        ("circumstance", "circumstance answer", "sure"),
        ("since", "text", ""),
        ("finding", "finding", "answer quantity sure replaces check"),
        ("reading", "what source sha256 reader sentence findings", "numbers plot points"),
        ("action", "action", "complaint_now value"),
        ("cannot", "action", "why"),
        ("later", "action", ""),
        ("epoch", "why", ""),
        ("parked", "action until", "note"),
        ("workaround", "workaround", ""),
        ("made_safe", "caution", ""),
        ("repaired", "caution role", "note"),
        ("go_on", "although", ""),
        ("note", "text", ""),
        ("retract", "entry", ""),
        ("closed", "outcome", "cause proved_by by note"),
    )
}

NESTED = (
    ("reading", "findings"), ("reading", "numbers"), ("finding", "answer"), ("closed", "cause"),
)  # fmt: skip


@dataclass(frozen=True)
class Entry:
    """One line of the journal: its number (from 0), the time it was made, its kind and data."""

    number: int
    at: str
    kind: str
    data: Mapping[str, Any]

    @property
    def time(self) -> datetime:
        """When it was made."""
        return datetime.fromisoformat(self.at)


Journal = tuple[Entry, ...]


def append(journal: Journal, at: str, kind: str, rule_base: RuleBase, **data: Any) -> Journal:
    """The journal with one entry more. Raises `UserError` if the entry cannot stand."""
    entry = Entry(len(journal), at, kind, data)
    check(entry, journal, rule_base)
    return (*journal, entry)


def standing(journal: Journal) -> list[Entry]:
    """The entries that have not been retracted, in order."""
    gone: set[int] = set()
    for entry in reversed(journal):
        if entry.kind == "retract" and entry.number not in gone:
            gone.add(int(entry.data["entry"]))
    return [e for e in journal if e.number not in gone and e.kind != "retract"]


def causes_named(closed: Mapping[str, Any]) -> list[str]:
    """The causes that a closed case names: `cause` is one, a list of several, or missing."""
    cause = closed.get("cause")
    return [str(c) for c in cause] if isinstance(cause, list) else [str(cause)] if cause else []


def check(entry: Entry, journal: Journal, rules: RuleBase) -> None:
    """Raise `UserError` unless `entry` is well formed and fits the journal so far."""
    if entry.kind not in SHAPES:
        raise UserError(f"unknown journal entry {entry.kind!r}{nearest(entry.kind, SHAPES)}.")
    must, may = SHAPES[entry.kind]
    for key in entry.data:
        if key not in must | may:
            raise UserError(f"{entry.kind}: unknown key {key!r}{nearest(key, must | may)}.")
    for key in sorted(must):
        if entry.data.get(key) is None:
            raise UserError(f"{entry.kind}: the key {key!r} is missing.")
    for key, value in entry.data.items():
        if isinstance(value, (list, dict)) and (entry.kind, key) not in NESTED:
            raise UserError(f"{entry.kind}: {key} takes one value, not a list or keys.")
    pools: dict[str, tuple[str, Iterable[str]]] = {
        "complaint": ("complaint", rules.complaints),
        "finding": ("finding", rules.findings),
        "circumstance": ("circumstance", rules.circumstances),
        "sign": ("danger sign", rules.signs),
        "caution": ("caution", rules.cautions),
        "workaround": ("way round", rules.workarounds),
        "role": ("role", ROLES),
        "state": ("machine state", rules.states),
        "sure": ("sureness", SURE),
        "outcome": ("outcome", OUTCOMES),
        "complaint_now": ("outcome of a remedy", (*RECHECK, UNKNOWN)),
    }
    if entry.kind == "circumstance":
        pools["answer"] = ("answer to a circumstance", ("yes", "no", UNKNOWN))
    for key, (what, pool) in pools.items():
        if entry.data.get(key) is not None:
            _known(str(entry.data[key]), what, pool)
    for key in ("action", "check"):
        if entry.data.get(key) is not None:
            _known(str(entry.data[key]), "check or remedy", rules.actions)
    if entry.kind == "repaired":
        _check_repaired(entry, rules)
    for cause in causes_named(entry.data):
        _known(cause, "cause", [*rules.causes, UNLISTED])
    if entry.kind == "finding":
        _check_finding(entry, journal, rules)
    if entry.kind == "reading":
        _check_reading(entry, rules)
    for key in ("present", "irreplaceable"):
        if not isinstance(entry.data.get(key, True), bool):
            raise UserError(f"{entry.kind}: {key} is {entry.data[key]!r}; write true or false.")
    if entry.kind == "retract":
        target = entry.data["entry"]
        if not isinstance(target, int) or not 0 <= target < entry.number:
            raise UserError(f"retract: there is no earlier entry number {target}.")


def _known(name: str, what: str, pool: Iterable[str]) -> None:
    if name not in pool:
        raise UserError(f"unknown {what} {name!r}{nearest(name, pool)}.")


def _check_repaired(entry: Entry, rules: RuleBase) -> None:
    if entry.data["role"] not in LIFTS_A_BAN:
        raise UserError(
            f"repaired: only the person in charge or qualified service records that; write role: "
            f"{' or role: '.join(LIFTS_A_BAN)}, or leave the line out."
        )
    dangers = [c.id for c in rules.cautions.values() if c.is_danger]
    _known(str(entry.data["caution"]), "danger", dangers)


def _check_finding(entry: Entry, journal: Journal, rules: RuleBase) -> None:
    from troubleshoot.readings.quantity import read_quantity

    finding = rules.findings[entry.data["finding"]]
    answer, quantity = entry.data.get("answer"), entry.data.get("quantity")
    if (answer is None) == (quantity is None):
        raise UserError(f"{finding.id}: give either an answer or a quantity, not both.")
    if quantity is not None:
        try:
            read_quantity(finding, str(quantity))
        except UserError as error:
            raise UserError(f"{finding.id}: {error}") from None
    else:
        _check_answer(finding, answer)
    earlier = latest_in_epoch(journal, finding.id)
    if earlier is not None and entry.data.get("replaces") != earlier.number:
        raise UserError(
            f"{finding.id}: it was already answered in this epoch "
            f"(entry {earlier.number}); say that this answer replaces it, or enter what was "
            "done in between."
        )


def _check_answer(finding: Finding, answer: object) -> None:
    """One answer, "unknown", or a list of those between which the operator wavers."""
    named = answer if isinstance(answer, list) else [answer]
    for name in named:
        known = isinstance(name, str) and name in finding.answers
        if not known and (name != UNKNOWN or len(named) > 1):
            raise UserError(
                f"{finding.id}: {name!r} is not one of its answers "
                f"({', '.join(finding.answers)}){nearest(str(name), finding.answers)}."
            )
    if isinstance(answer, list) and not 2 <= len(set(named)) == len(named) <= 3:
        raise UserError(
            f"{finding.id}: answer takes one value, or a list of two or three different ones "
            "between which the operator wavers."
        )
    if len(named) == len(finding.answers):
        raise UserError(
            f"{finding.id}: all of its answers are named, which says nothing; write "
            f"answer: {UNKNOWN}."
        )


def _check_reading(entry: Entry, rules: RuleBase) -> None:
    for name, vector in entry.data["findings"].items():
        _known(name, "finding", rules.findings)
        if len(vector) != len(rules.findings[name].answers) or not max(vector) > 0:
            raise UserError(f"reading: {name} needs one likelihood for each of its answers.")


def reading_data(
    reading: Reading, source: str, plot: str | None, points: str = ""
) -> dict[str, Any]:
    """What an entry keeps of a reading: enough to replay the case without its file.

    `points`: the numbers themselves, where they were typed and there is no file.
    """
    return {
        "what": reading.kind,
        "source": source,
        "sha256": reading.sha256,
        "reader": reading.reader,
        "sentence": reading.sentence,
        "numbers": {k: [n.value, n.sigma, n.unit] for k, n in reading.numbers.items()},
        "findings": {k: list(v) for k, v in reading.findings.items()},
        **({} if plot is None else {"plot": plot}),
        **({"points": points} if points else {}),
    }


def latest_in_epoch(journal: Journal, finding: str) -> Entry | None:
    """The standing entry on `finding` since the last treatment, or None."""
    for entry in reversed(standing(journal)):
        if entry.kind == "epoch" or (entry.kind == "action" and "complaint_now" in entry.data):
            return None
        if entry.kind == "finding" and entry.data["finding"] == finding:
            return entry
    return None


def check_all(journal: Journal, rules: RuleBase) -> None:
    """Raise `UserError` when a kept journal does not fit the rules (they may have changed)."""
    for entry in journal:
        try:
            check(entry, journal[: entry.number], rules)
        except UserError as error:
            raise UserError(
                f"Entry {entry.number} does not fit these rules ({str(error).rstrip('.')}): they "
                f"have changed since; read the case with the rules {journal[0].data.get('rules')}."
            ) from None


def as_records(journal: Journal) -> list[dict[str, Any]]:
    """The journal as plain records, for storage and export."""
    return [{"number": e.number, "at": e.at, "kind": e.kind, "data": dict(e.data)} for e in journal]
