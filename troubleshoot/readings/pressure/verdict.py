"""Which stories the curves leave possible, and how likely each is."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.physics.gauges import HIGHEST
from troubleshoot.readings.pressure.fits import Comparison
from troubleshoot.readings.pressure.numbers import HOSE_KNOWN, SPEED_UNSURE
from troubleshoot.readings.pressure.parts import (
    CREEP_SECONDS,
    DECISIVE,
    ENOUGH,
    Part,
    falls_by,
    throttles,
)
from troubleshoot.readings.reading import Estimate

GAS_SHARE, PUMP_SHARE = 0.5, 0.25
"""Gas explains a base of which it makes at least half; the pump, one of which gas makes less than a
quarter. Judgement."""
SEEN_FROM = 3000.0
"""Pa, from where a fall must be seen to be sure that something narrow throttles it. Judgement."""
NEAR = 2.0
"""ln-likelihood from which a curve is no pure one, though not surely."""
LITTLE = 0.25
"""Share of the creep of drying rubber, below which neither it nor a pocket makes the base."""
STRONG_CREEP, LONG_FALL, LONG_TELLS = 1.4, 400.0, 600.0
"""Factor in five minutes; s that a pump-down must last for its creep to count beside a rise, and
by itself. Judgement."""
READSORBED, FROM_A_LOAD = 50.0, 500.0
"""Pa. Water that walls or a damp load give off comes back to them, so a rise of it may level off
far below its vapour pressure: on walls of 5 L some five layers of it are that much (1e19 molecules
a m2 each, walls five times as rough as they look); over fibres it may be anything. Reversible
adsorption: Redhead, J. Vac. Sci. Technol. A 13 (1995) 467; the numbers are judgement."""
STRAIGHT, CURVE_STRAIGHT, WELL_ABOVE = 0.04, 0.01, 3.0
"""How far readings, and how far the curve that fits them best, may lie from a straight line, in
ln p, and how far above 1 mbar it must have been seen: where another curve fits best, however
little it bends, vapour may. Judgement; the bend of such gauges in vapour is from memory
(`training.gauge` has it as a factor of two within a decade)."""
SOUND_SPREAD = 0.3
"""In ln, of the speed that a sound hose leaves. Where a hose leaves far less gas does explain the
base, but the hose is what is wrong, and the story of a weak pump names it: judgement."""
HOLLOW, USUAL_VOLUME, USUAL_PUMPED = 1e-4, 5e-3, 600.0
"""m3, m3, s: no hollow in a coater holds more; a chamber, and how long it is pumped. Judgement."""
PURE = ("leak", "vapour", "virtual_leak")


@dataclass(frozen=True)
class Account:
    """`story` is None when `rivals` (best first) cannot be told apart, or when there are none."""

    story: str | None
    rivals: tuple[str, ...]
    log_likelihoods: Mapping[str, float] = field(default_factory=dict)


def verdict_of(
    pump: Part | None,
    rise: Part | None,
    numbers: Mapping[str, Estimate],
    share: Estimate | None = None,
    *,
    empty: bool = False,
) -> Account:
    """The stories that the curves leave possible.

    `share`: what gas explains of the base (`gas_share`). `empty`: nothing was in the chamber.

    Where something narrow throttles all the way down, the fall tells it. Else, where there is a
    rise, the rise decides; without the pump-down before it nobody knows whether it explains the
    base, so it never tells a weak pump. A leak together with vapour must fit better by `DECISIVE`
    than either alone, and a tail after the fall counts only if the pressure is still falling: else
    the simpler story stands.
    """
    narrow = throttles(pump) if pump is not None else -math.inf
    if pump is not None and pump.data.pascal[0] < SEEN_FROM:
        # Further down a hose and vapour together look the same.
        narrow = min(narrow, 0.0)
    if rise is not None:
        told = _of_rise(rise, pump, numbers, share, empty)
    elif pump is not None:
        told = _of_fall(pump)
    else:
        return Account(None, ())
    top = max(told.values())
    told = {k: v - top - max(narrow, 0.0) for k, v in told.items()}
    if narrow > -DECISIVE:
        told["throttled"] = min(narrow, 0.0)
    told = dict(sorted(told.items(), key=lambda item: -item[1]))
    rivals = tuple(k for k, v in told.items() if v > -DECISIVE)
    if set(rivals) == {"leak", "leak_and_vapour"}:
        return Account("leak", rivals, told)  # there is one in both
    return Account(rivals[0] if len(rivals) == 1 else None, rivals, told)


def _of_rise(
    rise: Part,
    pump: Part | None,
    numbers: Mapping[str, Estimate],
    share: Estimate | None,
    empty: bool,
) -> dict[str, float]:
    """ln-likelihoods of the stories of a rise.

    A heat-loss gauge is right in air all the way up and bends above 1 mbar in vapour. So what is
    not straight is no leak, wherever it bends; but up there no bend is of more than vapour, surely.
    """
    whole = _against_pure(rise.comparison)
    shapes = {k: v for k, v in whole.items() if k in PURE}
    creeps = _creeps(pump)
    if creeps is not None and creeps < LITTLE and "vapour" in shapes:
        # Walls and rubber that make the base go on drying: the fall would creep.
        shapes["vapour"] = min(shapes["vapour"], _best_of(rise.comparison, "liquid"))
    bends = rise.bends_in_vapour and rise.data.pascal.max() > HIGHEST
    both = whole.get("leak_and_vapour", -math.inf)
    if both >= DECISIVE and not bends:
        shapes = {"leak_and_vapour": 0.0}
    elif both > NEAR:
        shapes["leak_and_vapour"] = 0.0
    if bends and (_straight_through(rise) or not _vapour_below(rise)):
        shapes.pop("vapour", None)
    elif bends and "vapour" in shapes and (both > NEAR or shapes["virtual_leak"] > -DECISIVE):
        shapes["vapour"] = 0.0
    if both > -NEAR and len(shapes) > 1 and _mostly_leak(rise.low or rise.comparison):
        # Nothing is quite tight and dry: a leak with the usual gas of the walls bends a little.
        shapes["leak"] = max(shapes.get("leak", 0.0), -NEAR)
    by_water = READSORBED if empty else FROM_A_LOAD
    levels = next((f.values[1] for f in rise.comparison.fits if f.model.name == "pocket"), math.inf)
    if (creeps is None or creeps >= LITTLE) and levels <= by_water and "vapour" in shapes:
        shapes["vapour"] = max(shapes["vapour"], shapes["virtual_leak"] - NEAR)
    if (creeps is None or creeps >= LITTLE) and _pocket_could(rise, numbers):
        shapes["virtual_leak"] = max(shapes.values())
    top = max(shapes.values())
    shapes = {k: v - top for k, v in shapes.items()}
    if share is None:
        return shapes
    gas, weak = share_likelihoods(share)
    if "gas_share_of_base" not in numbers:
        # By the speed of a sound coater: gas explains so much, or more.
        gas = 0.0
    return {story: value + gas for story, value in shapes.items()} | {"weak_pump": weak}


def _straight_through(rise: Part) -> bool:
    """Whether it goes on straight from below 1 mbar to well above: air does, and in vapour a
    heat-loss gauge bends there by tens of per cent."""
    leak = next((f for f in rise.comparison.fits if f.model.name == "leak"), None)
    p, t = rise.data.pascal, rise.data.seconds
    if leak is None or p.min() > HIGHEST or p.max() < WELL_ABOVE * HIGHEST:
        return False
    if leak.scatter > STRAIGHT or len(t) < ENOUGH:
        return False  # nobody could tell
    off = np.abs(np.log(rise.comparison.best.at(t) / leak.at(t)))
    return bool(np.max(off[1:]) < CURVE_STRAIGHT)


def _vapour_below(rise: Part) -> bool:
    """Whether vapour fits what was read below 1 mbar, where a heat-loss gauge goes with the
    pressure in every gas."""
    return rise.low is None or rise.low.kinds().get("vapour", -math.inf) > -DECISIVE


def _creeps(pump: Part | None) -> float | None:
    """How much the pressure still fell in the last five minutes, beside what rubber alone would do
    (t^-1/2); walls do more, and so does a pocket. None where that was not seen."""
    if pump is None or pump.floor is not None or pump.data.seconds[-1] < LONG_FALL:
        return None
    end = float(pump.data.seconds[-1])
    expected = math.sqrt(end / (end - CREEP_SECONDS)) - 1
    return (falls_by(pump.comparison.best, end) - 1) / expected


def _best_of(comparison: Comparison, name: str) -> float:
    """ln-likelihood of one model beside the best."""
    top = max(fit.log_likelihood for fit in comparison.fits)
    return max(
        (f.log_likelihood - top for f in comparison.fits if f.model.name == name), default=-math.inf
    )


def _against_pure(comparison: Comparison) -> dict[str, float]:
    """ln-likelihood of each kind beside the best that is of one source alone."""
    kinds = comparison.kinds()
    best = max((v for k, v in kinds.items() if k in PURE), default=0.0)
    return {k: v - best for k, v in kinds.items()}


def _mostly_leak(comparison: Comparison) -> bool:
    """Whether the straight part makes most of a rise that is a leak with vapour."""
    for fit in comparison.fits:
        if fit.model.kind == "leak_and_vapour":
            _, rate, gain, tau = fit.values
            return bool(rate > gain / tau)
    return False


def _pocket_could(rise: Part, numbers: Mapping[str, Estimate]) -> bool:
    """Whether a hollow could give off so much: through a fine path p falls as p0/(1 + t/t0), so
    after t s of pumping it gives no more than V p0/(4 t) whatever the path (t0 = t).

    The time pumped and the chamber's volume are taken as usual where they are not known.
    """
    pumped = numbers["pumped_for"].value if "pumped_for" in numbers else USUAL_PUMPED
    load = numbers["rise_in_one_minute"]
    volume = numbers["gas_load"].value / max(numbers["rise_at_start"].value, 1e-12) if (
        "gas_load" in numbers
    ) else USUAL_VOLUME  # fmt: skip
    return volume * load.value <= HOLLOW * ATMOSPHERE / (4 * max(pumped, 1.0))


def _of_fall(pump: Part) -> dict[str, float]:
    """A fall alone tells little: a wet load holds up the pressure as a leak does, and above a weak
    pump the walls go on creeping. Only a strong creep is of what empties."""
    end = float(pump.data.seconds[-1])
    creeps = falls_by(pump.comparison.best, end)
    told = {"vapour": 0.0}
    if creeps < STRONG_CREEP or end < LONG_TELLS or pump.data.pascal[-1] > SEEN_FROM:
        told |= {"leak": 0.0, "weak_pump": 0.0}
    if creeps > 1.1:
        told["virtual_leak"] = 0.0
    return told


def share_likelihoods(share: Estimate) -> tuple[float, float]:
    """ln-likelihood of "gas makes the base" and of "the pump makes it" from the gas share."""
    value = max(share.value, 1e-6)
    spread = max(math.log1p(1.96 * share.sigma / value) / 1.96, HOSE_KNOWN)
    if spread > 1:  # the rise is lost in the noise: only an upper limit is known
        value, spread = value + share.sigma, 0.7
    noise = math.sqrt(max(spread**2 - SPEED_UNSURE**2, 0.0))
    gas, weak = (
        max(0.0, math.log(ratio)) / math.hypot(noise, SOUND_SPREAD)
        for ratio in (GAS_SHARE / value, value / PUMP_SHARE)
    )
    return -0.5 * gas**2, -0.5 * weak**2


def odds_of(rise: Part, numbers: Mapping[str, Estimate]) -> dict[str, float]:
    """P(story) by the weights of the curves and by how much gas explains, stories alike before."""
    kinds = {k: rise.comparison.probability(k) for k in (*PURE, "leak_and_vapour")}
    told = kinds
    if "gas_share_of_base" in numbers:
        gas, weak = (math.exp(x) for x in share_likelihoods(numbers["gas_share_of_base"]))
        told = {k: p * gas for k, p in kinds.items()} | {"weak_pump": sum(kinds.values()) * weak}
    total = sum(told.values()) or 1.0
    return {k: p / total for k, p in told.items()}
