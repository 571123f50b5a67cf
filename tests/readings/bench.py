"""A bench coater and its gauge, stepped in time; it knows none of the reader's curves.

What the functions return (all SI; a test may rely on it):

- `draw(story, rng)` -> `Coater`. Stories: "healthy", "leak", "vapour", "virtual_leak",
  "weak_pump".
- `draw_gauge(rng, plain=False)` -> `Gauge`.
- `simulate(coater, stages)` -> `Run`: true pressures; `stages` are `Stage(kind, seconds, flow)`.
- `read(run, gauge, every, rng)` -> `Log`: what the gauge showed, a row every `every` seconds.
- `session(story, rng)` -> `Session`: pump-down and rise, or with `shut=False` a pump-down alone;
  beside the log it holds the coater, the gauge, the true run and the times of both.
- `ordinary(kind, rng)` -> `Session` of a healthy coater whose valve is never shut. Kinds:
  `ORDINARY`.

V dp/dt = gas(t, p) - Q(p), Q what the pump takes through its hose.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import odeint
from scipy.signal import lfilter

from troubleshoot.sources.log_file import Log
from troubleshoot.sources.points import display_step

Floats = NDArray[np.float64]
Rng = np.random.Generator

AIR = 101325.0
VISCOSITY = 1.8e-5
"""Pa s, of air at room temperature."""
LONG_TUBE = 121.0
"""m/s: C = 121 d^3/L of air in a long tube, molecular flow. O'Hanlon, A User's Guide to Vacuum
Technology, section on conductances."""
COVERED = 10.0
"""s. The laws of outgassing are cut off here after the air has gone: judgement."""
TEN_MINUTES = 600.0
LEAST_HELD = 6.0
"""Pa. A pocket that holds up less than this after ten minutes is no fault: judgement."""
GRID = 0.25
"""s between the pressures of a run."""
EVERY = (1.0, 2.0, 5.0, 10.0)
"""s between the rows of a log."""
STORIES = ("healthy", "leak", "vapour", "virtual_leak", "weak_pump")
ORDINARY = ("vent", "argon and vent", "argon", "purges")


# The coater


@dataclass(frozen=True)
class Coater:
    """`walls`, `seals`: gas load in Pa m3/s after ten minutes. `wet`: m3/s, `leak`: Pa m3/s.

    `slows`: Pa; the pump's speed falls as p/(p + slows). `pocket`: m3, at first full of air,
    behind a path of conductance `path` (m3/s).
    """

    volume: float
    speed: float
    ultimate: float
    bore: float
    hose: float
    leak: float = 0.0
    walls: float = 0.0
    seals: float = 0.0
    wet: float = 0.0
    saturation: float = 2000.0
    pocket: float = 0.0
    path: float = 0.0
    slows: float = 0.0

    def taken(self, pascal: float) -> float:
        """What the pump takes from the chamber, Pa m3/s.

        The hose carries C (p - q) + K (p^2 - q^2)/2 (molecular flow and Poiseuille's law,
        K = pi d^4 / (128 eta L)) to the pump's inlet at q, and the pump takes S (q - ultimate):
        a quadratic equation in q.
        """
        speed = self.speed * pascal / (pascal + self.slows)
        molecular = LONG_TUBE * self.bore**3 / self.hose
        viscous = math.pi * self.bore**4 / (128 * VISCOSITY * self.hose)
        b = speed + molecular
        c = molecular * pascal + viscous * pascal**2 / 2 + speed * self.ultimate
        inlet = 2 * c / (b + math.sqrt(b * b + 2 * viscous * c))
        return speed * (inlet - self.ultimate)

    def reach(self, pascal: float) -> float:
        """Speed at the chamber in m3/s, of a pump without an ultimate pressure."""
        ideal = Coater(self.volume, self.speed, 0.0, self.bore, self.hose, slows=self.slows)
        return ideal.taken(pascal) / pascal

    @property
    def time_constant(self) -> float:
        """V/S in s in the rough vacuum, at 200 mbar."""
        return self.volume / self.reach(2e4)

    def sources(self, age: float, pascal: float, pocket: float) -> dict[str, float]:
        """Gas that comes in by itself, Pa m3/s, `age` s after the chamber was last open.

        Leak: laminar in a fine channel, as p1^2 - p2^2. Walls 1/t, elastomers t^-1/2: O'Hanlon,
        as above, section on outgassing. Liquid: Hertz-Knudsen, as ps - p.
        """
        old = (age + COVERED) / TEN_MINUTES
        return {
            "leak": self.leak * max(1 - (pascal / AIR) ** 2, 0.0),
            "walls": self.walls / old,
            "seals": self.seals / math.sqrt(old),
            "liquid": self.wet * max(self.saturation - pascal, 0.0),
            "pocket": self.path * (pocket - pascal),
        }


def draw(story: str, rng: Rng) -> Coater:
    """A coater of a story: 3 to 10 L, 1 to 6 m3/h, hose 12 to 25 mm by 0.3 to 1 m."""
    size = {
        "volume": rng.uniform(3, 10) * 1e-3,
        "speed": _spread(rng, 1, 6) / 3600,
        "ultimate": _spread(rng, 0.3, 3),
        "bore": rng.uniform(0.012, 0.025),
        "hose": rng.uniform(0.3, 1.0),
    }
    plain = Coater(**size)
    # What a clean coater holds after ten minutes, shared by walls and seals.
    usual, share = _spread(rng, 0.5, 2.5) * plain.reach(5.0), rng.uniform(0.2, 0.8)
    size |= {"walls": usual * share, "seals": usual * (1 - share)}
    base = _spread(rng, 8, 80)
    gas = base * plain.reach(base)
    if story == "leak":
        size["leak"] = gas
    elif story == "vapour":
        source = rng.choice(["walls", "seals", "liquid"])
        if source == "liquid":
            size["saturation"] = rng.uniform(700, 2300)
            size["wet"] = gas / (size["saturation"] - base)
        else:
            size[source] += gas
    elif story == "virtual_leak":
        size |= _pocket(rng, gas)
        held = size["path"] * AIR * math.exp(-TEN_MINUTES * size["path"] / size["pocket"])
        if held < LEAST_HELD * plain.reach(LEAST_HELD):
            return draw(story, rng)
    elif story == "weak_pump":
        if rng.random() < 0.6:
            size["ultimate"] = _spread(rng, 10, 60)
        else:
            size |= {"slows": _spread(rng, 20, 200), "ultimate": _spread(rng, 5, 30)}
    return Coater(**size)


def _pocket(rng: Rng, gas: float) -> dict[str, float]:
    """A hollow of 2 to 50 cm3 that empties in 200 to 1500 s; at ten minutes it gives `gas`, or as
    much as it can."""
    emptying = _spread(rng, 200, 1500)
    path = gas / (AIR * math.exp(-TEN_MINUTES / emptying))
    volume = min(max(path * emptying, 2e-6), 5e-5)
    return {"pocket": volume, "path": volume / emptying}


def _spread(rng: Rng, low: float, high: float) -> float:
    """Evenly spread in the logarithm."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


