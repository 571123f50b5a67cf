"""The formulas of `troubleshoot.physics` at the command line, with units and `--json`."""

import functools
import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from troubleshoot.units import Quantity

Values = dict[str, float | str | bool | None]


@dataclass(frozen=True)
class Answer:
    """What a command has to say: numbers in SI with the unit in the key, and a sentence."""

    values: Values
    sentence: str
    notes: tuple[str, ...] = ()


Command = Callable[..., Answer]


class Measure(click.ParamType):
    """An option that is a number with a unit; the command receives a `Quantity`."""

    def __init__(self, dimension: str, default_unit: str | None = None) -> None:
        self.dimension = dimension
        self.default_unit = default_unit
        self.name = dimension

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> "Quantity":
        """Read the text; raises `UserError` naming the option."""
        from troubleshoot.errors import UserError
        from troubleshoot.units import parse

        try:
            return parse(str(value), self.dimension, default_unit=self.default_unit)
        except UserError as error:
            name = f"{param.opts[0]}: " if param else ""
            raise UserError(f"{name}{error}") from None


PRESSURE = Measure("pressure")
VOLUME = Measure("volume")
FLOW = Measure("volume flow")
THROUGHPUT = Measure("throughput")
LENGTH = Measure("length")
TEMPERATURE = Measure("temperature")
CURRENT = Measure("current")
VOLTAGE = Measure("voltage")
AREA = Measure("area")
RISE = Measure("pressure rate")
SECONDS = Measure("time", default_unit="s")


class Number(click.FloatRange):
    """A bare number above zero."""

    name = "number"

    def __init__(self, highest: float | None = None) -> None:
        super().__init__(0, highest, min_open=True)


class Count(click.IntRange):
    """How many times."""

    name = "whole number"


SHARE = Number(1)


class _OneSentence(click.Group):
    """Refuses a wrong option in one sentence, like every number that cannot be used."""

    def invoke(self, ctx: click.Context) -> Any:
        from troubleshoot.errors import UserError

        try:
            return super().invoke(ctx)
        except click.UsageError as error:
            words = " ".join(error.format_message().split()).rstrip(".?")
            where = error.ctx.command_path if error.ctx else ctx.command_path
            raise UserError(f"{words}: see {where} --help.") from None


@click.group(cls=_OneSentence, context_settings={"help_option_names": ["-h", "--help"]})
def calc() -> None:
    """Work out one number: pump-down, leaks, purging, pressures, breakdown, safety.

    Write units with the numbers: 5L, 0.2Torr, 3m3/h, 20degC, 1:30 (minutes:seconds).
    """


def _option(
    flag: str, kind: click.ParamType, text: str, **more: Any
) -> Callable[[Command], Command]:
    """A required option, unless a default or `required=False` is given."""
    more.setdefault("required", "default" not in more)
    if more.get("default") is not None:
        more["show_default"] = True
    return click.option(flag, *more.pop("names", ()), type=kind, help=text, **more)


def _gas_option(default: str) -> Callable[[Command], Command]:
    return click.option(
        "--gas", default=default, show_default=True, help="Name or symbol of the gas."
    )


def _temperature_option(command: Command) -> Command:
    return _option("--temperature", TEMPERATURE, "Gas temperature.", default="20degC")(command)


def _command(name: str) -> Callable[[Command], click.Command]:
    """Register a function that returns an `Answer` as a command with `--json`."""

    def register(function: Command) -> click.Command:
        @functools.wraps(function)
        def run(as_json: bool, **given: Any) -> None:
            from troubleshoot.errors import UserError

            try:
                answer = function(**given)
                record = {**answer.values, "notes": list(answer.notes)}
                text = json.dumps(record, indent=2, allow_nan=False)
            except (ArithmeticError, ValueError):
                raise UserError(
                    f"These numbers are too far from any real coater for {name}: check the units "
                    "and exponents."
                ) from None
            if as_json:
                click.echo(text)
            else:
                click.echo(" ".join([answer.sentence, *answer.notes]))

        flag = click.option("--json", "as_json", is_flag=True, help="Numbers in SI, as JSON.")
        return calc.command(name)(flag(run))

    return register


def _number(value: float) -> str:
    from troubleshoot.units import format_number

    return format_number(value)


def _time(seconds: float) -> str:
    if seconds < 100:
        return f"{_number(seconds)} s"
    if seconds < 6000:
        return f"{_number(seconds / 60)} min"
    return f"{_number(seconds / 3600)} h"


def _percent(share: float) -> str:
    return f"{_number(100 * share)} %"


def _in(si: float, unit: str, dimension: str) -> str:
    from troubleshoot.units import format_in

    return format_in(si, unit, dimension)


@_command("pump-down")
@_option("--volume", VOLUME, "Chamber and everything up to the pump.")
@_option("--speed", FLOW, "Pumping speed that reaches the chamber.")
@_option("--from", PRESSURE, "Pressure at the start.", names=("start",), default="1atm")
@_option("--to", PRESSURE, "Pressure wanted.", names=("end",))
@_option("--ultimate", PRESSURE, "Where this coater ends after a long time.", default="0Pa")
def pump_down(
    volume: "Quantity", speed: "Quantity", start: "Quantity", end: "Quantity", ultimate: "Quantity"
) -> Answer:
    """Time to pump a clean, dry, tight chamber down."""
    from troubleshoot.physics.pumping import pump_down_time

    time = pump_down_time(volume.si, speed.si, start.si, end.si, ultimate.si)
    return Answer(
        {"time_s": time.value},
        f"Pumping {volume.shown()} from {start.shown()} to {end.shown()} takes "
        f"{_time(time.value)} if the chamber is clean, dry and tight; much longer means gas from "
        "somewhere or a weak pump.",
        time.notes,
    )


