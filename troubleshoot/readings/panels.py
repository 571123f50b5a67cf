"""The parts of a drawing of a log: a sheet with a sentence, a key, and panels of dots and lines.

The drawing needs nothing but itself: plain shapes and text, told apart without colour (readings
are pale dots, fits dark solid lines, what is usual dashed).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np

from troubleshoot.sources.rows import Floats

WIDTH, LEFT, RIGHT = 760, 74, 20
SIZES = ((30, 4.0), (150, 2.8))
"""Up to so many readings are drawn with this radius, more of them smaller."""
DOTS = 1200
"""Most readings drawn in one panel."""
BELOW = 62
"""From one panel to the next: tick labels, the axis and the next title."""
PER_LETTER, LINE_LETTERS = 6.8, 100
"""Width of a letter of the key, at most; letters in a line of the sentence."""
_STYLE = (
    "text{font:14px sans-serif;fill:#222}.small{font-size:12.5px;fill:#444}"
    ".frame{fill:none;stroke:#555}.grid{stroke:#ddd}.dot{fill:#6f9fc4}"
    ".fit{fill:none;stroke:#9a2c06;stroke-width:2}"
    ".level{fill:none;stroke:#222;stroke-width:1.5;stroke-dasharray:1.5 4}"
    ".healthy{fill:none;stroke:#1d6b36;stroke-width:2;stroke-dasharray:9 5}"
    ".band{fill:#f2f2f2}.out{fill:#d9d9d9}.mark{fill:#222}"
    ".step{fill:none;stroke:#222;stroke-width:1.5}"
)


@dataclass(frozen=True)
class Panel:
    """A frame with linear or logarithmic axes, in the units that are shown."""

    top: float
    height: float
    x: tuple[float, float]
    y: tuple[float, float]
    log: bool = False

    @property
    def bottom(self) -> float:
        """The lower edge."""
        return self.top + self.height

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Place of a point in the drawing; what lies outside is put on the edge."""
        low, high = self.y
        if self.log:
            y, low, high = math.log10(y), math.log10(low), math.log10(high)
        across = (x - self.x[0]) / (self.x[1] - self.x[0])
        up = (y - low) / (high - low)
        return (
            LEFT + min(max(across, 0.0), 1.0) * (WIDTH - LEFT - RIGHT),
            self.top + self.height * (1 - min(max(up, 0.0), 1.0)),
        )

    def dots(self, xs: Iterable[float], ys: Iterable[float]) -> str:
        """Readings."""
        places = [self.at(x, y) for x, y in zip(xs, ys, strict=True)]
        radius = next((r for most, r in SIZES if len(places) <= most), 1.8)
        return "".join(
            f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="{radius}"/>' for x, y in places
        )

    def line(self, xs: Iterable[float], ys: Iterable[float], kind: str) -> str:
        """A line of the kind `fit`, `level` or `healthy`."""
        places = (self.at(x, y) for x, y in zip(xs, ys, strict=True))
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in places)
        return f'<polyline class="{kind}" points="{points}"/>'

    def band(self, start: float, end: float, kind: str) -> str:
        """A stretch of time shaded from top to bottom."""
        a, b = self.at(start, self.y[1])[0], self.at(end, self.y[1])[0]
        return (
            f'<rect class="{kind}" x="{a:.1f}" y="{self.top}" width="{max(b - a, 1.0):.1f}" '
            f'height="{self.height}"/>'
        )

    def frame(self, title: str, x_label: str, y_label: str) -> str:
        """Axes, grid, tick labels and titles."""
        out = []
        for tick in _decades(*self.y) if self.log else _ticks(*self.y, max(5, self.height / 34)):
            _, y = self.at(self.x[0], tick)
            out.append(
                f'<line class="grid" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>'
            )
            out.append(text(LEFT - 6, y + 4, _number(tick), "end", "small"))
        for tick in _ticks(*self.x, 6):
            x, _ = self.at(tick, self.y[1])
            out.append(
                f'<line class="grid" x1="{x:.1f}" x2="{x:.1f}" y1="{self.top}" y2="{self.bottom}"/>'
            )
            out.append(text(x, self.bottom + 15, _number(tick), "middle", "small"))
        out.append(
            f'<rect class="frame" x="{LEFT}" y="{self.top}" width="{WIDTH - LEFT - RIGHT}" '
            f'height="{self.height}"/>'
        )
        out.append(text(LEFT, self.top - 8, title))
        out.append(text(WIDTH - RIGHT, self.bottom + 30, x_label, "end", "small"))
        middle = self.top + self.height / 2
        out.append(
            f'<text class="small" text-anchor="middle" '
            f'transform="translate(16 {middle:.0f}) rotate(-90)">{escape(y_label)}</text>'
        )
        return "".join(out)


