"""The rule base as typed objects. The fields here are the keys of the files in `rules/`.

Numbers are probabilities unless said otherwise; minutes are minutes. A *row* is P(answer | this
cause alone), background included; answers that a row leaves out share what is left
(`knowledge.rows`). Every entry says where it comes from: a citation, `common practice, no source`
or `judgement`.
"""

from collections.abc import Mapping
from functools import cached_property
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from troubleshoot.knowledge.derivation import Derivation
from troubleshoot.knowledge.effects import Effect, by_state, closure

Id = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]{1,59}$")]
AnswerId = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9_]{0,39}$")]
Text = Annotated[str, StringConstraints(min_length=1, max_length=2000, strip_whitespace=True)]
Share = Annotated[float, Field(gt=0, lt=1)]
Row = dict[AnswerId, Share] | Share
Where = dict[Id, str | list[str]]
Together = Annotated[Where, Field(min_length=1)]

Kind = Literal["yes_no", "graded", "two_sided", "choice", "cure_test"]
Role = Literal["student", "experienced", "in_charge", "service"]
State = Literal["any", "vented", "pumped", "coating", "unplugged", "pump_off", "in_sem"]

ROLES: tuple[str, ...] = ("student", "experienced", "in_charge", "service")


class Entry(BaseModel):
    """What every entry of the rule base has."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)

    id: Id
    source: Text


class Quantity(BaseModel):
    """A finding that is a number: `edges` (in `unit`, rising) divide it into the answers.

    The edges hold for a coater whose own normal value named by `usual` is `usual_value` (in
    `unit`; SI for a number that follows from others, such as `sweep_rate`, pump speed over volume);
    on another coater the tool scales them by the ratio. `instead` and `instead_value` name another
    number of the machine in the same way, for a coater of which the first is not known. `spread`
    is the relative standard deviation of a reading.
    """

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)

    dimension: Text
    unit: Text
    edges: list[float]
    spread: float = Field(default=0.1, gt=0, lt=1)
    usual: Id | None = None
    usual_value: float | None = None
    instead: Id | None = None
    instead_value: float | None = None


class Finding(Entry):
    """One observable with a fixed set of answers.

    Order of `answers`: graded from healthy to worst; two_sided from low to high; cure_test from
    "gone" to "same"; yes_no has exactly `yes` and `no`. A quantity's answers rise with the number.
    `fairly`: an untrained eye is taken as "fairly sure" by default. `replaces`: findings that
    this contrast was computed from and that fall silent once it is known (in the same epoch).
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
    looks: dict[AnswerId, Text] = {}
    drawings: dict[AnswerId, Text] = {}
    quantity: Quantity | None = None
    fairly: bool = False
    replaces: list[Id] = []
    machine: Where = {}
    world: list[Id] = []
    presumes: list[Id] = []
    decided_by: list[list[Id]] = []


class Presupposition(Entry):
    """Something that questions take for granted, and what denies it.

    A denial names answers that all stand together (finding: answer or answers), and with the key
    `complaint` the complaints for which it holds; any one denial is enough, unless one of `unless`
    holds. It is also denied with any of those that it `needs`. `because` is told to the user.
    """

    name: Text
    because: Text
    needs: list[Id] = []
    denied_by: list[Together]
    unless: list[Together] = []


class Group(Entry):
    """Findings that one and the same mistake would spoil together (`chance` of the mistake)."""

    name: Text
    findings: list[Id]
    chance: Share = 0.1


class Complaint(Entry):
    """What the operator comes with. `normal_share` is P(nothing is wrong | this complaint)."""

    name: Text
    says: list[Text]
    counts_when: Text
    place: Literal["coater", "microscope"]
    normal_share: Share
    unlisted_share: Share
    normal: Text
    still_there: Text


class Mechanism(Entry):
    """A physical way by which causes act: rows written once, inherited and refined by causes."""

    name: Text
    what: Text
    like: Id | None = None
    shows: dict[Id, Row] = {}


class Today(BaseModel):
    """Can the operator still coat (or look) today with this cause present?"""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)

    verdict: Literal["coat", "expect", "do_not"]
    note: Text


class Cause(Entry):
    """A fault, a wrong setting or a wrong technique. `share` is per 100 faults of a busy lab.

    `cured_by` says with which probability an action cures it, where that action's own `cures` do
    not; once loaded they hold it, and the action stands among the `remedies`.
    """

    name: Text
    what: Text
    subsystem: Text
    nature: Literal["fault", "setting", "technique", "specimen", "look_alike", "normal"]
    share: float = Field(gt=0, lt=100)
    mechanisms: list[Id] = []
    complaints: dict[Id, Share]
    shows: dict[Id, Row] = {}
    remedies: list[Id] = []
    cured_by: dict[Id, Share] = {}
    alike: list[Id] = []
    intermittent: bool = False
    today: Today
    machine: Where = {}
    lesson: str = ""


class Minutes(BaseModel):
    """Hands-on, waiting and coater-blocked minutes (blocked defaults to the sum)."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)

    hands: float = Field(ge=0, le=600)
    wait: float = Field(default=0, ge=0, le=3000)
    blocked: float | None = Field(default=None, ge=0, le=3000)


class Action(Entry):
    """Something one does. On screen a check mainly reveals, a remedy mainly cures.

    `does` says what it does to the machine in the words of `knowledge.effects`, by which cautions
    ban; `spoken_of` gives the reason for a word that its text seems to say and that it does not do.
    """

    kind: Literal["check", "remedy"]
    name: Text
    say: Text
    steps: list[Text]
    state: State
    leaves: State | None = None
    does: list[Effect] = []
    spoken_of: dict[Effect, Text] = {}
    minutes: Minutes
    role: Role = "student"
    tools: list[Text] = []
    parts: Literal["none", "consumable", "spare", "service"] = "none"
    specimen: Literal["safe", "marks", "spends"] = "safe"
    knob: bool = False
    about: list[Id] = []
    machine: Where = {}
    hazards: list[Id] = []
    reveals: list[Id] = []
    cures: dict[Id, Share] = {}
    may_cause: dict[Id, Share] = {}
    proof: Id | None = None
    if_partly: str = ""
    if_not: str = ""
    tell_owner: str = ""

    @property
    def effects(self) -> frozenset[Effect]:
        """All that it does to the machine: as declared, and as its machine states mean."""
        return closure(self.does) | by_state(self.state, self.leaves)

    @property
    def needs_service(self) -> bool:
        """True when the action costs money beyond a consumable, or somebody else's visit."""
        return self.role == "service" or self.parts in ("spare", "service")


