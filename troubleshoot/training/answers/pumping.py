"""What pumping down shows, and the chamber shut off from its pump: base, times, rise."""

from troubleshoot.training.answers.bands import CLEARLY, bad, banded, yes
from troubleshoot.training.observed import HALF_AN_HOUR, TEN_MINUTES, Observed

HOURS = 5400.0
RAISED = 5 / 3
"""Times the usual base from which on it is raised, as the finding says."""


def base_loaded(at: Observed) -> str:
    return banded(
        at.base / at.usual_base, (RAISED, 10 / 3, 50 / 3), ("usual", "raised", "high", "very_high")
    )


def base_empty(at: Observed) -> str:
    return banded(
        at.base_empty / at.usual_base,
        (RAISED, 10 / 3, 50 / 3),
        ("usual", "raised", "high", "very_high"),
    )


def pump_down_time(at: Observed) -> str:
    ratio = at.time_to(at.waited_for) / at.usual_time
    if ratio * at.usual_time > HALF_AN_HOUR:
        return "never"
    return banded(ratio, (1.5, 3.0), ("usual", "longer", "much_longer"))


def time_to_ten_mbar(at: Observed) -> str:
    usual = Observed(at.sound, at.sound, at.seed).time_to(1000.0)
    return banded(at.time_to(1000.0) / usual, (1.5, 3.0), ("usual", "longer", "much_longer"))


def curve_shape(at: Observed) -> str:
    if time_to_ten_mbar(at) != "usual":
        return "slow_throughout"
    if not bad(at):
        return "usual"
    five, ten = (at.reading(at.pumped, s) for s in (300.0, TEN_MINUTES))
    return "creeps_down" if five > 1.1 * ten else "stops_dead"


def load_contrast(at: Observed) -> str | None:
    if at.base / at.base_empty < CLEARLY:
        return "same_empty"
    return "usual_empty" if at.base_empty <= RAISED * at.usual_base else "lower_empty"


def rise_in_a_minute(at: Observed) -> float:
    """Pa/s over the first minute, as shown."""
    before, after = (at.reading(at.shut, TEN_MINUTES + s) for s in (0.0, 60.0))
    return (after - before) / 60


def usual_rise(at: Observed) -> float:
    """That of the sound plant."""
    return max(rise_in_a_minute(Observed(at.sound, at.sound, at.seed)), 1e-4)


def rise_rate(at: Observed) -> str:
    ratio = rise_in_a_minute(at) / usual_rise(at)
    return banded(ratio, (0.5, 3.0, 30.0), ("small", "ordinary", "fast", "very_fast"))


def rise_against_base(at: Observed) -> str | None:
    if not bad(at) and rise_in_a_minute(at) < 3 * usual_rise(at):
        return "fits_usual"
    ratio = 60 * rise_in_a_minute(at) / at.base
    if ratio >= 3:
        return "gas_comes_in"
    return "too_small_for_base" if ratio < 1 else None


def rise_shape(at: Observed) -> str:
    shown = [at.reading(at.shut, TEN_MINUTES + s) for s in (0.0, 120.0, 300.0)]
    if shown[2] < 1.2 * shown[0]:
        return "too_small"
    early, late = (shown[1] - shown[0]) / 120, (shown[2] - shown[1]) / 180
    return "straight" if late > 0.85 * early else "bends_over"


def long_pump_recovers(at: Observed) -> str | None:
    if base_loaded(at) == "usual":
        return None
    return yes(at.base_with(at.plant.coater, HOURS) <= RAISED * at.usual_base)


def valve_shuts(at: Observed) -> str:
    return yes(at.plant.coater.valve_passes == 0)
