"""A run of a simulated coater: what the operator does, stage by stage, and the true pressures.

V dp/dt = leaks + walls and rubber + what is wet + pocket + argon - what the pump takes, for air,
water vapour and argon. Stiff (a pump takes hold in milliseconds at the atmosphere and walls give
off for hours), so LSODA integrates it (Petzold, SIAM J. Sci. Stat. Comput. 4 (1983) 136).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from troubleshoot.training.coater import AIR, WATER, Coater, Leak
from troubleshoot.training.desorption import Stores
from troubleshoot.training.flows import (
    evaporating,
    from_room,
    of_line,
    out_of_pocket,
    pumped,
    room_water,
)

Floats = NDArray[np.float64]
Kind = Literal["open", "pump", "shut", "off", "vent"]

GRID = 0.25
"""s between the pressures of a run."""
THROUGH_PUMP = 2e-3
"""Pa m3/s of air that comes back through a pump that stands, at first: judgement."""
_POCKET, _LIQUID, _COLD, _STALE = range(3, 7)


@dataclass(frozen=True)
class Stage:
    """What is done for some seconds.

    "open": the lid is off. "pump": the pump pulls. "shut": the valve to the pump is shut. "off":
    the pump stands with its valve open, and air comes back through it. "vent": air comes in.
    `argon` Pa m3/s is let in meanwhile, `air` Pa m3/s is what a vent lets in. `kicks`: (second of
    the stage, Pa m3) of gas that bursts out at once, as a blister or a drop does.
    """

    kind: Kind
    seconds: float
    argon: float = 0.0
    air: float = 0.0
    kicks: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class State:
    """Everything that a coater remembers: partial pressures in Pa, pocket in Pa, liquid in kg and
    K, stale gas of the argon line in Pa m3, stores, and since when (s) the stores see vacuum."""

    values: tuple[float, ...]
    stores: Stores

    @property
    def partial(self) -> tuple[float, ...]:
        return self.values[:3]

    @property
    def pascal(self) -> float:
        return sum(self.values[:3])

    @property
    def stale(self) -> float:
        return self.values[_STALE]


@dataclass(frozen=True)
class Run:
    """True partial pressures (rows: s, columns: air, water, argon) and when each stage began."""

    coater: Coater
    stages: tuple[Stage, ...]
    begins: tuple[float, ...]
    seconds: Floats
    partial: Floats
    pocket: Floats
    end: State

    @property
    def pascal(self) -> Floats:
        """Total pressure in Pa."""
        total: Floats = self.partial.sum(axis=1)
        return total

    def at(self, seconds: float) -> float:
        """Total pressure in Pa."""
        return float(np.interp(seconds, self.seconds, self.pascal))


def open_to_room(coater: Coater) -> State:
    """A coater that stood open for hours."""
    water = room_water(coater)
    liquid = coater.liquid.mass if coater.liquid else 0.0
    values = (
        *(coater.room - water, water, 0.0),
        *(coater.room, liquid, coater.room_temperature, coater.line.stale),
    )
    return State(values, Stores.of(coater.walls, coater.seals))


def simulate(coater: Coater, stages: Sequence[Stage], start: State | None = None) -> Run:
    """The pressures through `stages`, from `start` (else from the open chamber)."""
    state = start or open_to_room(coater)
    begin = 0.0
    begins, times, rows = [], [np.zeros(1)], [np.array([state.values])]
    for stage in stages:
        begins.append(begin)
        for part, kick in _parts(stage):
            if kick:
                values = list(state.values)
                values[WATER] += kick / coater.volume
                state = replace(state, values=tuple(values))
            grid, solved, state = _walk(coater, part, state)
            times.append(begin + grid[1:])
            rows.append(solved[1:])
            begin += part.seconds
    table = np.concatenate(rows)
    return Run(
        coater,
        tuple(stages),
        tuple(begins),
        np.concatenate(times),
        np.maximum(table[:, :3], 0.0),
        table[:, _POCKET],
        state,
    )


def _parts(stage: Stage) -> list[tuple[Stage, float]]:
    """A stage cut where gas bursts out: the part and what bursts out at its start."""
    cuts = [(0.0, 0.0), *sorted(k for k in stage.kicks if 0 < k[0] < stage.seconds)]
    ends = [*(t for t, _ in cuts[1:]), stage.seconds]
    return [
        (replace(stage, seconds=end - t, kicks=()), amount)
        for (t, amount), end in zip(cuts, ends, strict=True)
        if end > t
    ]


def _walk(coater: Coater, stage: Stage, state: State) -> tuple[Floats, Floats, State]:
    """Times of a stage, its values there, and the state at its end."""
    grid = np.append(np.arange(0.0, stage.seconds, GRID), stage.seconds)
    if len(grid) > 2 and grid[-1] - grid[-2] < 1e-6:
        grid = np.delete(grid, -2)
    if stage.kind == "open":
        fresh = open_to_room(coater).values
        values = (*fresh[:3], state.values[_POCKET], *state.values[_LIQUID:])
        if coater.pocket is not None:
            values = (*fresh[:4], *state.values[_LIQUID:])
        end = State(values, state.stores.after_air(stage.seconds))
        return grid, np.tile(values, (len(grid), 1)), end

    from scipy.integrate import odeint  # heavy: only where something is simulated

    vent = Leak("vent", stage.air, wide=True)

    def change(t: float, y: Sequence[float]) -> tuple[float, ...]:
        return _change(coater, stage, state.stores, vent, t, y)

    solved = odeint(change, state.values, grid, tfirst=True, rtol=1e-6, atol=1e-7, mxstep=5000)
    return grid, solved, State(tuple(solved[-1].tolist()), state.stores.after_vacuum(stage.seconds))


def _change(
    coater: Coater, stage: Stage, stores: Stores, vent: Leak, t: float, y: Sequence[float]
) -> tuple[float, ...]:
    partial = [max(float(x), 0.0) for x in y[:3]]
    p = max(sum(partial), 1e-9)
    net = [0.0, stores.flow(t), 0.0]

    def let_in(flows: Sequence[float]) -> None:
        for i, q in enumerate(flows):
            net[i] += q

    for leak in coater.leaks:
        let_in(from_room(leak, p, coater))
    wet, drying, cooling = evaporating(coater, y[_LIQUID], y[_COLD], p)
    net[WATER] += wet
    gas, stale = of_line(coater.line, stage.argon, y[_STALE])
    let_in(gas)
    emptied = 0.0
    if coater.pocket is not None:
        out = out_of_pocket(coater.pocket.path, y[_POCKET], p, coater.room_temperature)
        net[AIR] += out
        emptied = -out / coater.pocket.volume
    if stage.kind == "pump":
        let_in([-q for q in pumped(coater, partial)])
    elif stage.kind == "shut" and coater.valve_passes:
        # Behind the shut valve the pump keeps its end pressure, or what it leaves in the hose.
        behind = coater.pump.ultimate + coater.hose_leak / max(coater.pump.speed, 1e-9)
        let_in([-coater.valve_passes * (x - behind * x / p) for x in partial])
    elif stage.kind == "off":
        let_in(from_room(Leak("pump", THROUGH_PUMP), p, coater))
    elif stage.kind == "vent":
        let_in(from_room(vent, p, coater))
    return (*(q / coater.volume for q in net), emptied, drying, cooling, stale)


def steady(coater: Coater, argon: float, state: State, seconds: float) -> float:
    """Total pressure in Pa at which pumping and what comes in balance, for a `argon` flow.

    `seconds` of vacuum since the `state`. Without liquid and pocket.
    """
    low, high, stores = math.log(1e-6), math.log(coater.room), state.stores
    gas, _ = of_line(coater.line, argon, state.stale)
    for _ in range(60):
        p = math.exp((low + high) / 2)
        come = sum(gas) + stores.flow(seconds)
        come += sum(sum(from_room(leak, p, coater)) for leak in coater.leaks)
        # The pump takes what is there in the proportions in which it comes.
        shares = [gas[0], stores.flow(seconds), gas[2]]
        total = sum(shares) or 1.0
        taken = sum(pumped(coater, [p * s / total for s in shares]))
        low, high = (math.log(p), high) if taken < come else (low, math.log(p))
    return p
