"""What the pressure can do while a coater is pumped, and while it is shut off from its pump.

The curves are those of `physics.rise` and `physics.pumping`, written for whole arrays and in the
parameters a curve determines (the rate at the start, not a leak and a volume). Each is fitted in a
range of its parameters in which it means something else than its neighbours.
"""

import numpy as np

from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.readings.pressure.fits import Data, Floats, Model, Parameter

ICE_POINT, WARM_ROOM = 600.0, 3200.0
"""Pa. Liquid water in the chamber levels off between its vapour pressures at 0 and 25 degC
(`physics.vapour`): it cools itself while it boils."""
MOST_FROM_A_POCKET = 500.0
"""Pa. What 20 cm3 of trapped air add to 4 L; few pockets in a coater hold more: judgement."""
SEEN_TO_EMPTY = 2.0
"""A pocket that needs more than this many watching times to empty, or a liquid to fill the chamber,
looks like a leak: whoever watches sees a straight line."""
LOWEST = 1e-3
"""Pa. No gauge of a rough vacuum sees less; where one did, a hundredth of what it saw."""
LOOSE = 2.0
"""How far the age of walls may differ from the time pumped: heat and air change it. Where the log
bends it may differ more, but then a factor of this is one standard deviation. Judgement."""
VERY_SLOW, VERY_LOOSE, MOST_OF_ALL = 30.0, 5.0, 800.0
"""SEEN_TO_EMPTY, LOOSE and MOST_FROM_A_POCKET where the curve surely bends: a pocket may be slow,
or a hollow part of 30 cm3. Judgement."""
MOLECULAR = 10.0
"""Pa. Where a hose of 12 to 25 mm lets as much through by molecular as by viscous flow of air:
128 eta 121 m s-1 x 2/(pi d) = 0.18 Pa m/d (`physics.conductance`)."""
LEAST_CHOKE, MOST_CHOKE = 0.3, 500.0
"""Pa. From a hose that takes next to nothing of the speed to one of 8 mm and 1 m at 6 m3/h."""
LEAST_THROTTLE, MOST_THROTTLE = 1500.0, 1e7
"""Pa. From where a hose, filter or valve takes half the pump's speed at 15 mbar already, which no
hose of a sound coater does, to a capillary. Judgement."""
LEAST_SLIP, MOST_SLIP = 10.0, 2000.0
"""Pa: 0.18 Pa m over a bore of 18 mm to one of 0.1 mm (see `MOLECULAR`)."""
HEIGHTS = np.log(np.geomspace(1e-9, 1, 750))
"""ln of the shares of a fall at which `throttled` is reckoned: within 1e-4 of ln p between them."""
LEAST_PUMPED = 60.0
OLD_WALLS = 1800.0
"""s. Time pumped before the valve was shut, at least and easily, where the log does not tell."""

IN_WORDS = {
    "still": "stays where it is",
    "leak": "rises in a straight line",
    "walls": "rises and bends over as gas from walls does",
    "seals": "rises and bends over as gas from rubber or a specimen does",
    "liquid": "rises towards the vapour pressure of water",
    "pocket": "rises and levels off, as a trapped pocket does, or a little water",
    "leak_and_vapour": "bends over at first and then goes on straight",
    "settles": "falls and stops at one value",
    "throttled": "falls as through something narrow, 1/p rising in a straight line",
    "throttled_tail": "falls as through something narrow, 1/p rising in a straight line",
    "tail_walls": "falls, then creeps on as gas from walls does",
    "tail_seals": "falls, then creeps on as gas from rubber or a specimen does",
    "tail_pocket": "falls, then falls on slowly and levels off",
}
"""What a curve does, to go behind "the pressure"."""

Numbers = float | Floats
"""A parameter: a number, or a column for as many rows of pressures (`fits.Model`)."""


def _pressure(name: str, data: Data, high: float = 2 * ATMOSPHERE) -> Parameter:
    return Parameter(name, "Pa", min(LOWEST, 1e-2 * float(data.pascal.min())), high)


