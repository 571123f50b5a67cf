"""What flows into and out of a chamber at a moment, in Pa m3/s, by published laws."""

import math
from collections.abc import Sequence

from troubleshoot.physics.conductance import molecular_long_tube
from troubleshoot.physics.gases import ATMOSPHERE, GAS_CONSTANT
from troubleshoot.physics.vapour import CELSIUS_ZERO, vapour_pressure, water_vapour_pressure
from troubleshoot.training.coater import (
    AIR,
    MOLAR_MASS,
    ROOM_HUMIDITY,
    VISCOSITY,
    Coater,
    Leak,
    Line,
    Tube,
)

Flows = tuple[float, float, float]
"""Of air, water vapour and argon, in Pa m3/s."""

COLD = 6.0
"""How many times its warm end pressure a cold pump reaches: judgement."""
CHOKED = 0.528
"""Of the pressure before a hole: below this the flow through it does not depend on what is behind.
(2/(k+1))^(k/(k-1)) for k = 1.4, de Saint-Venant and Wantzel."""
_K = 1.4
_FULL = CHOKED ** (2 / _K) - CHOKED ** ((_K + 1) / _K)
TRIPLE_POINT, TRIPLE_PRESSURE = 273.16, 611.657
"""K and Pa, of water. Source: J. Res. NBS 80A (1976) 775."""
SUBLIMATION, EVAPORATION = 2.834e6, 2.45e6
"""J/kg, of ice and of water at 20 degC: from memory, steam tables."""
MOLAR_WATER = 0.018015
LATENT = {"water": EVAPORATION, "acetone": 0.55e6, "ethanol": 0.92e6, "isopropanol": 0.76e6}
"""J/kg at 20 degC: from memory, CRC Handbook of Chemistry and Physics."""
MOLAR = {"water": MOLAR_WATER, "acetone": 0.05808, "ethanol": 0.04607, "isopropanol": 0.0601}


def mixed(partial: Sequence[float]) -> tuple[float, float, float]:
    """Total pressure in Pa, mean molar mass in kg/mol and viscosity in Pa s, by mole fractions."""
    total = sum(partial)
    if total <= 0:
        return 1e-9, MOLAR_MASS[AIR], VISCOSITY[AIR]
    mass = sum(p * m for p, m in zip(partial, MOLAR_MASS, strict=True)) / total
    thick = sum(p * v for p, v in zip(partial, VISCOSITY, strict=True)) / total
    return total, mass, thick


def conductances(
    tubes: Sequence[Tube], mass: float, viscosity: float, mean: float, temperature: float
) -> tuple[float, float]:
    """(C, K) of tubes one after another, which carry C (p - q) + K (p^2 - q^2)/2.

    K = pi d^4/(128 mu L) (Hagen-Poiseuille), C = Z C_molecular, Z = (1 + x)/(1 + 1.24 x),
    x = sqrt(M/RT) d p/mu (Knudsen 1909, as `physics.conductance.knudsen_long_tube`) at the `mean`
    pressure. In a row both add as 1/K and 1/C, exact in viscous and in molecular flow.
    """
    speed = math.sqrt(8 * GAS_CONSTANT * temperature / (math.pi * mass))
    root = math.sqrt(mass / (GAS_CONSTANT * temperature))
    resist_c = resist_k = 0.0
    for tube in tubes:
        x = root * tube.bore * mean / viscosity
        slip = (1 + x) / (1 + 1.24 * x)
        resist_c += 1 / (slip * molecular_long_tube(tube.bore, tube.length, speed))
        resist_k += 128 * viscosity * tube.length / (math.pi * tube.bore**4)
    return 1 / resist_c, 1 / resist_k


def pumped(coater: Coater, partial: Sequence[float]) -> Flows:
    """What leaves the chamber for the pump. The hose carries it to the pump's inlet at q, where

    S (q - u) = C (p - q) + K (p^2 - q^2)/2 + hose leak, S the pump's speed there, u what it gives
    back: a quadratic equation in q. Each gas then goes by the same C and S. (That argon passes the
    hose 0.85 times as fast as air in molecular flow is in C, through the mean molar mass.)
    """
    p, mass, viscosity = mixed(partial)
    pump = coater.pump
    if not pump.running:
        return 0.0, 0.0, 0.0
    back = [pump.ultimate * COLD ** (1 - pump.warm) + pump.ballast, pump.oil_water, 0.0]
    tubes = (coater.hose, *coater.chokes)
    c, k = conductances(tubes, mass, viscosity, p / 2, coater.room_temperature)
    speed, inlet = pump.speed, p
    for _ in range(4 if pump.slips_below or math.isfinite(pump.most) else 1):
        if pump.slips_below:
            speed = pump.speed * inlet / (inlet + pump.slips_below)
        speed = min(speed, pump.most / inlet)
        right = c * p + k * p * p / 2 + speed * sum(back) + coater.hose_leak
        inlet = 2 * right / (speed + c + math.sqrt((speed + c) ** 2 + 2 * k * right))
    total = c + k * (p + inlet) / 2
    damp = room_water(coater) / coater.room
    leaked = (coater.hose_leak * (1 - damp), coater.hose_leak * damp, 0.0)
    out = [
        total * (x - (total * x + speed * u + q) / (total + speed))
        for x, u, q in zip(partial, back, leaked, strict=True)
    ]
    return out[0], out[1], out[2]


