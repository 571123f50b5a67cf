"""Step 2c, region by region: what is white or dark, steps along the scan, squares, edges."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from troubleshoot.readings.image.sampling import Sample
from troubleshoot.sources.rows import Floats

CELLS = 64
EXTREME = 0.003
"""Share of a picture that may be darker, or brighter, than what counts as its ends. Ours."""
BESIDE = 7
"""px from the middle of a rim to what lies beside it. Ours."""
PASSED = 0.024
"""Share of the variance of white noise between the two blurs of `ridges`."""
SHORTEST_RUN, RUNS, LOOKED_AT = 0.25, 24, 240
"""Of the width; borders that are kept, and looked at. Ours."""
UNEVEN = 3.0
"""Scatters by which the steps along a border may differ from a straight line. Ours."""
SHARP, EDGE = ((1,), 0.4), ((4, 5, 6), 0.6)
"""So many borders away no more than this share of a step may go on: of a scan line, and of the edge
of a square, which takes some rows. Ours."""
TALLEST_TAIL, SHORTEST_TAIL = 0.25, 0.18
"""Of the height, and of the width. Ours."""
Box = tuple[float, float, float, float]
"""Top, left, bottom, right, as shares of the picture's height and width."""


@dataclass(frozen=True)
class Patch:
    """The largest piece of a picture that is white (or dark): its share of the picture, its share
    of all that is so, where it lies, and how far its level stands from the middle one, in the usual
    spread.
    """

    area: float
    of_all: float
    box: Box
    away: float


def patches(sample: Sample) -> tuple[Patch, Patch]:
    """The largest white piece and the largest dark one."""
    (small,) = _smoothed(sample.small, 2)  # single pixels of noise are no piece
    return _patch(sample, small, white=True), _patch(sample, small, white=False)


