"""Causes that let gas in, give it off, hold it up or leave it in, each as a changed part.

How bad a fault is, is drawn: where somebody would come with it, the chamber ends at 8 to 80 Pa
(0.08 to 0.8 mbar) instead of a few. What is typical of a cause is judgement; what follows from it
is left to the physics.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.physics.pumping import ballast_blank_off
from troubleshoot.physics.vapour import water_vapour_pressure
from troubleshoot.training.coater import VISCOSITY, Coater, Leak, Liquid, Pocket, Pump, Tube
from troubleshoot.training.draw import spread
from troubleshoot.training.flows import pumped, saturation
from troubleshoot.training.plant import Plant

Rng = np.random.Generator
Fault = Callable[[Plant, Rng], Plant]

BAD = (8.0, 80.0)
"""Pa, at which a chamber ends that somebody complains of: judgement."""
WATER_IN_OIL = (2.0, 6.0)
"""Pa, at which it ends when a film of oil or grease gives back the water it took up: the film's
own vapour is far less. Judgement."""
WATER_ON_WALLS = (4.0, 20.0)
"""Pa, at which damp walls end. A hundred layers of water on 0.3 m2 are 1.2 Pa m3 (1e19 molecules on
a square metre are one layer, O'Hanlon, from memory), and hold a few Pa after ten minutes; a film
that can be seen holds more. Judgement."""
LEAST_FROM_A_POCKET = 4.0
"""Pa, held up after ten minutes by a pocket that somebody would notice: judgement."""
HOLLOW = 1e-4
"""m3. The largest hollow that a coater has: a double floor, a hollow stage. Judgement."""
TEN_MINUTES = 600.0


def _with(plant: Plant, **parts: object) -> Plant:
    return replace(plant, coater=replace(plant.coater, **parts))  # type: ignore[arg-type]


def _pumped(coater: Coater, pascal: float) -> float:
    """Pa m3/s of air that the pump takes at a pressure: what must come in to hold it there."""
    return max(sum(pumped(coater, (pascal, 0.0, 0.0))), 0.0)


def _load(plant: Plant, rng: Rng, ends: tuple[float, float] = BAD) -> tuple[float, float]:
    """(Pa, Pa m3/s): a base somebody complains of, and the gas that holds it."""
    base = spread(rng, *ends)
    return base, _pumped(plant.coater, max(base, 2 * plant.coater.pump.ultimate))


def leak(place: str, *, wide: bool = False) -> Fault:
    """Air through a hole at a place, as much as holds an ordinary bad base."""

    def broken(plant: Plant, rng: Rng) -> Plant:
        _, gas = _load(plant, rng)
        hole = Leak(place, gas, wide)
        return _with(plant, leaks=(*plant.coater.leaks, hole))

    return broken


def gap(place: str) -> Fault:
    """A gap that is open as if by a hole of 0.1 to 0.4 mm: choked air, 200 m/s through its area.

    Source: choked flow of air at 20 degC into a vacuum, 20 L/s through a square centimetre
    (O'Hanlon, A User's Guide to Vacuum Technology).
    """

    def broken(plant: Plant, rng: Rng) -> Plant:
        area = np.pi / 4 * spread(rng, 1e-4, 4e-4) ** 2
        hole = Leak(place, float(200.0 * area * ATMOSPHERE), wide=True)
        return _with(plant, leaks=(*plant.coater.leaks, hole))

    return broken


def long_hose(plant: Plant, rng: Rng) -> Plant:
    """A hose of 9 to 14 mm and 1.5 to 3 m instead of its own."""
    return _with(plant, hose=Tube(rng.uniform(9e-3, 14e-3), rng.uniform(1.5, 3.0)))


def damp(
    *, walls: float, rubber: float, load: bool = False, ends: tuple[float, float] = BAD
) -> Fault:
    """Shares of the gas that walls and rubber (or tape, foam, resin) give off after ten minutes.

    `load`: it sits on the stage, and goes with what is taken out. `ends` Pa, where it ends.
    """

    def broken(plant: Plant, rng: Rng) -> Plant:
        _, gas = _load(plant, rng, ends)
        more = gas * walls * TEN_MINUTES / 3600, gas * rubber * (TEN_MINUTES / 3600) ** 0.5
        coater = plant.coater
        changed = _with(plant, walls=coater.walls + more[0], seals=coater.seals + more[1])
        return replace(changed, load_gives=plant.load_gives or load)

    return broken


def wet(substance: str = "water") -> Fault:
    """Something wet that lasts longer than somebody waits, behind pores or a skin."""

    def broken(plant: Plant, rng: Rng) -> Plant:
        base, gas = _load(plant, rng)
        room = plant.coater.room_temperature
        # It cools itself by some degrees, which is in `warming`.
        opening = gas / (0.8 * saturation(substance, room) - base)
        mass = spread(rng, 2, 10) * gas * TEN_MINUTES * 0.018 / (8.314 * room)
        chill = spread(rng, 2, 15)
        warming = gas * 0.018 / (8.314 * room) * 2.45e6 / chill
        return _with(plant, liquid=Liquid(mass, opening, 5.0, warming, substance))

    return broken


def pocket(plant: Plant, rng: Rng) -> Plant:
    """A hollow of 10 to 100 cm3 whose path is so fine that much gas is left after ten minutes.

    Through a path in viscous flow its pressure falls as p0/(1 + t/t0), and most comes out at t when
    t0 = t: so t0 is drawn from 300 to 1200 s. Of smaller hollows nobody would complain, and a
    large pump hardly feels any.
    """
    least = _pumped(plant.coater, LEAST_FROM_A_POCKET)
    volume, halved = spread(rng, 1e-5, HOLLOW), spread(rng, 300, 1200)
    gives = volume * ATMOSPHERE * halved / (halved + TEN_MINUTES) ** 2
    volume = min(volume * max(least / gives, 1.0), HOLLOW)
    length = spread(rng, 2e-3, 2e-2)
    bore = _bore(length, 2 * volume / (halved * ATMOSPHERE))
    return _with(plant, pocket=Pocket(volume, Tube(bore, length)))


def _bore(length: float, k: float) -> float:
    """Bore in m of a tube with K = pi d^4/(128 mu L)."""
    return float((k * 128 * VISCOSITY[0] * length / np.pi) ** 0.25)


def pump(change: Callable[[Pump, Rng, float], Pump]) -> Fault:
    """A pump changed, given the base that comes of it."""

    def broken(plant: Plant, rng: Rng) -> Plant:
        return _with(plant, pump=change(plant.coater.pump, rng, spread(rng, *BAD)))

    return broken


def _worn(pump: Pump, rng: Rng, base: float) -> Pump:
    return replace(pump, ultimate=max(base, 2 * pump.ultimate), slips_below=spread(rng, 5, 100))


def _end_raised(pump: Pump, rng: Rng, base: float) -> Pump:
    return replace(pump, ultimate=max(base, 2 * pump.ultimate))


def _wet_oil(pump: Pump, rng: Rng, base: float) -> Pump:
    # Oil at 40 to 60 degC cannot give back more than the water's own pressure at that heat.
    return replace(pump, oil_water=min(base, water_vapour_pressure(313.15)))


def _ballast(pump: Pump, rng: Rng, base: float) -> Pump:
    return replace(pump, ballast=ballast_blank_off(pump.ultimate) * spread(rng, 0.6, 2))


def _choked(pump: Pump, rng: Rng, base: float) -> Pump:
    # A pump that displaces goes on against its exhaust; what that holds back leaks inward.
    most = pump.speed * ATMOSPHERE * spread(rng, 0.4, 0.9)
    return replace(pump, most=most, ultimate=max(base, 2 * pump.ultimate))


def _standing(pump: Pump, rng: Rng, base: float) -> Pump:
    return replace(pump, running=False)


def _cold(pump: Pump, rng: Rng, base: float) -> Pump:
    return replace(pump, warm=0.0)


def narrow(place: str, *, length: tuple[float, float], more: float = 1.0) -> Fault:
    """Something narrow in the pump's line, in viscous flow.

    At 10 mbar it leaves a hundredth to a tenth of the speed, or `more` times that.
    """

    def broken(plant: Plant, rng: Rng) -> Plant:
        coater = plant.coater
        leaves = spread(rng, 0.01, 0.1) * more
        long = spread(rng, *length)
        # C = leaves x speed at 10 mbar.
        k = leaves * coater.pump.speed / 1000.0 * 2
        return _with(plant, chokes=(*coater.chokes, Tube(_bore(long, k), long, place)))

    return broken


def left_open(knob: str, fault: Fault) -> Fault:
    """A fault that is a knob left open, which can be seen."""

    def broken(plant: Plant, rng: Rng) -> Plant:
        return replace(fault(plant, rng), **{knob: True})  # type: ignore[arg-type]

    return broken


def hose_leak(plant: Plant, rng: Rng) -> Plant:
    return _with(plant, hose_leak=_load(plant, rng)[1])


LEAKS: Mapping[str, Fault] = {
    "seal_dirty": leak("lid"),
    "hair_on_seal": leak("lid"),
    "seal_dry": leak("lid"),
    "seal_nicked": leak("lid"),
    "seal_misseated": gap("lid"),
    "seal_wrong_part": leak("lid"),
    "lid_misseated": gap("lid"),
    "glass_chipped": leak("glass"),
    "port_leak": leak("port"),
    "vent_not_closed": left_open("vent_open", gap("vent")),
    "vent_valve_leaking": leak("vent", wide=True),
    "metal_joint_leaks": leak("joint"),
    "moving_seal_leaks": leak("shaft"),
}
VAPOURS: Mapping[str, Fault] = {
    "specimen_wet": wet(),
    "specimen_damp_again": damp(walls=0.2, rubber=0.8, load=True),
    "solvent_not_dry": wet("ethanol"),
    "chamber_damp": damp(walls=0.9, rubber=0.1, ends=WATER_ON_WALLS),
    "chamber_dirty": damp(walls=0.7, rubber=0.3),
    "oil_film": damp(walls=0.5, rubber=0.5, ends=WATER_IN_OIL),
    "adhesive_outgassing": damp(walls=0.0, rubber=1.0, load=True),
    "stage_overloaded": damp(walls=0.3, rubber=0.7, load=True),
    "unsuited_material": damp(walls=0.0, rubber=1.0, load=True),
    "seal_overgreased": damp(walls=0.1, rubber=0.9, ends=WATER_IN_OIL),
}
POCKETS: Mapping[str, Fault] = {"virtual_leak": pocket}
PUMPS: Mapping[str, Fault] = {
    "pump_worn": pump(_worn),
    "pump_oil_low": pump(_worn),
    "pump_oil_dirty": pump(_end_raised),
    "pump_oil_wet": pump(_wet_oil),
    "pump_oil_wrong": pump(_end_raised),
    "gas_ballast_open": left_open("ballast_open", pump(_ballast)),
    "exhaust_clogged": pump(_choked),
    "dry_pump_worn": pump(_worn),
    "hose_leak": hose_leak,
}
THROTTLES: Mapping[str, Fault] = {
    "hose_collapsed": narrow("hose", length=(0.01, 0.1), more=1.5),
    "hose_restrictive": long_hose,
    "trap_clogged": narrow("trap", length=(0.02, 0.1)),
    "isolation_valve_partly": narrow("isolation valve", length=(0.002, 0.02)),
    "pump_inlet_blocked": narrow("pump inlet", length=(0.005, 0.05)),
}
OTHERS: Mapping[str, Fault] = {
    "pump_drive_fault": pump(_standing),
    "pump_cold": pump(_cold),
}
VACUUM: Mapping[str, Fault] = {**LEAKS, **VAPOURS, **POCKETS, **PUMPS, **THROTTLES, **OTHERS}