@_command("pressure-after")
@_option("--volume", VOLUME, "Chamber and everything up to the pump.")
@_option("--speed", FLOW, "Pumping speed that reaches the chamber.")
@_option("--from", PRESSURE, "Pressure at the start.", names=("start",), default="1atm")
@_option("--seconds", SECONDS, "How long the pump has run.")
@_option("--ultimate", PRESSURE, "Where this coater ends after a long time.", default="0Pa")
def pressure_after(
    volume: "Quantity",
    speed: "Quantity",
    start: "Quantity",
    seconds: "Quantity",
    ultimate: "Quantity",
) -> Answer:
    """Pressure reached after pumping for a time."""
    from troubleshoot.physics import pumping

    pressure = pumping.pressure_after(seconds.si, volume.si, speed.si, start.si, ultimate.si)
    return Answer(
        {"pressure_Pa": pressure},
        f"After {_time(seconds.si)} the gauge should show about {_in(pressure, 'mbar', 'pressure')}"
        f" ({_in(pressure, 'Torr', 'pressure')}) if the chamber is clean, dry and tight.",
        pumping.pump_down_notes(pressure, ultimate.si),
    )


@_command("speed-needed")
@_option("--volume", VOLUME, "Chamber and everything up to the pump.")
@_option("--from", PRESSURE, "Pressure at the start.", names=("start",), default="1atm")
@_option("--to", PRESSURE, "Pressure wanted.", names=("end",))
@_option("--seconds", SECONDS, "Time allowed.")
def speed_needed(
    volume: "Quantity", start: "Quantity", end: "Quantity", seconds: "Quantity"
) -> Answer:
    """Pumping speed for a given pump-down time."""
    from troubleshoot.physics import pumping

    found = pumping.speed_needed(volume.si, seconds.si, start.si, end.si)
    speed = found.value
    return Answer(
        {"speed_m3_per_s": speed},
        f"It takes {_in(speed, 'L/s', 'volume flow')} ({_in(speed, 'm3/h', 'volume flow')}) at the "
        "chamber; the hose takes its share, so the pump must be larger.",
        found.notes,
    )


@_command("ultimate")
@_option("--speed", FLOW, "Pumping speed that reaches the chamber.")
@_option("--gas-load", THROUGHPUT, "Leak and outgassing together, from a rate of rise.")
@_option("--blank-off", PRESSURE, "What the pump alone reaches.", default="0Pa")
@click.option("--ballast", is_flag=True, help="The gas ballast is open.")
def ultimate(
    speed: "Quantity", gas_load: "Quantity", blank_off: "Quantity", ballast: bool
) -> Answer:
    """Pressure at which the chamber ends."""
    from troubleshoot.physics.pumping import ballast_blank_off, ultimate_pressure

    floor = ballast_blank_off(blank_off.si) if ballast else blank_off.si
    pressure = ultimate_pressure(floor, gas_load.si, speed.si)
    notes = ("The ballast's factor of ten is a rule of thumb.",) if ballast else ()
    return Answer(
        {"ultimate_Pa": pressure, "blank_off_Pa": floor},
        f"The chamber ends at {_in(pressure, 'mbar', 'pressure')}, of which "
        f"{_in(floor, 'mbar', 'pressure')} is the pump's own floor and the rest the gas load.",
        notes,
    )


@_command("ballast")
@_option("--ballast-flow", FLOW, "Air let in through the open gas ballast.")
@_option("--speed", FLOW, "Pumping speed of the pump.")
@_option("--pump-temperature", TEMPERATURE, "Inside the pump; it gets warm in half an hour.")
@click.option("--humidity", type=SHARE, default=0.5, show_default=True, help="Of the room, 0 to 1.")
@_option("--temperature", TEMPERATURE, "Temperature of the room.", default="20degC")
def ballast(
    ballast_flow: "Quantity",
    speed: "Quantity",
    pump_temperature: "Quantity",
    humidity: float,
    temperature: "Quantity",
) -> Answer:
    """Water vapour that a pump with open ballast can take."""
    from troubleshoot.physics.pumping import ballast_tolerance
    from troubleshoot.physics.vapour import water_vapour_pressure

    most = ballast_tolerance(
        ballast_flow.si, speed.si, pump_temperature.si, humidity, temperature.si
    )
    from_wet = water_vapour_pressure(temperature.si)
    verdict = (
        "no wet specimen at room temperature gives more"
        if most >= from_wet
        else f"a wet specimen gives up to {_in(from_wet, 'mbar', 'pressure')}, so water will get "
        "into the oil: let the pump warm up first, or dry the specimen"
    )
    return Answer(
        {"water_vapour_tolerance_Pa": most, "water_vapour_pressure_Pa": from_wet},
        f"At {pump_temperature.shown()} the pump takes up to {_in(most, 'mbar', 'pressure')} of "
        f"water vapour without any of it condensing in the oil; {verdict}.",
    )