# A run


@dataclass(frozen=True)
class Stage:
    """`kind`: "wait" (open to the air), "pump", "shut", "argon" (let in while the pump runs),
    "off" (pump stopped, air comes back through it) or "vent". `flow`: Pa m3/s let in."""

    kind: str
    seconds: float
    flow: float = 0.0


@dataclass(frozen=True)
class Run:
    """True pressures every `GRID` seconds. `begins`: when each stage began.

    `pocket`: pressure in the pocket; `ages`: s since the chamber was last open to the air.
    """

    coater: Coater
    stages: tuple[Stage, ...]
    begins: tuple[float, ...]
    seconds: Floats
    pascal: Floats
    pocket: Floats
    ages: Floats

    def at(self, seconds: float) -> float:
        """Pressure in Pa."""
        return float(np.interp(seconds, self.seconds, self.pascal))

    def sources(self, seconds: float) -> dict[str, float]:
        """Gas coming in at a time, by where it comes from, Pa m3/s."""
        age = float(np.interp(seconds, self.seconds, self.ages))
        pocket = float(np.interp(seconds, self.seconds, self.pocket))
        return self.coater.sources(age, self.at(seconds), pocket)


def simulate(coater: Coater, stages: Sequence[Stage], start: float = AIR) -> Run:
    """The pressure through `stages`, from `start` in Pa (a pocket starts full of air)."""
    state, age, begin = (start, AIR if coater.pocket else start), 0.0, 0.0
    columns: list[Floats] = []
    begins = []
    for stage in stages:
        begins.append(begin)
        inner = np.arange(math.ceil(begin / GRID) * GRID, begin + stage.seconds, GRID)
        times = np.unique(np.concatenate([[begin], inner, [begin + stage.seconds]]))
        if stage.kind == "wait":
            solved = np.tile((AIR, state[1]), (len(times), 1))
            ages = np.zeros(len(times))
        else:
            ages = age + times - begin
            solved = odeint(
                _balance, state, ages, args=(coater, stage), tfirst=True, rtol=1e-6, atol=1e-6
            )
        state, begin = tuple(solved[-1]), begin + stage.seconds
        age = 0.0 if stage.kind in ("wait", "vent") else float(ages[-1])
        rows = slice(0, len(times) - 1)
        columns.append(np.column_stack([times, solved[:, 0], solved[:, 1], ages])[rows])
    t, p, pocket, ages = np.concatenate(columns).T
    return Run(coater, tuple(stages), tuple(begins), t, p, pocket, ages)


