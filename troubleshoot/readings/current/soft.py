"""What a log of the discharge says of the findings of the rule base, answer by answer.

Numbers that name no source are judgement.
"""

import math
from collections.abc import Mapping

from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings.current.relation import LEAST_SHARE
from troubleshoot.readings.current.trace import JUMP, Trace
from troubleshoot.readings.reading import Estimate
from troubleshoot.readings.trend import Trend

DRIFTS = 0.1
"""From this change in two minutes on it is a drift, and not the small change of any discharge."""
HOLDS = 0.2
"""The pressure is steady within a fifth, as its finding says."""
JUMPS_A_MINUTE = 0.5
"""From so many jumps a minute on the needle is said to twitch."""
ONE_STEP = 0.7
"""P(an operator calls it a jump) of a single step."""
QUICK = 10.0
"""s. A needle that swings faster than this looks restless; a slower swing is seen as drifting."""


def soft_findings(
    run: Trace,
    numbers: Mapping[str, Estimate],
    findings: Mapping[str, Finding],
    machine: Machine,
) -> dict[str, tuple[float, ...]]:
    """Finding ID -> a share for each of its answers, in their order."""
    told: dict[str, dict[str, float]] = {}
    over_time = _over_time(run, numbers)
    if over_time is not None:
        told["current_over_time"] = over_time
    change = numbers.get("pressure_change")
    if change is not None:
        falls, climbs = _beyond(change, -HOLDS), _beyond(change, HOLDS)
        told["pressure_hold"] = {"falls": falls, "steady": 1 - falls - climbs, "climbs": climbs}
    at_reference = _at_reference(numbers, machine)
    if at_reference is not None:
        told["current_at_reference"] = at_reference
    return {
        name: tuple(max(shares.get(answer, 0.0), LEAST_SHARE) for answer in findings[name].answers)
        for name, shares in told.items()
        if name in findings and machine.allows(findings[name].machine)
    }


def _beyond(change: Estimate, edge: float) -> float:
    """P(true change lies beyond the edge, away from zero)."""
    line = Trend(change.value, math.hypot(change.sigma, 0.1 * abs(edge)), 0.0, 0.0)
    above = line.probability_above(edge)
    return above if edge > 0 else 1 - above


def _over_time(run: Trace, numbers: Mapping[str, Estimate]) -> dict[str, float] | None:
    """Going out says more than jumping, jumping more than drifting, drifting more than nothing."""
    change = numbers.get("change_in_two_minutes")
    if change is None:
        return None
    kinds = [e.kind for e in run.events]
    swing = run.swing
    out = 1 - 0.05 ** kinds.count("out")
    jumps = kinds.count("jump")
    restless = _often(jumps, run.minutes, JUMPS_A_MINUTE) if jumps else 0.0
    if "step" in kinds:
        restless = max(restless, ONE_STEP)
    if swing is not None and numbers["swing_depth"].value >= JUMP and swing.period.value <= QUICK:
        restless = max(restless, 0.9)
    down, up = _beyond(change, -DRIFTS), _beyond(change, DRIFTS)
    quiet = (1 - out) * (1 - restless)
    if swing is not None and numbers["swing_depth"].value >= JUMP and swing.period.value > QUICK:
        # None of the answers describes a slow swing, so it speaks for none of them.
        return {**dict.fromkeys(("steady", "drifts_down", "drifts_up", "flickers"), (1 - out) / 4),
                "cuts_out": out}  # fmt: skip
    return {
        "steady": quiet * max(1 - down - up, 0.0),
        "drifts_down": quiet * down,
        "drifts_up": quiet * up,
        "flickers": (1 - out) * restless,
        "cuts_out": out,
    }


def _often(count: int, minutes: float, rate: float) -> float:
    """P(true rate > `rate` a minute | `count` seen): gamma posterior of a flat prior."""
    x = rate * minutes
    term = total = math.exp(-x)
    for k in range(1, count + 1):
        term *= x / k
        total += term
    return min(total, 1.0)


def _at_reference(numbers: Mapping[str, Estimate], machine: Machine) -> dict[str, float] | None:
    """Against the usual current, where the pressure is known to be the usual one."""
    usual, at = machine.numbers.get("usual_current"), machine.numbers.get("usual_pressure")
    pressure = numbers.get("pressure")
    if not usual or not at or pressure is None or not 0.9 < pressure.value / at < 1.1:
        return None
    ratio = numbers["current"].value / usual
    low = _beyond(Estimate(ratio - 1, 0.05, ""), -0.2)
    high = _beyond(Estimate(ratio - 1, 0.05, ""), 0.2)
    return {"zero": 0.0, "low": low, "usual": 1 - low - high, "high": high}
