"""A gauge and curves in letters, for a terminal."""

import math
from collections.abc import Sequence

from troubleshoot.training.figures import Curve, Curves

LETTERS = "ABCD"
COLUMNS, ROWS = 64, 16
WIDE = 5.0
"""Curves that span more than so many times are drawn by decades."""
LOWEST, HIGHEST = 1e-3, 1e3
"""mbar, the ends of the scale of the needle."""


def as_text(figure: Curves) -> list[str]:
    """Rows of letters on common axes, A for the first curve, and what each of them is."""
    first = min(c.seconds[0] for c in figure.curves)
    last = max(c.seconds[-1] for c in figure.curves)
    top = max(max(c.values) for c in figure.curves) * 1.05
    bottom = min(min(c.values) for c in figure.curves)
    falls = figure.curves[0].values[-1] < figure.curves[0].values[0]
    by_decades = falls and bottom > 0 and top > WIDE * bottom

    def height(shown: float) -> float:
        """0 at the foot of the axes, 1 at their top."""
        if by_decades:
            return math.log(max(shown, bottom) / bottom) / math.log(top / bottom)
        return shown / top

    def value(part: float) -> float:
        return bottom * (top / bottom) ** part if by_decades else top * part

    grid = [[""] * COLUMNS for _ in range(ROWS)]
    for letter, curve in zip(LETTERS, figure.curves, strict=False):
        for seconds, shown in zip(curve.seconds, curve.values, strict=True):
            column = min(int((seconds - first) / (last - first) * COLUMNS), COLUMNS - 1)
            row = ROWS - 1 - min(int(height(shown) * ROWS), ROWS - 1)
            if letter not in grid[row][column]:
                grid[row][column] += letter
    rows = []
    for n, cells in enumerate(grid):
        mark = f"{value((ROWS - n) / ROWS):6.2g} " if n % 5 == 0 else " " * 7
        # Where curves lie on one another their letters take turns.
        drawn = (at[k % len(at)] if at else " " for k, at in enumerate(cells))
        rows.append(f"{mark}|{''.join(drawn).rstrip()}")
    foot = f"{figure.curves[0].unit:>7} {first / 60:<4.2g}{'minutes':^{COLUMNS - 6}}{last / 60:.2g}"
    return [*rows, f"       +{'-' * COLUMNS}", foot, *_names(figure.curves)]


def _names(curves: Sequence[Curve]) -> list[str]:
    return [f"{k}: {c.name}" for k, c in zip(LETTERS, curves, strict=False) if c.name]


def needle(mbar: float) -> list[str]:
    """A gauge whose needle stands at a pressure: its scale goes by decades."""
    decades = round(math.log10(HIGHEST / LOWEST))
    each = (COLUMNS - 4) // decades
    held = min(max(mbar, LOWEST), HIGHEST)
    place = round(math.log10(held / LOWEST) * each)
    marks = [f"{LOWEST * 10**n:g}" for n in range(decades + 1)]
    scale = [" "] * (decades * each + 5)
    for n, mark in enumerate(marks):
        for k, letter in enumerate(mark):
            scale[n * each + k] = letter
    ticks = "".join("|" if n % each == 0 else "." for n in range(decades * each + 1))
    return ["".join(scale).rstrip() + "  mbar", ticks, " " * place + "^"]