def still(t: Floats, start: Numbers) -> Floats:
    return start + np.zeros_like(t)


def leak(t: Floats, start: Numbers, rate: Numbers) -> Floats:
    """`physics.rise.leak_pressure`, rate = Q/V."""
    return start + rate * t


def walls(t: Floats, start: Numbers, rate: Numbers, pumped: Numbers) -> Floats:
    """`physics.rise.wall_pressure`."""
    return start + rate * pumped * np.log1p(t / pumped)


def seals(t: Floats, start: Numbers, rate: Numbers, pumped: Numbers) -> Floats:
    """`physics.rise.seal_pressure`."""
    return start + 2 * rate * pumped * (np.sqrt(1 + t / pumped) - 1)


def pocket(t: Floats, start: Numbers, gain: Numbers, tau: Numbers) -> Floats:
    """`physics.rise.virtual_leak_pressure`: it adds `gain` in the end."""
    return start - gain * np.expm1(-t / tau)


def liquid(t: Floats, start: Numbers, saturation: Numbers, tau: Numbers) -> Floats:
    """`physics.rise.vapour_pressure_limited`."""
    return start - np.maximum(saturation - start, 0.0) * np.expm1(-t / tau)


def leak_and_vapour(
    t: Floats, start: Numbers, rate: Numbers, gain: Numbers, tau: Numbers
) -> Floats:
    """A straight line and one term that levels off."""
    return start + rate * t - gain * np.expm1(-t / tau)


