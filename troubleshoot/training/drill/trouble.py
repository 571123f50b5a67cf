"""What is wrong in a drill: drawn by level and seed, or taken from a closed case of the lab."""

import random
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from troubleshoot.advice.verdict import commonest_first
from troubleshoot.case import entries
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import Journal, standing
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.reasoning.belief import Network

LEVELS = {
    1: "one fault that is easily seen",
    2: "one fault that hides",
    3: "one fault that hides, or nothing wrong",
    4: "the same, or a gauge that misleads",
    5: "the same, or two faults at once",
}
KINDS = {
    1: {"loud": 1.0},
    2: {"quiet": 1.0},
    3: {"quiet": 0.6, "nothing": 0.4},
    4: {"quiet": 0.3, "nothing": 0.25, "gauge": 0.45},
    5: {"quiet": 0.2, "nothing": 0.15, "gauge": 0.2, "two": 0.45},
}
"""How often each kind is drawn at a level: so that no level gives away what it is. Judgement."""
LOUD = 0.8
"""How far a quick look tells a loud cause from a sound coater (total variation): judgement. Quiet
is the half of the causes of a complaint of which quick looks tell least."""
SOMETIMES_NOTHING = 0.08
"""Complaints of which so large a part turn out to be nothing may be drilled with nothing wrong."""
QUICK = 3.0
"""Minutes at work of a quick look."""
GAUGES = ("gauge_contaminated", "gauge_adjustment_lost")
PROFILE = {
    "name": "the practice coater", "gauge_unit": "mbar", "isolation_valve": "yes",
    "gauge_side": "chamber", "current_set_by": "needle_valve", "hv_permit": "switch",
    "venting": "manual", "rotation": "no", "shutter": "yes", "head": "diode", "chamber": "glass",
    "trap": "no", "thickness_monitor": "no", "gauge_kind": "heat_loss", "gauge_gas": "air",
    "process_gas": "argon", "target": "gold", "pump_kind": "rotary_two_stage",
    "turbo": "no", "programme": "no", "cooling": "no", "carbon_accessory": "no",
    "glow_treatment": "no", "cooled_stage": "no",
    "voltmeter": "yes", "spare_gauge": "no", "volume": "4.5 L", "pump_speed": "4 m3/h",
    "hose_diameter": "20 mm", "hose_length": "90 cm",
}  # fmt: skip
"""A plain coater of the fictional plankton survey."""


@dataclass(frozen=True)
class Trouble:
    """One drill. `causes`: what is hidden (none: nothing is wrong); `known`: answers given.

    `story` is told to the trainee, `level` 0 is a case of the lab's own.
    """

    complaint: str
    causes: tuple[str, ...]
    machine: Machine
    story: str
    level: int
    seed: int
    known: Mapping[str, str] = field(default_factory=dict)


def practice_machine() -> Machine:
    """The coater of the drills, as far as the keys of a profile say it."""
    return machine_from(PROFILE, "the practice coater")


def drawn(bench: Bench, level: int, seed: int) -> Trouble:
    """The trouble of a level and a seed, the same each time. Raises `UserError`."""
    if level not in LEVELS:
        raise UserError(f"There is no level {level}: levels go from 1 to {max(LEVELS)}.")
    rng = random.Random(f"drill {level} {seed}")
    rules, machine = bench.rules, bench.machine
    complaints = [
        c.id
        for c in commonest_first(rules, machine)
        if any(s.complaint == c.id for s in rules.stories.values())
    ]
    if not complaints:
        raise UserError("The rules hold no `stories:`, so there is nothing to drill.")
    # What is drawn among at a level goes by no kind, so that the complaint does not tell either.
    if level == 3:
        complaints = [c for c in complaints if _may_be_nothing(rules, c)] or complaints
    if level == 4:
        complaints = [c for c in complaints if _gauge(bench, c)] or complaints
    weights = [1 / (n + 3) for n in range(len(complaints))]
    complaint = rng.choices(complaints, weights)[0]
    kinds = KINDS[level]
    kind = rng.choices(list(kinds), list(kinds.values()))[0]
    nothing = kind == "nothing" and _may_be_nothing(rules, complaint)
    causes = () if nothing else _causes(bench, complaint, kind, rng)
    stories = [s for s in rules.stories.values() if s.complaint == complaint]
    return Trouble(complaint, causes, machine, rng.choice(stories).told, level, seed)


def _may_be_nothing(rules: RuleBase, complaint: str) -> bool:
    return rules.complaints[complaint].normal_share >= SOMETIMES_NOTHING


def _causes(bench: Bench, complaint: str, kind: str, rng: random.Random) -> tuple[str, ...]:
    net = bench.planner(complaint).net
    odds = {
        name: float(o * s)
        for name, o, s in zip(net.causes, net.prior_odds, net.strength, strict=False)
        if s > 0 and bench.rules.causes[name].nature != "normal"
    }
    loudness = {name: _loudness(bench.rules, net, complaint, name) for name in odds}
    half = sorted(loudness.values())[len(loudness) // 2]
    loud = [name for name in odds if loudness[name] >= LOUD] or list(odds)
    quiet = [name for name in odds if loudness[name] <= half] or list(odds)

    def one(names: list[str]) -> str:
        return rng.choices(names, [odds[name] for name in names])[0]

    if kind == "loud":
        return (one(loud),)
    if kind == "gauge" and (gauges := _gauge(bench, complaint)):
        return (rng.choice(gauges),)
    if kind == "two" and len(quiet) > 1:
        first = one(quiet)
        return (first, one([name for name in quiet if name != first]))
    return (one(quiet),)


def _gauge(bench: Bench, complaint: str) -> list[str]:
    return [
        name
        for name in GAUGES
        if name in bench.rules.causes and complaint in bench.rules.causes[name].complaints
    ]


def _loudness(rules: RuleBase, net: Network, complaint: str, cause: str) -> float:
    """How far the best quick look tells a cause from a sound coater, 0 to 1."""
    best = 0.0
    for name in net.findings:
        quick = any(rules.actions[a].minutes.hands <= QUICK for a in rules.revealed_by[name])
        if quick and (cause, name) in rules.rows and rules.is_in_world(name, complaint):
            row, sound = rules.rows[cause, name], rules.findings[name].background
            best = max(best, float(np.abs([row[a] - sound[a] for a in sound]).sum()) / 2)
    return best


def from_case(rules: RuleBase, number: int, journal: Journal, machine: Machine) -> Trouble:
    """A closed case of the lab as a drill: its complaint, cause and answers.

    Raises `UserError` where it is not closed with a cause of these rules, or as normal.
    """
    closed = complaint = None
    words, known = "", {}
    treated = False
    for entry in standing(journal):
        said = entry.said
        match said:
            case entries.Complaint():
                complaint, words = said.complaint, said.words or ""
            case entries.Finding() if not treated and said.answer != entries.UNKNOWN:
                known[said.finding] = said.quantity or said.answers[0]
            case entries.Action() if said.treats:
                treated = True
            case entries.Closed():
                closed = said
    causes = tuple(c for c in closed.causes if c in rules.causes) if closed else ()
    if closed is None or complaint is None or not (causes or closed.outcome == "normal"):
        raise UserError(
            f"Case {number} is not closed with a cause that these rules know, or as normal: a "
            "drill needs one that is (`troubleshoot cases list`)."
        )
    name = rules.complaints[complaint].name
    story = f"A case of your own lab. What was said: “{words or name}”."
    return Trouble(complaint, causes, machine, story, 0, number, known)
