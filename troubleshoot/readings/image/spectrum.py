"""Step 2b, by spatial frequency: focus, astigmatism, curtains, grains, JPEG blocks."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from troubleshoot.readings.image.sampling import Sample
from troubleshoot.sources.rows import Floats

SECTORS = 12
BINS, RINGS = 28, 26
FALL = (-2.8, 0.15)
"""ln S of a scene falls by so much for each ln k, and the weight of that. Ours; natural scenes lie
near 2 (Field, J. Opt. Soc. Am. A 4 (1987) 2379), and smooth bodies higher."""


@dataclass(frozen=True)
class Spectrum:
    """`probe`: the blur of the picture as the standard deviation of a probe, in px; `long`,
    `short`: the same along and across the direction in which it is greatest, `axis`, in degrees
    from the scan; `sure`: how many standard errors `long` and `short` differ by; `rise`: how far ln
    S rises above what coarser detail foretells, at the distance `grain` in px; `line`: power on the
    ray of stripes that lean by `lean` degrees, over its usual; `grid`: steps at every eighth pixel,
    in their usual scatter.
    """

    probe: float
    long: float
    short: float
    sure: float
    axis: float
    rise: float
    grain: float
    line: float
    lean: float
    grid: float


def spectrum(sample: Sample) -> Spectrum:
    """What the power spectrum of the squares tells."""
    side = sample.squares.shape[1]
    window = np.hanning(side)[:, None] * np.hanning(side)
    flat = sample.squares - sample.squares.mean(axis=(1, 2), keepdims=True)
    power = np.mean(np.abs(np.fft.rfft2(flat * window)) ** 2, axis=0) / np.sum(window**2)
    fy = np.asarray(np.fft.fftfreq(side)[:, None], float)
    fx = np.asarray(np.fft.rfftfreq(side)[None], float)
    k = np.hypot(fy, fx)
    floor = max(float(np.median(power[k > 0.44])), 0.29**2)
    edges = np.geomspace(2.5 / side, 0.5, BINS + 1)
    ring = np.digitize(k, edges) - 1
    middle = np.sqrt(edges[1:] * edges[:-1])
    inside = (ring >= 0) & (ring < BINS)
    whole = _means(power, ring, inside)
    probe, long, short, sure, axis = _probe(power, fy, fx, k, floor) or (
        *[_least_probe(whole, middle, floor)] * 3,
        0.0,
        0.0,
    )
    rise, grain = _rise(whole, middle, floor)
    line, lean = _line(power, side, 1e-6 * floor)
    return Spectrum(probe, long, short, sure, axis, rise, grain, line, lean, _grid(sample))


def _means(power: Floats, ring: NDArray[np.intp], inside: NDArray[np.bool_]) -> Floats:
    """Mean power in each ring, nan in an empty one."""
    total = np.bincount(ring[inside], power[inside], BINS)
    count = np.bincount(ring[inside], minlength=BINS)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _probe(
    power: Floats, fy: Floats, fx: Floats, k: Floats, floor: float
) -> tuple[float, float, float, float, float] | None:
    """The blur of the picture: mean, longest, shortest, how sure these differ, and the direction.
    None where too little of the scene stands above the noise.

    A scene falls by a power of the frequency, more in some directions than in others; a probe of
    the standard deviation s takes exp(-4 pi^2 k^2 s^2) besides. Both are fitted to ln S by least
    squares, in sectors of rings in which the scene stands above the noise.
    """
    turn = np.degrees(np.arctan2(fy, fx + 1e-12)) % 180
    rings = np.linspace(0.016, 0.45, RINGS + 1)
    ring = np.digitize(k, rings) - 1
    inside = (ring >= 0) & (ring < RINGS)
    place = (ring * SECTORS + (turn // (180 / SECTORS)).astype(int))[inside]
    count = np.bincount(place, minlength=RINGS * SECTORS)
    many = np.maximum(count, 1)
    mean = np.bincount(place, power[inside], RINGS * SECTORS) / many
    kk = np.bincount(place, k[inside], RINGS * SECTORS) / many
    angle = np.radians((np.arange(RINGS * SECTORS) % SECTORS + 0.5) * 180 / SECTORS)
    over = mean - floor
    # Of each sector the rings up to the first in which the noise hides the scene.
    seen = ((over > 1.0 * floor) | (count < 1)).reshape(RINGS, SECTORS)
    use = (count >= 1) & np.logical_and.accumulate(seen, axis=0).ravel()
    if use.sum() < 24:
        return None
    kk, angle, over, mean = kk[use], angle[use], over[use], mean[use]
    weight = np.sqrt(count[use]) * over / mean
    cos, sin, one = np.cos(2 * angle), np.sin(2 * angle), np.ones(len(kk))
    square = 4 * math.pi**2 * kk**2
    # What scenes fall by is known beforehand, about, which parts it from a blur where rings are
    # few.
    terms = np.stack([one, np.log(kk), cos, sin, -square, -square * cos, -square * sin], axis=1)
    y, known = np.log(over), np.array([[0, 1 / FALL[1], 0, 0, 0, 0, 0]])
    for _ in range(3):  # a scene's own order sticks out of a few sectors only
        a = np.concatenate([terms * weight[:, None], known])
        fit = np.linalg.lstsq(a, np.append(y * weight, FALL[0] / FALL[1]), rcond=None)[0]
        left = np.abs(y - terms @ fit)
        weight = np.sqrt(count[use]) * over / mean / (1 + (left / (2 * np.median(left) + 0.1)) ** 2)
    errors = np.linalg.pinv(a.T @ a) * max(float(np.mean((left * weight) ** 2)), 0.5)
    whole, wave = float(fit[4]), math.hypot(fit[5], fit[6])
    error = math.sqrt(max(float(errors[5, 5] + errors[6, 6]) / 2, 1e-12))
    # A blur is longest in the direction in which its spectrum ends first.
    axis = math.degrees(math.atan2(fit[6], fit[5])) / 2 % 180

    def size(variance: float) -> float:
        return math.copysign(math.sqrt(abs(variance)), variance)

    return size(whole), size(whole + wave), size(whole - wave), wave / error, axis


def _least_probe(whole: Floats, middle: Floats, floor: float) -> float:
    """The least blur with which a scene sinks into the noise as soon as this one does.

    By itself it would fall as `FALL` says from the coarsest ring to the first that noise hides.
    """
    good = np.isfinite(whole)
    power, k = whole[good] - floor, middle[good]
    hidden = np.flatnonzero(power < floor)
    if not len(hidden) or not hidden[0]:
        return 0.0
    end = hidden[0]
    falls = math.log(power[0] / floor) + FALL[0] * math.log(k[end] / k[0])
    return math.sqrt(max(falls, 0.0) / (4 * math.pi**2 * (k[end] ** 2 - k[0] ** 2)))


def _rise(whole: Floats, middle: Floats, floor: float) -> tuple[float, float]:
    """How far ln S rises above what coarser detail foretells, and the distance at which it does.

    Scenes fall by about one power of the frequency throughout. Grains of one size add power at
    their distance from each other and none at larger distances.
    """
    good = np.isfinite(whole)
    k, s = np.log(middle[good]), np.log(np.maximum(whole[good] - floor, 0.05 * floor))
    best, at = 0.0, 1.0
    for n in range(6, len(k)):
        if not -3.0 < k[n] < -0.9 or whole[good][n] < 3 * floor:
            continue
        before = k < k[n] - 0.45
        if before.sum() < 5:
            continue
        slope, start = np.polyfit(k[before][-9:], s[before][-9:], 1)
        above = float(
            s[n]
            - (
                start + min(slope, -1.0) * k[n]
                if slope <= -1.0
                else np.mean(s[before][-9:] + (k[before][-9:] * 1.0)) - k[n]
            )
        )
        if above > best:
            best, at = above, float(np.exp(k[n]))
    return best, 1 / at


def _line(power: Floats, side: int, floor: float) -> tuple[float, float]:
    """Stripes that run down the picture put their power on one ray near the axis along the rows."""
    x = np.arange(max(4, side // 32), int(0.4 * side))
    leans = np.radians(np.arange(-14, 14.01, 0.5))
    rays = np.zeros((len(leans), len(x)))
    for n, lean in enumerate(leans):
        y = x * math.tan(lean)
        low = np.floor(y).astype(int)
        part = y - low
        rays[n] = (1 - part) * power[low % side, x] + part * power[(low + 1) % side, x]
    usual = np.median(rays, axis=0)
    share = np.mean(np.log((rays + floor) / (usual + floor)), axis=1)
    best = int(np.argmax(share))
    return float(share[best]), float(np.degrees(leans[best]))


def _grid(sample: Sample) -> float:
    """How much greater steps are at every eighth pixel, along rows and across them alike."""
    found = []
    first = sample.rows[:, 0, :]
    for values in (first, first.T):
        d = np.abs(np.diff(values, axis=1))
        most = 2 * float(np.quantile(d, 0.9)) + 1.0
        d = np.minimum(d, most)
        extra = np.mean(d[:, 1:-1] - 0.5 * (d[:, :-2] + d[:, 2:]), axis=0)
        extra = extra[: len(extra) // 8 * 8]
        means = extra.reshape(-1, 8).mean(axis=0)
        rest = np.delete(means, np.argmax(means))
        scatter = float(extra.std() / math.sqrt(len(extra) / 8)) + 0.02
        found.append(float(means.max() - rest.mean()) / scatter)
    return min(found)
