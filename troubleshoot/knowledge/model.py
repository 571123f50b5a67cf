"""The rule base as typed objects. The fields here are the keys of the files in `rules/`.

Numbers are probabilities unless said otherwise; minutes are minutes. A *row* is P(answer | this
cause alone), background included; answers that a row leaves out share what is left
(`knowledge.rows`). Every entry says where it comes from: a citation, `common practice, no source`
or `judgement`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from typing import Annotated, Any, ClassVar, Literal, Self

from troubleshoot.knowledge.derivation import Derivation
from troubleshoot.knowledge.effects import Effect, by_state, closure


class Within:
    """Bounds of a value, in the words of pydantic's core schemas.

    They are handed on only when something is checked, so that rules that were checked before are
    read without pydantic.
    """

    def __init__(self, **bounds: float | str | bool) -> None:
        self.bounds = bounds

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> dict[str, Any]:
        return {**handler(source), **self.bounds}


Id = Annotated[str, Within(pattern=r"^[a-z][a-z0-9_]{1,59}$")]
AnswerId = Annotated[str, Within(pattern=r"^[a-z0-9][a-z0-9_]{0,39}$")]
Text = Annotated[str, Within(min_length=1, max_length=2000, strip_whitespace=True)]
Share = Annotated[float, Within(gt=0, lt=1)]
Row = dict[AnswerId, Share] | Share
Where = dict[Id, str | list[str]]
Together = Annotated[Where, Within(min_length=1)]

Kind = Literal["yes_no", "graded", "two_sided", "choice", "cure_test"]
Control = Literal["kv", "current", "dwell", "tilt", "coat", "bridge", "backscatter"]
Charge = Literal["floating", "gaps", "deep", "none"]
Role = Literal["student", "experienced", "in_charge", "service"]
State = Literal["any", "vented", "pumped", "coating", "unplugged", "pump_off", "in_sem"]

Figure = Literal["rise_curves", "gold_by_thickness", "charging_pictures", "look_alike_pictures"]

ROLES: tuple[str, ...] = ("student", "experienced", "in_charge", "service")
RECHECK = ("cured", "better", "unchanged", "worse")
"""What can be seen of the complaint after a remedy, in the order of `Settings.recheck`."""


@dataclass(frozen=True)
class Record:
    """Named fields that never change, checked where they come from a file."""

    __pydantic_config__: ClassVar[Mapping[str, Any]] = {"strict": True, "extra": "forbid"}

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: Any) -> dict[str, Any]:
        return {**handler(source), "strict": False}  # its fields are strict; itself is a mapping

    @classmethod
    def model_validate(cls, data: Mapping[str, Any]) -> Self:
        """The record of these fields. Raises pydantic's ValidationError, with all problems."""
        kind: Any = cls
        checked: Self = _checker(kind).validate_python(data)
        return checked

    def model_copy(self, update: Mapping[str, Any]) -> Self:
        """The same with some fields changed; these are not checked."""
        return replace(self, **update)


@cache
def _checker(cls: type[Record]) -> Any:
    from pydantic import TypeAdapter

    return TypeAdapter(cls)


@dataclass(frozen=True, kw_only=True)
class RuleEntry(Record):
    """What every entry of the rule base has."""

    id: Id
    source: Text


@dataclass(frozen=True, kw_only=True)
class Bands(Record):
    """A finding that is a number: `edges` (in `unit`, rising) divide it into the answers.

    The edges hold for a coater whose own normal value named by `usual` is `usual_value` (in
    `unit`; SI for a number that follows from others, such as `sweep_rate`, pump speed over volume);
    on another coater the tool scales them by the ratio. `instead` and `instead_value` name another
    number of the machine in the same way, for a coater of which the first is not known. `spread`
    is the relative standard deviation of a reading.
    """

    dimension: Text
    unit: Text
    edges: list[float]
    spread: Share = 0.1
    usual: Id | None = None
    usual_value: float | None = None
    instead: Id | None = None
    instead_value: float | None = None


@dataclass(frozen=True, kw_only=True)
class Turned(Record):
    """A finding that tells what a control of the microscope changed, or a second coat or a bridge.

    `better`: the answers that say that charging got clearly weaker, `same`: that it did not.
    """

    control: Control
    better: list[AnswerId]
    same: list[AnswerId]


