"""The numbers of a log of the discharge: levels, drifts, how often it jumps, how it swings.

Numbers that name no source are judgement.
"""

import math

import numpy as np
from numpy.typing import NDArray

from troubleshoot.readings.current.drift import Drift, fit_drift
from troubleshoot.readings.current.events import OUT_SECONDS
from troubleshoot.readings.current.trace import STRIKING, Trace, display
from troubleshoot.readings.reading import Estimate
from troubleshoot.sources.rows import Floats

TWO_MINUTES = 120.0
DEPTHS = 0.2
"""How far the depths of jumps lie apart, before any is seen."""
OF_MEDIAN = 1.2533
"""The standard error of a median over that of a mean, for normal scatter."""
UNSEEN = 2.0
"""Of a Poisson count n, the 95 % interval reaches about to n + 1.96 sqrt(n + 2), at n = 0 too."""


def numbers_of(run: Trace, drift: Drift | None) -> dict[str, Estimate]:
    """The numbers of the current, in SI. `drift`: None where too few rows tell one."""
    if drift is None:
        kept = run.even[run.lit]
        level = Estimate(float(np.median(kept)), float(np.std(kept)), "A")
    else:
        level = _level(drift, run.even, run.steady, run.lit, "A")
    out = {
        "current": level,
        "ran_for": Estimate(60 * run.minutes, 0.0, "s"),
    }
    if drift is not None:
        out["change_in_two_minutes"] = _in_two_minutes(drift, out["current"])
    jumps = run.of("jump")
    out["jump_rate"] = Estimate(
        len(jumps) / run.watched, math.sqrt(len(jumps) + UNSEEN) / run.watched, "1/s"
    )
    if jumps:
        depths = [e.depth for e in jumps]
        # Of such jumps, not of those seen only: one alone says little of the next.
        spread = math.sqrt((float(np.var(depths)) * len(depths) + DEPTHS**2) / len(depths))
        sigma = OF_MEDIAN * spread / math.sqrt(len(depths))
        out["jump_depth"] = Estimate(float(np.median(depths)), sigma, "")
    gone = [e.seconds for e in run.of("out")]
    out["times_out"] = Estimate(float(len(gone)), 0.0, "")
    if gone:
        row = float(np.median(np.diff(run.seconds)))
        out["seconds_out"] = Estimate(sum(gone), row * math.sqrt(len(gone) / 6), "s")
    if run.swing is not None:
        depth = run.swing.depth
        out["swing_period"] = run.swing.period
        out["swing_depth"] = Estimate(depth.value / level.value, depth.sigma / level.value, "")
    return out


def drift_of(
    run: Trace, values: Floats, good: NDArray[np.bool_], *, steps: bool = True
) -> Drift | None:
    """The drift of the current, or of what was logged beside it, once the glow has struck.

    `steps`: whether it steps where the current does.
    """
    seconds = run.seconds
    used = good & (seconds >= seconds[0] + min(STRIKING, 6 * run.minutes))
    row = float(np.median(np.diff(seconds)))
    places = [e.start for e in run.of("step")] if steps else []
    for at in places:
        # Where exactly it steps is not known.
        used = used & (np.abs(seconds - at) > max(0.5, 1.5 * row))
    return fit_drift(seconds, values, used, places, _pauses(run), display(values[used]))


def _pauses(run: Trace) -> list[float]:
    """When the glow comes back, and when the log goes on after a gap."""
    gaps = np.diff(run.seconds)
    long = gaps > max(OUT_SECONDS, 5 * float(np.median(gaps)))
    return sorted([*(e.start + e.seconds for e in run.of("out")), *run.seconds[1:][long].tolist()])


def level_and_change(
    numbers: dict[str, Estimate], name: str, unit: str, run: Trace, values: Floats,
    good: NDArray[np.bool_], drift: Drift | None,
) -> None:  # fmt: skip
    """The mean and the relative change in two minutes, if the values determine them."""
    if drift is None:
        return
    level = _level(drift, values, good, run.lit & np.isfinite(values), unit)
    if level.value > 0:
        numbers[name], numbers[f"{name}_change"] = level, _in_two_minutes(drift, level)


def _level(
    drift: Drift, values: Floats, good: NDArray[np.bool_], lit: NDArray[np.bool_], unit: str
) -> Estimate:
    """The mean while the glow is on, with the fitted curve in place of readings amid a jump."""
    mean = float(np.mean(np.where(good, values, drift.curve)[lit]))
    return Estimate(mean, drift.level_sigma, unit)


def _in_two_minutes(drift: Drift, level: Estimate) -> Estimate:
    """The change in two minutes as a share of the level."""
    change = TWO_MINUTES * drift.line.slope / level.value
    sigma = TWO_MINUTES * drift.line.sigma / level.value
    return Estimate(change, math.hypot(sigma, change * level.sigma / level.value), "")