def _balance(age: float, state: Floats, coater: Coater, stage: Stage) -> tuple[float, float]:
    """dp/dt of the chamber and of the pocket. Air rushes in at full flow up to half an atmosphere
    (choked), then as sqrt(p2 (p1 - p2)) (de Saint-Venant and Wantzel, for small differences)."""
    p, pocket = max(float(state[0]), 1e-6), float(state[1])
    gas = sum(coater.sources(age, p, pocket).values())
    if stage.kind in ("vent", "off"):
        x = min(p / AIR, 1.0)
        gas += stage.flow * (1.0 if x < 0.5 else 2 * math.sqrt(x * (1 - x)))
    if stage.kind in ("pump", "argon"):
        gas += stage.flow - coater.taken(p)
    lost = coater.path * (pocket - p) / coater.pocket if coater.pocket else 0.0
    return gas / coater.volume, -lost


# The gauge


@dataclass(frozen=True)
class Gauge:
    """`lag` s; `noise` share of the reading, kept up for `memory` s; `zero` Pa, `scale` factor.

    `drift`: change of scale in ten minutes. `digits` shown, or a fixed `step` in Pa. `top`: Pa at
    which its scale ends.
    """

    lag: float = 1.0
    noise: float = 0.02
    memory: float = 0.0
    digits: int = 3
    zero: float = 0.0
    scale: float = 1.0
    drift: float = 0.0
    step: float = 0.0
    top: float = math.inf


def draw_gauge(rng: Rng, plain: bool = False) -> Gauge:
    """A gauge; a `plain` one has a little noise and is else right."""
    if plain:
        return Gauge()
    return Gauge(
        lag=rng.uniform(1, 2),
        noise=_spread(rng, 0.005, 0.05),
        memory=rng.uniform(0, 4),
        digits=int(rng.integers(2, 4)),
        zero=rng.uniform(-0.5, 0.5),
        scale=_spread(rng, 0.9, 1.1),
        drift=0.02 * rng.standard_normal(),
        top=float(rng.choice([math.inf, 1000.0, 10000.0])),
    )


def read(run: Run, gauge: Gauge, every: float, rng: Rng, *, first: float = 0.0) -> Log:
    """The log of a gauge, its first row at `first` (s of the run).

    A reading of zero or less is not written down.
    """
    fine = np.arange(first, run.seconds[-1], GRID)
    true = np.interp(fine, run.seconds, run.pascal)
    share = -math.expm1(-GRID / gauge.lag)
    lagging, _ = lfilter([share], [1, share - 1], true, zi=[(1 - share) * true[0]])
    t = np.arange(first, fine[-1], every)
    keep = math.exp(-every / gauge.memory) if gauge.memory else 0.0
    white = rng.standard_normal(len(t)) * math.sqrt(1 - keep**2)
    wander = lfilter([1], [1, -keep], white)
    seen = np.interp(t, fine, lagging) * gauge.scale * (1 + gauge.drift * t / TEN_MINUTES)
    p = np.maximum((seen + gauge.zero) * np.exp(gauge.noise * wander), 1e-9)
    step = gauge.step or 10.0 ** (np.floor(np.log10(p)) - gauge.digits + 1)
    p = np.minimum(np.round(p / step) * step, gauge.top)
    t, p = t[p > 0], p[p > 0]
    return Log("bench", "", t - t[0], p, np.ones(len(t)), display_step(p), len(t), "mbar")