@_command("outgassing")
@click.option("--material", type=click.Choice(["metal", "glass", "elastomer"]), required=True)
@_option("--area", AREA, "Area that sees the vacuum.")
@_option("--after", Measure("time", default_unit="h"), "Time pumped, 0.5 to 100 h.")
@click.option(
    "--rate",
    type=Number(),
    default=None,
    help="Rate after one hour, in Pa m3/(s m2) (without it: the usual one).",
)
def outgassing(material: str, area: "Quantity", after: "Quantity", rate: float | None) -> Answer:
    """Gas that walls or seals give off after hours."""
    from troubleshoot.physics.pumping import USUAL_RATE, outgassing_rate

    notes: tuple[str, ...] = ()
    if rate is None:
        rate = USUAL_RATE[material]
        notes = (f"The rate taken is {rate:g} Pa m3/(s m2) after one hour.",)
    load = outgassing_rate(material, rate, after.si) * area.si
    return Answer(
        {"throughput_Pa_m3_per_s": load},
        f"The {material} gives off about {_in(load, 'mbar L/s', 'throughput')}; read it as a power "
        "of ten, for pieces of the same material differ that much.",
        notes,
    )


@_command("leak-rate")
@_option("--volume", VOLUME, "Chamber and everything up to the shut valve.")
@_option("--from", PRESSURE, "Pressure when the valve was shut.", names=("start",))
@_option("--to", PRESSURE, "Pressure at the end.", names=("end",))
@_option("--seconds", SECONDS, "Time between the two.")
def leak_rate(
    volume: "Quantity", start: "Quantity", end: "Quantity", seconds: "Quantity"
) -> Answer:
    """Gas entering a chamber shut off from its pump."""
    from troubleshoot.physics.rise import throughput

    flow = throughput(volume.si, start.si, end.si, seconds.si)
    rate = (end.si - start.si) / seconds.si
    return Answer(
        {"throughput_Pa_m3_per_s": flow, "rate_of_rise_Pa_per_s": rate},
        f"Gas enters at {_in(flow, 'mbar L/s', 'throughput')} ({_in(flow, 'sccm', 'throughput')}), "
        f"a rise of {_in(rate, 'mbar/min', 'pressure rate')}; a rise that stays straight is a "
        "leak, one that flattens is gas from walls, water or a trapped pocket.",
    )


@_command("molar-leak-rate")
@_option("--volume", VOLUME, "Chamber and everything up to the shut valve.")
@_option("--from", PRESSURE, "Pressure when the valve was shut.", names=("start",))
@_option("--to", PRESSURE, "Pressure at the end.", names=("end",))
@_option("--seconds", SECONDS, "Time between the two.")
@_option("--from-temperature", TEMPERATURE, "Temperature at the start.", default="20degC")
@_option("--to-temperature", TEMPERATURE, "Temperature at the end.", default="20degC")
def molar_leak_rate(
    volume: "Quantity",
    start: "Quantity",
    end: "Quantity",
    seconds: "Quantity",
    from_temperature: "Quantity",
    to_temperature: "Quantity",
) -> Answer:
    """As leak-rate, when the temperature has moved."""
    from troubleshoot.physics import rise

    moles = rise.molar_leak_rate(
        volume.si, start.si, end.si, seconds.si, from_temperature.si, to_temperature.si
    )
    return Answer(
        {"leak_mol_per_s": moles},
        f"Gas enters at {_number(moles)} mol/s, with the change of temperature taken out.",
    )


@_command("rise")
@click.option(
    "--cause",
    type=click.Choice(["leak", "walls", "seals", "pocket", "liquid"]),
    required=True,
    help="What lets the pressure rise.",
)
@_option("--volume", VOLUME, "Chamber and everything up to the shut valve.", default="5L")
@_option("--from", PRESSURE, "Pressure when the valve is shut.", names=("start",))
@_option("--seconds", SECONDS, "Time after that.")
@_option("--flow", THROUGHPUT, "Gas entering at the start (leak, walls, seals).", default=None)
@_option("--pumped", SECONDS, "Time pumped before (walls, seals).", default=None)
@_option("--pocket-volume", VOLUME, "Trapped volume (pocket).", default=None)
@_option("--pocket-pressure", PRESSURE, "Pressure in it (pocket).", default="1atm")
@_option("--conductance", FLOW, "Its way out (pocket).", default=None)
@_option("--saturation", PRESSURE, "Vapour pressure (liquid), see vapour.", default=None)
@_option("--time-constant", SECONDS, "Time to gain 63 % of the way (liquid).", default=None)
def rise(
    cause: str,
    volume: "Quantity",
    start: "Quantity",
    seconds: "Quantity",
    **given: "Quantity | None",
) -> Answer:
    """Pressure with the pump shut off, by what lets it rise."""
    from troubleshoot.physics import rise as formulas

    def need(name: str) -> float:
        from troubleshoot.errors import UserError

        quantity = given[name]
        if quantity is None:
            raise UserError(f"--{name.replace('_', '-')} is needed for --cause {cause}.")
        return quantity.si

    t, p0, v = seconds.si, start.si, volume.si
    notes: tuple[str, ...] = ()
    if cause == "leak":
        pressure = formulas.leak_pressure(t, p0, need("flow"), v)
        shape = "a straight line that never stops"
    elif cause == "walls":
        pressure = formulas.wall_pressure(t, p0, need("flow"), need("pumped"), v)
        notes = formulas.outgassing_notes(need("pumped"))
        shape = "a curve that keeps flattening"
    elif cause == "seals":
        pressure = formulas.seal_pressure(t, p0, need("flow"), need("pumped"), v)
        notes = formulas.outgassing_notes(need("pumped"))
        shape = "a curve that flattens slowly"
    elif cause == "pocket":
        pressure = formulas.virtual_leak_pressure(
            t, p0, need("pocket_pressure"), need("pocket_volume"), v, need("conductance")
        )
        shape = "a curve that stops when the pocket is empty"
    else:
        pressure = formulas.vapour_pressure_limited(
            t, p0, need("saturation"), need("time_constant")
        )
        shape = "a curve that stops at the vapour pressure"
    return Answer(
        {"pressure_Pa": pressure},
        f"After {_time(t)} the chamber is at {_in(pressure, 'mbar', 'pressure')}: {shape}.",
        notes,
    )