@dataclass(frozen=True, kw_only=True)
class Finding(RuleEntry):
    """One observable with a fixed set of answers.

    Order of `answers`: graded from healthy to worst; two_sided from low to high; cure_test from
    "gone" to "same"; yes_no has exactly `yes` and `no`. A quantity's answers rise with the number.
    `fairly`: an untrained eye is taken as "fairly sure" by default. `replaces`: findings that
    this contrast was computed from and that fall silent once it is known (in the same epoch).
    `read_by`: the reader of logs or pictures that can answer it.
    `turned`: it tells what a control did to charging, which physics is asked about too.
    `looks` says what an answer looks like where its text alone could mislead; `drawings` names a
    small picture of it (a file of the folder `drawings/` beside the rules).

    When it is no question: for a complaint outside its `world` (empty: all; a complaint that no
    finding's world names has them all), where what it `presumes` is denied, and once all findings
    of one list in `decided_by` are answered, from which it follows by plain arithmetic.
    """

    name: Text
    ask: Text
    kind: Kind
    answers: dict[AnswerId, Text]
    background: dict[AnswerId, Share]
    looks: dict[AnswerId, Text] = field(default_factory=dict)
    drawings: dict[AnswerId, Text] = field(default_factory=dict)
    quantity: Bands | None = None
    fairly: bool = False
    read_by: Literal["pressure", "current", "image"] | None = None
    replaces: list[Id] = field(default_factory=list)
    turned: Turned | None = None
    machine: Where = field(default_factory=dict)
    world: list[Id] = field(default_factory=list)
    presumes: list[Id] = field(default_factory=list)
    decided_by: list[list[Id]] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class Presupposition(RuleEntry):
    """Something that questions take for granted, and what denies it.

    A denial names answers that all stand together (finding: answer or answers), and with the key
    `complaint` the complaints for which it holds, with `circumstance` those of which one holds; any
    one denial is enough, unless one of `unless` holds. It is also denied with any of those that it
    `needs`. `because` is told to the user.
    """

    name: Text
    because: Text
    needs: list[Id] = field(default_factory=list)
    denied_by: list[Together]
    unless: list[Together] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class Group(RuleEntry):
    """Findings that one and the same mistake would spoil together (`chance` of the mistake)."""

    name: Text
    findings: list[Id]
    chance: Share = 0.1


@dataclass(frozen=True, kw_only=True)
class Complaint(RuleEntry):
    """What the operator comes with. `normal_share` is P(nothing is wrong | this complaint).

    `rather`: another complaint -> answers (all of one item together, any item is enough) which show
    that it is that trouble rather than this one.
    `measured_by`: the finding whose number answers `how_much`; without it that is only noted.
    """

    name: Text
    says: list[Text]
    counts_when: Text
    place: Literal["coater", "microscope"]
    normal_share: Share
    unlisted_share: Share
    normal: Text
    still_there: Text
    how_much: str = ""
    rather: dict[Id, list[Together]] = field(default_factory=dict)
    measured_by: Id = ""
    machine: Where = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Mechanism(RuleEntry):
    """A physical way by which causes act: rows written once, inherited and refined by causes.

    `charge`: where the charge sits that it leaves (`physics.charge_controls`).
    """

    name: Text
    what: Text
    like: Id | None = None
    charge: Charge | None = None
    shows: dict[Id, Row] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Today(Record):
    """Can the operator still coat (or look) today with this cause present?"""

    verdict: Literal["coat", "expect", "do_not"]
    note: Text


@dataclass(frozen=True, kw_only=True)
class Cause(RuleEntry):
    """A fault, a wrong setting or a wrong technique. `share` is per 100 faults of a busy lab.

    `cured_by` says with which probability an action cures it, where that action's own `cures` do
    not; once loaded they hold it, and the action stands among the `remedies`.
    """

    name: Text
    what: Text
    subsystem: Text
    nature: Literal["fault", "setting", "technique", "specimen", "look_alike", "normal"]
    share: Annotated[float, Within(gt=0, lt=100)]
    mechanisms: list[Id] = field(default_factory=list)
    complaints: dict[Id, Share]
    shows: dict[Id, Row] = field(default_factory=dict)
    remedies: list[Id] = field(default_factory=list)
    cured_by: dict[Id, Share] = field(default_factory=dict)
    alike: list[Id] = field(default_factory=list)
    intermittent: bool = False
    today: Today
    machine: Where = field(default_factory=dict)
    lesson: str = ""


@dataclass(frozen=True, kw_only=True)
class Minutes(Record):
    """Hands-on, waiting and coater-blocked minutes (blocked defaults to the sum)."""

    hands: Annotated[float, Within(ge=0, le=600)]
    wait: Annotated[float, Within(ge=0, le=3000)] = 0
    blocked: Annotated[float, Within(ge=0, le=3000)] | None = None