def _patch(sample: Sample, small: Floats, *, white: bool) -> Patch:
    low, high = (float(q) for q in np.quantile(small, (EXTREME, 1 - EXTREME)))
    middle = float(np.median(small))
    if white:
        level, marked = high, small >= high - 0.04 * (high - low)
    else:
        level, marked = low, small <= middle - 0.7 * (middle - low)
    step = max(1, max(small.shape) // CELLS)
    rows, columns = (n // step for n in small.shape)
    cells = marked[: rows * step, : columns * step].reshape(rows, step, columns, step)
    share = cells.mean(axis=(1, 3))
    piece = _largest(share > 0.5)
    whole = max(float(share.sum()), 1e-9)
    area = float(share[piece].sum())
    box = _box(piece) if piece.any() else (0.0, 0.0, 0.0, 0.0)
    rest = small[~grown(box, small.shape)]
    rest = rest if rest.size > 0.1 * small.size else small
    # A glow draws the near side out, so the other side tells how far the scene itself spreads.
    middle = float(np.median(rest))
    other = float(np.quantile(rest, 0.16 if white else 0.84))
    spread = max(abs(middle - other), sample.noise / sample.block, 1e-9)
    return Patch(area / share.size, area / whole, box, abs(level - middle) / spread)


def grown(box: Box, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """What lies in the box or near it: within its own size on every side."""
    top, left, bottom, right = box
    y, x = np.ogrid[: shape[0], : shape[1]]
    high, wide = bottom - top, right - left
    v, u = (y + 0.5) / shape[0], (x + 0.5) / shape[1]
    return np.asarray(
        (v > top - high) & (v < bottom + high) & (u > left - wide) & (u < right + wide)
    )


def _largest(marked: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The largest connected piece of what is marked (by sides)."""
    left = {(int(y), int(x)) for y, x in np.argwhere(marked)}
    best: set[tuple[int, int]] = set()
    while left:
        edge = [left.pop()]
        piece = set(edge)
        while edge:
            y, x = edge.pop()
            for beside in ((y - 1, x), (y + 1, x), (y, x - 1), (y, x + 1)):
                if beside in left:
                    left.remove(beside)
                    piece.add(beside)
                    edge.append(beside)
        best = max(best, piece, key=len)
    out = np.zeros_like(marked)
    for y, x in best:
        out[y, x] = True
    return out


def _box(piece: NDArray[np.bool_]) -> Box:
    rows, columns = np.flatnonzero(piece.any(axis=1)), np.flatnonzero(piece.any(axis=0))
    high, wide = piece.shape
    return (
        float(rows[0] / high),
        float(columns[0] / wide),
        float((rows[-1] + 1) / high),
        float((columns[-1] + 1) / wide),
    )


@dataclass(frozen=True)
class Run:
    """A step across a border between rows (of columns, where the picture was turned) along a part
    of it.

    `at`, `start`, `end`: as shares of the picture; `z`: in standard deviations; `step`: in levels.
    """

    at: float
    start: float
    end: float
    z: float
    step: float


def runs(part: Floats, places: Sequence[tuple[float, float]], *, sharp: bool) -> list[Run]:
    """The borders along which brightness steps most, over part of their length or all of it.

    `part`: (borders, parts of a row) steps in levels; `places`: where each part begins and ends.
    A step that goes on at borders nearby is left out: an edge of the scene takes some rows and a
    slope many, a scan line (`sharp`) none, and the edge of a square few.
    """
    sigma = 1.4826 * float(np.median(np.abs(part))) + 1e-6
    # One edge of the scene that crosses a part must not carry a whole run.
    t = np.clip(part / sigma, -8, 8)
    count = part.shape[1]
    total = np.pad(np.cumsum(t, axis=1), ((0, 0), (1, 0)))
    best = np.zeros(len(t))
    where = np.zeros((len(t), 2), int)
    for start in range(count):
        for end in range(start + round(SHORTEST_RUN * count), count + 1):
            z = (total[:, end] - total[:, start]) / math.sqrt(end - start)
            more = np.abs(z) > np.abs(best)
            best = np.where(more, z, best)
            where[more] = start, end
    out: list[Run] = []
    away, goes_on = SHARP if sharp else EDGE
    for row in np.argsort(-np.abs(best))[:LOOKED_AT]:
        start, end = (int(n) for n in where[row])
        if end == start:  # no step at all, as in what JPEG left
            break
        step = float(np.median(part[row, start:end]))
        beside = [
            float(np.median(part[n, start:end])) / step if step else 1.0
            for by in away
            for n in (row - by, row + by)
            if 0 <= n < len(part)
        ]
        if max(beside) > goes_on or (sharp and _uneven(part[row, start:end]) > UNEVEN * sigma):
            continue
        out.append(
            Run(
                float(row + 1) / len(part),
                places[start][0],
                places[end - 1][1],
                float(best[row]),
                step,
            )
        )
        if len(out) == RUNS:
            break
    return out


def _uneven(steps: Floats) -> float:
    """How much steps along a border differ from a straight line: charge fades evenly."""
    x = np.arange(len(steps)) - (len(steps) - 1) / 2
    slope = float(steps @ x) / max(float(x @ x), 1.0)
    left = steps - slope * x
    return 1.4826 * float(np.median(np.abs(left - np.median(left))))


@dataclass(frozen=True)
class Square:
    """A patch whose four sides run along the picture's own: `z` of the weakest side, `step` of the
    level inside against outside.
    """

    box: Box
    z: float
    step: float


SLACK, MISSES, ALIKE, LEAST_SIDE = 0.1, 0.3, 0.55, 0.08
"""By how much a corner may be missed, and all four sides together; which share of the largest step
of a square's sides each has at least, since one dose made it; and its least side. Ours."""


def square(across: list[Run], down: list[Run]) -> Square | None:
    """The clearest square, from the borders between rows and those between columns."""
    best: Square | None = None
    rest = list(_pairs(down, most=0.9))
    for top, bottom in _pairs(across, most=0.9):
        start, end = max(top.start, bottom.start), min(top.end, bottom.end)
        for left, right in rest:
            # The nearest corner first: most pairs miss each other there.
            if abs(start - left.at) >= SLACK or abs(end - right.at) >= SLACK:
                continue
            sizes = [abs(r.step) for r in (top, bottom, left, right)]
            missed = sum(
                max(abs(r.start - here), abs(r.end - there))
                for r, here, there in (
                    *((r, left.at, right.at) for r in (top, bottom)),
                    *((r, top.at, bottom.at) for r in (left, right)),
                )
            )
            meets = (top.step > 0) == (left.step > 0) and missed < MISSES
            small = min(bottom.at - top.at, right.at - left.at) < LEAST_SIDE
            z = min(abs(r.z) for r in (top, bottom, left, right))
            if small or not meets or min(sizes) < ALIKE * max(sizes):
                continue
            if best is None or z > best.z:
                step = math.copysign(sum(sizes) / 4, top.step)
                best = Square((top.at, left.at, bottom.at, right.at), z, step)
    return best


@dataclass(frozen=True)
class Tail:
    """A piece of some rows brighter or darker than the rows above and below it: `z` of the weaker
    border."""

    box: Box
    z: float
    step: float


def tail(across: list[Run]) -> Tail | None:
    """The clearest piece of rows that stands out along part of the scan."""
    best: Tail | None = None
    for top, bottom in _pairs(across, most=TALLEST_TAIL):
        start, end = max(top.start, bottom.start), min(top.end, bottom.end)
        longer = max(top.end - top.start, bottom.end - bottom.start)
        z = min(abs(top.z), abs(bottom.z))
        if end - start >= max(SHORTEST_TAIL, 0.6 * longer) and (best is None or z > best.z):
            step = (top.step - bottom.step) / 2
            best = Tail((top.at, start, bottom.at, end), z, step)
    return best


def _pairs(runs: list[Run], most: float) -> Iterator[tuple[Run, Run]]:
    """Borders of opposite sign, the nearer one first, at most so far from each other."""
    for one in runs:
        for other in runs:
            if 0 < other.at - one.at <= most and (one.step > 0) != (other.step > 0):
                yield one, other


@dataclass(frozen=True)
class Ridges:
    """`rims`: how much further fine detail reaches above its surroundings than below, from -1 to 1;
    `height`: how far above, in contrasts of the scene; `sides`: how much the levels on both sides
    of it differ, in heights; `even`: fine detail in the calmest places over that in the liveliest
    quarter.
    """

    rims: float
    height: float
    sides: float
    even: float


def ridges(sample: Sample) -> Ridges:
    """Fine detail against its surroundings."""
    once, four, ground = _smoothed(sample.squares, 1, 4, 24)
    fine = once - ground
    low, high = (float(q) for q in np.quantile(fine, (0.005, 0.995)))
    rims = (high + low) / max(high - low, 1e-9)
    band = (four - ground) ** 2
    cell = 16
    rows, columns = (n // cell for n in band.shape[1:])
    cells = band[:, : rows * cell, : columns * cell]
    energy = cells.reshape(-1, rows, cell, columns, cell).mean(axis=(2, 4)).ravel()
    energy = np.maximum(energy - PASSED * sample.noise**2, 0)
    calm, lively = np.quantile(energy, (0.15, 0.75))
    return Ridges(
        rims,
        high / sample.contrast,
        _sides(four, fine >= high) / max(high, 1e-9),
        float(calm / max(lively, 1e-9)),
    )


def _sides(level: Floats, marked: NDArray[np.bool_]) -> float:
    """How much the levels on both sides of what is marked differ, in the direction in which they do
    most: a rim stands on an edge, a thread on nothing.
    """
    n, y, x = np.nonzero(marked[:, BESIDE:-BESIDE, BESIDE:-BESIDE])
    y, x, lean = y + BESIDE, x + BESIDE, round(0.7 * BESIDE)
    if not len(n):
        return 0.0
    ways = ((0, BESIDE), (BESIDE, 0), (lean, lean), (lean, -lean))
    differ = [np.abs(level[n, y + a, x + b] - level[n, y - a, x - b]) for a, b in ways]
    return float(np.median(np.max(differ, axis=0)))


def _smoothed(field: Floats, *times: int) -> list[Floats]:
    """With weights 1 2 1 along rows and columns, so many times each: cos(pi f)^2 in frequency."""
    shape = field.shape[-2:]
    spectrum = np.fft.rfft2(field)
    along = np.cos(np.pi * np.fft.rfftfreq(shape[1])) ** 2
    down = np.cos(np.pi * np.fft.fftfreq(shape[0])) ** 2
    return [np.fft.irfft2(spectrum * (down**n)[:, None] * along**n, s=shape) for n in times]