@_command("effective-speed")
@_option("--volume", VOLUME, "Chamber and everything up to the shut valve.")
@_option("--rise", RISE, "Rate of rise just after the valve is shut.")
@_option("--base", PRESSURE, "Base pressure with the valve open.")
@_option("--blank-off", PRESSURE, "What the pump alone reaches.", default="0Pa")
def effective_speed(
    volume: "Quantity", rise: "Quantity", base: "Quantity", blank_off: "Quantity"
) -> Answer:
    """Pumping speed at the chamber, from base and rise."""
    from troubleshoot.physics import rise as formulas

    speed = formulas.speed_from_rise(volume.si, rise.si, base.si, blank_off.si)
    return Answer(
        {"speed_m3_per_s": speed, "gas_load_Pa_m3_per_s": volume.si * rise.si},
        f"{_in(speed, 'L/s', 'volume flow')} ({_in(speed, 'm3/h', 'volume flow')}) reaches the "
        "chamber; far less than the pump's rating points at the hose, a valve or the pump, about "
        "the rating means the pump is well and too much gas comes in.",
    )


@_command("conductance")
@_gas_option("air")
@_option("--diameter", LENGTH, "Inner diameter.")
@_option("--length", LENGTH, "Length.")
@_option("--pressure", PRESSURE, "Mean of the pressures at both ends.")
@_temperature_option
@_option("--pump-speed", FLOW, "Speed of the pump at the far end.", default=None)
def conductance(
    gas: str,
    diameter: "Quantity",
    length: "Quantity",
    pressure: "Quantity",
    temperature: "Quantity",
    pump_speed: "Quantity | None",
) -> Answer:
    """What a hose lets through, and leaves of the pump."""
    from troubleshoot.physics.conductance import TURBULENT_ABOVE, reynolds, tube, tube_notes
    from troubleshoot.physics.conductance import effective_speed as left_over
    from troubleshoot.physics.gas_kinetics import knudsen, mean_free_path, regime
    from troubleshoot.physics.gases import gas_named

    kind = gas_named(gas)
    given = (kind, diameter.si, length.si, pressure.si, temperature.si)
    through, notes = tube(*given), tube_notes(*given)
    ratio = knudsen(mean_free_path(kind, pressure.si, temperature.si), diameter.si)
    values: Values = {
        "conductance_m3_per_s": through,
        "knudsen": ratio,
        "regime": regime(ratio),
    }
    sentence = (
        f"{_in(through, 'L/s', 'volume flow')} of {kind.name} get through ({regime(ratio)} flow); "
        "the width counts most, and the lower the pressure the less gets through."
    )
    if pump_speed is not None:
        left = left_over(pump_speed.si, through)
        flow = reynolds(kind, left * pressure.si, diameter.si, temperature.si)
        values |= {"speed_m3_per_s": left, "reynolds": flow}
        if flow > TURBULENT_ABOVE:
            notes += ("So fast a flow may be turbulent, and then less gets through.",)
        sentence += (
            f" Of the pump's {pump_speed.shown()} the chamber gets "
            f"{_in(left, 'L/s', 'volume flow')} ({_percent(left / pump_speed.si)})."
        )
    return Answer(values, sentence, notes)


@_command("opening")
@_gas_option("air")
@_option("--diameter", LENGTH, "Diameter of the hole.")
@_option("--pressure", PRESSURE, "Pressure on the high side.")
@_temperature_option
def opening(
    gas: str, diameter: "Quantity", pressure: "Quantity", temperature: "Quantity"
) -> Answer:
    """What a thin round hole lets through at low pressure."""
    from troubleshoot.physics import conductance as formulas
    from troubleshoot.physics.gases import gas_named

    kind = gas_named(gas)
    found = formulas.opening(kind, diameter.si, pressure.si, temperature.si)
    return Answer(
        {"conductance_m3_per_s": found.value},
        f"{_in(found.value, 'L/s', 'volume flow')} of {kind.name} get through a hole of "
        f"{diameter.shown()}.",
        found.notes,
    )


