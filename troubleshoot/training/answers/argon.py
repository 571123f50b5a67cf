"""The argon: its cylinder, its line, and what it does to the pressure."""

from dataclasses import replace

from troubleshoot.training.answers.bands import bad, banded, helps, yes
from troubleshoot.training.observed import HOLD, LEAST, Observed


def needle_response(at: Observed) -> str:
    line = at.plant.coater.line
    return "none" if line.most < 0.01 * at.sound.coater.line.most else "smooth"


def cylinder_contents(at: Observed) -> str:
    return "ok" if at.plant.coater.line.full else "low_or_zero"


def cylinder_valve(at: Observed) -> str:
    return "open" if at.plant.coater.line.full else "shut"


def regulator_outlet(at: Observed) -> str:
    line = at.plant.coater.line
    if not line.full:
        return "low_or_zero"
    return "wanders" if line.creeps else "usual"


def line_holds(at: Observed) -> str:
    return yes(not at.plant.coater.line.air)


def rise_line_shut(at: Observed) -> str | None:
    """Whether it is the needle valve that lets gas in while it is closed."""
    if not bad(at):
        return None
    return yes(helps(at, replace(at.plant.coater, line=at.sound.coater.line)))


def low_reading(at: Observed) -> str:
    shows = at.base_empty
    if shows <= LEAST:
        return "zero_or_below"
    return banded(shows / at.usual_base, (0.2, 0.6), ("far_lower", "somewhat_lower", "usual"))


def gas_proven(at: Observed) -> str:
    return yes(at.plant.coater.line.gas == "argon")


def flushes(at: Observed) -> str:
    return "three_or_more" if at.plant.recipe.flushed else "none_or_one"


def pressure_hold(at: Observed) -> str:
    shown = [at.reading(at.gas, at.gas.seconds[-1] - s) for s in (HOLD, 0.0)]
    return banded(shown[1] / max(shown[0], 1e-3), (0.8, 1.25), ("falls", "steady", "climbs"))
