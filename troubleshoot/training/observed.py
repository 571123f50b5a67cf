"""What somebody at a simulated coater reads and sees, worked out when it is first asked for."""

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from troubleshoot.physics.deposition import Settings, unknown_rate
from troubleshoot.physics.metals import metal_named
from troubleshoot.physics.uniformity import disc_share
from troubleshoot.training.coater import AIR, Coater
from troubleshoot.training.flows import of_line
from troubleshoot.training.gauge import Gauge, as_felt, readings
from troubleshoot.training.glow import Head, current, strikes, trace
from troubleshoot.training.plant import Plant
from troubleshoot.training.run import Run, Stage, State, simulate, steady

Floats = NDArray[np.float64]

TEN_MINUTES, HALF_AN_HOUR = 600.0, 1800.0
RISE = 300.0
HOLD = 120.0
"""s of a glow that is watched."""
COATED = 60.0
"""s that a recipe coats for."""
SETTLES = 60.0
"""s after which the argon pressure has settled."""
HURRIED = 90.0
"""s of pumping before the argon is set by who does not flush."""
FLUSH, FLUSHES = 5.0, 15.0
"""Flow of a flush over that of the glow, and s of it: three times (judgement)."""
BEARS = 1.25
"""The meter is let show so much more than is meant: judgement."""
EVERY = 5.0
LEAST = 0.1
"""Pa: a reading of zero is taken for this where readings are compared."""


