"""What the gauge shows of a hidden fault: pressures, and what they amount to.

Only causes that the simulator can express (`training.faults`). Shapes are told by the definitions
that stand at the answers (`looks`) in the rules; the readers of logs have no part in it.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from troubleshoot import units
from troubleshoot.coater.machine import Machine
from troubleshoot.training.faults.vacuum import VACUUM
from troubleshoot.training.figures import Curve
from troubleshoot.training.gauge import Gauge, readings
from troubleshoot.training.plant import Plant, sound_plant
from troubleshoot.training.run import Stage, simulate

PUMPED, SHUT, EVERY = 1800.0, 300.0, 10.0
"""s at the pump, s with the valve shut, s between readings."""
BASE_AT = 600.0
IN_THE_LOAD = (
    *("specimen_wet", "specimen_damp_again", "solvent_not_dry", "adhesive_outgassing"),
    *("stage_overloaded", "unsuited_material"),
)
"""Causes that leave the chamber with the load."""
TOO_HIGH = {"gauge_contaminated": 20.0, "gauge_adjustment_lost": 12.0}
"""Pa that such a gauge shows too much: judgement."""
WAITED_FOR = 3.0
"""The pressure that one waits for is so many times the usual base."""
STRAIGHT = 0.87
"""Second half of a rise over its first, from which it is called straight: between what the
simulated leaks (0.93) and the vapours and pockets (0.78) do in five minutes."""
SHOWN = (
    *("pump_down_time", "base_loaded", "curve_shape", "time_to_ten_mbar", "base_empty"),
    *("load_contrast", "rise_rate", "rise_against_base", "rise_shape", "blank_off"),
)
"""The findings that are answered from it."""
BLANKED_VOLUME = 2e-4


@dataclass(frozen=True)
class Trace:
    """One run at the gauge: what the pump took and the rise after it, as the gauge shows them."""

    fall: Curve
    rise: Curve

    def at(self, seconds: float) -> float:
        """mbar shown so long after the pump was started."""
        return float(np.interp(seconds, self.fall.seconds, self.fall.mbar))

    def until(self, mbar: float) -> float | None:
        """s until so low a pressure is shown; None where it never is."""
        below = [s for s, p in zip(self.fall.seconds, self.fall.mbar, strict=True) if p <= mbar]
        return below[0] if below else None


class AtTheGauge:
    """The numbers of one practice coater with some causes in it. `seed` is that of the coater."""

    def __init__(self, causes: Collection[str], machine: Machine, seed: int) -> None:
        self.causes, self.machine, self.seed = tuple(causes), machine, seed

    @property
    def knows(self) -> bool:
        """Whether all that is wrong here can be simulated; nothing wrong can."""
        return all(c in VACUUM or c in TOO_HIGH for c in self.causes)

    def plant(self, causes: Collection[str]) -> Plant:
        """The coater with these causes in it."""
        plant = sound_plant(np.random.default_rng(self.seed), self.machine)
        for cause in causes:
            if cause in VACUUM:
                plant = VACUUM[cause](plant, np.random.default_rng((self.seed, len(cause))))
        gauge = Gauge(heat_loss=False, noise=0.01, digits=2)
        zero = sum(TOO_HIGH.get(cause, 0.0) for cause in causes)
        return replace(plant, gauge=replace(gauge, zero=zero))

    def _run(self, causes: Collection[str], pumped: float, shut: float) -> Trace:
        plant = self.plant(causes)
        stages = [Stage("pump", pumped), *([Stage("shut", shut)] if shut else [])]
        run = simulate(plant.coater, stages)
        rng = np.random.default_rng(self.seed + 1)
        t, pascal = readings(plant.gauge, run, EVERY, rng)
        mbar = pascal / units.to_si(1, "mbar", "pressure")
        down, up = t <= pumped, t >= pumped
        return Trace(
            Curve(
                "after the pump was started", tuple(t[down].tolist()), tuple(mbar[down].tolist())
            ),
            Curve(
                "after the valve was shut",
                tuple((t[up] - pumped).tolist()),
                tuple(mbar[up].tolist()),
            ),
        )

    @cached_property
    def usual(self) -> Trace:
        """The same coater when it is sound."""
        return self._run((), PUMPED, SHUT)

    @cached_property
    def loaded(self) -> Trace:
        """With everything that is wrong, half an hour of pumping."""
        return self._run(self.causes, PUMPED, 0.0)

    @cached_property
    def risen(self) -> Trace:
        """Ten minutes of pumping, and the valve shut."""
        return self._run(self.causes, BASE_AT, SHUT)

    @cached_property
    def empty(self) -> Trace:
        """Without the load, and what came with it."""
        return self._run([c for c in self.causes if c not in IN_THE_LOAD], BASE_AT, 0.0)

    @cached_property
    def blanked(self) -> float:
        """mbar that a gauge shows at the blanked pump."""
        plant = self.plant(self.causes)
        alone = replace(
            plant.coater, volume=BLANKED_VOLUME, leaks=(), liquid=None, pocket=None, walls=1e-9,
            seals=1e-9, chokes=(), hose_leak=0.0,
        )  # fmt: skip
        run = simulate(alone, [Stage("pump", BASE_AT)])
        return run.at(BASE_AT) / units.to_si(1, "mbar", "pressure")

    @property
    def normal(self) -> dict[str, str]:
        """What is usual on this coater, as keys of its profile."""
        base = self.usual.at(BASE_AT)
        time = self.usual.until(WAITED_FOR * base) or EVERY
        rise = self._first_minute(self.usual)
        return {
            "usual_base": f"{base:.3g} mbar",
            "usual_time": f"{max(time, EVERY) / 60:.3g} min",
            "usual_rise": f"{max(rise, 1e-3):.3g} mbar/min",
        }

    def _first_minute(self, trace: Trace) -> float:
        rise = trace.rise
        after = float(np.interp(60.0, rise.seconds, rise.mbar))
        return max(after - rise.mbar[0], 0.0)

    def answer(self, finding: str) -> str:
        """A quantity as it was read, or the answer that a shape is. Raises KeyError for others."""
        usual = self.usual.at(BASE_AT)
        base = self.loaded.at(BASE_AT)
        match finding:
            case "pump_down_time":
                time = self.loaded.until(WAITED_FOR * usual)
                return f"{max(time, EVERY) / 60:.2g} min" if time is not None else "over 30 min"
            case "time_to_ten_mbar":
                time = self.loaded.until(10.0)
                return f"{max(time, EVERY):.0f} s" if time is not None else "over 30 min"
            case "base_loaded":
                return f"{base:.2g} mbar"
            case "base_empty":
                return f"{self.empty.at(BASE_AT):.2g} mbar"
            case "blank_off":
                return f"{max(self.blanked, 1e-3):.2g} mbar"
            case "rise_rate":
                return f"{max(self._first_minute(self.risen), 1e-3):.2g} mbar/min"
            case "load_contrast":
                return self._contrast(base, self.empty.at(BASE_AT), usual)
            case "rise_against_base":
                return self._against(usual)
            case "rise_shape":
                return self._shape()
            case "curve_shape":
                return self._fall(base, usual)
        raise KeyError(finding)

    def _contrast(self, loaded: float, empty: float, usual: float) -> str:
        if loaded < 1.5 * empty:
            return "same_empty"
        return "usual_empty" if empty < 2 * usual else "lower_empty"

    def _against(self, usual: float) -> str:
        base = self.risen.rise.mbar[0]
        after = base + self._first_minute(self.risen)
        if base < 2 * usual and self._first_minute(self.risen) < 3 * self._first_minute(self.usual):
            return "fits_usual"
        # 0.2 to 0.8 mbar comes in, 0.2 to below 0.4 does not: the border lies between.
        return "gas_comes_in" if after > base * np.sqrt(8) else "too_small_for_base"

    def _shape(self) -> str:
        mbar = self.risen.rise.mbar
        half = len(mbar) // 2
        first, second = mbar[half] - mbar[0], mbar[-1] - mbar[half]
        if mbar[-1] - mbar[0] < 3 * (self.usual.rise.mbar[-1] - self.usual.rise.mbar[0]):
            return "too_small"
        return "straight" if second > STRAIGHT * first else "bends_over"

    def _fall(self, base: float, usual: float) -> str:
        ten = self.loaded.until(10.0)
        if ten is None or ten > 3 * (self.usual.until(10.0) or EVERY) + EVERY:
            return "slow_throughout"
        if base < 2 * usual:
            return "usual"
        return (
            "creeps_down" if self.loaded.at(BASE_AT) < 0.9 * self.loaded.at(300.0) else "stops_dead"
        )


def curve_of(check: str, gauge: AtTheGauge) -> Mapping[str, Curve]:
    """What a check draws: its heading and its curve."""
    match check:
        case "timed_pump_down":
            fall = gauge.loaded.fall
            return {"The last decades of the pump-down": _from(fall, 10 * gauge.loaded.at(BASE_AT))}
        case "empty_pump_down":
            return {"The empty pump-down": _from(gauge.empty.fall, 10 * gauge.empty.at(BASE_AT))}
        case "rate_of_rise":
            return {"The rise": gauge.risen.rise}
    return {}


def _from(curve: Curve, mbar: float) -> Curve:
    """The curve from where it falls below so many mbar, up to ten minutes after that."""
    kept = [(s, p) for s, p in zip(curve.seconds, curve.mbar, strict=True) if p <= mbar]
    kept = [(s, p) for s, p in kept if s <= BASE_AT] or kept
    return Curve(curve.name, tuple(s for s, _ in kept), tuple(p for _, p in kept))