class Caution(Entry):
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
    make_safe: list[Text] = []
    bans: list[Effect | Literal["anything"]] = []
    repair: list[Id] = []

    @property
    def is_danger(self) -> bool:
        """It stops everything, and its ban holds until somebody in charge lifts it."""
        return self.stop_now and bool(self.bans)


class Sign(Entry):
    """A danger sign asked before anything else, and the caution that it brings into force."""

    name: Text
    ask: Text
    caution: Id


class Circumstance(Entry):
    """A fact known beforehand that multiplies the odds of causes.

    `said_by` names the findings that say the same: the circumstance falls silent once one of
    them is answered. `touched` names what was handled, for "the last thing touched first". `when`
    it is asked: `since` (one choice, since when), `opening` (all that hold), `later` (before the
    first remedy whose causes it bears on).
    """

    name: Text
    ask: Text
    odds: dict[Id, Annotated[float, Field(gt=0, le=50)]]
    said_by: list[Id] = []
    touched: list[Id] = []
    when: Literal["since", "opening", "later"] = "later"
    complaints: list[Id] = []


class Workaround(Entry):
    """A way to a usable picture today that cures the complaint but not the cause.

    `does`, `spoken_of`, `hazards` and `specimen` as for an action; a doubtful coat marks what it
    lies on.
    """

    name: Text
    steps: list[Text]
    expect: Text
    complaints: list[Id]
    causes: list[Id] = []
    does: list[Effect] = []
    spoken_of: dict[Effect, Text] = {}
    minutes: Minutes
    specimen: Literal["safe", "marks", "spends"] = "safe"
    hazards: list[Id] = []

    @property
    def effects(self) -> frozenset[Effect]:
        """All that it does to the machine."""
        return closure(self.does)


class Care(Entry):
    """Upkeep that comes round: due after so many `runs` or `days`, whichever comes first."""

    name: Text
    say: Text
    runs: float | None = Field(default=None, gt=0)
    days: float | None = Field(default=None, gt=0)
    machine: Where = {}


class Synonyms(Entry):
    """Words that people use for what the rule base calls by the words in `means`.

    With an empty `means` they say nothing about a trouble (a, the, und, le) and are passed over.
    Those that are not understood `alone` tell a quality or an amount (good, not, minutes).
    """

    alone: bool = True
    means: list[Text]
    words: list[Text]


class Phrases(Entry):
    """What people say who mean the entry with this ID (of the kind `of`).

    `answers`: the same for one answer of a finding; `says`: for the entry as a whole.
    """

    of: Literal["finding", "complaint", "sign", "circumstance", "action"] = "finding"
    says: list[Text] = []
    answers: dict[AnswerId, list[Text]] = {}


class MachineState(Entry):
    """A state of the machine and the minutes it takes to bring it into another one."""

    name: Text
    to: dict[str, float]


class Settings(Entry):
    """Numbers of the reasoning itself that are judgement, in one place."""

    presence_per_share: float = Field(gt=0, lt=5)
    odds_cap_up: float = Field(gt=1)
    odds_cap_down: float = Field(gt=1)
    sticky: Share
    fairly_sure: Share
    waiting_weight: float = Field(gt=0, le=1)
    longest_wait: float = Field(gt=0)
    service_minutes: float = Field(gt=0)
    look_further_minutes: float = Field(gt=0)
    fetch_minutes: dict[str, float]
    spare_minutes: float = Field(ge=0)
    try_from: float = Field(ge=0, lt=1)
    accept_from: Share
    accept_normal_minutes: float = Field(gt=0)
    proof_minutes: float = Field(gt=0)
    intermittent_passes: Share
    second_try: Share
    recheck: dict[Literal["gone", "same", "fewer", "never_was", "more"], dict[AnswerId, Share]]


class RuleBase(BaseModel):
    """Everything that was read from one or more folders of rules, checked for consistency.

    `drawings`: file name -> SVG markup that has passed `knowledge.drawings`.
    """

    model_config = ConfigDict(
        strict=True, extra="forbid", frozen=True, ignored_types=(cached_property,)
    )

    hash: str
    complaints: Mapping[Id, Complaint]
    findings: Mapping[Id, Finding]
    presuppositions: Mapping[Id, Presupposition] = {}
    groups: Mapping[Id, Group]
    mechanisms: Mapping[Id, Mechanism]
    causes: Mapping[Id, Cause]
    actions: Mapping[Id, Action]
    cautions: Mapping[Id, Caution]
    signs: Mapping[Id, Sign]
    circumstances: Mapping[Id, Circumstance]
    workarounds: Mapping[Id, Workaround]
    care: Mapping[Id, Care] = {}
    states: Mapping[Id, MachineState]
    derivations: Mapping[Id, Derivation]
    settings: Settings
    drawings: Mapping[str, str] = {}
    synonyms: Mapping[Id, Synonyms] = {}
    phrases: Mapping[Id, Phrases] = {}

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
