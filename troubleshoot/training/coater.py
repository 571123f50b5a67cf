"""The parts of a simulated coater, sound or faulty, in SI. What they do is in the other modules.

A fault is a changed part: a leak more, a narrower hose, a pump with water in its oil. So every
fault acts through the same equations as the sound machine.
"""

from dataclasses import dataclass, field
from typing import Literal

from troubleshoot.physics.gases import ATMOSPHERE, ROOM_TEMPERATURE, gas_named

GASES = ("air", "water", "argon")
"""What the chamber holds, in the order of every array of partial pressures. Solvents count as
water: how a gauge reads them is not published."""
AIR, WATER, ARGON = range(3)
GAS = tuple(gas_named({"water": "water vapour"}.get(name, name)) for name in GASES)
MOLAR_MASS = tuple(gas.molar_mass for gas in GAS)
VISCOSITY = tuple(gas.viscosity(ROOM_TEMPERATURE) for gas in GAS)
ROOM_HUMIDITY = 0.5


@dataclass(frozen=True)
class Tube:
    """A round tube: bore and length in m, and where it is, if that matters."""

    bore: float
    length: float
    place: str = "hose"


@dataclass(frozen=True)
class Leak:
    """A hole to the room: `rate` in Pa m3/s of air into a vacuum, and where it is.

    `wide`: a hole wider than it is long, through which the flow is choked; else a fine channel.
    """

    place: str
    rate: float
    wide: bool = False


@dataclass(frozen=True)
class Pocket:
    """A hollow of `volume` m3 behind a narrow `path`."""

    volume: float
    path: Tube


@dataclass(frozen=True)
class Liquid:
    """Something wet: `mass` kg of a substance of `physics.vapour`, evaporating through `opening`.

    `opening` in m3/s: what passes a pore mouth or a wet face at a pressure difference of 1 Pa.
    `heat` J/K, what is cooled with it; `warming` W/K, what the room gives back to it.
    """

    mass: float
    opening: float
    heat: float = 5.0
    warming: float = 0.05
    substance: str = "water"


@dataclass(frozen=True)
class Pump:
    """`speed` m3/s; `ultimate` Pa, air that it gives back, ballast shut; `ballast` Pa, what it
    adds to that while it is open.

    `slips_below` Pa: worn, its speed falls as q/(q + slips_below). `oil_water` Pa: water vapour
    that wet oil gives back. `most` Pa m3/s: all that its exhaust lets out. `running` False: off,
    its valve holding. `warm`: 0 just started, 1 warm; cold oil is thick and its end pressure
    `COLD` times as high.
    """

    speed: float
    ultimate: float
    ballast: float = 0.0
    slips_below: float = 0.0
    oil_water: float = 0.0
    most: float = float("inf")
    running: bool = True
    warm: float = 1.0


@dataclass(frozen=True)
class Line:
    """The argon line up to the needle valve.

    `most` Pa m3/s passes the fully open needle valve; `shut` Pa m3/s passes the closed one, or one
    that was left `open_valve`. `air`: share of air that a leak of the line adds for good; `stale`:
    Pa m3 of gas that stood in the line and breathed in a share `fouled` of air, gone once as much
    has flown; `gas` is
    what the cylinder holds, `full` whether it holds any; `creeps`: change of the flow in a minute,
    as a share of it.
    """

    most: float = 0.5
    shut: float = 0.0
    air: float = 0.0
    stale: float = 0.0
    fouled: float = 0.0
    gas: Literal["argon", "air"] = "argon"
    full: bool = True
    open_valve: bool = False
    creeps: float = 0.0


@dataclass(frozen=True)
class Coater:
    """One coater. `walls` and `seals`: water given off in Pa m3/s after an hour of pumping.

    `chokes` are narrow places in the pump's line besides the hose; `hose_leak` Pa m3/s comes in
    behind the valve; `valve_passes` m3/s passes the shut valve.
    """

    volume: float
    pump: Pump
    hose: Tube
    walls: float
    seals: float
    chokes: tuple[Tube, ...] = ()
    leaks: tuple[Leak, ...] = ()
    pocket: Pocket | None = None
    liquid: Liquid | None = None
    line: Line = field(default_factory=Line)
    hose_leak: float = 0.0
    valve_passes: float = 0.0
    room: float = ATMOSPHERE
    room_temperature: float = ROOM_TEMPERATURE
