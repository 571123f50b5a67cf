"""Two frames of one field laid over each other: drift, distortion, change of brightness."""

import math
from dataclasses import dataclass

import numpy as np

from troubleshoot.errors import UserError
from troubleshoot.readings.image.areas import Box
from troubleshoot.readings.image.sampling import Sample
from troubleshoot.sources.image_file import Picture
from troubleshoot.sources.rows import Floats

FINE_SIDE = 768
TILES = (4, 3)
ALIKE = 0.35
"""Frames whose brightness is less correlated than this once they are laid over each other do not
show one field. Ours."""
CELLS = 24
CHANGED = 5.0
"""A cell changes from so many standard deviations of what all cells change by. Ours."""


@dataclass(frozen=True)
class Change:
    """What became of the first frame in the second.

    `down`, `right`: px by which the scene moved, with the standard error `error`; `warp`: how much
    parts of the picture moved otherwise than the whole, in px; `gain`, `offset`: brightness of the
    second as a straight line of the first, in levels; `changed`: the share of the picture that
    became brighter or darker by itself, `by`: by how much, in contrasts, `where`: the boxes of it;
    `alike`: correlation of the two.
    """

    down: float
    right: float
    error: float
    warp: float
    gain: float
    offset: float
    changed: float
    by: float
    where: tuple[Box, ...]
    alike: float

    @property
    def drift(self) -> float:
        """Length of the movement in px."""
        return math.hypot(self.down, self.right)


def compare(first: Picture, second: Picture, one: Sample, other: Sample) -> Change:
    """What changed between two frames. Raises `UserError` where they cannot be laid over each
    other."""
    if first.shape != second.shape:
        sizes = " and ".join(f"{p.shape[1]} by {p.shape[0]}" for p in (first, second))
        raise UserError(
            f"{first.name} and {second.name}: the pictures have different sizes ({sizes} pixels); "
            "give two frames of one field, saved alike."
        )
    if np.array_equal(first.pixels, second.pixels):
        raise UserError(
            f"{first.name} and {second.name} are one and the same frame; give two frames of one "
            "field."
        )
    rough = _shift(one.small, other.small)
    dy, dx = (round(n * one.block) for n in rough)
    a, b = _overlap(first, second, dy, dx)
    fine = _shift(a, b)
    down, right = dy + fine[0], dx + fine[1]
    parts = np.array(_tiles(a, b, fine))
    error, warp = 0.5, 0.0
    if len(parts) > 3:
        spread = 1.4826 * np.median(np.abs(parts - np.median(parts, axis=0)), axis=0)
        error = float(np.hypot(*spread)) / math.sqrt(len(parts)) + 0.05
        warp = float(np.quantile(np.hypot(*(parts - np.median(parts, axis=0)).T), 0.8))
    gain, offset, alike, changed, by, where = _brightness(one, other, down, right)
    if alike < ALIKE:
        raise UserError(
            f"{first.name} and {second.name} do not show the same field; give two frames of one "
            "place at one magnification."
        )
    return Change(down, right, error, warp, gain, offset, changed, by, where, alike)


