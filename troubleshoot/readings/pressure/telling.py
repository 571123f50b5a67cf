"""What a log shows, as a sentence, and numbers with their uncertainty as text."""

import math
from collections.abc import Mapping

from troubleshoot import units
from troubleshoot.coater.machine import Machine
from troubleshoot.readings.pressure.curve_models import IN_WORDS
from troubleshoot.readings.pressure.good_day import along_good_day
from troubleshoot.readings.pressure.parts import DECISIVE, Part
from troubleshoot.readings.pressure.soft import how_slow
from troubleshoot.readings.pressure.verdict import GAS_SHARE, PUMP_SHARE, Account, odds_of
from troubleshoot.readings.reading import Estimate
from troubleshoot.sources.log_file import Log

RISE_AS_USUAL = (
    "no more gas than a sound chamber gives off, so if the base is poor all the same, look at the "
    "pump, its hose and the gauge"
)
TOO_MANY = 4
"""So many stories are no headline."""
LEANS = 0.6
"""From this probability on the sentence names the likeliest of what it cannot tell apart."""
CONTRAST, CONTRAST_SPREAD = 1.5, 0.15
"""Empty against loaded, or today against a good day: readings within this factor are the same; ln
spread of their ratio on one gauge on one day. Judgement."""


STORIES = {
    "usual": "that is as usual, and nothing here points to a fault",
    "leak": (
        "gas comes in steadily, as through a leak (a dripping load rises as straight: the empty "
        "chamber decides)"
    ),
    "vapour": "something inside gives off vapour",
    "virtual_leak": "a trapped pocket of gas empties, or a little liquid has dried up",
    "weak_pump": (
        "too little gas comes in to explain this pressure, so look at the pump, its hose and the "
        "gauge"
    ),
    "leak_and_vapour": "gas comes in steadily and something gives off vapour besides",
    "throttled": (
        "something narrow holds the pump back all the way down, so look at hose, filter, trap and "
        "valve"
    ),
}


SHORT = {
    "leak": "a leak",
    "vapour": "vapour",
    "virtual_leak": "a trapped pocket",
    "weak_pump": "a weak pump",
    "leak_and_vapour": "a leak together with vapour",
    "throttled": "something narrow before the pump",
    "usual": "what is usual",
}


def sentence_of(
    log: Log,
    pump: Part | None,
    rise: Part | None,
    numbers: Mapping[str, Estimate],
    verdict: Account,
    machine: Machine,
) -> str:
    said = []
    if pump is not None:
        shape = IN_WORDS[pump.comparison.plain(DECISIVE).model.name]
        if how_slow(pump, machine) > 0.5:
            shape = shape.replace("falls", "falls slowly all the way", 1)
        if pump.segment.kicks:
            shape += ", jumping up on the way"
        end = with_sigma(numbers["end_pressure"], log.unit, "pressure")
        base = beside_good_day(numbers.get("base"), machine.numbers.get("usual_base"))
        if base:
            end += f"; after ten minutes {base}"
        good = along_good_day(pump, machine, log.unit)
        if good:
            end += f"; {good}"
        said.append(f"With the pump on the pressure {shape} (at the end {end})")
    if rise is not None:
        shape = IN_WORDS[rise.comparison.plain(DECISIVE).model.name]
        rate = with_sigma(numbers["rise_in_one_minute"], f"{log.unit}/min", "pressure rate")
        who = "with the pump shut off it" if said else "With the pump shut off the pressure"
        good = beside_good_day(numbers["rise_in_one_minute"], machine.numbers.get("usual_rise"))
        size = f", {good}" if good else ""
        if pump is None and "gas_load" in numbers:
            # Without a base to hold it against, the chamber says how much gas that is.
            size += f"; {with_sigma(numbers['gas_load'], 'mbar L/s', 'throughput')} of gas"
        said.append(f"{who} {shape} ({rate} over the first minute{size})")
    return f"{', and '.join(said)}: {_conclusion(pump, rise, numbers, verdict)}."