@dataclass(frozen=True, kw_only=True)
class Action(RuleEntry):
    """Something one does. On screen a check mainly reveals, a remedy mainly cures.

    `does` says what it does to the machine in the words of `knowledge.effects`, by which cautions
    ban; `spoken_of` gives the reason for a word that its text seems to say and that it does not do.
    `coats` is the share of a whole coat that it gives, and `turns` another control of charging.
    It is proposed only after each of the findings `after` was looked at; those of `first` are
    looked at before it where they can be.
    """

    kind: Literal["check", "remedy"]
    name: Text
    say: Text
    steps: list[Text]
    state: State
    leaves: State | None = None
    does: list[Effect] = field(default_factory=list)
    spoken_of: dict[Effect, Text] = field(default_factory=dict)
    minutes: Minutes
    role: Role = "student"
    tools: list[Text] = field(default_factory=list)
    parts: Literal["none", "consumable", "spare", "service"] = "none"
    specimen: Literal["safe", "marks", "spends"] = "safe"
    knob: bool = False
    about: list[Id] = field(default_factory=list)
    machine: Where = field(default_factory=dict)
    hazards: list[Id] = field(default_factory=list)
    reveals: list[Id] = field(default_factory=list)
    coats: Annotated[float, Within(gt=0, le=2)] | None = None
    turns: Control | None = None
    after: list[Id] = field(default_factory=list)
    first: list[Id] = field(default_factory=list)
    cures: dict[Id, Share] = field(default_factory=dict)
    may_cause: dict[Id, Share] = field(default_factory=dict)
    proof: Id | None = None
    if_partly: str = ""
    if_not: str = ""
    tell_owner: str = ""

    @property
    def effects(self) -> frozenset[Effect]:
        """All that it does to the machine: as declared, and as its machine states mean."""
        return closure(self.does) | by_state(self.state, self.leaves)

    @property
    def only_sets(self) -> bool:
        """True when it only sets a control of the picture: that is done wholly the first time."""
        return self.turns in ("kv", "current", "dwell")

    @property
    def needs_service(self) -> bool:
        """True when the action costs money beyond a consumable, or somebody else's visit."""
        return self.role == "service" or self.parts in ("spare", "service")


@dataclass(frozen=True, kw_only=True)
class Caution(RuleEntry):
    """A hazard with its usual precaution. `stop_now` ends the questioning until it is answered.

    `bans` names what must not be done to the machine while it is in force (`anything`: nothing at
    all in the room). Where it also stops, it is a danger: the ban then holds until the person in
    charge or qualified service has recorded that it is repaired and proved. `repair` names the
    actions that put it right.
    """

    name: Text
    hazard: Text
    precaution: Text
    stop_now: bool = False
    make_safe: list[Text] = field(default_factory=list)
    bans: list[Effect | Literal["anything"]] = field(default_factory=list)
    repair: list[Id] = field(default_factory=list)
    machine: Where = field(default_factory=dict)

    @property
    def is_danger(self) -> bool:
        """It stops everything, and its ban holds until somebody in charge lifts it."""
        return self.stop_now and bool(self.bans)


@dataclass(frozen=True, kw_only=True)
class Sign(RuleEntry):
    """A danger sign asked before anything else, and the caution that it brings into force.

    `odds`: by which factor it moves the odds of causes, as a circumstance does.
    """

    name: Text
    ask: Text
    caution: Id
    odds: dict[Id, Annotated[float, Within(gt=0)]] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Term(RuleEntry):
    """A word of the trade, and what it means to a newcomer; `also`: other words for it."""

    name: Text
    means: Text
    also: list[Text] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class Circumstance(RuleEntry):
    """A fact known beforehand that multiplies the odds of causes.

    `said_by` names the findings that say the same: the circumstance falls silent once one of
    them is answered. `touched` names what was handled, for "the last thing touched first". `when`
    it is asked: `since` (one choice, since when), `opening` (all that hold), `later` (before the
    first remedy whose causes it bears on).
    """

    name: Text
    ask: Text
    odds: dict[Id, Annotated[float, Within(gt=0, le=50)]]
    said_by: list[Id] = field(default_factory=list)
    touched: list[Id] = field(default_factory=list)
    when: Literal["since", "opening", "later"] = "later"
    complaints: list[Id] = field(default_factory=list)
    machine: Where = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Workaround(RuleEntry):
    """A way to a usable picture today that cures the complaint but not the cause.

    `does`, `spoken_of`, `machine`, `hazards` and `specimen` as for an action; a doubtful coat marks
    what it lies on.
    """

    name: Text
    steps: list[Text]
    expect: Text
    complaints: list[Id]
    causes: list[Id] = field(default_factory=list)
    does: list[Effect] = field(default_factory=list)
    spoken_of: dict[Effect, Text] = field(default_factory=dict)
    minutes: Minutes
    specimen: Literal["safe", "marks", "spends"] = "safe"
    machine: Where = field(default_factory=dict)
    hazards: list[Id] = field(default_factory=list)

    @property
    def effects(self) -> frozenset[Effect]:
        """All that it does to the machine."""
        return closure(self.does)