def _overlap(first: Picture, second: Picture, dy: int, dx: int) -> tuple[Floats, Floats]:
    """The same piece of both about the middle, at full size, the rough shift taken out."""
    height, width = first.shape
    side = [min(FINE_SIDE, n - abs(d)) for n, d in ((height, dy), (width, dx))]
    side = [max(32, n // 2 * 2) for n in side]
    top = min(max((height - side[0]) // 2, -dy), height - side[0] - max(dy, 0))
    left = min(max((width - side[1]) // 2, -dx), width - side[1] - max(dx, 0))
    top, left = max(top, 0), max(left, 0)
    a = first.pixels[top : top + side[0], left : left + side[1]]
    b = second.pixels[
        max(top + dy, 0) : max(top + dy, 0) + side[0],
        max(left + dx, 0) : max(left + dx, 0) + side[1],
    ]
    rows, columns = min(len(a), len(b)), min(a.shape[1], b.shape[1])
    return a[:rows, :columns].astype(float), b[:rows, :columns].astype(float)


def _shift(a: Floats, b: Floats) -> tuple[float, float]:
    """How far b's scene lies below and to the right of a's, in px.

    The peak of the cross-correlation, with each frequency weighted by the power -3/4 of its size,
    between plain and phase correlation (Knapp and Carter, IEEE Trans. Acoust. Speech Signal
    Process. 24 (1976) 320); to parts of a pixel by parabolas.
    """
    rows, columns = a.shape
    window = np.hanning(rows)[:, None] * np.hanning(columns)
    one, other = (np.fft.rfft2((x - x.mean()) * window) for x in (a, b))
    cross = other * np.conj(one)
    size = np.abs(cross)
    fy, fx = np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(columns)[None]
    # What lies on the axes moves with no scene: bands stand still, and so does a gradient.
    calm = np.exp(-0.5 * (np.hypot(fy, fx) / 0.15) ** 2) * (fy != 0) * (fx != 0)
    peak = np.fft.irfft2(cross / (size + 1e-6 * size.max()) ** 0.75 * calm, s=a.shape)
    y, x = (int(n) for n in np.unravel_index(int(np.argmax(peak)), peak.shape))

    def fine(left: float, top: float, right: float) -> float:
        bend = left - 2 * top + right
        return 0.5 * (left - right) / bend if bend < 0 else 0.0

    top = float(peak[y, x])
    dy = y + fine(float(peak[y - 1, x]), top, float(peak[(y + 1) % rows, x]))
    dx = x + fine(float(peak[y, x - 1]), top, float(peak[y, (x + 1) % columns]))
    return (dy + rows / 2) % rows - rows / 2, (dx + columns / 2) % columns - columns / 2


def _tiles(a: Floats, b: Floats, whole: tuple[float, float]) -> list[tuple[float, float]]:
    """The shift of each part of the picture that lies near that of the whole."""
    high, wide = (n // t for n, t in zip(a.shape, TILES, strict=True))
    found = []
    for row in range(TILES[0]):
        for column in range(TILES[1]):
            cut = slice(row * high, (row + 1) * high), slice(column * wide, (column + 1) * wide)
            if min(high, wide) < 24:
                continue
            dy, dx = _shift(a[cut], b[cut])
            if math.hypot(dy - whole[0], dx - whole[1]) < 0.15 * min(high, wide):
                found.append((dy, dx))
    return found


def _brightness(
    one: Sample, other: Sample, down: float, right: float
) -> tuple[float, float, float, float, float, tuple[Box, ...]]:
    """Gain and offset, correlation, the share that changed by itself, by how much and where."""
    dy, dx = round(down / one.block), round(right / one.block)
    rows, columns = one.small.shape
    a = one.small[max(-dy, 0) : rows - max(dy, 0), max(-dx, 0) : columns - max(dx, 0)]
    b = other.small[max(dy, 0) : rows - max(-dy, 0), max(dx, 0) : columns - max(-dx, 0)]
    if min(a.shape) < CELLS:
        return 1.0, 0.0, 0.0, 0.0, 0.0, ()
    high, wide = (max(1, n // CELLS) for n in a.shape)
    fit = [
        x[: high * CELLS, : wide * CELLS].reshape(CELLS, high, CELLS, wide).mean(axis=(1, 3))
        for x in (a, b)
    ]
    alike = float(np.corrcoef(_rough(a).ravel(), _rough(b).ravel())[0, 1])
    x, y = (f.ravel() for f in fit)
    weight = np.ones(x.size)
    gain, offset = 1.0, 0.0
    for _ in range(5):  # what changed by itself must not turn the line
        gain, offset = (float(n) for n in np.polyfit(x, y, 1, w=weight))
        left = y - gain * x - offset
        spread = 1.4826 * float(np.median(np.abs(left))) + 1e-9
        weight = 1 / (1 + (left / (2 * spread)) ** 2)
    left = (y - gain * x - offset).reshape(CELLS, CELLS)
    spread = max(spread, 0.05 * other.contrast)
    far = np.abs(left) > CHANGED * spread
    by = float(np.abs(left[far]).mean() / other.contrast) if far.any() else 0.0
    boxes = tuple(
        (r / CELLS, c / CELLS, (r + 1) / CELLS, (c + 1) / CELLS) for r, c in np.argwhere(far)[:80]
    )
    return gain, offset, alike, float(far.mean()), by, boxes


def _rough(field: Floats) -> Floats:
    """Blurred over some pixels, so that noise counts little."""
    for _ in range(4):
        for axis in (0, 1):
            field = 0.25 * np.roll(field, 1, axis) + 0.5 * field + 0.25 * np.roll(field, -1, axis)
    return field