def room_water(coater: Coater) -> float:
    """Water vapour in the room's air, Pa."""
    return ROOM_HUMIDITY * water_vapour_pressure(coater.room_temperature)


def from_room(leak: Leak, inside: float, coater: Coater) -> Flows:
    """Damp air through a hole: a channel as p1^2 - p2^2 (laminar), a wide hole choked.

    The wide one follows de Saint-Venant and Wantzel: steady up to 0.528 of the pressure outside.
    """
    r = min(max(inside / coater.room, 0.0), 1.0)
    if not leak.wide:
        open_share = 1 - r * r
    elif r < CHOKED:
        open_share = 1.0
    else:
        open_share = math.sqrt(max(r ** (2 / _K) - r ** ((_K + 1) / _K), 0.0) / _FULL)
    rate = leak.rate * open_share * coater.room / ATMOSPHERE
    damp = room_water(coater) / coater.room
    return rate * (1 - damp), rate * damp, 0.0


def out_of_pocket(path: Tube, within: float, inside: float, temperature: float) -> float:
    """Air from a pocket at `within` Pa, through its path by Knudsen's law."""
    mean = (within + inside) / 2
    c, k = conductances((path,), MOLAR_MASS[AIR], VISCOSITY[AIR], mean, temperature)
    return (c + k * mean) * (within - inside)


def saturation(substance: str, temperature: float) -> float:
    """Vapour pressure in Pa; of ice below the triple point (Clausius and Clapeyron).

    A solvent that is colder than its published range is carried on along its last slope.
    """
    if substance == "water":
        if temperature >= TRIPLE_POINT:
            return water_vapour_pressure(temperature)
        fall = SUBLIMATION * MOLAR_WATER / GAS_CONSTANT * (1 / temperature - 1 / TRIPLE_POINT)
        return TRIPLE_PRESSURE * math.exp(-fall)
    edge = CELSIUS_ZERO + 10
    if temperature >= edge:
        return vapour_pressure(substance, temperature)
    heat = LATENT[substance] * MOLAR[substance] / GAS_CONSTANT
    return vapour_pressure(substance, edge) * math.exp(-heat * (1 / temperature - 1 / edge))


def evaporating(
    coater: Coater, mass: float, temperature: float, inside: float
) -> tuple[float, float, float]:
    """(Q in Pa m3/s, dm/dt in kg/s, dT/dt in K/s) of what is wet, while `mass` kg are left.

    Q = opening (p_sat(T) - p): Hertz and Knudsen with the mouth of the pores in the way; against
    more pressure than its own it does not boil. It cools itself: heat dT/dt = -L dm/dt + warming
    (T_room - T).
    """
    liquid = coater.liquid
    if liquid is None or mass <= 0:
        return 0.0, 0.0, 0.0
    left = mass / (mass + 0.02 * liquid.mass)
    over = max(saturation(liquid.substance, temperature) - inside, 0.0)
    flow = liquid.opening * left * over
    lost = flow * MOLAR[liquid.substance] / (GAS_CONSTANT * temperature)
    heat = liquid.warming * (coater.room_temperature - temperature)
    return flow, -lost, (heat - LATENT[liquid.substance] * lost) / liquid.heat


def of_line(line: Line, opened: float, stale: float) -> tuple[Flows, float]:
    """(gas through the needle valve, what of the stale gas goes). `opened` Pa m3/s is asked for.

    The valve is choked: the flow does not depend on the chamber.
    """
    flow = min(opened, line.most) + line.shut
    air = line.air if line.gas == "argon" else 1.0
    if line.stale > 0:
        # In a long thin line what stood there is pushed ahead of the gas of the cylinder.
        plug = stale / (stale + 0.05 * line.stale)
        air = max(air, line.fouled * plug)
        return (flow * air, 0.0, flow * (1 - air)), -flow * plug
    return (flow * air, 0.0, flow * (1 - air)), 0.0
