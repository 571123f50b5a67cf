"""Gauges and the discharge."""

from typing import TYPE_CHECKING

from troubleshoot.cli.calc.answers import (
    Answer,
    command,
    digits,
    gas_option,
    in_,
    option,
    percent,
    temperature_option,
)
from troubleshoot.cli.measures import CURRENT, LENGTH, PRESSURE, VOLTAGE

if TYPE_CHECKING:
    from troubleshoot.units import Quantity


@command("gauge")
@gas_option("argon")
@option("--indicated", PRESSURE, "What the gauge shows.", default=None)
@option("--true", PRESSURE, "True pressure wanted.", default=None)
def gauge(gas: str, indicated: "Quantity | None", true: "Quantity | None") -> Answer:
    """True pressure from a heat-loss gauge, and back.

    For Pirani and thermocouple gauges scaled for air.
    """
    from troubleshoot.errors import UserError
    from troubleshoot.physics.gases import gas_named
    from troubleshoot.physics.gauges import (
        accuracy,
        gauge_factor,
        indicated_pressure,
        true_pressure,
    )

    kind = gas_named(gas).name
    factor = digits(gauge_factor(kind))
    if indicated is not None and true is None:
        found = true_pressure(kind, indicated.si)
        off = accuracy(indicated.si)
        return Answer(
            {
                "true_Pa": found.value,
                "true_low_Pa": (1 - off) * found.value,
                "true_high_Pa": (1 + off) * found.value,
                "indicated_Pa": indicated.si,
            },
            f"A gauge scaled for air that shows {indicated.shown()} in {kind} stands at about "
            f"{in_(found.value, indicated.unit, 'pressure')} true (factor {factor}, good to "
            f"{percent(off)}).",
            found.notes,
        )
    if true is not None and indicated is None:
        shown = indicated_pressure(kind, true.si)
        return Answer(
            {"true_Pa": true.si, "indicated_Pa": shown},
            f"For {true.shown()} of {kind} let a gauge scaled for air show about "
            f"{in_(shown, true.unit, 'pressure')} (factor {factor}, good to "
            f"{percent(accuracy(shown))}).",
        )
    raise UserError("Give either --indicated or --true, not both and not neither.")


@command("breakdown")
@gas_option("argon")
@option("--pressure", PRESSURE, "True pressure.")
@option("--gap", LENGTH, "Distance from target to specimen table.")
@temperature_option
def breakdown(gas: str, pressure: "Quantity", gap: "Quantity", temperature: "Quantity") -> Answer:
    """Voltage at which the glow strikes, as a band."""
    from troubleshoot.physics.discharge import breakdown_band, easiest_pressures
    from troubleshoot.physics.gases import gas_named

    kind = gas_named(gas).name
    band = breakdown_band(kind, pressure.si, gap.si, temperature.si)
    here = f"at {pressure.shown()} across {gap.shown()}"
    if band.low is None:
        sentence = f"The formula finds no voltage at which {kind} {here} breaks down."
    elif band.high is None:
        sentence = f"{kind.capitalize()} {here} breaks down from about {digits(band.low)} V on."
    else:
        sentence = (
            f"{kind.capitalize()} {here} breaks down somewhere between {digits(band.low)} and "
            f"{digits(band.high)} V; if a coater at many hundred volts does not strike there, the "
            "voltage does not reach the gas or the gas is not what the gauge says."
        )
    easy, hard = easiest_pressures(kind, gap.si, temperature.si)
    return Answer(
        {
            "voltage_low_V": band.low,
            "voltage_high_V": band.high,
            "breaks_down": band.low is not None,
            "easiest_pressure_low_Pa": easy,
            "easiest_pressure_high_Pa": hard,
        },
        f"{sentence} Across {gap.shown()} it strikes most easily at about {digits(easy / 100)} to "
        f"{in_(hard, 'mbar', 'pressure')}.",
        band.notes,
    )


