"""What can hurt: gas in a room, air on a lid."""

from typing import TYPE_CHECKING

from troubleshoot.cli.calc.answers import Answer, command, digits, lasting, option, percent
from troubleshoot.cli.measures import FLOW, LENGTH, PRESSURE, SECONDS, VOLUME

if TYPE_CHECKING:
    from troubleshoot.units import Quantity

_BELOW = "below the limit of 19.5 %: at an alarm leave at once, and let nobody go back in alone"
_ABOVE = "above the limit of 19.5 % on average, but argon gathers low down"


@command("oxygen")
@option("--cylinder", VOLUME, "Water volume of the argon cylinder.")
@option("--fill-pressure", PRESSURE, "Pressure in it.")
@option("--room", VOLUME, "Volume of the room.")
def oxygen(cylinder: "Quantity", fill_pressure: "Quantity", room: "Quantity") -> Answer:
    """Oxygen in a closed room after a cylinder release."""
    from troubleshoot.physics import safety

    safety.check_cylinder(cylinder.si, fill_pressure.si)
    safety.check_room(room.si)
    gas = safety.released_volume(cylinder.si, fill_pressure.si)
    worst = safety.oxygen_after_release(gas, room.si)
    mixed = safety.oxygen_after_mixing(gas, room.si)
    hazard = worst < safety.OXYGEN_TOO_LOW
    meaning = _BELOW if hazard else _ABOVE
    return Answer(
        {
            "oxygen_fraction": worst,
            "oxygen_fraction_mixed": mixed,
            "gas_volume_m3": gas,
            "hazardous": hazard,
        },
        f"The cylinder holds {digits(gas)} m3 of gas; set free in a closed room of "
        f"{room.shown()} it leaves {percent(worst)} oxygen ({percent(mixed)} if it mixes), "
        f"{meaning}.",
    )


@command("ventilation")
@option("--leak", FLOW, "Gas escaping, at room pressure.")
@option("--fresh-air", FLOW, "Fresh air entering.")
@option("--room", VOLUME, "Volume of the room.")
@option("--seconds", SECONDS, "Time since the leak began (without it: for ever).", default=None)
def ventilation(
    leak: "Quantity", fresh_air: "Quantity", room: "Quantity", seconds: "Quantity | None"
) -> Answer:
    """Oxygen in a ventilated room with a gas leak."""
    import math

    from troubleshoot.physics import safety

    safety.check_room(room.si)
    time = math.inf if seconds is None else seconds.si
    share = safety.oxygen_with_ventilation(leak.si, fresh_air.si, room.si, time)
    hazard = share < safety.OXYGEN_TOO_LOW
    when = "In the end" if seconds is None else f"After {lasting(time)}"
    return Answer(
        {"oxygen_fraction": share, "hazardous": hazard},
        f"{when} the room holds {percent(share)} oxygen, {_BELOW if hazard else _ABOVE}.",
    )


@command("lid-force")
@option("--diameter", LENGTH, "Diameter of the lid or plate.")
@option("--difference", PRESSURE, "Pressure difference across it.", default="1atm")
def lid_force(diameter: "Quantity", difference: "Quantity") -> Answer:
    """Force of the air on a lid under vacuum."""
    from troubleshoot.physics.gases import ATMOSPHERE
    from troubleshoot.physics.limits import within
    from troubleshoot.physics.safety import force_on_lid

    why = "nothing presses on a lid under vacuum but the air outside"
    within(0, 1.1 * ATMOSPHERE, "Pa", why, pressure_difference=difference.si)
    force = force_on_lid(diameter.si, difference.si)
    return Answer(
        {"force_N": force},
        f"The air presses on it with {digits(force)} N, the weight of {digits(force / 9.80665)} "
        "kg: never force a lid, let the air in first, and never pump a chipped or scratched glass.",
    )