@_command("in-series")
@click.argument("conductances", nargs=-1, required=True, type=FLOW)
def in_series(conductances: "tuple[Quantity, ...]") -> Answer:
    """Parts one after another: in-series 10L/s 5L/s.

    Conductances of hoses, valves and traps, and if wanted the speed of the pump at the end.
    """
    from troubleshoot.physics import conductance as formulas

    left = formulas.in_series(*(part.si for part in conductances))
    return Answer(
        {"conductance_m3_per_s": left},
        f"Together they let {_in(left, 'L/s', 'volume flow')} through; the narrowest part decides.",
    )


@_command("mean-free-path")
@_gas_option("argon")
@_option("--pressure", PRESSURE, "True pressure.")
@_temperature_option
@_option("--size", LENGTH, "Gap or bore, to tell the flow regime.", default=None)
def mean_free_path(
    gas: str, pressure: "Quantity", temperature: "Quantity", size: "Quantity | None"
) -> Answer:
    """How far an atom flies between two collisions."""
    from troubleshoot.physics import gas_kinetics as kinetics
    from troubleshoot.physics.gases import gas_named

    kind = gas_named(gas)
    path = kinetics.mean_free_path(kind, pressure.si, temperature.si)
    values: Values = {"mean_free_path_m": path}
    if kind.diameter is not None:
        values["mean_free_path_hard_sphere_m"] = kinetics.mean_free_path_hard_sphere(
            kind, pressure.si, temperature.si
        )
    unit = "mm" if path < 1 else "m"
    sentence = (
        f"In {kind.name} at {pressure.shown()} an atom flies about {_in(path, unit, 'length')} "
        "between collisions (from the viscosity; other definitions differ by up to 12 %)"
    )
    if size is None:
        return Answer(values, f"{sentence}.")
    ratio = kinetics.knudsen(path, size.si)
    values |= {"knudsen": ratio, "regime": kinetics.regime(ratio)}
    return Answer(
        values,
        f"{sentence}, {_number(1 / ratio)} collisions across {size.shown()}: "
        f"{kinetics.regime(ratio)} flow.",
    )


@_command("gauge")
@_gas_option("argon")
@_option("--indicated", PRESSURE, "What the gauge shows.", default=None)
@_option("--true", PRESSURE, "True pressure wanted.", default=None)
def gauge(gas: str, indicated: "Quantity | None", true: "Quantity | None") -> Answer:
    """True pressure from a heat-loss gauge, and back.

    For Pirani and thermocouple gauges scaled for air.
    """
    from troubleshoot.errors import UserError
    from troubleshoot.physics.gases import gas_named
    from troubleshoot.physics.gauges import (
        ACCURACY,
        gauge_factor,
        indicated_pressure,
        true_pressure,
    )

    kind = gas_named(gas).name
    factor = _number(gauge_factor(kind))
    if indicated is not None and true is None:
        found = true_pressure(kind, indicated.si)
        return Answer(
            {
                "true_Pa": found.value,
                "true_low_Pa": (1 - ACCURACY) * found.value,
                "true_high_Pa": (1 + ACCURACY) * found.value,
                "indicated_Pa": indicated.si,
            },
            f"A gauge scaled for air that shows {indicated.shown()} in {kind} stands at about "
            f"{_in(found.value, indicated.unit, 'pressure')} true (factor {factor}, good to "
            f"{_percent(ACCURACY)}).",
            found.notes,
        )
    if true is not None and indicated is None:
        shown = indicated_pressure(kind, true.si)
        return Answer(
            {"true_Pa": true.si, "indicated_Pa": shown},
            f"For {true.shown()} of {kind} let a gauge scaled for air show about "
            f"{_in(shown, true.unit, 'pressure')} (factor {factor}, good to {_percent(ACCURACY)}).",
        )
    raise UserError("Give either --indicated or --true, not both and not neither.")


@_command("breakdown")
@_gas_option("argon")
@_option("--pressure", PRESSURE, "True pressure.")
@_option("--gap", LENGTH, "Distance from target to specimen table.")
@_temperature_option
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
        sentence = f"{kind.capitalize()} {here} breaks down from about {_number(band.low)} V on."
    else:
        sentence = (
            f"{kind.capitalize()} {here} breaks down somewhere between {_number(band.low)} and "
            f"{_number(band.high)} V; if a coater at many hundred volts does not strike there, the "
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
        f"{sentence} Across {gap.shown()} it strikes most easily at about {_number(easy / 100)} to "
        f"{_in(hard, 'mbar', 'pressure')}.",
        band.notes,
    )