@dataclass(frozen=True)
class Observed:
    """A plant beside the same plant without its faults, and the noise of the day (`seed`)."""

    plant: Plant
    sound: Plant
    seed: int

    def _rng(self, what: int) -> np.random.Generator:
        return np.random.default_rng([self.seed, what])

    # Pumping

    @cached_property
    def pumped(self) -> Run:
        """Half an hour of pumping from the open chamber, as it is loaded."""
        return simulate(self.plant.coater, [Stage("pump", HALF_AN_HOUR)])

    @cached_property
    def shut(self) -> Run:
        """Ten minutes of pumping, then the valve shut for five."""
        stages = [Stage("pump", TEN_MINUTES), Stage("shut", RISE)]
        return simulate(self.plant.coater, stages)

    @cached_property
    def log(self) -> tuple[Floats, Floats]:
        """(s, Pa) of what the gauge shows through `shut`, a row every five seconds."""
        return readings(self.plant.gauge, self.shut, EVERY, self._rng(1))

    def reading(self, run: Run, seconds: float, gauge: Gauge | None = None) -> float:
        """What the gauge shows at a moment, in Pa, without noise, between its ends."""
        gauge = gauge or self.plant.gauge
        felt = float(np.interp(seconds, run.seconds, as_felt(gauge, run.partial)))
        shows = felt * gauge.scale + gauge.zero + gauge.cold * float(np.exp(-seconds / 300.0))
        return min(max(shows, gauge.bottom, 0.0), gauge.top)

    def base_with(self, coater: Coater, seconds: float = TEN_MINUTES) -> float:
        """The reading after some time of pumping with other parts, in Pa."""
        run = simulate(coater, [Stage("pump", seconds)])
        return self.reading(run, seconds)

    @cached_property
    def base(self) -> float:
        """The reading after ten minutes, loaded, in Pa."""
        return max(self.reading(self.pumped, TEN_MINUTES), LEAST)

    @cached_property
    def usual_base(self) -> float:
        """That of the sound plant."""
        run = simulate(self.sound.coater, [Stage("pump", TEN_MINUTES)])
        return max(self.reading(run, TEN_MINUTES, self.sound.gauge), LEAST)

    @cached_property
    def pumped_empty(self) -> Run:
        """Ten minutes of pumping without what was on the stage."""
        empty = replace(self.plant.coater, liquid=None)
        if self.plant.load_gives:
            sound = self.sound.coater
            empty = replace(empty, walls=sound.walls, seals=sound.seals)
        return simulate(empty, [Stage("pump", TEN_MINUTES)])

    @cached_property
    def base_empty(self) -> float:
        """The reading after ten minutes without what was on the stage."""
        return max(self.reading(self.pumped_empty, TEN_MINUTES), LEAST)

    def time_to(self, pascal: float, run: Run | None = None, gauge: Gauge | None = None) -> float:
        """s until the gauge shows a pressure; infinite if it never does within the run."""
        run = run or self.pumped
        gauge = gauge or self.plant.gauge
        t = np.arange(0.0, run.seconds[-1], 2.0)
        felt = np.interp(t, run.seconds, as_felt(gauge, run.partial)) * gauge.scale + gauge.zero
        below = np.flatnonzero(felt <= pascal)
        return float(t[below[0]]) if len(below) else float("inf")

    @cached_property
    def waited_for(self) -> float:
        """Pa that people wait for before they coat: one and a half times the usual base."""
        return 1.5 * self.usual_base

    @cached_property
    def usual_time(self) -> float:
        run = simulate(self.sound.coater, [Stage("pump", HALF_AN_HOUR)])
        return self.time_to(self.waited_for, run, self.sound.gauge)

    # The glow

    @cached_property
    def flushed(self) -> State:
        """The coater when the argon is set: pumped, and flushed where the recipe is kept."""
        if not self.plant.recipe.flushed:
            return simulate(self.plant.coater, [Stage("pump", HURRIED)]).end
        flow = FLUSH * self.plant.head.pressure * self.plant.coater.pump.speed
        times = [Stage("pump", FLUSHES, argon=flow), Stage("pump", FLUSHES)] * 3
        pumped = TEN_MINUTES - sum(stage.seconds for stage in times)
        return simulate(self.plant.coater, [Stage("pump", pumped), *times]).end

    def _argon(self, shown: float, *, held: bool = True) -> float:
        """Pa m3/s that the operator opens the needle valve for, until the gauge shows `shown`.

        `held`: and no further than until the meter shows the current that is meant to flow.
        """
        plant, state = self.plant, self.flushed
        low, high = 0.0, plant.coater.line.most
        meant = BEARS * self.usual_amps * plant.recipe.demand
        for _ in range(30):
            flow = (low + high) / 2
            partial = self._mixture(plant, steady(plant.coater, flow, state, 0.0), state.stale)
            felt = float(as_felt(plant.gauge, partial[None, :])[0])
            shows = felt * plant.gauge.scale + plant.gauge.zero
            gas = partial.tolist()
            much = strikes(self.head, gas) and current(self.head, gas, SETTLES) > meant
            low, high = (flow, high) if shows < shown and not (held and much) else (low, flow)
        return flow

    def _mixture(self, plant: Plant, p: float, stale: float) -> Floats:
        (air, _, argon), _ = of_line(plant.coater.line, 1.0, stale)
        base = min(p, self.base_true)
        here = self.pumped.partial[np.searchsorted(self.pumped.seconds, TEN_MINUTES)]
        rest = here * base / max(float(here.sum()), 1e-9)
        share = air / ((air + argon) or 1.0)
        return np.array([share * (p - base) + rest[0], rest[1], (1 - share) * (p - base)])

    @cached_property
    def base_true(self) -> float:
        return float(np.interp(TEN_MINUTES, self.pumped.seconds, self.pumped.pascal))

    @cached_property
    def wanted(self) -> float:
        """Pa that the gauge is to show while coating, by the recipe of this coater."""
        sound = Observed(self.sound, self.sound, self.seed)
        partial = sound._mixture(self.sound, self.sound.head.pressure, 0.0)
        felt = float(as_felt(self.sound.gauge, partial[None, :])[0])
        return felt * self.sound.gauge.scale + self.sound.gauge.zero

    @cached_property
    def gas(self) -> Run:
        """Argon for a minute after all pumping, then the two minutes that are watched."""
        recipe = self.plant.recipe
        flow = self._argon(self.wanted * recipe.pressure * recipe.misread)
        creep = self.plant.coater.line.creeps
        parts = [
            Stage("pump", 15.0, argon=flow * (1 + creep * (k + 0.5) * 15.0 / 60.0))
            for k in range(int(HOLD / 15))
        ]
        begin = [Stage("pump", SETTLES, argon=flow)]
        return simulate(self.plant.coater, [*begin, *parts], self.flushed)

    @cached_property
    def watched(self) -> tuple[Floats, Floats]:
        """(s, Pa of air, water, argon) of the two minutes."""
        begin = self.gas.seconds[-1] - HOLD
        t = np.arange(0.0, HOLD, 0.5)
        partial = np.column_stack(
            [np.interp(begin + t, self.gas.seconds, self.gas.partial[:, k]) for k in range(3)]
        )
        return t, partial

    @cached_property
    def head(self) -> Head:
        """The head as the operator drives it."""
        head, recipe = self.plant.head, self.plant.recipe
        return replace(head, demand=head.demand * recipe.demand, gap=head.gap * recipe.distance)

    @cached_property
    def amps(self) -> Floats:
        """A through the two minutes."""
        t, partial = self.watched
        return trace(self.head, t, partial, self._rng(2))

    @cached_property
    def at_reference(self) -> float:
        """A when the glow begins, with the gauge at the recipe's pressure whatever flows."""
        state = self.flushed
        flow = self._argon(self.wanted, held=False)
        p = steady(self.plant.coater, flow, state, 0.0)
        return current(self.head, self._mixture(self.plant, p, state.stale).tolist(), 0.0)

    @cached_property
    def usual_amps(self) -> float:
        """A of a good day."""
        return self.sound.head.sound

    @cached_property
    def glows(self) -> bool:
        """Whether it strikes at all."""
        _, partial = self.watched
        return any(strikes(self.head, p) for p in partial[::20])

    @cached_property
    def air_share(self) -> tuple[float, float]:
        """Share of air in the gas at the beginning of the two minutes and at their end."""
        _, partial = self.watched
        first, last = partial[:10].mean(axis=0), partial[-40:].mean(axis=0)
        return float(first[AIR] / first.sum()), float(last[AIR] / last.sum())

    # The coat

    @cached_property
    def coat(self) -> float:
        """Thickness on the specimen over what the recipe gives, from charge, place and time."""
        recipe, head = self.plant.recipe, self.plant.head
        if not (self.glows and recipe.shutter):
            return 0.0
        mean = float(np.mean(np.minimum(self.amps, head.most)) - head.leaks)
        dose = max(mean, 0.0) * recipe.seconds / self.usual_amps
        rate, usual = (
            unknown_rate(metal_named(metal), Settings()).value
            for metal in (head.metal, self.sound.head.metal)
        )
        good = disc_share(self.sound.head.radius, self.sound.head.gap)
        return dose * rate / usual * self.share(0.0) / good

    def share(self, x: float, height: float = 0.0) -> float:
        """Share of the metal that a face gets `x` m right of the stage's middle, on a thing of a
        `height` in m: a cosine law from a disc (`physics.uniformity`). What shades it is left out.
        """
        head, recipe = self.plant.head, self.plant.recipe
        distance = head.gap * recipe.distance + x * math.tan(recipe.tilt) - height
        return disc_share(head.radius, distance, abs(recipe.offset + x))

    @cached_property
    def spread(self) -> tuple[float, float, float]:
        """The same 15 mm left, in the middle and 15 mm right of the stage's middle."""
        left, middle, right = (self.share(x) for x in (-0.015, 0.0, 0.015))
        return left, middle, right
