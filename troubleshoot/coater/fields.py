"""Everything that a machine profile can hold: one row a key, in the order it is asked and shown.

A *fact* is a choice that filters causes, findings and checks, a *number* scales the bands, a *text*
does neither. Reading, showing, asking and checking all go by these rows: a new key is a new row.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Part = Literal["first", "equipment", "more", "untold"]


@dataclass(frozen=True, kw_only=True)
class Field:
    """One key of a profile.

    `label` stands before its value, `ask` is its question and `where` tells where the answer is
    found. `choices` are offered: the value in the profile and its words in the question. `default`
    is taken where nothing is answered, and kept apart from what was told. It is asked for only if
    the keys of `needs` were told so (None: whatever was told; what was not told counts as its own
    default). `part` of the questions: the first, one of the list of `equipment` to mark (`ask` is
    then its line there), or the second, which can be left out whole; "untold" is never asked for.
    """

    key: str
    label: str
    ask: str
    part: Part = "first"
    where: str = ""
    choices: Mapping[str, str] = field(default_factory=dict)
    default: str = ""
    needs: Mapping[str, str | None] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Text(Field):
    """A key that takes any text; `choices` are suggestions."""


@dataclass(frozen=True, kw_only=True)
class Fact(Field):
    """A key that takes one of its `choices`.

    `common` is how often each of them is met among bench-top coaters (judgement): by it a cause
    that needs one of them is weighed where nothing is known. Left out where the complaint tells.
    """

    common: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Number(Field):
    """A key that takes a number above zero with a unit of its `dimension`.

    `low` to `high` (SI) is what is ordinary for a bench-top coater: judgement. A turbo pump takes
    `low_with_turbo` in place of `low`. `called` names it in a sentence about that. It is shown in
    `unit`; empty means in the gauge's. `bare` is False where two units are common, so that a number
    without one could be either.
    """

    dimension: str
    called: str
    low: float
    high: float
    low_with_turbo: float | None = None
    unit: str = ""
    example: str
    bare: bool = True


def _same(*values: str) -> dict[str, str]:
    """Choices that are their own words."""
    return {value: value for value in values}


def _has(key: str, label: str, ask: str) -> Fact:
    """A piece of equipment that is there or not."""
    return Fact(key=key, label=label, ask=ask, part="equipment", choices=_same("yes", "no"))


ROWS: tuple[Field, ...] = (
    Text(key="name", label="Name", ask="What is this coater called?"),
    Fact(
        key="isolation_valve",
        label="Isolation valve between chamber and pump",
        ask="Is there a valve between the chamber and the pump?",
        choices=_same("yes", "no"),
    ),
    Fact(
        key="gauge_side",
        label="Gauge sits on the side of the",
        ask="On which side of that valve does the gauge sit?",
        choices={"chamber": "the chamber side", "pump": "the pump side"},
        needs={"isolation_valve": "yes"},
    ),
    Text(
        key="gauge_unit",
        label="Gauge reads in",
        ask="In which unit does the gauge read?",
        choices=_same("mbar", "Torr", "Pa"),
    ),
    Text(
        key="gauge_scale",
        label="Scale of the gauge's volts",
        ask="What do the volts at the gauge's output mean?",
        part="untold",
        where="A table in the gauge's handbook. A log in volts is read with it.",
    ),
    Text(
        key="good_day",
        label="Pump-down of a good day",
        ask="How does the pressure fall on a good day?",
        part="untold",
        where="A log of one: `troubleshoot machine good-day LOG.csv`.",
    ),
    Fact(
        key="current_set_by",
        label="Current is set by the",
        ask="What sets the discharge current?",
        choices={
            "needle_valve": "the needle valve (fixed voltage)",
            "controller": "a controller (the current is set)",
        },
    ),
    Fact(
        key="hv_permit",
        label="High voltage is permitted by the",
        ask="What permits the high voltage?",
        choices={"gauge": "the gauge", "switch": "a vacuum switch", "lid": "a lid switch"},
    ),
    Fact(
        key="venting",
        label="Venting",
        ask="How is the chamber vented?",
        choices={"manual": "by hand", "programmed": "by a program"},
    ),
    _has("turbo", "Turbo pump", "a turbo pump, with a backing pump behind it"),
    _has("programme", "Programme", "a programme that pumps, lets the gas in and coats by itself"),
    _has("cooling", "Cooling water or chiller", "cooling water or a chiller"),
    _has("rotation", "Turning stage", "a turning stage"),
    _has("shutter", "Shutter", "a shutter before the target"),
    _has("voltmeter", "Voltmeter for the discharge", "a meter for the voltage of the discharge"),
    _has("trap", "Trap in the pump line", "a trap in the line to the pump"),
    _has("spare_gauge", "Spare gauge", "a second gauge that could be borrowed"),
    _has("thickness_monitor", "Thickness monitor", "a thickness monitor"),
    _has(
        "xray_detector",
        "X-ray detector on the microscope",
        "an X-ray detector at the microscope",
    ),
    _has("carbon_accessory", "Carbon accessory", "a carbon accessory (rods or thread)"),
    _has("glow_treatment", "Glow-discharge treatment", "a glow-discharge treatment for grids"),
    Fact(
        key="cooled_stage",
        label="Cooled stage",
        ask="a stage that can be cooled below the room",
        part="equipment",
        choices=_same("yes", "no"),
        common={"yes": 0.1, "no": 0.9},
    ),
    Number(
        key="usual_time",
        label="Usual time to pump down",
        ask="The usual time from starting the pump until you can coat?",
        where="From the log book, or what an ordinary day takes.",
        dimension="time",
        called="The usual time to pump down",
        low=20.0,
        high=3600.0,
        unit="min",
        example="6 min",
    ),
    Number(
        key="usual_base",
        label="Usual base pressure",
        ask="The usual base pressure, empty, argon shut?",
        where="The reading after ten minutes of pumping on a good day. A log of one tells it too: "
        "`troubleshoot machine good-day LOG.csv`.",
        dimension="pressure",
        called="The usual base pressure",
        low=0.1,
        high=100.0,
        low_with_turbo=1e-5,
        example="0.03 mbar",
    ),
    Number(
        key="usual_pressure",
        label="Usual coating pressure",
        ask="The usual coating pressure, as the gauge shows it?",
        where="From the recipe on the wall, or the gauge's reading while you coat.",
        dimension="pressure",
        called="The usual coating pressure",
        low=1.0,
        high=100.0,
        low_with_turbo=0.1,
        example="0.1 mbar",
    ),
    Number(
        key="usual_current",
        label="Usual current",
        ask="The usual discharge current?",
        where="From the recipe, or the meter's reading while you coat.",
        dimension="current",
        called="The usual current",
        low=1e-3,
        high=0.1,
        unit="mA",
        example="12 mA",
    ),
    Fact(
        key="gauge_kind",
        label="Kind of gauge",
        ask="What kind of gauge is it?",
        part="more",
        choices={
            "heat_loss": "heat loss (a hot wire: Pirani or thermocouple)",
            "capacitance": "capacitance (a membrane; reads every gas alike)",
            "other": "another",
        },
        default="heat_loss",
    ),
    Fact(
        key="gauge_gas",
        label="Gauge is scaled for",
        ask="For which gas is the gauge's scale right?",
        part="more",
        where="air or nitrogen if nobody ever set it to argon",
        choices=_same("air", "argon"),  # air stands for nitrogen too
        default="air",
        needs={"gauge_kind": "heat_loss"},
    ),
    Fact(
        key="process_gas",
        label="Gas that is let in",
        ask="In which gas do you coat?",
        part="more",
        choices=_same("argon", "air"),
        default="argon",
    ),
    Fact(
        key="target",
        label="Target",
        ask="Which metal is the target?",
        part="more",
        choices={
            "gold": "gold",
            "gold_palladium": "gold-palladium",
            "platinum": "platinum",
            "platinum_palladium": "platinum-palladium",
            "palladium": "palladium",
            "silver": "silver",
            "iridium": "iridium",
            "chromium": "chromium",
            "tungsten": "tungsten",
            "titanium": "titanium",
            "aluminium": "aluminium",
            "copper": "copper",
            "nickel": "nickel",
            "other": "another",
        },
        common={
            "gold": 0.5,
            "gold_palladium": 0.15,
            "platinum": 0.12,
            "platinum_palladium": 0.04,
            "palladium": 0.01,
            "silver": 0.03,
            "iridium": 0.04,
            "chromium": 0.05,
            "tungsten": 0.01,
            "titanium": 0.01,
            "aluminium": 0.01,
            "copper": 0.01,
            "nickel": 0.01,
            "other": 0.01,
        },
    ),
    Fact(
        key="head",
        label="Head",
        ask="What is the head like?",
        part="more",
        choices={
            "diode": "a plain disc (diode)",
            "magnetron": "a disc with magnets behind it (magnetron)",
        },
    ),
    Fact(
        key="monitor_cooled",
        label="Thickness monitor is cooled",
        ask="Does cooling water run through the head of the thickness monitor?",
        part="more",
        where="Two thin tubes lead to it besides its cable.",
        choices=_same("yes", "no"),
        needs={"thickness_monitor": "yes"},
    ),
    Fact(
        key="chamber",
        label="Chamber",
        ask="What is the chamber made of?",
        part="more",
        choices=_same("glass", "metal"),
    ),
    Fact(
        key="pump_kind",
        label="Kind of pump",
        ask="What kind of pump is it (with a turbo pump: the backing pump)?",
        part="more",
        where="A sight glass with oil in it means a rotary pump; its plate says one stage or two.",
        choices={
            "rotary_two_stage": "rotary with oil, two stages",
            "rotary_one_stage": "rotary with oil, one stage",
            "dry": "dry (diaphragm or scroll; no oil)",
        },
        common={"rotary_two_stage": 0.75, "rotary_one_stage": 0.15, "dry": 0.1},
    ),
    Number(
        key="volume",
        label="Chamber volume",
        ask="The chamber's volume?",
        part="more",
        where="Handbook; or 3.14 x radius x radius x height in cm, divided by 1000. A bell 15 cm "
        "across and 15 cm high holds 2.7 L.",
        default="3 L",
        dimension="volume",
        called="The chamber's volume",
        low=0.5e-3,
        high=60e-3,
        unit="L",
        example="5 L",
    ),
    Number(
        key="pump_speed",
        label="Pump speed",
        ask="The pump's speed?",
        part="more",
        where="On the pump's plate, in m3/h, L/min or L/s.",
        default="1.1 L/s",
        dimension="volume flow",
        called="The pump's speed",
        low=0.1e-3,
        high=20e-3,
        unit="L/s",
        example="4 m3/h",
        bare=False,
    ),
    Number(
        key="hose_diameter",
        label="Bore of the hose to the pump",
        ask="The bore of the hose to the pump?",
        part="more",
        where="The inside, at an open end or at the flange.",
        default="20 mm",
        dimension="length",
        called="The hose's bore",
        low=6e-3,
        high=50e-3,
        unit="mm",
        example="20 mm",
    ),
    Number(
        key="hose_length",
        label="Length of the hose",
        ask="The length of that hose?",
        part="more",
        where="Along the hose.",
        default="1 m",
        dimension="length",
        called="The hose's length",
        low=0.1,
        high=5.0,
        unit="m",
        example="1 m",
    ),
    Number(
        key="target_radius",
        label="Radius of the target",
        ask="The target's radius?",
        part="more",
        where="Half of its diameter. Handbook, or a spare target: no ruler into the head.",
        default="25 mm",
        dimension="length",
        called="The target's radius",
        low=10e-3,
        high=60e-3,
        unit="mm",
        example="25 mm",
    ),
    Number(
        key="distance",
        label="Distance from target to specimen",
        ask="The distance from target to specimen?",
        part="more",
        where="From the target's face to the top of a stub, lid on; most people work at about "
        "50 mm.",
        default="50 mm",
        dimension="length",
        called="The distance from target to specimen",
        low=20e-3,
        high=120e-3,
        unit="mm",
        example="50 mm",
    ),
    Number(
        key="usual_voltage",
        label="Usual voltage",
        ask="The usual voltage of the discharge?",
        part="more",
        where="The panel's meter while you coat; never with a meter of your own. Leave the minus "
        "out.",
        needs={"voltmeter": "yes"},
        dimension="voltage",
        called="The usual voltage",
        low=150.0,
        high=3500.0,
        unit="V",
        example="800 V",
    ),
    Number(
        key="coat_rate",
        label="Rate of coating",
        ask="How much metal does a milliampere minute lay down here?",
        part="more",
        where="From a run with a slip whose step, weight or resistance was measured, or a monitor: "
        "`troubleshoot machine rate` reckons it. Of the target that is in, at the usual distance.",
        needs={"target": None},
        dimension="coat rate",
        called="The rate of coating",
        low=0.05e-9 / 60e-3,
        high=5e-9 / 60e-3,
        unit="nm/mA/min",
        example="0.8 nm/mA/min",
    ),
    Number(
        key="usual_rise",
        label="Usual rise with the pump shut off, empty",
        ask="Empty, valve to the pump shut: how far does it rise in one minute?",
        part="more",
        where="On a good day, after ten minutes of pumping.",
        needs={"isolation_valve": "yes", "gauge_side": "chamber"},
        dimension="pressure rate",
        called="The usual rise",
        low=0.01,
        high=1.0,
        example="0.1 mbar",
    ),
    Number(
        key="cylinder",
        label="Argon cylinder",
        ask="The argon cylinder's volume?",
        part="more",
        where="The water volume, stamped on its shoulder. With the room it says what a full leak "
        "would do.",
        needs={"process_gas": "argon"},
        dimension="volume",
        called="The cylinder's volume",
        low=0.4e-3,
        high=60e-3,
        unit="L",
        example="10 L",
    ),
    Number(
        key="fill_pressure",
        label="Cylinder pressure when full",
        ask="Its pressure when full?",
        part="more",
        where="On its label.",
        default="200 bar",
        needs={"cylinder": None},
        dimension="pressure",
        called="The full cylinder's pressure",
        low=5e6,
        high=30e6,
        unit="bar",
        example="200 bar",
    ),
    Number(
        key="room",
        label="Room",
        ask="The room's volume?",
        part="more",
        where="Length x width x height, in metres.",
        needs={"cylinder": None},
        dimension="volume",
        called="The room's volume",
        low=5.0,
        high=1000.0,
        unit="m3",
        example="40 m3",
    ),
)
FIELDS: Mapping[str, Field] = {row.key: row for row in ROWS}
FACTS: Mapping[str, Fact] = {row.key: row for row in ROWS if isinstance(row, Fact)}
NUMBERS: Mapping[str, Number] = {row.key: row for row in ROWS if isinstance(row, Number)}