@command("glow")
@option("--voltage", VOLTAGE, "Voltage of a good run.")
@option("--current", CURRENT, "Current of that run.")
@option("--pressure", PRESSURE, "Pressure of that run.")
@option("--new-pressure", PRESSURE, "Pressure now, on the same gauge.")
@option("--second-voltage", VOLTAGE, "Voltage of a second good run.", default=None)
@option("--second-current", CURRENT, "Current of that run.", default=None)
@option("--second-pressure", PRESSURE, "Pressure of that run.", default=None)
@option("--new-voltage", VOLTAGE, "Voltage now (needs the second run).", default=None)
@option("--new-current", CURRENT, "Or the current now (needs the second run).", default=None)
def glow(
    voltage: "Quantity",
    current: "Quantity",
    pressure: "Quantity",
    new_pressure: "Quantity",
    second_voltage: "Quantity | None",
    second_current: "Quantity | None",
    second_pressure: "Quantity | None",
    new_voltage: "Quantity | None",
    new_current: "Quantity | None",
) -> Answer:
    """Current or voltage, scaled from your good runs."""
    from troubleshoot.errors import UserError
    from troubleshoot.physics import discharge
    from troubleshoot.physics.limits import no_other_run

    no_other_run(new_pressure.si, pressure.si, "pressure")
    electric = (voltage, current, second_voltage, second_current, new_voltage, new_current)
    given_ = [quantity for quantity in electric if quantity is not None]
    if any(quantity.si == 0 for quantity in given_):
        raise UserError("A voltage or current of zero is no glow: give those of a run.")
    minus = any(quantity.si < 0 for quantity in given_)
    signs = ("The minus of the target's side is left out.",) if minus else ()
    first = (abs(voltage.si), abs(current.si), pressure.si)
    if new_voltage is None and new_current is None:
        same = discharge.same_voltage_current(first[1], pressure.si, new_pressure.si)
        return Answer(
            {"current_A": same.value},
            f"At the same voltage {new_pressure.shown()} should give about "
            f"{in_(same.value, 'mA', 'current')} (current goes with the square of the pressure).",
            same.notes + signs,
        )
    if second_voltage is None or second_current is None or second_pressure is None:
        raise UserError(
            "--new-voltage and --new-current need a second good run: give --second-voltage, "
            "--second-current and --second-pressure."
        )
    second = (abs(second_voltage.si), abs(second_current.si), second_pressure.si)
    exponent = discharge.glow_exponent(first, second)
    if new_voltage is not None and new_current is None:
        found = discharge.glow_current(first, exponent, abs(new_voltage.si), new_pressure.si)
        given, shown, key = new_voltage, in_(found.value, "mA", "current"), "current_A"
    elif new_current is not None and new_voltage is None:
        found = discharge.glow_voltage(first, exponent, abs(new_current.si), new_pressure.si)
        given, shown, key = new_current, in_(found.value, "V", "voltage"), "voltage_V"
    else:
        raise UserError("Give either --new-voltage or --new-current, not both.")
    return Answer(
        {key: found.value, "exponent": exponent},
        f"At {given.shown()} and {new_pressure.shown()} your two runs lead one to expect about "
        f"{shown}.",
        found.notes + signs,
    )


@command("dark-space")
@option("--seen", LENGTH, "Thickness seen on this coater.")
@option("--pressure", PRESSURE, "Pressure at that time.")
@option("--new-pressure", PRESSURE, "Pressure now, on the same gauge.")
def dark_space(seen: "Quantity", pressure: "Quantity", new_pressure: "Quantity") -> Answer:
    """Dark space under the target at another pressure."""
    from troubleshoot.physics import discharge
    from troubleshoot.physics.limits import no_other_run

    no_other_run(new_pressure.si, pressure.si, "pressure")
    found = discharge.dark_space(seen.si, pressure.si, new_pressure.si)
    return Answer(
        {"thickness_m": found.value},
        f"At {new_pressure.shown()} the dark space is about {in_(found.value, 'mm', 'length')} "
        "thick; the specimen must stay clear of it.",
        found.notes,
    )
