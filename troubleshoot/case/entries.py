"""What a journal can say: a type a kind, which checks itself and can be written down.

A type's fields are the keys of its entry: one without a default must be there, and `named` tells
among what its value is looked up. What follows from an entry is worked out by `known.replay`.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import MISSING, Field, dataclass, field, fields
from types import UnionType
from typing import Any, ClassVar, Self, get_args, get_origin

from troubleshoot.case.permitted import LIFTS_A_BAN
from troubleshoot.errors import UserError, instead, nearest
from troubleshoot.knowledge import model
from troubleshoot.knowledge.model import RECHECK, ROLES, RuleBase
from troubleshoot.readings.reading import Reading as Found
from troubleshoot.reasoning.learned import Tally

DEFAULT_ROLE = "student"
UNKNOWN = "unknown"
UNLISTED = "unlisted"
MOST_CASES = 1e9
"""No lab has so many."""
SURE = ("certain", "fairly")
NOT_PROVED = "not proved"
OUTCOMES = ("cured", "workaround", "service", "normal", "comes_and_goes", "unsolved")


def named(
    what: str, pool: Callable[[RuleBase], Iterable[str]], *, optional: bool = False, **more: str
) -> Any:
    """A field that takes a name out of `pool`; `what` it is called where it is not found there."""
    metadata = {"what": what, "pool": pool, **more}
    return field(default=None, metadata=metadata) if optional else field(metadata=metadata)


@dataclass(frozen=True, kw_only=True)
class Said:
    """One thing said in a journal."""

    kind: ClassVar[str]

    def must_fit(self, rules: RuleBase) -> None:
        """Raise `UserError` unless its names are known and its values can stand together."""
        for key in fields(self):
            value, pool = getattr(self, key.name), key.metadata.get("pool")
            if pool is not None and value is not None:
                must_know(str(value), key.metadata["what"], pool(rules))

    def record(self) -> dict[str, Any]:
        """Its keys and values, as they are kept: without those that were not given."""
        values = ((key.name, getattr(self, key.name)) for key in fields(self))
        return {name: value for name, value in values if value is not None}


def must_know(name: str, what: str, pool: Iterable[str]) -> None:
    """Raise `UserError` unless `name` is in `pool`, with the nearest that is."""
    if name not in pool:
        raise UserError(f"unknown {what} {name!r}{instead(name, pool)}.")


def _actions(rules: RuleBase) -> Iterable[str]:
    return rules.actions


@dataclass(frozen=True, kw_only=True)
class Opened(Said):
    """The case begins: hashes of the rules and of the machine, a name, who looks, the engine."""

    kind = "opened"
    rules: str
    machine: str
    name: str | None = None
    seen_by: str | None = None
    engine: str | None = None


@dataclass(frozen=True, kw_only=True)
class Book(Said):
    """The lab's closed cases as they are counted in this case from here on: `learned.Tally`.

    Kept whole, so that the case is the same wherever it is read, whatever the lab learns later.
    """

    kind = "book"
    hash: str
    cases: int
    here: dict[str, Any]
    lab: dict[str, Any]
    cures: dict[str, Any]

    @classmethod
    def of(cls, tally: Tally) -> Self:
        """What an entry keeps of a tally."""
        cures = {a: {c: list(n) for c, n in row.items()} for a, row in tally.cures.items()}
        here, lab = ({q: dict(ends) for q, ends in p.items()} for p in (tally.here, tally.lab))
        return cls(hash=tally.hash, cases=tally.cases, here=here, lab=lab, cures=cures)

    def must_fit(self, rules: RuleBase) -> None:
        """Also: counts that are numbers, none below 0, of each remedy tries and cures."""
        super().must_fit(rules)
        for place in (self.here, self.lab, self.cures):
            for row in place.values():
                counts = row.values() if isinstance(row, dict) else [None]
                for n in counts:
                    pair = n if place is self.cures else [n, n]
                    if not (
                        isinstance(pair, list)
                        and len(pair) == 2
                        and all(type(x) in (int, float) and 0 <= x < MOST_CASES for x in pair)
                    ):
                        raise UserError(f"book: {n!r} is no count of cases.")


@dataclass(frozen=True, kw_only=True)
class Opening(Said):
    """One of the opening questions has been put."""

    kind = "opening"
    done: str


@dataclass(frozen=True, kw_only=True)
class MachineMeant(Said):
    """The machine profile that is meant."""

    kind = "machine"
    name: str
    hash: str


@dataclass(frozen=True, kw_only=True)
class Role(Said):
    """Who speaks."""

    kind = "role"
    role: str = named("role", lambda rules: ROLES)


@dataclass(frozen=True, kw_only=True)
class Specimen(Said):
    """Whether a specimen is meant that cannot be replaced, and what kind it is."""

    kind = "specimen"
    irreplaceable: bool
    what: str | None = named("kind of specimen", lambda rules: rules.specimens, optional=True)


@dataclass(frozen=True, kw_only=True)
class State(Said):
    """What the coater is in now."""

    kind = "state"
    state: str = named("machine state", lambda rules: rules.states)


@dataclass(frozen=True, kw_only=True)
class Sign(Said):
    """A danger sign is there, or was asked for and is not."""

    kind = "sign"
    sign: str = named("danger sign", lambda rules: rules.signs)
    present: bool


@dataclass(frozen=True, kw_only=True)
class Complaint(Said):
    """What is complained of, and how the operator put it."""

    kind = "complaint"
    complaint: str = named("complaint", lambda rules: rules.complaints)
    words: str | None = None


@dataclass(frozen=True, kw_only=True)
class Circumstance(Said):
    """A fact known beforehand: yes, no or unknown, and how sure."""

    kind = "circumstance"
    circumstance: str = named("circumstance", lambda rules: rules.circumstances)
    answer: str = named("answer to a circumstance", lambda rules: ("yes", "no", UNKNOWN))
    sure: str | None = named("sureness", lambda rules: SURE, optional=True)


@dataclass(frozen=True, kw_only=True)
class Since(Said):
    """Since when the trouble is there."""

    kind = "since"
    text: str


@dataclass(frozen=True, kw_only=True)
class Finding(Said):
    """What was seen: an answer, two or three between which one wavers, or a quantity.

    `replaces` is the number of an earlier entry; `check` the check that it was part of.
    """

    kind = "finding"
    finding: str = named("finding", lambda rules: rules.findings)
    answer: str | list[str] | None = None
    quantity: str | None = None
    sure: str | None = named("sureness", lambda rules: SURE, optional=True)
    replaces: int | None = None
    check: str | None = named("check or remedy", _actions, optional=True)

    @property
    def answers(self) -> list[str]:
        """The answers that were named; none where it is a quantity."""
        return self.answer if isinstance(self.answer, list) else [self.answer or ""]

    def must_fit(self, rules: RuleBase) -> None:
        """Also: one answer that the finding has, or a quantity that can be read."""
        from troubleshoot.readings.quantity import read_quantity

        super().must_fit(rules)
        finding = rules.findings[self.finding]
        if (self.answer is None) == (self.quantity is None):
            raise UserError(f"{finding.id}: give either an answer or a quantity, not both.")
        if self.quantity is None:
            self._answers_fit(finding)
            return
        try:
            read_quantity(finding, self.quantity)
        except UserError as error:
            raise UserError(f"{finding.id}: {error}") from None

    def _answers_fit(self, finding: model.Finding) -> None:
        for name in self.answers:
            known = isinstance(name, str) and name in finding.answers
            if not known and (name != UNKNOWN or len(self.answers) > 1):
                raise UserError(
                    f"{finding.id}: {name!r} is not one of its answers "
                    f"({', '.join(finding.answers)}){nearest(str(name), finding.answers)}."
                )
        several = isinstance(self.answer, list)
        if several and not 2 <= len(set(self.answers)) == len(self.answers) <= 3:
            raise UserError(
                f"{finding.id}: answer takes one value, or a list of two or three different ones "
                "between which the operator wavers."
            )
        if len(self.answers) == len(finding.answers):
            raise UserError(
                f"{finding.id}: all of its answers are named, which says nothing; write "
                f"answer: {UNKNOWN}."
            )


@dataclass(frozen=True, kw_only=True)
class Reading(Said):
    """What a reader made of a log or of typed numbers: enough to replay the case without a file.

    `findings` holds a likelihood for each answer of a finding; `numbers` value, sigma and unit by
    name; `plot` a drawing; `points` the numbers themselves where they were typed.
    """

    kind = "reading"
    what: str
    source: str
    sha256: str
    reader: str
    sentence: str
    findings: dict[str, list[float]]
    numbers: dict[str, list[Any]] | None = None
    plot: str | None = None
    points: str | None = None

    @classmethod
    def of(cls, reading: Found, source: str, plot: str | None, points: str = "") -> Self:
        """What an entry keeps of what a reader found."""
        return cls(
            what=reading.kind,
            source=source,
            sha256=reading.sha256,
            reader=reading.reader,
            sentence=reading.sentence,
            numbers={k: [n.value, n.sigma, n.unit] for k, n in reading.numbers.items()},
            findings={k: list(v) for k, v in reading.findings.items()},
            plot=plot,
            points=points or None,
        )

    def must_fit(self, rules: RuleBase) -> None:
        """Also: one likelihood for each answer of each finding."""
        super().must_fit(rules)
        for name, vector in self.findings.items():
            must_know(name, "finding", rules.findings)
            if len(vector) != len(rules.findings[name].answers) or not max(vector) > 0:
                raise UserError(f"reading: {name} needs one likelihood for each of its answers.")


@dataclass(frozen=True, kw_only=True)
class Action(Said):
    """A check or remedy was done; with `complaint_now` something may be cured, so an epoch begins.

    `value` says what was read then.
    """

    kind = "action"
    action: str = named("check or remedy", _actions)
    complaint_now: str | None = named(
        "outcome of a remedy", lambda rules: (*RECHECK, UNKNOWN), optional=True, empty=UNKNOWN
    )
    value: str | None = None

    @property
    def treats(self) -> bool:
        """Whether it may have cured something, so that what was seen may have changed."""
        return self.complaint_now is not None


@dataclass(frozen=True, kw_only=True)
class Cannot(Said):
    """A check or remedy cannot be done here."""

    kind = "cannot"
    action: str = named("check or remedy", _actions)
    why: str | None = None


@dataclass(frozen=True, kw_only=True)
class Later(Said):
    """Not now: it is not offered again in this epoch."""

    kind = "later"
    action: str = named("check or remedy", _actions)


@dataclass(frozen=True, kw_only=True)
class Epoch(Said):
    """Something was done that may have changed what is seen."""

    kind = "epoch"
    why: str


@dataclass(frozen=True, kw_only=True)
class Parked(Said):
    """The case waits until a time for something that takes long."""

    kind = "parked"
    action: str = named("check or remedy", _actions)
    until: str
    note: str | None = None


@dataclass(frozen=True, kw_only=True)
class Workaround(Said):
    """A way round was taken."""

    kind = "workaround"
    workaround: str = named("way round", lambda rules: rules.workarounds)


@dataclass(frozen=True, kw_only=True)
class MadeSafe(Said):
    """The steps of a stop were done."""

    kind = "made_safe"
    caution: str = named("caution", lambda rules: rules.cautions)


@dataclass(frozen=True, kw_only=True)
class Repaired(Said):
    """The person in charge or service records that a danger is repaired and proved."""

    kind = "repaired"
    caution: str = named("caution", lambda rules: rules.cautions)
    role: str = named("role", lambda rules: ROLES)
    note: str | None = None

    def must_fit(self, rules: RuleBase) -> None:
        """Also: said by one who may say it, and of a danger."""
        super().must_fit(rules)
        if self.role not in LIFTS_A_BAN:
            raise UserError(
                f"repaired: only the person in charge or qualified service records that; write "
                f"role: {' or role: '.join(LIFTS_A_BAN)}, or leave the line out."
            )
        must_know(self.caution, "danger", [c.id for c in rules.cautions.values() if c.is_danger])


@dataclass(frozen=True, kw_only=True)
class GoOn(Said):
    """The operator goes on although this (all is well, service, a danger) stood in the way."""

    kind = "go_on"
    although: str


@dataclass(frozen=True, kw_only=True)
class Note(Said):
    """A remark; nothing follows from it."""

    kind = "note"
    text: str


@dataclass(frozen=True, kw_only=True)
class Title(Said):
    """What the case is called from now on."""

    kind = "title"
    text: str


@dataclass(frozen=True, kw_only=True)
class Attached(Said):
    """A file that is kept with the case (a photograph, a log): its name, hash and size in bytes."""

    kind = "file"
    name: str
    sha256: str
    size: int
    note: str | None = None


@dataclass(frozen=True, kw_only=True)
class Retract(Said):
    """An earlier entry does not hold any more: this is how one goes back.

    A correction says who (by role) and why.
    """

    kind = "retract"
    entry: int
    by: str | None = named("role", lambda rules: ROLES, optional=True)
    why: str | None = None


@dataclass(frozen=True, kw_only=True)
class Corrected(Said):
    """An earlier entry says this instead, in its own place: `to` are its keys, all of them.

    The first words stay in the journal. `by` is the role of who corrects it.
    """

    kind = "corrected"
    entry: int
    to: dict[str, Any]
    why: str
    by: str | None = named("role", lambda rules: ROLES, optional=True)


@dataclass(frozen=True, kw_only=True)
class Closed(Said):
    """The end: how, what it was (several causes where several faults were there), its proof.

    `minutes` spent at it, `downtime` hours for which the coater stood still, `part` what was used,
    `cost` in the lab's own currency.
    """

    kind = "closed"
    outcome: str = named("outcome", lambda rules: OUTCOMES)
    cause: str | list[str] | None = None
    proved_by: str | None = None
    by: str | None = None
    note: str | None = None
    minutes: float | None = None
    downtime: float | None = None
    part: str | None = None
    cost: float | None = None

    @property
    def is_proved(self) -> bool:
        """Whether what it was is more than a guess: somebody says how it is known."""
        return bool(self.causes and self.proved_by and self.proved_by != NOT_PROVED)

    @property
    def causes(self) -> list[str]:
        """The causes that it names."""
        return self.cause if isinstance(self.cause, list) else [self.cause] if self.cause else []

    def must_fit(self, rules: RuleBase) -> None:
        """Also: causes that are known."""
        super().must_fit(rules)
        for cause in self.causes:
            must_know(str(cause), "cause", [*rules.causes, UNLISTED])
        self.must_be_possible()

    def must_be_possible(self) -> None:
        """Raise `UserError` for minutes, hours or a cost that no case takes, by whatever rules."""
        for name in ("minutes", "downtime", "cost"):
            told = getattr(self, name)
            if told is not None and not 0 <= told <= MOST_SPENT:
                raise UserError(f"{name}: {told:g} cannot be: write a number from 0 to a thousand "
                                "million.")  # fmt: skip


MOST_SPENT = 1e9
"""Minutes, hours, or money of any currency: no case takes more. Judgement."""
BESIDE = Note | Title | Attached
"""Entries from which nothing follows: a parked case stays so."""
CORRECTABLE = (Complaint, Circumstance, Since, Finding, Action, Note, Title, Closed)
"""What may be corrected. Not a danger sign: the person in charge lifts that, and no better word."""

KINDS: dict[str, type[Said]] = {
    said.kind: said
    for said in (
        Opened, Book, Opening, MachineMeant, Role, Specimen, State, Sign, Complaint, Circumstance,
        Since, Finding, Reading, Action, Cannot, Later, Epoch, Parked, Workaround, MadeSafe,
        Repaired, GoOn, Note, Title, Attached, Retract, Corrected, Closed,
    )
}  # fmt: skip
"""Every kind of entry by its name, in the order of a case."""


def keys(said: type[Said]) -> tuple[frozenset[str], frozenset[str]]:
    """The keys that an entry must have, and those that it may have."""
    must = frozenset(key.name for key in fields(said) if key.default is MISSING)
    return must, frozenset(key.name for key in fields(said)) - must


def said_of(kind: str, data: Mapping[str, Any]) -> Said:
    """What an entry of this kind with these keys says. Raises `UserError` if it cannot be one.

    A number is taken where a text is wanted, for a file may hold `value: 3`.
    """
    if kind not in KINDS:
        raise UserError(f"unknown journal entry {kind!r}{instead(kind, KINDS)}.")
    said, (must, may) = KINDS[kind], keys(KINDS[kind])
    for name in data:
        if name not in must | may:
            raise UserError(f"{kind}: unknown key {name!r}{instead(name, must | may)}.")
    for name in sorted(must):
        if data.get(name) is None:
            raise UserError(f"{kind}: the key {name!r} is missing.")
    given = {}
    for key in fields(said):
        if key.name in data:
            empty = key.metadata.get("empty")
            value = data[key.name] if data[key.name] is not None else empty
            given[key.name] = None if value is None else _typed(kind, key, value)
    return said(**given)


WRITE_IT: dict[type, str] = {
    bool: "write true or false",
    int: "write the number of an entry",
    float: "write a number",
    dict: "write keys, indented below it",
}


def _typed(kind: str, key: Field[Any], value: Any) -> Any:
    """The value as its field wants it."""
    types = get_args(key.type) if isinstance(key.type, UnionType) else (key.type,)
    wanted = {get_origin(t) or t for t in types}
    if isinstance(value, (list, dict)):
        if type(value) not in wanted:
            raise UserError(f"{kind}: {key.name} takes one value, not a list or keys.")
        return value
    if str in wanted:
        return str(value)
    if type(value) not in wanted and not (float in wanted and type(value) is int):
        write = next(words for t, words in WRITE_IT.items() if t in wanted)
        raise UserError(f"{kind}: {key.name} is {value!r}; {write}.")
    return value