def beside_good_day(number: Estimate | None, usual: float | None) -> str | None:
    """A number beside that of a good day, as far as its own uncertainty lets it be told."""
    if number is None or not usual:
        return None
    times = number.value / usual
    low, high = (times + way * 1.96 * number.sigma / usual for way in (-1, 1))
    if high <= CONTRAST:
        said = "about" if low >= 1 / CONTRAST else "no more than"
    elif low >= CONTRAST or high / max(low, 1e-9) < CONTRAST:
        said = f"{_two_figures(times)} times"
    else:
        said = f"{_two_figures(max(low, 0.0))} to {_two_figures(high)} times"
    return f"{said} that of a good day (empty)"


def _two_figures(number: float) -> str:
    return units.format_number(float(f"{number:.2g}"))


def _conclusion(
    pump: Part | None, rise: Part | None, numbers: Mapping[str, Estimate], verdict: Account
) -> str:
    if verdict.story == "usual" and pump is None:
        return RISE_AS_USUAL
    if verdict.story is not None:
        return STORIES[verdict.story]
    if verdict.rivals[0] == "usual":
        return f"at the edge of what is usual, so {_next_of_edge(rise)}"
    if len(verdict.rivals) >= TOO_MANY:
        return f"what makes it this alone does not tell; {_next_of_many(pump, rise)}"
    first, *others = (SHORT[r] for r in verdict.rivals)
    if not others:  # nothing else fits, and the gauge is in doubt (`runs.hops`)
        return f"as far as these readings can be trusted, {first}"
    listed = " or ".join(filter(None, (", ".join(others[:-1]), others[-1])))
    unsure = f"cannot tell {first} from {listed}"
    if rise is None:
        return f"{unsure}; shut the valve to the pump and read the rise"
    odds = odds_of(rise, numbers)
    likeliest = max(odds, key=odds.__getitem__)
    if odds[likeliest] >= LEANS:
        # Ten in ten would be a verdict, and there is none.
        tenths = min(round(10 * odds[likeliest]), 9)
        unsure += f" (most likely {SHORT[likeliest]}, about {tenths} in 10)"
    if {"leak", "vapour"} <= set(verdict.rivals) <= {"leak", "vapour", "leak_and_vapour"}:
        return f"{unsure}; read the empty chamber: a leak stays, vapour is less"
    if set(verdict.rivals) == {"vapour", "virtual_leak"}:
        return f"{unsure}; read it again after half an hour of pumping, and empty"
    if "weak_pump" not in verdict.rivals:
        return f"{unsure}; read the rise for longer"
    if pump is None:
        return f"{unsure}; a log of the pump-down with it would help"
    if "gas_share_of_base" not in numbers:
        return f"{unsure}; a log that begins in the air would tell how fast it is pumped"
    share = numbers["gas_share_of_base"].value
    if PUMP_SHARE < share < GAS_SHARE:
        return f"{unsure}; gas explains {100 * share:.0f} % of the base, so perhaps it is both"
    return f"{unsure}; read the rise once more, with less noise or for longer"


def _next_of_edge(rise: Part | None) -> str:
    if rise is None:
        return "shut the valve to the pump and read the rise before anything is changed"
    return "compare it with a healthy run of this coater"


def _next_of_many(pump: Part | None, rise: Part | None) -> str:
    if rise is None:
        return "shut the valve to the pump and read the rise"
    if pump is None:
        return "read the rise for longer, and the empty chamber"
    return "read the rise once more, for longer, and empty"


def with_sigma(number: Estimate, unit: str, dimension: str) -> str:
    """`0.82 ± 0.03 mbar`: the half width holds 95 %; `less than ...` if that reaches zero."""
    value = units.from_si(number.value, unit, dimension)
    wide = 1.96 * units.from_si(number.sigma, unit, dimension)
    if wide <= 0 or not math.isfinite(wide):
        return f"{units.format_number(value)} {unit}"
    if 0 <= value < wide:
        return f"less than {units.format_number(value + wide)} {unit}"
    place = math.floor(math.log10(wide)) - (
        1 if wide / 10 ** math.floor(math.log10(wide)) < 2 else 0
    )
    if place >= 0:
        return f"{round(value, -place):.0f} \u00b1 {round(wide, -place):.0f} {unit}"
    if place < -6:
        return f"{value:.3g} \u00b1 {wide:.1g} {unit}"
    return f"{value:.{-place}f} \u00b1 {wide:.{-place}f} {unit}"
