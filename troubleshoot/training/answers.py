"""What a check of the rule base shows on a simulated coater: an answer made by physics, or nothing.

Each finding that physics can make has one function here, from what is read or seen (`Observed`) to
the ID of an answer. What the physics does not hold, such as what somebody remembers, the simulator
cannot say. No probability of the rule base is looked at, only the edges between its answers.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.training.coater import Coater
from troubleshoot.training.flows import pumped
from troubleshoot.training.glow import PINK, strikes
from troubleshoot.training.observed import (
    HALF_AN_HOUR,
    HOLD,
    LEAST,
    TEN_MINUTES,
    Observed,
)

Answer = Callable[[Observed], str | None]

TWICE, CLEARLY = 2.0, 1.5
"""Factors by which a base is "as usual", and by which a change is seen: as the findings say."""
HOURS = 5400.0
GURGLES = 300.0
"""Pa at its inlet, above which a rotary pump is heard to pump: judgement."""


def _yes(it_is: bool) -> str:
    return "yes" if it_is else "no"


def _banded(value: float, edges: tuple[float, ...], answers: tuple[str, ...]) -> str:
    return answers[int(np.searchsorted(edges, value, side="right"))]


def _bad(at: Observed) -> bool:
    return at.base > TWICE * at.usual_base


def _poor(at: Observed) -> bool:
    """Whether base or time are worse than usual."""
    return _bad(at) or pump_down_time(at) != "usual"


def _back(at: Observed, coater: Coater) -> bool:
    """Whether the base is as usual with other parts."""
    return at.base_with(coater) <= TWICE * at.usual_base


def _helps(at: Observed, coater: Coater) -> bool:
    return at.base_with(coater) * CLEARLY < at.base


# Pumping


def base_loaded(at: Observed) -> str:
    return _banded(
        at.base / at.usual_base, (5 / 3, 10 / 3, 50 / 3), ("usual", "raised", "high", "very_high")
    )


def base_empty(at: Observed) -> str:
    return _banded(
        at.base_empty / at.usual_base,
        (5 / 3, 10 / 3, 50 / 3),
        ("usual", "raised", "high", "very_high"),
    )


def pump_down_time(at: Observed) -> str:
    ratio = at.time_to(at.waited_for) / at.usual_time
    if ratio * at.usual_time > HALF_AN_HOUR:
        return "never"
    return _banded(ratio, (1.5, 3.0), ("usual", "longer", "much_longer"))


def time_to_ten_mbar(at: Observed) -> str:
    usual = Observed(at.sound, at.sound, at.seed).time_to(1000.0)
    return _banded(at.time_to(1000.0) / usual, (1.5, 3.0), ("usual", "longer", "much_longer"))


def curve_shape(at: Observed) -> str:
    if time_to_ten_mbar(at) != "usual":
        return "slow_throughout"
    if not _bad(at):
        return "usual"
    five, ten = (at.reading(at.pumped, s) for s in (300.0, TEN_MINUTES))
    return "creeps_down" if five > 1.1 * ten else "stops_dead"


def load_contrast(at: Observed) -> str | None:
    if at.base / at.base_empty < CLEARLY:
        return "same_empty"
    return "usual_empty" if at.base_empty <= 5 / 3 * at.usual_base else "lower_empty"


def rise_in_a_minute(at: Observed) -> float:
    """Pa/s over the first minute, as shown."""
    before, after = (at.reading(at.shut, TEN_MINUTES + s) for s in (0.0, 60.0))
    return (after - before) / 60


def usual_rise(at: Observed) -> float:
    """That of the sound plant."""
    return max(rise_in_a_minute(Observed(at.sound, at.sound, at.seed)), 1e-4)


def rise_rate(at: Observed) -> str:
    ratio = rise_in_a_minute(at) / usual_rise(at)
    return _banded(ratio, (0.5, 3.0, 30.0), ("small", "ordinary", "fast", "very_fast"))


def rise_against_base(at: Observed) -> str | None:
    if not _bad(at) and rise_in_a_minute(at) < 3 * usual_rise(at):
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
    if not _bad(at):
        return None
    return _yes(at.base_with(at.plant.coater, HOURS) <= TWICE * at.usual_base)


def valve_shuts(at: Observed) -> str:
    return _yes(at.plant.coater.valve_passes == 0)


# Parts that are held shut, left out or lent


def _without_leak(at: Observed, *places: str) -> Coater:
    rest = tuple(x for x in at.plant.coater.leaks if x.place not in places)
    return replace(at.plant.coater, leaks=rest)


def vent_bung_helps(at: Observed) -> str | None:
    return _yes(_helps(at, _without_leak(at, "vent"))) if _bad(at) else None


def port_blank_helps(at: Observed) -> str | None:
    return _yes(_back(at, _without_leak(at, "port"))) if _bad(at) else None


def loan_pump_helps(at: Observed) -> str | None:
    if not _poor(at):
        return None
    rest = tuple(t for t in at.plant.coater.chokes if t.place != "pump inlet")
    return _yes(_back(at, replace(at.plant.coater, pump=at.sound.coater.pump, chokes=rest)))


def trap_out_helps(at: Observed) -> str | None:
    if not _poor(at):
        return None
    rest = tuple(t for t in at.plant.coater.chokes if t.place != "trap")
    return _yes(rest != at.plant.coater.chokes)


def exhaust_off_helps(at: Observed) -> str:
    return _yes(at.plant.coater.pump.most < float("inf"))


def warm_pump_recovers(at: Observed) -> str | None:
    if not _poor(at):
        return None
    warm = replace(at.plant.coater.pump, warm=1.0)
    return _yes(at.plant.coater.pump.warm < 1 and _back(at, replace(at.plant.coater, pump=warm)))


def blank_off(at: Observed) -> str:
    pump, usual = at.plant.coater.pump, at.sound.coater.pump
    # A heat-loss gauge feels water vapour twice.
    ends = (pump.ultimate + 2 * pump.oil_water) / usual.ultimate if pump.running else 1e5
    return _banded(ends, (2.0, 5.0), ("usual", "raised", "high"))


def hose_end_worse(at: Observed) -> str:
    return _yes(at.plant.coater.hose_leak > 0)


def pump_suction(at: Observed) -> str:
    blocked = any(t.place == "pump inlet" for t in at.plant.coater.chokes)
    return _yes(at.plant.coater.pump.running and not blocked)


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
    return _yes(any(leak.place == "shaft" for leak in at.plant.coater.leaks))


# How parts stand


def vent_knob(at: Observed) -> str:
    return "not_closed" if at.plant.vent_open else "closed"


def needle_knob(at: Observed) -> str:
    return "open" if at.plant.coater.line.open_valve else "closed"


def isolation_knob(at: Observed) -> str:
    partly = any(t.place == "isolation valve" for t in at.plant.coater.chokes)
    return "partly" if partly else "open"


def ballast_knob(at: Observed) -> str:
    return "open" if at.plant.ballast_open else "closed"


# The gauge


def gauge_at_atmosphere(at: Observed) -> str:
    gauge = at.plant.gauge
    shows = ATMOSPHERE * gauge.scale + gauge.zero
    if gauge.top < ATMOSPHERE / 2:
        shows = gauge.top
    return "correct" if 0.6 < shows / ATMOSPHERE < 1.7 else "short"


def gauge_response(at: Observed) -> str:
    gauge = at.plant.gauge
    if gauge.noise > 0.15:
        return "erratic"
    return "sluggish" if gauge.lag > 4 else "prompt"


def second_gauge(at: Observed) -> str:
    known = at.reading(at.pumped, TEN_MINUTES, at.sound.gauge)
    ratio = at.base / max(known, 1e-3)
    return _banded(ratio, (1 / CLEARLY, CLEARLY), ("coater_low", "agrees", "coater_high"))


def gauge_wiggle(at: Observed) -> str:
    return _yes(at.plant.gauge.noise > 0.15)


# The argon


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
    return _yes(not at.plant.coater.line.air)


def rise_line_shut(at: Observed) -> str | None:
    """Whether it is the needle valve that lets gas in while it is closed."""
    if not _bad(at):
        return None
    return _yes(_helps(at, replace(at.plant.coater, line=at.sound.coater.line)))


def low_reading(at: Observed) -> str:
    shows = at.base_empty
    if shows <= LEAST:
        return "zero_or_below"
    return _banded(shows / at.usual_base, (0.2, 0.6), ("far_lower", "somewhat_lower", "usual"))


def gas_proven(at: Observed) -> str:
    return _yes(at.plant.coater.line.gas == "argon")


def flushes(at: Observed) -> str:
    return "three_or_more" if at.plant.recipe.flushed else "none_or_one"


def pressure_hold(at: Observed) -> str:
    shown = [at.reading(at.gas, at.gas.seconds[-1] - s) for s in (HOLD, 0.0)]
    return _banded(shown[1] / max(shown[0], 1e-3), (0.8, 1.25), ("falls", "steady", "climbs"))


# The glow


def permit_lamp(at: Observed) -> str:
    return "lit" if at.head.permitted else "unlit"


def hv_controls(at: Observed) -> str:
    return "set" if at.head.demand > 0 else "zero_or_other_mode"


def hv_volts(at: Observed) -> str:
    head = at.head
    if not head.permitted or head.voltage * head.demand <= 0:
        return "zero"
    if head.shorted:
        return "low_high_current"
    return "usual" if at.glows else "high_no_current"


def glow(at: Observed) -> str:
    if not at.glows:
        return "none"
    return "full" if np.max(at.amps) - at.head.leaks > 0.4 * at.usual_amps else "faint_or_patchy"


def glow_colour(at: Observed) -> str | None:
    if not at.glows:
        return None
    # A pump gives back a little air on a good day too.
    good = Observed(at.sound, at.sound, at.seed).air_share[1]
    first, last = (share > PINK + good for share in at.air_share)
    return {(True, True): "pink", (True, False): "pink_then_usual"}.get((first, last), "usual")


def ring_glow(at: Observed) -> str | None:
    if not at.glows:
        return None
    return "even" if at.head.magnet > 0.6 else "weak_or_uneven"


def flashes(at: Observed) -> str | None:
    if not at.glows:
        return None
    return "target_or_shield" if at.head.arcs > 1 else "none"


def current_at_reference(at: Observed) -> str:
    start = float(np.median(at.amps[:20])) / at.usual_amps
    return _banded(start, (0.05, 0.65, 1.6), ("zero", "low", "usual", "high"))


def current_over_time(at: Observed) -> str | None:
    if not at.glows:
        return None
    if np.isfinite(at.head.trips) and at.head.trips < HOLD:
        return "cuts_out"
    if at.head.arcs > 1:
        return "flickers"
    first, last = float(np.median(at.amps[:20])), float(np.median(at.amps[-20:]))
    if first < 0.05 * at.usual_amps:
        return None  # it strikes only on the way
    return _banded(last / first, (0.9, 1.1), ("drifts_down", "steady", "drifts_up"))


def current_sweep(at: Observed) -> str | None:
    if at.head.leaks > 0.1 * at.usual_amps or at.head.shorted:
        return "current_without_glow"
    return "smooth" if at.glows else None


def returns_after_rest(at: Observed) -> str | None:
    return "yes" if at.head.trips < HOLD and at.glows else "no"


def glow_against_gauge(at: Observed) -> str | None:
    """The dark layer goes with the true pressure: beside what is usual at this reading."""
    if not at.glows:
        return None
    true = float(at.watched[1].sum(axis=1).mean())
    shown = at.reading(at.gas, at.gas.seconds[-1])
    usual = at.sound.head.pressure / at.wanted
    ratio = true / max(shown, 1e-3) / usual
    return _banded(ratio, (1 / CLEARLY, CLEARLY), ("looks_lower", "fits", "looks_higher"))


def insulation(at: Observed) -> str:
    return "shorted" if at.head.shorted else "leaky" if at.head.leaks else "sound"


def hv_contact(at: Observed) -> str:
    return "sound" if at.head.contact else "loose_or_burnt"


def shield_gap(at: Observed) -> str:
    return "bridged" if at.head.shorted else "clear"


def insulator_state(at: Observed) -> str:
    return "metallised" if at.head.leaks else "clean"


def needle_nudge(at: Observed) -> str:
    """Half as much argon again: does it strike, and stay?"""
    _, partial = at.watched
    more = partial[-1] + np.array([0.0, 0.0, 0.5 * partial[-1].sum()])
    if at.plant.coater.line.most < 0.01 * at.sound.coater.line.most:
        more = partial[-1]
    if not strikes(at.head, more):
        return "no_effect"
    return "strikes_and_stays" if at.head.trips > HOLD else "strikes_then_dies"


def presputter_clears(at: Observed) -> str | None:
    """Whether two or three minutes of the glow bring the current back."""
    if not at.glows or not at.head.dirt:
        return None
    return _yes(abs(at.head.dirt) * float(np.exp(-180.0 / at.head.cleans)) < 0.1)


# The settings and the coat


def pressure_set(at: Observed) -> str:
    return _banded(at.plant.recipe.pressure, (0.8, 1.25), ("lower", "as_recipe", "higher"))


def current_set(at: Observed) -> str:
    return _banded(at.plant.recipe.demand, (0.8, 1.25), ("lower", "as_recipe", "higher"))


def timer_check(at: Observed) -> str:
    return _banded(at.plant.recipe.seconds, (0.9, 1.1), ("short", "right", "long"))


def distance(at: Observed) -> str:
    return _banded(at.plant.recipe.distance, (0.9, 1.1), ("nearer", "as_recipe", "farther"))


def target_matches(at: Observed) -> str:
    return _yes(at.plant.head.metal == at.sound.head.metal)


def dose(at: Observed) -> str:
    charge = float(np.mean(at.amps)) / at.usual_amps * at.plant.recipe.seconds
    return _banded(charge, (0.8, 1.25), ("low", "as_recipe", "high"))


def slip_density(at: Observed) -> str:
    return _banded(at.coat, (0.1, 0.7, 1.5), ("none", "lighter", "as_reference", "darker"))


def film_hue(at: Observed) -> str | None:
    if at.coat < 0.1:
        return None
    good = Observed(at.sound, at.sound, at.seed).air_share[1]
    return "brown_or_sooty" if at.air_share[1] > 2 * PINK + good else "metal_or_blue_tint"


def film_spread(at: Observed) -> str | None:
    if at.coat < 0.1:
        return None
    left, middle, right = at.spread
    if max(left, right) > 1.25 * min(left, right):
        return "one_side"
    return "centre_heavy" if middle > 1.4 * max(left, right) else "even"


ANSWERS: Mapping[str, Answer] = {
    made.__name__: made
    for made in (
        base_loaded,
        base_empty,
        pump_down_time,
        time_to_ten_mbar,
        curve_shape,
        load_contrast,
        rise_rate,
        rise_against_base,
        rise_shape,
        long_pump_recovers,
        valve_shuts,
        vent_bung_helps,
        port_blank_helps,
        loan_pump_helps,
        trap_out_helps,
        exhaust_off_helps,
        warm_pump_recovers,
        blank_off,
        hose_end_worse,
        pump_suction,
        pump_sound,
        tracer_where,
        moving_lifts_pressure,
        vent_knob,
        needle_knob,
        isolation_knob,
        ballast_knob,
        gauge_at_atmosphere,
        gauge_response,
        second_gauge,
        gauge_wiggle,
        needle_response,
        cylinder_contents,
        cylinder_valve,
        regulator_outlet,
        line_holds,
        rise_line_shut,
        low_reading,
        gas_proven,
        flushes,
        pressure_hold,
        permit_lamp,
        hv_controls,
        hv_volts,
        glow,
        glow_colour,
        ring_glow,
        flashes,
        current_at_reference,
        current_over_time,
        current_sweep,
        returns_after_rest,
        glow_against_gauge,
        insulation,
        hv_contact,
        shield_gap,
        insulator_state,
        needle_nudge,
        presputter_clears,
        pressure_set,
        current_set,
        timer_check,
        distance,
        target_matches,
        dose,
        slip_density,
        film_hue,
        film_spread,
    )
}
"""Finding ID -> what physics answers."""
