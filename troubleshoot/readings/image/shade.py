"""Step 2d, a dark place: whether the rows beside it are darker too, as beside a charged thing."""

from dataclasses import dataclass

import numpy as np

from troubleshoot.readings.image.areas import Box, grown
from troubleshoot.readings.image.sampling import Sample
from troubleshoot.sources.rows import Floats

DARKEST = 0.02
"""Share of the rest of a picture that may be darker than what counts as its darkest. Ours."""
INSIDE, NEAR, GAP, OFF = 0.5, 0.33, 0.05, 0.3
"""Of the height of a dark place its middle rows; of its width the piece beside it that is looked
at, and what is left out between, where its own soft edge is; of its height the distance of the
rows above and below that the piece is held against. Ours."""
FEWEST = 24
"""Places from which the scatter of a measure is taken."""


@dataclass(frozen=True)
class Shade:
    """A dark place against its surroundings, in levels.

    `gap`: how far it lies below the darkest of the rest; `depth`: below the middle of the rest;
    `along`: by how much its rows are darker right beside it than the rows above and below; `across`
    the same of its columns; `z`: `along` in the scatter of that measure elsewhere in the picture.
    """

    gap: float
    depth: float
    along: float
    across: float
    z: float


NONE = Shade(0.0, 1.0, 0.0, 0.0, 0.0)


def shade(sample: Sample, box: Box) -> Shade:
    """What the dark place in `box` does to its surroundings.

    Charge shades the rows that the beam scans right before and after it; a thing that is dark by
    itself, or a soft one, does so on all sides alike.
    """
    small = sample.small
    rows, columns = small.shape
    top, left, bottom, right = (
        round(share * n) for share, n in zip(box, (rows, columns, rows, columns), strict=True)
    )
    high, wide = bottom - top, right - left
    if min(high, wide) < 3:
        return NONE
    core = small[top + high // 5 : bottom - high // 5, left + wide // 5 : right - wide // 5]
    level, rest = float(np.median(core)), small[~grown(box, small.shape)]
    rest = rest if rest.size > 0.1 * small.size else small
    along, scatter = _beside(small, (top, left), (high, wide))
    across, _ = _beside(small.T, (left, top), (wide, high))
    return Shade(
        float(np.quantile(rest, DARKEST)) - level,
        float(np.median(rest)) - level,
        along,
        across,
        along / scatter,
    )


def _beside(field: Floats, corner: tuple[int, int], size: tuple[int, int]) -> tuple[float, float]:
    """How much darker the middle rows of a place are beside it than those above and below, in
    levels, and the scatter of that elsewhere."""
    (rows, columns), (high, wide) = field.shape, size
    inside, reach, off = (
        max(least, round(share * n))
        for least, share, n in ((2, INSIDE, high), (2, NEAR, wide), (1, OFF, high))
    )
    gap = max(1, round(GAP * wide))
    total = np.pad(field, ((1, 0), (1, 0))).cumsum(axis=0).cumsum(axis=1)

    def piece(top: Floats, left: Floats) -> Floats:
        """Mean level of the pieces that begin there, nan of those that reach out."""
        held = (top >= 0) & (top + inside <= rows) & (left >= 0) & (left + reach <= columns)
        y, x = np.clip(top, 0, rows - inside), np.clip(left, 0, columns - reach)
        whole = total[y + inside, x + reach] - total[y, x + reach]
        whole = whole - total[y + inside, x] + total[y, x]
        return np.where(held, whole / (inside * reach), np.nan)

    def darker(top: Floats, left: Floats) -> Floats:
        return _mean(
            [
                _mean([piece(top - off - inside, x), piece(top + high + off, x)])
                - piece(top + (high - inside) // 2, x)
                for x in (left - reach - gap, left + wide + gap)
            ]
        )

    if inside > rows or reach > columns:
        return 0.0, 1.0
    here = darker(np.array([corner[0]]), np.array([corner[1]]))
    y, x = np.mgrid[0 : rows - high : max(1, high // 3), 0 : columns - wide : max(1, wide // 3)]
    there, down, aside = darker(y, x), np.abs(y - corner[0]), np.abs(x - corner[1])
    away = (down > 1.2 * high + inside) | (aside > 1.2 * wide + 2 * reach)
    for elsewhere in (away, (down >= high) | (aside >= wide + reach)):
        others = there[elsewhere & np.isfinite(there)]
        if len(others) >= FEWEST:
            break
    if len(others) < FEWEST or not np.isfinite(here[0]):
        return 0.0, 1.0
    return float(here[0]), 1.4826 * float(np.median(np.abs(others - np.median(others)))) + 1e-6


def _mean(values: list[Floats]) -> Floats:
    """Means of those that are numbers."""
    both = np.stack(values)
    seen = np.isfinite(both)
    total = np.where(seen, both, 0.0).sum(axis=0)
    return np.where(seen.any(axis=0), total / np.maximum(seen.sum(axis=0), 1), np.nan)
