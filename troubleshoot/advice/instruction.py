"""What somebody is told to do: steps never without their cautions, and who may do them where.

The one place that reads the steps of an action, a way round or a danger out of the rules. Terminal,
report, service sheet, forms and `explain` only show what stands here.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from troubleshoot.advice.dose import dose
from troubleshoot.advice.phrases import lower_first
from troubleshoot.case.deduce import Deduction
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import ROLES, Action, RuleBase, Workaround
from troubleshoot.physics.safety import oxygen_after_release, released_volume
from troubleshoot.reasoning.moves import move_minutes

ROLE_NAMES = {
    "student": "a student",
    "experienced": "an experienced user",
    "in_charge": "the person in charge",
    "service": "qualified service",
}
PARTS = {
    "none": "none",
    "consumable": "consumables",
    "spare": "a spare part",
    "service": "through service",
}
DUMMY = {
    "marks": "It marks the specimen: use a dummy, not the one that matters.",
    "spends": "It uses the specimen up: use a dummy, not the one that matters.",
}
"""Of a check, for what it asks can be seen on another specimen."""
MARKED = {
    "marks": "It marks the specimen that it is done on.",
    "spends": "It uses up, or changes for good, the specimen that it is done on.",
}
"""Of a remedy or a way round: done on a dummy it would help nobody."""


LEAVE = {
    "marks": "It marks this specimen, which cannot be replaced: only with the leave of its owner.",
    "spends": "It uses up a piece of this specimen, which cannot be replaced: only with the leave "
    "of its owner, and tried first on a piece that has a second.",
}


@dataclass(frozen=True)
class Box:
    """A caution as it is boxed. `stop`: nothing else may be done before it is settled.

    `first` is the first sentence of the precaution, which must do for a glance, `more` the rest.
    `steps` make it safe, where it stops. `danger`: it bans until it is repaired and proved.
    """

    id: str
    name: str
    hazard: str
    first: str
    more: str
    steps: tuple[str, ...] = ()
    stop: bool = False
    settled: bool = False
    danger: bool = False

    @property
    def text(self) -> str:
        """The whole precaution."""
        return f"{self.first} {self.more}".strip()


@dataclass(frozen=True)
class Instruction:
    """An action or a way round, ready to be shown. Minutes are plain minutes.

    `move` to bring the machine into the state that is needed (`prepare` says which), `fetch` when
    it is for somebody of a higher role, `again` when it was tried before, `leave` when the owner of
    a specimen that cannot be replaced has to agree, `expect` what a way round gives.
    """

    id: str
    name: str
    say: str
    cautions: tuple[Box, ...]
    steps: tuple[str, ...]
    who: str = ""
    parts: str = ""
    tools: tuple[str, ...] = ()
    prepare: str | None = None
    fetch: str | None = None
    specimen: str | None = None
    again: str | None = None
    leave: str | None = None
    hands: float = 0.0
    wait: float = 0.0
    blocked: float = 0.0
    move: float = 0.0
    proof: str = ""
    if_partly: str = ""
    if_not: str = ""
    tell_owner: str = ""
    expect: str = ""

    @property
    def minutes(self) -> float:
        """Elapsed minutes in all: getting the machine there, hands and waiting."""
        return self.move + self.hands + self.wait


@dataclass(frozen=True)
class Site:
    """Where and by whom it would be done: all that an instruction depends on beside the rules.

    `in_force`: cautions that hold now; `settled`: those of them that were made safe; `dangers`: not
    repaired yet; `barred`: IDs that may not be offered.
    """

    rules: RuleBase
    machine: Machine = field(default_factory=Machine)
    role: str = ROLES[-1]
    state: str = "any"
    in_force: frozenset[str] = frozenset()
    settled: frozenset[str] = frozenset()
    dangers: frozenset[str] = frozenset()
    barred: Mapping[str, object] = field(default_factory=dict)
    tried: frozenset[str] = frozenset()
    irreplaceable: bool = False


def site_of(case: Deduction) -> Site:
    """The place of a case."""
    known = case.known
    return Site(
        rules=case.rules,
        machine=case.machine,
        role=known.role,
        state=known.state,
        in_force=frozenset(case.cautions),
        settled=frozenset(
            c for c in case.cautions if case.rules.cautions[c].stop_now and c not in case.stops
        ),
        dangers=frozenset(case.dangers),
        barred=case.refused,
        tried=frozenset(d.action for d in known.treatments if d is not None),
        irreplaceable=known.irreplaceable,
    )


def box(at: Site, name: str) -> Box:
    """The caution `name` as it stands here."""
    caution = at.rules.cautions[name]
    settled = name in at.settled and name not in at.dangers
    # Named as a hazard of a step it is a plain caution; it stops when a sign or a rule says so.
    stop = caution.stop_now and name in at.in_force and name not in at.settled
    first, *more = re.split(r"(?<=[.!?])\s+", _precaution(at, name), maxsplit=1)
    return Box(
        id=name,
        name=caution.name,
        hazard=caution.hazard,
        first=first,
        more=" ".join(more),
        steps=tuple(caution.make_safe) if stop else (),
        stop=stop,
        settled=settled,
        danger=name in at.dangers,
    )


def boxes(at: Site, names: Iterable[str]) -> tuple[Box, ...]:
    """Cautions, each once: first what stops everything, then dangers, last what is settled."""
    here = [n for n in dict.fromkeys(names) if at.machine.allows(at.rules.cautions[n].machine)]
    found = [box(at, name) for name in here]
    return tuple(sorted(found, key=lambda b: (b.settled, not b.stop, not b.danger)))


def _precaution(at: Site, name: str) -> str:
    """The usual precaution of a caution, with what follows from this room and cylinder."""
    text = at.rules.cautions[name].precaution
    numbers = at.machine.numbers
    if name == "argon_in_room" and {"cylinder", "fill_pressure", "room"} <= numbers.keys():
        gas = released_volume(numbers["cylinder"], numbers["fill_pressure"])
        left = oxygen_after_release(gas, numbers["room"])
        text += (
            f" If this cylinder emptied into this room, about {100 * left:.0f} % oxygen would be"
        )
        text += " left at worst (an alarm is set at 19.5 %)."
    return text


def for_action(at: Site, action: Action) -> Instruction:
    """What to do for a check or a remedy."""
    minutes, state = action.minutes, action.state
    move = move_minutes(at.rules, at.machine, at.state, state)
    prepare = fetch = None
    if state not in ("any", at.state):
        took = f" (about {move:g} min)" if move else ""
        prepare = f"First bring the machine into this state: {at.rules.states[state].name}{took}."
    if ROLES.index(action.role) > ROLES.index(at.role):
        fetch = f"This is for {ROLE_NAMES[action.role]}: fetch or call them; do not do it alone."
    proof = at.rules.actions.get(action.proof or "")
    toll = MARKED if action.cures else DUMMY
    return Instruction(
        id=action.id,
        name=action.name,
        say=action.say,
        cautions=boxes(at, action.hazards),
        steps=(*_numbers(at, action), *action.steps),
        who=ROLE_NAMES[action.role],
        parts=PARTS[action.parts],
        tools=tuple(action.tools),
        prepare=prepare,
        fetch=fetch,
        specimen=None if at.irreplaceable else toll.get(action.specimen),
        again=_again(action) if action.id in at.tried else None,
        leave=LEAVE[action.specimen] if at.irreplaceable and action.specimen != "safe" else None,
        hands=minutes.hands,
        wait=minutes.wait,
        blocked=minutes.hands + minutes.wait if minutes.blocked is None else minutes.blocked,
        move=move,
        proof=_proof(proof) if proof and proof.id not in at.barred else "",
        if_partly=action.if_partly,
        if_not=action.if_not,
        tell_owner=action.tell_owner,
    )


def _numbers(at: Site, action: Action) -> tuple[str, ...]:
    """What the coat that it gives means on this coater."""
    given = None if action.coats is None else dose(at.machine, action.coats)
    return () if given is None else (given,)


def _proof(check: Action) -> str:
    """How a remedy is proved: what the check says, and its name to find it by."""
    return f"{check.say.rstrip('.')} ({lower_first(check.name)})."


def _again(action: Action) -> str:
    """What to do better the second time."""
    more = action.if_partly or action.if_not
    return f"It was done once already: this time more thoroughly. {more}".strip()


def for_way(at: Site, way: Workaround) -> Instruction:
    """What to do for a way round."""
    return Instruction(
        id=way.id,
        name=way.name,
        say=f"{way.name}. {way.expect}",
        cautions=boxes(at, way.hazards),
        steps=tuple(way.steps),
        specimen=MARKED.get(way.specimen),
        hands=way.minutes.hands,
        wait=way.minutes.wait,
        expect=way.expect,
    )


def for_danger(at: Site, name: str, steps: tuple[str, ...] | None = None) -> Instruction:
    """What to do about a danger: make it safe, or the `steps` that are given instead."""
    caution = at.rules.cautions[name]
    return Instruction(
        id=name,
        name=caution.name,
        say=caution.precaution,
        cautions=(box(at, name),),
        steps=tuple(caution.make_safe) if steps is None else steps,
    )


def for_service() -> Instruction:
    """What is left when nothing here is worth its minutes any more."""
    return Instruction(
        id="call_service",
        name="Call service",
        say="Call service; the service sheet lists what they will ask for.",
        cautions=(),
        steps=("Print the service sheet.", "Leave the coater off and tagged."),
    )
