"""What is found on parts that are held shut, left out, lent, listened to or looked at."""

from dataclasses import replace

import numpy as np

from troubleshoot.training.answers.bands import TWICE, bad, banded, helps, yes
from troubleshoot.training.answers.pumping import pump_down_time
from troubleshoot.training.coater import Coater
from troubleshoot.training.faults.looks import SOUND
from troubleshoot.training.flows import pumped
from troubleshoot.training.observed import Observed

HISSES = 0.5
"""Pa m3/s of air that are heard: a hole of 0.2 mm. Judgement."""
GURGLES = 300.0
"""Pa at its inlet, above which a rotary pump is heard to pump: judgement."""


def _without_leak(at: Observed, *places: str) -> Coater:
    rest = tuple(x for x in at.plant.coater.leaks if x.place not in places)
    return replace(at.plant.coater, leaks=rest)


def vent_bung_helps(at: Observed) -> str | None:
    return yes(helps(at, _without_leak(at, "vent"))) if bad(at) else None


def port_blank_helps(at: Observed) -> str | None:
    return yes(_back(at, _without_leak(at, "port"))) if bad(at) else None


def loan_pump_helps(at: Observed) -> str | None:
    if not _poor(at):
        return None
    rest = tuple(t for t in at.plant.coater.chokes if t.place != "pump inlet")
    return yes(_back(at, replace(at.plant.coater, pump=at.sound.coater.pump, chokes=rest)))


def trap_out_helps(at: Observed) -> str | None:
    if not _poor(at):
        return None
    rest = tuple(t for t in at.plant.coater.chokes if t.place != "trap")
    return yes(rest != at.plant.coater.chokes)


def exhaust_off_helps(at: Observed) -> str:
    return yes(at.plant.coater.pump.most < float("inf"))


def warm_pump_recovers(at: Observed) -> str | None:
    if not _poor(at):
        return None
    warm = replace(at.plant.coater.pump, warm=1.0)
    return yes(at.plant.coater.pump.warm < 1 and _back(at, replace(at.plant.coater, pump=warm)))


def blank_off(at: Observed) -> str:
    pump, usual = at.plant.coater.pump, at.sound.coater.pump
    # A heat-loss gauge feels water vapour twice.
    ends = (pump.ultimate + 2 * pump.oil_water) / usual.ultimate if pump.running else 1e5
    return banded(ends, (2.0, 5.0), ("usual", "raised", "high"))


def hose_end_worse(at: Observed) -> str:
    return yes(at.plant.coater.hose_leak > 0)


def pump_suction(at: Observed) -> str:
    blocked = any(t.place == "pump inlet" for t in at.plant.coater.chokes)
    return yes(at.plant.coater.pump.running and not blocked)


def pump_sound(at: Observed) -> str:
    """A rotary pump gurgles as long as much gas goes through it."""
    pump = at.plant.coater.pump
    if not pump.running:
        return "silent"
    row = int(np.searchsorted(at.pumped.seconds, 300.0))
    taken = sum(pumped(at.plant.coater, at.pumped.partial[row].tolist()))
    return "gurgles_on" if taken > GURGLES * pump.speed else "quiet"


def tracer_where(at: Observed) -> str:
    where = {"lid": "seal_or_lid", "glass": "seal_or_lid", "port": "port",
             "joint": "joint_or_window", "shaft": "shaft", "vent": "hose_or_valve"}  # fmt: skip
    if at.plant.coater.hose_leak:
        return "hose_or_valve"
    largest = max(at.plant.coater.leaks, key=lambda leak: leak.rate, default=None)
    return where[largest.place] if largest is not None else "nowhere"


def moving_lifts_pressure(at: Observed) -> str:
    return yes(any(leak.place == "shaft" for leak in at.plant.coater.leaks))


def look(finding: str, at: Observed) -> str:
    """What a lamp shows of a part."""
    return at.plant.seen.get(finding, SOUND[finding])


def hiss(at: Observed) -> str:
    """A hole through which air is choked hisses; a fine channel does not."""
    where = {"lid": "lid_or_glass", "glass": "lid_or_glass", "vent": "vent"}
    loud = [x for x in at.plant.coater.leaks if x.wide and x.rate > HISSES and x.place in where]
    largest = max(loud, key=lambda leak: leak.rate, default=None)
    return where[largest.place] if largest is not None else "none"


def vent_knob(at: Observed) -> str:
    return "not_closed" if at.plant.vent_open else "closed"


def needle_knob(at: Observed) -> str:
    return "open" if at.plant.coater.line.open_valve else "closed"


def isolation_knob(at: Observed) -> str:
    partly = any(t.place == "isolation valve" for t in at.plant.coater.chokes)
    return "partly" if partly else "open"


def ballast_knob(at: Observed) -> str:
    return "open" if at.plant.ballast_open else "closed"


def _poor(at: Observed) -> bool:
    """Whether base or time are worse than usual."""
    return bad(at) or pump_down_time(at) != "usual"


def _back(at: Observed, coater: Coater) -> bool:
    """Whether the base is as usual with other parts."""
    return at.base_with(coater) <= TWICE * at.usual_base
