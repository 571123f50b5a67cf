"""What may be offered now: the one place that says no.

The next step, parked and half-done steps, remedies, forms, ways round, "can I still coat today?"
and "what would change it" all ask here, through `Deduction.refused`. Safety comes before cost:
nothing here looks at a probability.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.effects import ANYTHING
from troubleshoot.knowledge.model import Action, Caution, RuleBase, Workaround

LIFTS_A_BAN = ("in_charge", "service")
"""The roles that may repair what a danger sign showed, and say that it is repaired and proved."""


@dataclass(frozen=True)
class Refusal:
    """Why something may not be offered, and which kind of reason that is."""

    kind: Literal["machine", "specimen", "reach", "ban"]
    because: str


@dataclass(frozen=True)
class Standing:
    """All that bears on what may be offered.

    `out_of_reach`: action -> why a rule took it out of reach; `bans`: the cautions in force that
    ban something; `done`: actions done since the first of them came into force.
    """

    rules: RuleBase
    machine: Machine
    role: str
    irreplaceable: bool = False
    out_of_reach: Mapping[str, str] = field(default_factory=dict)
    bans: tuple[str, ...] = ()
    done: frozenset[str] = frozenset()


def refusal(standing: Standing, doing: Action | Workaround) -> Refusal | None:
    """Why `doing` may not be offered now; None where it may."""
    if isinstance(doing, Action) and doing.id in standing.out_of_reach:
        return Refusal("reach", standing.out_of_reach[doing.id])
    if not standing.machine.allows(doing.machine):
        return Refusal("machine", "This coater has nothing of that kind.")
    for caution in _banning(standing, doing):
        return Refusal("ban", because(caution))
    if standing.irreplaceable and doing.specimen != "safe":
        return Refusal("specimen", "It marks or spends a specimen, and this one has no second.")
    return None


def because(caution: Caution) -> str:
    """Why nothing that a caution bans is offered, as a sentence."""
    if caution.is_danger:
        return f"Not before this is repaired and proved: {caution.name}."
    return f"Not while this holds: {caution.name}."


def all_refused(standing: Standing) -> dict[str, Refusal]:
    """Everything in the rule base that may not be offered now, by ID."""
    rules = standing.rules
    doings: list[Action | Workaround] = [*rules.actions.values(), *rules.workarounds.values()]
    found = ((doing.id, refusal(standing, doing)) for doing in doings)
    return {name: why for name, why in found if why is not None}


def _banning(standing: Standing, doing: Action | Workaround) -> Iterator[Caution]:
    """The cautions in force that forbid `doing`."""
    for name in standing.bans:
        caution = standing.rules.cautions[name]
        forbids = ANYTHING in caution.bans or doing.effects.intersection(caution.bans)
        mends = isinstance(doing, Action) and puts_right(standing, caution, doing)
        if forbids and not mends:
            yield caution


def puts_right(standing: Standing, caution: Caution, action: Action) -> bool:
    """Whether `action` is the repair, or after it its proof, in hands that may do it.

    Of a caution that is no danger anybody may do the repair who may do it at all.
    """
    entitled = not caution.is_danger or standing.role in LIFTS_A_BAN
    if action.id in caution.repair:
        return entitled or action.role == "service"
    proofs = {standing.rules.actions[r].proof for r in standing.done.intersection(caution.repair)}
    return entitled and action.id in proofs
