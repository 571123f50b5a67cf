"""What a log of the discharge shows, as a sentence."""

import math
from collections.abc import Mapping

from troubleshoot import units
from troubleshoot.coater.machine import Machine
from troubleshoot.readings.current.soft import DRIFTS
from troubleshoot.readings.current.trace import Trace
from troubleshoot.readings.reading import Estimate
from troubleshoot.readings.trend import Z95

RELATION = {
    "follows": "it follows the pressure, so look at the gas, the pump and the needle valve",
    "together": "it moves with the pressure, as the current does where the voltage is fixed",
    "leads": (
        "it moves before the pressure does, so the discharge frees gas, or the cause is electrical"
    ),
    "unrelated": "it does not go with the pressure, so look at the electrical side",
}


def sentence_of(
    run: Trace,
    numbers: Mapping[str, Estimate],
    relation: Mapping[str, float],
    machine: Machine,
) -> str:
    """What the log shows, and where to look if the current moves."""
    lasted = f"{60 * run.minutes:.0f} s" if run.minutes < 2 else f"{run.minutes:.2g} min"
    mean = units.format_in(numbers["current"].value, "mA", "current")
    said = [f"In {lasted} at about {mean} the current {_moves(numbers)}"]
    kinds = [e.kind for e in run.events]
    if jumps := kinds.count("jump"):
        depth = 100 * numbers["jump_depth"].value
        rate = units.format_number(60 * numbers["jump_rate"].value)
        said.append(f"jumps {_times(jumps)} ({rate} a minute, by {depth:.0f} %)")
    if steps := kinds.count("step"):
        said.append(f"steps to another level {_times(steps)}")
    if gone := kinds.count("out"):
        said.append(f"goes out {_times(gone)} (for {numbers['seconds_out'].value:.0f} s in all)")
    if run.swing is not None:
        period = units.format_number(run.swing.period.value)
        said.append(f"swings by {100 * numbers['swing_depth'].value:.0f} % every {period} s")
    text = said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"
    moved = len(said) > 1 or "stays" not in said[0]
    best = max(relation, key=relation.__getitem__, default="")
    if moved and best and relation[best] >= 0.7:
        text += f"; {RELATION[best]} ({100 * relation[best]:.0f} %)"
    elif moved and best:
        text += "; whether it follows the pressure or goes ahead of it cannot be told"
    if machine.facts.get("current_set_by") == "controller":
        text += ". A controller holds this current, so the voltage tells more"
        if "voltage_change" in numbers:
            text += f": it {_moves(numbers, 'voltage_change')}"
    return text + "."


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _moves(numbers: Mapping[str, Estimate], name: str = "change_in_two_minutes") -> str:
    change = numbers.get(name)
    if change is None:
        return "runs too short for a drift"
    wide = Z95 * change.sigma
    if abs(change.value) <= wide:
        most = math.ceil(100 * (abs(change.value) + wide))
        return f"stays as it is (to within {most} % in two minutes)"
    # A drift of a few percent is what every discharge does.
    word = "sinks" if change.value < 0 else "rises"
    if abs(change.value) + wide < DRIFTS:
        return f"stays about as it is ({word} by {_percent(abs(change.value))} in two minutes)"
    size = _percent(abs(change.value))
    return f"{word} by {size} (give or take {_percent(wide)}) in two minutes"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.01 else "less than 1 %"