def rise_models(
    data: Data, pumped: float | None, *, bent: bool = False, dry: bool = False
) -> tuple[Model, ...]:
    """Every way a shut-off chamber can behave. `pumped`: s of pumping before, if known. `dry`: no
    load, so no liquid, which alone gives off gas in a straight line as a leak does.

    What bends so slowly that it looks straight is left to the leak, by limits on the other curves.
    Where the log is known to be `bent`, that reason is gone, and the limits are those of nature.
    """
    t, p = data.seconds, data.pascal
    span = float(t[-1])
    few = max(1, len(t) // 10)
    first, last = float(np.median(p[:few])), float(np.median(p[-few:]))
    gain = max(last - first, 1e-3 * first)
    rate = gain / span
    rates = Parameter("rate", "Pa/s", 1e-4 * first / span, 1e4)
    start = _pressure("start", data)
    seen, loose, most = (VERY_SLOW, VERY_LOOSE, MOST_OF_ALL) if bent else (
        SEEN_TO_EMPTY, LOOSE, MOST_FROM_A_POCKET
    )  # fmt: skip
    # Where nobody knows how long it was pumped, walls may be so old that they hardly bend.
    unknown = (LEAST_PUMPED, max(seen * span, OLD_WALLS))
    ages = (pumped / loose, pumped * loose) if pumped else unknown
    age = Parameter("pumped", "s", *ages, expected=pumped, spread=float(np.log(LOOSE)))
    middle = float(np.sqrt(ages[0] * ages[1]))
    wall_starts = tuple((first, rate * (1 + span / a), a) for a in (middle, ages[0] * 1.2))
    taus = [span * f for f in (0.08, 0.3, 1.0)]
    slow = Parameter("tau", "s", span / 30, seen * span)
    added = Parameter("gain", "Pa", 1e-4 * first, most)
    end = Parameter("saturation", "Pa", ICE_POINT, WARM_ROOM)
    every = (
        Model("still", "still", (start,), still, ((first,),)),
        Model("leak", "leak", (start, rates), leak, ((first, rate),)),
        Model("walls", "vapour", (start, rates, age), walls, wall_starts),
        Model("seals", "vapour", (start, rates, age), seals, wall_starts),
        Model(
            "liquid",
            "vapour",
            (start, end, slow),
            liquid,
            tuple((first, min(max(last, 1000.0), 3000.0), x) for x in (span * 0.3, span * 1.5)),
        ),
        Model(
            "pocket",
            "virtual_leak",
            (start, added, slow),
            pocket,
            tuple((first, gain * (1 + 0.5 * (x == taus[-1])), x) for x in taus),
        ),
        Model(
            "leak_and_vapour",
            "leak_and_vapour",
            (start, rates, added, slow),
            leak_and_vapour,
            tuple((first, rate / 2, gain / 2, x) for x in taus[:2]),
        ),
    )
    return tuple(model for model in every if not (dry and model.name == "liquid"))


def settles(t: Floats, base: Numbers, fall: Numbers, tau: Numbers, choke: Numbers = 0.0) -> Floats:
    """A fall towards `base` at tau = V/S, S being the speed in the rough vacuum, in which the hose
    lets less and less through.

    tau dp/dt = -(p - base)(p + m)/(p + m + choke): the conductance of the hose is proportional to
    p + m (viscous and molecular flow, `physics.conductance`), and equals the pump's speed where
    p + m = choke. Solved for ln((p - base)/fall) = -u, with r = choke/(base + m):
    t/tau = u + r (u - ln((base + fall + m)/(p + m))). The right side is convex in u, so it lies
    above its tangent at 0 and above its asymptote; from the nearer of them Newton's method comes
    from the right, where it cannot overshoot. Without a choke it is
    `physics.pumping.pressure_after`.
    """
    u = t / tau
    if np.any(choke):
        bottom, top = base + MOLECULAR, base + fall + MOLECULAR
        r = choke / bottom
        at_end = (u + r * np.log(top / bottom)) / (1 + r)
        u = np.minimum(u / (1 + choke / top), at_end)
        for _ in range(60):
            p = bottom + fall * np.exp(-u)
            step = (u + r * (u - np.log(top / p)) - t / tau) / (1 + choke / p)
            u = u - step
            if np.abs(step).max() < 1e-6:  # what is left is less than the square of it
                break
    return base + fall * np.exp(-u)


def throttled(
    t: Floats, base: Numbers, fall: Numbers, tau: Numbers, choke: Numbers, slip: Numbers
) -> Floats:
    """A fall towards `base` through something narrow, exactly.

    Pump and narrow place take the same: S (q - u) = K ((p + m)^2 - (q + m)^2)/2, m = `slip` where
    molecular flow is as large as viscous flow (`physics.conductance`), choke = S/K. With
    A^2 = 1 + 2 m/choke and p + m = A choke sinh(y), V dp/dt = -S (q - q_base) gives
    t/tau = F(y0) - F(y), F(y) = y + coth(b) ln(sinh((y - b)/2)/sinh((y + b)/2)), b that of the
    base. Where the place is narrow 1/p grows linearly with t. Turned round by interpolation.
    """
    scale = choke * np.sqrt(1 + 2 * slip / choke)
    y = np.arcsinh((base + fall * np.exp(HEIGHTS) + slip) / scale)
    b = np.arcsinh((base + slip) / scale)
    apart = np.maximum(y - b, 1e-300)
    # ln sinh(x) = x + ln((1 - exp(-2x))/2), which does not overflow.
    ratio = -b + np.log(-np.expm1(-apart)) - np.log(-np.expm1(-(y + b)))
    past = y + ratio / np.tanh(b)
    before = tau * (past - past[..., -1:])
    heights = [np.interp(-t, row, HEIGHTS) for row in np.atleast_2d(before)]
    return base + fall * np.exp(np.reshape(heights, (*before.shape[:-1], len(t))))


def throttled_tail(
    t: Floats,
    base: Numbers,
    fall: Numbers,
    tau: Numbers,
    choke: Numbers,
    slip: Numbers,
    tail: Numbers,
) -> Floats:
    """`throttled`, and gas from walls besides: `tail` Pa at the end (`tail_walls`)."""
    return throttled(t, base, fall, tau, choke, slip) + tail * (t[-1] + tau) / (t + tau)


def tail_walls(
    t: Floats, base: Numbers, fall: Numbers, tau: Numbers, choke: Numbers, tail: Numbers
) -> Floats:
    """The 1/t law of `physics.pumping.outgassing_rate` over the speed; `tail` Pa at the end."""
    return settles(t, base, fall, tau, choke) + tail * (t[-1] + tau) / (t + tau)


def tail_seals(
    t: Floats, base: Numbers, fall: Numbers, tau: Numbers, choke: Numbers, tail: Numbers
) -> Floats:
    """The t^-1/2 law of `physics.pumping.outgassing_rate` over the speed; `tail` Pa at the end."""
    return settles(t, base, fall, tau, choke) + tail * np.sqrt((t[-1] + tau) / (t + tau))


def tail_pocket(
    t: Floats,
    base: Numbers,
    fall: Numbers,
    tau: Numbers,
    choke: Numbers,
    tail: Numbers,
    emptying: Numbers,
) -> Floats:
    """A pocket that empties through a narrow path: `tail` Pa at first, falling by exp(-t)."""
    return settles(t, base, fall, tau, choke) + tail * np.exp(-t / emptying)


def pump_models(data: Data) -> tuple[Model, ...]:
    """Every way the pressure can fall."""
    t, p = data.seconds, data.pascal
    span = float(t[-1])
    lowest, highest = float(p.min()), float(p[0])
    # The time to fall by e, from the upper part of the curve.
    half = np.flatnonzero(p <= np.sqrt(lowest * highest))
    tau = max(float(t[half[0]]) if len(half) else span / 4, span / 1e4)
    tau /= max(0.5 * np.log(highest / lowest), 0.3)
    base, fall = _pressure("base", data), _pressure("fall", data)
    taus = Parameter("tau", "s", span / 1e5, 2 * span)
    choke = Parameter("choke", "Pa", LEAST_CHOKE, MOST_CHOKE)
    tail = _pressure("tail", data)
    emptying = Parameter("emptying", "s", 2 * tau, 3 * span)
    shared = (base, fall, taus, choke)
    throttle = Parameter("choke", "Pa", LEAST_THROTTLE, MOST_THROTTLE)
    # 1/p = 1/p0 + t/(tau choke): in viscous flow a narrow place takes as p^2 (`settles`).
    passing = span / max(1 / lowest - 1 / highest, 1e-12)
    # Where it has settled, the upper half of ln p tells.
    early = max(float(t[half[0]]) if len(half) else span / 4, span / 1e4)
    passing = min(passing, early * float(np.sqrt(lowest * highest)))
    slow_taus = Parameter("tau", "s", 1e-3, 2 * span)
    slip = Parameter("slip", "Pa", LEAST_SLIP, MOST_SLIP)
    narrow = tuple((0.9 * lowest, highest, max(passing / 2 / c, 1e-3), c, 30.0) for c in (5e3, 1e5))
    first = tuple((0.9 * lowest, highest, x, c) for x in (tau, tau / 2) for c in (3.0, 60.0))
    tails = tuple(
        (lowest * (1 - f), highest, tau, c, lowest * f) for f in (0.3, 0.9) for c in (3.0, 60.0)
    )
    return (
        Model("settles", "settles", shared, settles, first),
        Model("throttled", "throttled", (base, fall, slow_taus, throttle, slip), throttled, narrow),
        Model(
            "throttled_tail",
            "throttled",
            (base, fall, slow_taus, throttle, slip, tail),
            throttled_tail,
            tuple((0.5 * lowest, *n[1:], 0.5 * lowest) for n in narrow),
        ),
        Model("tail_walls", "vapour", (*shared, tail), tail_walls, tails),
        Model("tail_seals", "vapour", (*shared, tail), tail_seals, tails),
        Model(
            "tail_pocket",
            "virtual_leak",
            (*shared, tail, emptying),
            tail_pocket,
            tuple((0.9 * lowest, highest, tau, 10.0, 2 * lowest, span * f) for f in (0.1, 0.4)),
        ),
    )