@_command("glow")
@_option("--voltage", VOLTAGE, "Voltage of a good run.")
@_option("--current", CURRENT, "Current of that run.")
@_option("--pressure", PRESSURE, "Pressure of that run.")
@_option("--new-pressure", PRESSURE, "Pressure now, on the same gauge.")
@_option("--second-voltage", VOLTAGE, "Voltage of a second good run.", default=None)
@_option("--second-current", CURRENT, "Current of that run.", default=None)
@_option("--second-pressure", PRESSURE, "Pressure of that run.", default=None)
@_option("--new-voltage", VOLTAGE, "Voltage now (needs the second run).", default=None)
@_option("--new-current", CURRENT, "Or the current now (needs the second run).", default=None)
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

    first = (abs(voltage.si), abs(current.si), pressure.si)
    if new_voltage is None and new_current is None:
        same = discharge.same_voltage_current(first[1], pressure.si, new_pressure.si)
        return Answer(
            {"current_A": same.value},
            f"At the same voltage {new_pressure.shown()} should give about "
            f"{_in(same.value, 'mA', 'current')} (current goes with the square of the pressure).",
            same.notes,
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
        given, shown, key = new_voltage, _in(found.value, "mA", "current"), "current_A"
    elif new_current is not None and new_voltage is None:
        found = discharge.glow_voltage(first, exponent, abs(new_current.si), new_pressure.si)
        given, shown, key = new_current, _in(found.value, "V", "voltage"), "voltage_V"
    else:
        raise UserError("Give either --new-voltage or --new-current, not both.")
    return Answer(
        {key: found.value, "exponent": exponent},
        f"At {given.shown()} and {new_pressure.shown()} your two runs lead one to expect about "
        f"{shown}.",
        found.notes,
    )


@_command("dark-space")
@_option("--seen", LENGTH, "Thickness seen on this coater.")
@_option("--pressure", PRESSURE, "Pressure at that time.")
@_option("--new-pressure", PRESSURE, "Pressure now, on the same gauge.")
def dark_space(seen: "Quantity", pressure: "Quantity", new_pressure: "Quantity") -> Answer:
    """Dark space under the target at another pressure."""
    from troubleshoot.physics import discharge

    found = discharge.dark_space(seen.si, pressure.si, new_pressure.si)
    return Answer(
        {"thickness_m": found.value},
        f"At {new_pressure.shown()} the dark space is about {_in(found.value, 'mm', 'length')} "
        "thick; the specimen must stay clear of it.",
        found.notes,
    )


@_command("purge")
@_option("--low", PRESSURE, "Pressure pumped to (pump shut off while filling).", default=None)
@_option("--high", PRESSURE, "Pressure filled to with argon.", default=None)
@_option("--volume", VOLUME, "Chamber volume (pump running).", default=None)
@_option("--speed", FLOW, "Pumping speed at the chamber (pump running).", default=None)
@_option("--seconds", SECONDS, "Length of one sweep (pump running).", default=None)
@click.option("--cycles", type=Count(1, 1000), default=1, show_default=True, help="Flushes.")
def purge(
    low: "Quantity | None",
    high: "Quantity | None",
    volume: "Quantity | None",
    speed: "Quantity | None",
    seconds: "Quantity | None",
    cycles: int,
) -> Answer:
    """Air left after flushing with argon.

    With the pump shut off while argon is let in: --low and --high. With the pump running:
    --volume, --speed and --seconds.
    """
    from troubleshoot.errors import UserError
    from troubleshoot.physics.purging import filled_air_share, swept_air_share

    times = "one flush" if cycles == 1 else f"{cycles} flushes"
    leak = "a leak refills it at once (see air-share)"
    filled = (low, high)
    swept = (volume, speed, seconds)
    if low is not None and high is not None and swept == (None, None, None):
        share = filled_air_share(low.si, high.si, cycles)
        return Answer(
            {"air_fraction": share},
            f"After {times} with the pump shut off {_percent(share)} of the air is left; with the "
            f"pump running far less would be, and {leak}.",
        )
    if volume is not None and speed is not None and seconds is not None and filled == (None, None):
        share = swept_air_share(volume.si, speed.si, seconds.si, cycles)
        return Answer(
            {"air_fraction": share},
            f"After {times} with the pump running {_percent(share)} of the air is left, if the "
            f"chamber is tight; {leak}.",
        )
    raise UserError(
        "Give either --low and --high (pump shut off while filling) or --volume, --speed and "
        "--seconds (pump running)."
    )


@_command("purge-cycles")
@_option("--low", PRESSURE, "Pressure pumped to.")
@_option("--high", PRESSURE, "Pressure filled to with argon, pump shut off.")
@click.option("--start", type=SHARE, default=1.0, show_default=True, help="Share of air now.")
@click.option("--target", type=SHARE, required=True, help="Share wanted, such as 0.01.")
@_option("--volume", VOLUME, "Chamber volume, to tell the argon it takes.", default=None)
def purge_cycles(
    low: "Quantity", high: "Quantity", start: float, target: float, volume: "Quantity | None"
) -> Answer:
    """Flushes needed, pump shut off while filling."""
    import math

    from troubleshoot.physics.gases import ATMOSPHERE
    from troubleshoot.physics.purging import argon_used, cycles_needed

    exact = cycles_needed(low.si, high.si, start, target)
    whole = math.ceil(exact)
    values: Values = {"cycles": whole, "cycles_exact": exact}
    times = "one flush" if whole == 1 else f"{whole} flushes"
    sentence = (
        f"It takes {times} to bring the share from {_percent(start)} to {_percent(target)} in a "
        "tight chamber"
    )
    if volume is None:
        return Answer(values, f"{sentence}.")
    argon = argon_used(volume.si, low.si, high.si, whole) / ATMOSPHERE
    values["argon_m3_at_1_atm"] = argon
    return Answer(values, f"{sentence}, and {_in(argon, 'L', 'volume')} of argon at room pressure.")


@_command("air-share")
@_option("--leak", THROUGHPUT, "Air leaking in.")
@_option("--argon-flow", THROUGHPUT, "Argon let in.")
@_option("--volume", VOLUME, "Chamber volume.", default=None)
@_option("--speed", FLOW, "Pumping speed at the chamber.", default=None)
@_option("--seconds", SECONDS, "Time since argon was let in.", default=None)
def air_share(
    leak: "Quantity",
    argon_flow: "Quantity",
    volume: "Quantity | None",
    speed: "Quantity | None",
    seconds: "Quantity | None",
) -> Answer:
    """Air in the discharge when there is a leak."""
    from troubleshoot.physics.purging import (
        CLEAN_ENOUGH,
        TOO_MUCH_AIR,
        air_share_with_leak,
        leak_air_share,
    )

    settled = leak_air_share(leak.si, argon_flow.si)
    values: Values = {"air_fraction_settled": settled}
    verdict = (
        "clean enough for coating"
        if settled <= CLEAN_ENOUGH
        else "worth finding the leak"
        if settled <= TOO_MUCH_AIR
        else "find the leak before coating"
    )
    sentence = (
        f"The leak keeps {_percent(settled)} air in the discharge however long you flush: "
        f"{verdict} (aim for {_percent(CLEAN_ENOUGH)} at most; over {_percent(TOO_MUCH_AIR)} is "
        "trouble)."
    )
    if volume is not None and speed is not None and seconds is not None:
        now = air_share_with_leak(seconds.si, volume.si, speed.si, leak.si, argon_flow.si)
        values["air_fraction"] = now
        sentence += f" After {_time(seconds.si)} of argon it is {_percent(now)}."
    else:
        values["air_fraction"] = settled
    return Answer(values, sentence)


@_command("leak-allowed")
@_option("--pressure", PRESSURE, "True working pressure, argon on.")
@_option("--speed", FLOW, "Pumping speed at the chamber.")
@click.option("--share", type=SHARE, default=0.1, show_default=True, help="Air one can live with.")
@_option("--volume", VOLUME, "Chamber volume, to tell the rate of rise.", default=None)
def leak_allowed(
    pressure: "Quantity", speed: "Quantity", share: float, volume: "Quantity | None"
) -> Answer:
    """Largest leak that still lets one coat."""
    from troubleshoot.physics import purging
    from troubleshoot.physics.limits import above_zero

    leak = purging.leak_allowed(pressure.si, speed.si, share)
    values: Values = {"throughput_Pa_m3_per_s": leak}
    sentence = (
        f"A leak of up to {_in(leak, 'mbar L/s', 'throughput')} keeps the air in the discharge at "
        f"{_percent(share)} or less"
    )
    if volume is None:
        return Answer(values, f"{sentence}.")
    above_zero(volume=volume.si)
    rise = leak / volume.si
    values["rate_of_rise_Pa_per_s"] = rise
    return Answer(
        values,
        f"{sentence}: with the pump shut off the pressure then rises by no more than "
        f"{_in(rise, 'mbar/min', 'pressure rate')}, walls and water included.",
    )


@_command("leak-convert")
@_option("--leak", THROUGHPUT, "The leak, in the gas it was measured with.")
@_gas_option("air")
@click.option("--to", "other", default="helium", show_default=True, help="The other gas.")
@_temperature_option
def leak_convert(leak: "Quantity", gas: str, other: str, temperature: "Quantity") -> Answer:
    """The same leak in another gas, and as a mass."""
    from troubleshoot.physics import leaks
    from troubleshoot.physics.gases import gas_named

    kind, wanted = gas_named(gas), gas_named(other)
    mass = leaks.mass_flow(kind, leak.si, temperature.si)
    fine = leak.si * leaks.molecular_ratio(kind, wanted)
    coarse = leak.si * leaks.viscous_ratio(kind, wanted, temperature.si)
    return Answer(
        {
            "molecular_Pa_m3_per_s": fine,
            "viscous_Pa_m3_per_s": coarse,
            "mass_kg_per_s": mass,
        },
        f"{leak.shown()} of {kind.name} is {_number(mass * 3.6e6)} g an hour; the same leak lets "
        f"through {_in(fine, 'mbar L/s', 'throughput')} of {wanted.name} if it is fine (below some "
        f"1e-7 mbar L/s) and {_in(coarse, 'mbar L/s', 'throughput')} if it is coarse (above some "
        "1e-5 mbar L/s).",
    )


@_command("permeation")
@click.option("--material", type=click.Choice(["nitrile", "FKM", "silicone"]), required=True)
@_option("--length", LENGTH, "Length of the seal all round.")
@click.option("--humidity", type=SHARE, default=0.6, show_default=True, help="Of the room, 0 to 1.")
@_option("--temperature", TEMPERATURE, "Temperature of the room.", default="20degC")
@_option("--speed", FLOW, "Pumping speed at the chamber, to tell the pressure.", default=None)
def permeation(
    material: str,
    length: "Quantity",
    humidity: float,
    temperature: "Quantity",
    speed: "Quantity | None",
) -> Answer:
    """Room air that passes through a sound rubber seal."""
    from troubleshoot.physics.leaks import seal_permeation
    from troubleshoot.physics.pumping import ultimate_pressure

    flow = seal_permeation(material, length.si, humidity, temperature.si)
    values: Values = {"throughput_Pa_m3_per_s": flow}
    sentence = (
        f"About {_in(flow, 'mbar L/s', 'throughput')} of room air pass through the rubber itself "
        "(to a factor of five)"
    )
    if speed is None:
        return Answer(values, f"{sentence}; more than that is a leak past the seal.")
    lift = ultimate_pressure(0, flow, speed.si)
    values["pressure_Pa"] = lift
    return Answer(
        values,
        f"{sentence}, which the pump holds at {_in(lift, 'mbar', 'pressure')}; a base pressure "
        "well above that has another cause.",
    )


@_command("vapour")
@click.option(
    "--substance", default="water", show_default=True, help="Or acetone, ethanol, isopropanol."
)
@_option("--temperature", TEMPERATURE, "Temperature of the liquid.", default="20degC")
def vapour(substance: str, temperature: "Quantity") -> Answer:
    """Vapour pressure of water and solvents."""
    from troubleshoot.physics.vapour import vapour_pressure

    pressure = vapour_pressure(substance.lower(), temperature.si)
    return Answer(
        {"vapour_pressure_Pa": pressure},
        f"{substance.capitalize()} at {temperature.shown()} has a vapour pressure of "
        f"{_in(pressure, 'mbar', 'pressure')}; as long as any is left, a shut chamber rises to it "
        "and stops there.",
    )


@_command("oxygen")
@_option("--cylinder", VOLUME, "Water volume of the argon cylinder.")
@_option("--fill-pressure", PRESSURE, "Pressure in it.")
@_option("--room", VOLUME, "Volume of the room.")
def oxygen(cylinder: "Quantity", fill_pressure: "Quantity", room: "Quantity") -> Answer:
    """Oxygen in a closed room after a cylinder release."""
    from troubleshoot.physics import safety

    gas = safety.released_volume(cylinder.si, fill_pressure.si)
    worst = safety.oxygen_after_release(gas, room.si)
    mixed = safety.oxygen_after_mixing(gas, room.si)
    hazard = worst < safety.OXYGEN_TOO_LOW
    meaning = (
        "below the limit of 19.5 %: at an alarm leave at once, and let nobody go back in alone"
        if hazard
        else "above the limit of 19.5 % on average, but argon gathers low down"
    )
    return Answer(
        {
            "oxygen_fraction": worst,
            "oxygen_fraction_mixed": mixed,
            "gas_volume_m3": gas,
            "hazardous": hazard,
        },
        f"The cylinder holds {_number(gas)} m3 of gas; set free in a closed room of "
        f"{room.shown()} it leaves {_percent(worst)} oxygen ({_percent(mixed)} if it mixes), "
        f"{meaning}.",
    )


@_command("ventilation")
@_option("--leak", FLOW, "Gas escaping, at room pressure.")
@_option("--fresh-air", FLOW, "Fresh air entering.")
@_option("--room", VOLUME, "Volume of the room.")
@_option("--seconds", SECONDS, "Time since the leak began (without it: for ever).", default=None)
def ventilation(
    leak: "Quantity", fresh_air: "Quantity", room: "Quantity", seconds: "Quantity | None"
) -> Answer:
    """Oxygen in a ventilated room with a gas leak."""
    import math

    from troubleshoot.physics import safety

    time = math.inf if seconds is None else seconds.si
    share = safety.oxygen_with_ventilation(leak.si, fresh_air.si, room.si, time)
    hazard = share < safety.OXYGEN_TOO_LOW
    when = "In the end" if seconds is None else f"After {_time(time)}"
    return Answer(
        {"oxygen_fraction": share, "hazardous": hazard},
        f"{when} the room holds {_percent(share)} oxygen, "
        f"{'below' if hazard else 'above'} the limit of 19.5 % on average.",
    )


@_command("lid-force")
@_option("--diameter", LENGTH, "Diameter of the lid or plate.")
@_option("--difference", PRESSURE, "Pressure difference across it.", default="1atm")
def lid_force(diameter: "Quantity", difference: "Quantity") -> Answer:
    """Force of the air on a lid under vacuum."""
    from troubleshoot.physics.safety import force_on_lid

    force = force_on_lid(diameter.si, difference.si)
    return Answer(
        {"force_N": force},
        f"The air presses on it with {_number(force)} N, the weight of {_number(force / 9.80665)} "
        "kg: never force a lid, let the air in first, and never pump a chipped or scratched glass.",
    )


@_command("convert")
@click.argument("quantity", nargs=-1, required=True)
@click.argument("unit")
def convert(quantity: tuple[str, ...], unit: str) -> Answer:
    """Change the unit: convert 0.2Torr Pa."""
    from troubleshoot.units import dimension_of, parse, si_unit

    text = " ".join(quantity)
    dimension = _shared_dimension(text, unit) or dimension_of(unit)
    given = parse(text, dimension)
    value = given.to(unit)
    return Answer(
        {"value": value, "unit": unit, "si": given.si, "si_unit": si_unit(dimension)},
        f"{given.shown()} is {value:.6g} {unit}.",
    )


def _shared_dimension(text: str, unit: str) -> str | None:
    """What both measure; a micron is a pressure or a length, so one side alone may not tell."""
    from troubleshoot.errors import UserError
    from troubleshoot.units import dimensions, parse

    for dimension in dimensions():
        try:
            parse(text, dimension).to(unit)
        except UserError:
            continue
        return dimension
    return None