@dataclass(frozen=True, kw_only=True)
class Care(RuleEntry):
    """Upkeep that comes round: due after so many `runs` or `days`, whichever comes first."""

    name: Text
    say: Text
    runs: Annotated[float, Within(gt=0)] | None = None
    days: Annotated[float, Within(gt=0)] | None = None
    machine: Where = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Lesson(RuleEntry):
    """What newcomers take for something else, and how it is told in five minutes.

    `place` is its number in the order of the lessons. `causes` is what it really is (none: nothing
    is wrong) and `taken_for` what it is taken for. `test` is done by the `checks`, which carry the
    steps and the cautions. `figure` names what is drawn beside it.
    """

    name: Text
    place: Annotated[float, Within(gt=0)]
    see: Text
    tempting: Text
    really: Text
    test: Text
    checks: Annotated[list[Id], Within(min_length=1)]
    causes: list[Id] = field(default_factory=list)
    taken_for: list[Id] = field(default_factory=list)
    complaints: Annotated[list[Id], Within(min_length=1)]
    figure: Figure | None = None


@dataclass(frozen=True, kw_only=True)
class Step(RuleEntry):
    """One step of the routine of a run: what is done, why, and what comes of leaving it out.

    `place` is its number in the order of all steps, `causes` what leaving it out brings about.
    """

    name: Text
    part: Literal["start_up", "run", "shut_down"]
    place: Annotated[float, Within(gt=0)]
    do: Text
    why: Text
    left_out: Text
    causes: list[Id] = field(default_factory=list)
    machine: Where = field(default_factory=dict)
    hazards: list[Id] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class Specimen(RuleEntry):
    """A kind of specimen to be coated: what it is made of and what it stands.

    `material` is one that `physics.materials` knows. `relief` as a coat sees it; `heat`: soft ones
    are coated in short runs; `vacuum`: dry, or what must be seen to before it is pumped. `says`:
    what people call it. `advice`: what else to do; `lost`: what the coat takes from the picture.
    """

    name: Text
    says: list[Text]
    material: Text
    relief: Literal["smooth", "rough", "undercut"]
    heat: Literal["sound", "soft"] = "sound"
    vacuum: Literal["dry", "wet", "oily"] = "dry"
    conducts: bool = False
    advice: list[Text] = field(default_factory=list)
    lost: list[Text] = field(default_factory=list)
    hazards: list[Id] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class Look(Record):
    """What a witness slip looks like with more than so many nanometres on it."""

    above: Annotated[float, Within(ge=0)]
    looks: Text


@dataclass(frozen=True, kw_only=True)
class Coat(RuleEntry):
    """A coating metal as people meet it: its ID is that of the machine profile's target.

    `witness`: slips from thin to thick. `covers`: X-ray lines that lie under its own. `remark`:
    what it asks of the coater.
    """

    name: Text
    witness: list[Look]
    covers: Text
    remark: Text = ""
    machine: Where = field(default_factory=dict)
    hazards: list[Id] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class Story(RuleEntry):
    """How somebody comes to the coater with a complaint, in their own vague words: for drills."""

    complaint: Id
    told: Text


@dataclass(frozen=True, kw_only=True)
class Synonyms(RuleEntry):
    """Words that people use for what the rule base calls by the words in `means`.

    With an empty `means` they say nothing about a trouble (a, the, und, le) and are passed over.
    Those that are not understood `alone` tell a quality or an amount (good, not, minutes).
    """

    alone: bool = True
    means: list[Text]
    words: list[Text]