def sheet(sentence: str, key: Sequence[tuple[str, str]], body: Iterable[str], end: float) -> str:
    """The whole drawing as SVG text: the sentence, the key, then `body`, drawn from y = 0 to `end`.

    `key`: pairs of a kind (`dot`, `fit`, `level`, `healthy`, `jump`, `step`, `out`) and its words.
    """
    lines = _wrapped(sentence, LINE_LETTERS)
    words = [text(14, 20 + 17 * i, line) for i, line in enumerate(lines)]
    below = 20 + 17 * len(lines)
    shown, height = _key(key, below)
    down = below + height + 16
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {down + end:.0f}" '
        f'role="img" aria-label="{escape(sentence)}"><style>{_STYLE}</style>'
        f'<rect width="100%" height="100%" fill="#fff"/>{"".join(words)}{shown}'
        f'<g transform="translate(0 {down})">{"".join(body)}</g></svg>\n'
    )


def _key(items: Sequence[tuple[str, str]], top: float) -> tuple[str, float]:
    """The key in as many lines as it needs, and their height."""
    out, x, y = [], 14.0, top
    for kind, words in items:
        wide = 40 + PER_LETTER * len(words) + 14
        if x + wide > WIDTH and x > 14:
            x, y = 14.0, y + 18
        out.append(_sign(kind, x, y) + text(x + 36, y + 4, words, "start", "small"))
        x += wide
    return "".join(out), y - top + 18


def _sign(kind: str, x: float, y: float) -> str:
    """How a kind is drawn, 30 wide."""
    if kind == "dot":
        return "".join(
            f'<circle class="dot" cx="{x + dx}" cy="{y + dy}" r="2.5"/>'
            for dx, dy in ((5, 2), (15, -2), (25, 1))
        )
    if kind == "jump":
        return triangle(x + 15, y - 4)
    if kind == "step":
        return f'<line class="step" x1="{x + 15}" x2="{x + 15}" y1="{y - 7}" y2="{y + 7}"/>'
    if kind == "out":
        return f'<rect class="out" x="{x + 4}" y="{y - 7}" width="22" height="14"/>'
    return f'<line class="{kind}" x1="{x}" x2="{x + 30}" y1="{y}" y2="{y}"/>'


def triangle(x: float, y: float) -> str:
    """A mark that points down from y."""
    return f'<path class="mark" d="M{x - 4:.1f} {y:.1f}h8l-4 8z"/>'


def text(x: float, y: float, words: str, anchor: str = "start", kind: str = "") -> str:
    """Words at a place."""
    return (
        f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(words)}'
        "</text>"
    )


def thin(count: int) -> slice:
    """So that at most `DOTS` readings are drawn."""
    return slice(None, None, max(1, math.ceil(count / DOTS)))


def whole_range(values: Floats) -> tuple[float, float]:
    """From the least to the greatest."""
    low, high = float(values.min()), float(values.max())
    return low, high if high > low else low + 1


def wider(values: Floats, share: float = 0.08) -> tuple[float, float]:
    """From the least to the greatest with some room beyond, never across zero."""
    low, high = float(values.min()), float(values.max())
    room = share * (high - low) or 0.05 * abs(high) or 1.0
    return (max(low - room, 0.0) if low >= 0 else low - room), high + room


def log_range(values: Floats) -> tuple[float, float]:
    """For a logarithmic axis, with room for words at the top."""
    low, high = float(values.min()), float(values.max())
    return 10 ** (math.log10(low) - 0.1), 10 ** (math.log10(high) + 0.25)


def time_unit(seconds: float) -> tuple[float, str]:
    """The unit of a time axis of this length: in s, and its name."""
    return (60.0, "minutes") if seconds > 300 else (1.0, "seconds")


def _number(tick: float) -> str:
    return f"{tick:g}".replace("-", "\u2212")


def _decades(low: float, high: float) -> list[float]:
    first, last = math.ceil(math.log10(low)), math.floor(math.log10(high))
    ticks = [10.0**n for n in range(first, last + 1)]
    if len(ticks) < 2:
        steps = (m * 10.0**n for n in range(first - 1, last + 1) for m in (1, 2, 5))
        ticks = [s for s in steps if low <= s <= high]
    return ticks


def _ticks(low: float, high: float, most: float) -> list[float]:
    rough = (high - low) / most
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(m * power for m in (1, 2, 5, 10) if m * power >= 0.999 * rough)
    first = math.ceil(low / step - 1e-9)
    return [float(f"{n * step:.12g}") for n in range(first, math.floor(high / step + 1e-9) + 1)]


def _wrapped(words: str, width: int) -> list[str]:
    lines, line = [], ""
    for word in words.split():
        if len(line) + len(word) + 1 > width and line:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}".strip()
    return [*lines, line]


def finite(values: Floats) -> Floats:
    """The readable ones."""
    return np.asarray(values[np.isfinite(values)])
