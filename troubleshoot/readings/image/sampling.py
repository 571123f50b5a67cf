"""Step 1, what is read of a micrograph: rows in full over some columns, the whole made smaller,
and squares for spectra. A large picture costs little more than a small one.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from troubleshoot.sources.image_file import Picture
from troubleshoot.sources.rows import Floats

ROW_PIXELS, COLUMNS = 0.8e6, (160, 1536)
"""Pixels of the rows that are read, about, and columns of them: few of many rows, many of few."""
SMALL_SIDE = 420
SQUARE, SQUARES = 256, 4
NEAR_STOP = 0.004
"""Of the range of a picture: so near its least and greatest level a pixel is cut off. Ours."""
QUANTUM = 0.29
"""Standard deviation of rounding to whole levels: 1 / sqrt(12)."""


@dataclass(frozen=True)
class Sample:
    """`rows`: (rows, strips, columns of a strip), every row of the picture. `first`: where each
    strip begins. `small`: the picture in blocks of `block` pixels a side. `squares`: (n, side,
    side). `noise`, `contrast`: standard deviations of the pixel noise and of the scene. Levels
    throughout.
    """

    shape: tuple[int, int]
    rows: Floats
    first: tuple[int, ...]
    small: Floats
    block: int
    squares: Floats
    noise: float
    contrast: float
    lowest: float
    highest: float
    at_stops: tuple[float, float]


def sample(picture: Picture) -> Sample:
    """What is looked at of a picture."""
    pixels = picture.pixels
    height, width = picture.shape
    total = int(min(max(ROW_PIXELS / height, COLUMNS[0]), COLUMNS[1], width))
    strips = 1 if total >= 0.8 * width else 4
    wide = width if strips == 1 and width <= COLUMNS[1] else total // strips
    first = tuple(int(f) for f in np.linspace(0, width - wide, strips + (strips > 1) * 0))
    rows = np.stack([pixels[:, f : f + wide] for f in first], axis=1).astype(np.float64)
    small, block = _small(pixels)
    noise = pixel_noise(rows)
    spread = float(np.std(small))
    low, high = float(rows.min()), float(rows.max())
    near = NEAR_STOP * (high - low)
    stops = (float(np.mean(rows <= low + near)), float(np.mean(rows >= high - near)))
    return Sample(
        shape=(height, width),
        rows=rows,
        first=first,
        small=small,
        block=block,
        squares=_squares(pixels),
        noise=noise,
        contrast=math.sqrt(max(spread**2 - noise**2 / block**2, 1e-6)),
        lowest=low,
        highest=high,
        at_stops=stops,
    )


def pixel_noise(rows: Floats) -> float:
    """Standard deviation of what differs from pixel to pixel without order.

    From the mixed difference of each 2 by 2 pixels, in which even slopes cancel, by the median of
    its size, which few edges move. Fine detail counts as noise, and noise that was averaged over
    neighbours does not. A variant of Immerkaer, Comput. Vis. Image Underst. 64 (1996) 300.
    """
    d = rows[::2, :, ::2], rows[::2, :, 1::2], rows[1::2, :, ::2], rows[1::2, :, 1::2]
    n, m = min(len(x) for x in d), min(x.shape[2] for x in d)
    a, b, c, e = (x[:n, :, :m] for x in d)
    mixed = np.abs(a - b - c + e) / 2
    return max(float(np.median(mixed[:: max(1, n // 256)])) / 0.6745, QUANTUM)


def _small(pixels: NDArray[Any]) -> tuple[Floats, int]:
    """The picture in blocks; of each up to nine pixels are averaged."""
    block = max(1, round(max(pixels.shape) / SMALL_SIDE))
    if block == 1:
        return pixels.astype(np.float64), 1
    rows, columns = (n // block for n in pixels.shape)
    offsets = sorted({round(f * (block - 1)) for f in (0.0, 0.5, 1.0)})
    total = np.zeros((rows, columns))
    for dy in offsets:
        for dx in offsets:
            total += pixels[dy : dy + rows * block : block, dx : dx + columns * block : block]
    return total / len(offsets) ** 2, block


def _squares(pixels: NDArray[Any]) -> Floats:
    """Squares spread over the picture, for spectra."""
    height, width = pixels.shape
    side = min(SQUARE, height // 2 * 2, width // 2 * 2)
    down, across = (min(3, max(1, round(n / side))) for n in (height, width))
    corners = [
        (int(y), int(x))
        for y in np.linspace(0, height - side, down)
        for x in np.linspace(0, width - side, across)
    ]
    step = max(1, math.ceil(len(corners) / SQUARES))
    return np.stack([pixels[y : y + side, x : x + side] for y, x in corners[::step]]).astype(float)
