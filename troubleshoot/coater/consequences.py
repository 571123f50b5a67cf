"""What follows from a machine profile: true pressure, what the hose leaves, oxygen in the room."""

from troubleshoot import units
from troubleshoot.coater.fields import NUMBERS
from troubleshoot.coater.machine import Machine
from troubleshoot.physics.conductance import effective_speed, tube
from troubleshoot.physics.gases import gas_named
from troubleshoot.physics.gauges import HIGHEST, true_pressure
from troubleshoot.physics.safety import OXYGEN_TOO_LOW, oxygen_after_release, released_volume

NARROW = 0.4
"""A hose that leaves less than this of the pump's speed at the base takes most of it: judgement."""
USUAL_BASE = 3.0
"""Pa, where the coater's own base is not known: judgement."""


def notes(machine: Machine) -> tuple[str, ...]:
    """What follows from a profile and is worth a sentence: true pressure, hose, oxygen."""
    found = (_true_coating_pressure(machine), _hose_left(machine), oxygen(machine))
    return tuple(sentence for sentence in found if sentence)


def _true_coating_pressure(machine: Machine) -> str | None:
    """What the usual coating pressure is in truth, where the gauge is scaled for another gas."""
    pressure = machine.numbers.get("usual_pressure")
    kind, scaled, gas = (_likely(machine, k) for k in ("gauge_kind", "gauge_gas", "process_gas"))
    if not pressure or pressure > HIGHEST or (kind, scaled, gas) != ("heat_loss", "air", "argon"):
        return None
    true = float(f"{true_pressure('argon', pressure).value:.2g}")
    about = units.format_in(true, machine.gauge_unit, "pressure")
    taken = [k for k in ("gauge_kind", "gauge_gas", "process_gas") if k in machine.defaults]
    unsure = f", if {_words(taken)} {_is(taken)} as assumed" if taken else ""
    return (
        f"The gauge is scaled for air: the usual coating pressure of "
        f"{machine.shown['usual_pressure']} is about {about} of argon (within 20 %{unsure})."
    )


def _likely(machine: Machine, key: str) -> str | None:
    """What was told or, for want of it, the default: fit for a remark, never for a verdict."""
    return machine.facts.get(key) or machine.shown.get(key) or machine.defaults.get(key)


def _words(keys: list[str]) -> str:
    return " and ".join(k.replace("_", " ") for k in keys)


def _is(keys: list[str]) -> str:
    return "is" if len(keys) == 1 else "are"


def hose_share(machine: Machine) -> float | None:
    """The share of the pump's speed that the hose leaves at the base pressure, for air.

    S_eff / S = C / (S + C) (`physics.conductance`), C at the mean pressure of both ends. None
    unless bore, length and pump speed were told.
    """
    told = [machine.numbers.get(k) for k in ("hose_diameter", "hose_length", "pump_speed")]
    diameter, length, speed = told
    if not (diameter and length and speed):
        return None
    base = machine.numbers.get("usual_base", USUAL_BASE)
    share = 0.5
    for _ in range(30):
        # The pressure at the pump's end is the chamber's times the share: same flow at both.
        conductance = tube(gas_named("air"), diameter, length, base * (1 + share) / 2)
        share = effective_speed(speed, conductance) / speed
    return share


def _hose_left(machine: Machine) -> str | None:
    share = hose_share(machine)
    if share is None or share < NARROW:
        return None  # a narrow one is asked about
    return f"At the base pressure the hose leaves about {100 * share:.0f} % of the pump's speed."


def oxygen(machine: Machine) -> str | None:
    """What a full release of the cylinder would do to the room, if that is below the alarm level.

    Mean oxygen of the closed room, worst case (`physics.safety.oxygen_after_release`).
    """
    cylinder, room = machine.numbers.get("cylinder"), machine.numbers.get("room")
    filled = _likely(machine, "fill_pressure")
    if not (cylinder and room and filled):
        return None
    fill = units.parse(filled, "pressure").si
    if fill > NUMBERS["fill_pressure"].high:
        return None
    gas = released_volume(cylinder, fill)
    left = oxygen_after_release(gas, room)
    if left >= OXYGEN_TOO_LOW:
        return None
    held = f"{machine.shown['cylinder']} at {filled}"
    if "fill_pressure" in machine.defaults:
        held += ", a default"
    return (
        f"If the whole cylinder ({held}: {units.format_in(gas, 'm3', 'volume')} of gas) emptied "
        f"into a closed room of {machine.shown['room']}, the oxygen would fall to about "
        f"{100 * left:.1f} %, below the usual alarm level of {100 * OXYGEN_TOO_LOW:.1f} %, and "
        "nobody would smell it. Ask whoever looks after safety about ventilation and an oxygen "
        "alarm; the local rules hold."
    )