@dataclass(frozen=True, kw_only=True)
class Phrases(RuleEntry):
    """What people say who mean the entry with this ID (of the kind `of`).

    `answers`: the same for one answer of a finding; `says`: for the entry as a whole.
    """

    of: Literal["finding", "complaint", "sign", "circumstance", "action"] = "finding"
    says: list[Text] = field(default_factory=list)
    answers: dict[AnswerId, list[Text]] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class MachineState(RuleEntry):
    """A state of the machine and the minutes it takes to bring it into another one."""

    name: Text
    to: dict[str, float]


@dataclass(frozen=True, kw_only=True)
class Settings(RuleEntry):
    """Numbers of the reasoning itself that are judgement, in one place."""

    presence_per_share: Annotated[float, Within(gt=0, lt=5)]
    odds_cap_up: Annotated[float, Within(gt=1)]
    odds_cap_down: Annotated[float, Within(gt=1)]
    sticky: Share
    fairly_sure: Share
    waiting_weight: Annotated[float, Within(gt=0, le=1)]
    longest_wait: Annotated[float, Within(gt=0)]
    service_minutes: Annotated[float, Within(gt=0)]
    minutes_a_bit: Annotated[float, Within(gt=0)]
    fetch_minutes: dict[str, float]
    spare_minutes: Annotated[float, Within(ge=0)]
    try_from: Annotated[float, Within(ge=0, lt=1)]
    accept_from: Share
    accept_normal_minutes: Annotated[float, Within(gt=0)]
    proof_minutes: Annotated[float, Within(gt=0)]
    intermittent_passes: Share
    second_try: Share
    learn_causes: Annotated[float, Within(gt=0)]
    learn_lab: Annotated[float, Within(gt=0)]
    learn_coater: Annotated[float, Within(gt=0)]
    learn_remedies: Annotated[float, Within(gt=0)]
    learn_unproved: Share
    learn_half_life: Annotated[float, Within(gt=0, le=240)]
    recheck: dict[Literal["gone", "same", "fewer", "never_was", "more"], dict[AnswerId, Share]]


@dataclass(frozen=True, kw_only=True)
class RuleBase(Record):
    """Everything that was read from one or more folders of rules, checked for consistency.

    `drawings`: file name -> SVG markup, or a PNG in base64, that has passed `knowledge.drawings`.
    """

    hash: str
    complaints: Mapping[Id, Complaint]
    findings: Mapping[Id, Finding]
    presuppositions: Mapping[Id, Presupposition] = field(default_factory=dict)
    groups: Mapping[Id, Group]
    mechanisms: Mapping[Id, Mechanism]
    causes: Mapping[Id, Cause]
    actions: Mapping[Id, Action]
    cautions: Mapping[Id, Caution]
    signs: Mapping[Id, Sign]
    circumstances: Mapping[Id, Circumstance]
    workarounds: Mapping[Id, Workaround]
    care: Mapping[Id, Care] = field(default_factory=dict)
    words: Mapping[Id, Term] = field(default_factory=dict)
    lessons: Mapping[Id, Lesson] = field(default_factory=dict)
    routine: Mapping[Id, Step] = field(default_factory=dict)
    specimens: Mapping[Id, Specimen] = field(default_factory=dict)
    coats: Mapping[Id, Coat] = field(default_factory=dict)
    stories: Mapping[Id, Story] = field(default_factory=dict)
    states: Mapping[Id, MachineState]
    derivations: Mapping[Id, Derivation]
    settings: Settings
    drawings: Mapping[str, str] = field(default_factory=dict)
    synonyms: Mapping[Id, Synonyms] = field(default_factory=dict)
    phrases: Mapping[Id, Phrases] = field(default_factory=dict)

    @cached_property
    def rows(self) -> dict[tuple[str, str], dict[str, float]]:
        """P(answer | cause alone) for every (cause, finding) on which the cause has a say."""
        from troubleshoot.knowledge.rows import resolve

        return resolve(self)

    def is_in_world(self, finding: str, complaint: str) -> bool:
        """Whether a careful expert might ask this finding of this complaint.

        A complaint that no world names is one that was added beside them: it has all findings.
        """
        world = self.findings[finding].world
        return not world or complaint in world or complaint not in self.named_in_worlds

    @cached_property
    def named_in_worlds(self) -> frozenset[str]:
        """The complaints that the world of some finding names."""
        return frozenset(c for finding in self.findings.values() for c in finding.world)

    @cached_property
    def revealed_by(self) -> dict[str, list[str]]:
        """Finding -> the actions that reveal it."""
        out: dict[str, list[str]] = {name: [] for name in self.findings}
        for action in self.actions.values():
            for finding in action.reveals:
                out[finding].append(action.id)
        return out