# Sessions


@dataclass(frozen=True)
class Session:
    """A log and what is true about it. Times in s of the log; `shut_at` None: never shut."""

    story: str
    coater: Coater
    gauge: Gauge
    every: float
    run: Run
    log: Log
    offset: float  # s of the run at which the log begins
    pumped_from: float
    shut_at: float | None

    def begins(self, kind: str) -> list[float]:
        """When stages of a kind began, in s of the log."""
        pairs = zip(self.run.stages, self.run.begins, strict=True)
        return [begin - self.offset for stage, begin in pairs if stage.kind == kind]


def session(
    story: str,
    rng: Rng,
    *,
    gauge: Gauge | None = None,
    every: float | None = None,
    shut: bool = True,
) -> Session:
    """Waiting, 300 to 1200 s of pumping, then (`shut`) 120 to 600 s with the valve shut."""
    stages = [Stage("wait", rng.uniform(0, 30)), Stage("pump", _spread(rng, 300, 1200))]
    if shut:
        stages.append(Stage("shut", _spread(rng, 120, 600)))
    return logged(story, draw(story, rng), stages, rng, gauge=gauge, every=every)


def ordinary(
    kind: str, rng: Rng, *, gauge: Gauge | None = None, every: float | None = None
) -> Session:
    """A run of a healthy coater: argon at 4 to 10 Pa, purges of 8 to 60 Pa, vents of 5 to 90 s."""
    coater = draw("healthy", rng)

    def argon(seconds: float, pascal: float) -> list[Stage]:
        """Let in by a needle valve that is opened in up to three steps."""
        flow = coater.taken(pascal)
        steps = [Stage("argon", rng.uniform(3, 15), flow * f) for f in (0.4, 0.75)]
        return [*steps[: rng.integers(0, 3)], Stage("argon", seconds, flow)]

    vent = Stage("vent", rng.uniform(60, 150), coater.volume * AIR / _spread(rng, 5, 90))
    stages = [Stage("wait", rng.uniform(5, 30)), Stage("pump", rng.uniform(180, 900))]
    if kind == "purges":
        for _ in range(rng.integers(1, 4)):
            stages += argon(rng.uniform(20, 60), rng.uniform(8, 60))
            stages.append(Stage("pump", rng.uniform(20, 60)))
    if kind != "vent":
        stages += argon(rng.uniform(60, 300), rng.uniform(4, 10))
    if kind == "purges":
        stages.append(Stage("pump", rng.uniform(10, 60)))
    if kind != "argon":
        stages.append(vent)
    return logged("healthy", coater, stages, rng, gauge=gauge, every=every)


def logged(
    story: str,
    coater: Coater,
    stages: Sequence[Stage],
    rng: Rng,
    *,
    gauge: Gauge | None = None,
    every: float | None = None,
) -> Session:
    """Stages of a coater as they were logged, by a gauge and at a pace drawn unless given."""
    gauge = gauge or draw_gauge(rng)
    every = every or float(rng.choice(EVERY))
    run = simulate(coater, stages)
    offset = float(rng.uniform(0, 0.9))
    log = read(run, gauge, every, rng, first=offset)
    shut = [b for s, b in zip(stages, run.begins, strict=True) if s.kind == "shut"]
    pumped = next(b for s, b in zip(stages, run.begins, strict=True) if s.kind == "pump")
    shut_at = shut[-1] - offset if shut else None
    return Session(story, coater, gauge, every, run, log, offset, pumped - offset, shut_at)
