"""A pressure log as an SVG drawing: readings, fits, what a healthy curve would be, and residuals.

The drawing needs nothing but itself: plain shapes and text, told apart without colour (readings
are dots, fits solid lines, the healthy curve dashed).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np

from troubleshoot.knowledge.machine import Machine
from troubleshoot.physics import units
from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.readings.curve_models import SHAPES, settles
from troubleshoot.readings.log_file import Floats
from troubleshoot.readings.pressures import Analysis, Part

WIDTH, LEFT, RIGHT = 760, 74, 20
FEW_DOTS = 30
"""Up to so many readings are drawn large."""
DOTS = 1200
"""Most readings drawn in one panel."""
_STYLE = (
    "text{font:13px sans-serif;fill:#222}.small{font-size:11px;fill:#555}"
    ".frame{fill:none;stroke:#555}.grid{stroke:#ddd}.dot{fill:#1b6ca8}"
    ".fit{fill:none;stroke:#c2410c;stroke-width:2}"
    ".healthy{fill:none;stroke:#2d7d46;stroke-width:2;stroke-dasharray:6 4}"
    ".band{fill:#f2f2f2}"
)


@dataclass(frozen=True)
class _Panel:
    """A frame with linear or logarithmic axes. `x` in the shown unit of time, `y` of pressure."""

    top: float
    height: float
    x: tuple[float, float]
    y: tuple[float, float]
    log: bool = False

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Place of a point in the drawing."""
        low, high = self.y
        if self.log:
            y, low, high = math.log10(y), math.log10(low), math.log10(high)
        across = (x - self.x[0]) / (self.x[1] - self.x[0])
        up = (y - low) / (high - low)
        return (
            LEFT + across * (WIDTH - LEFT - RIGHT),
            self.top + self.height * (1 - min(max(up, 0.0), 1.0)),
        )

    def dots(self, xs: Iterable[float], ys: Iterable[float]) -> str:
        places = [self.at(x, y) for x, y in zip(xs, ys, strict=True)]
        radius = 4.0 if len(places) <= FEW_DOTS else 1.8
        return "".join(
            f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="{radius}"/>' for x, y in places
        )

    def line(self, xs: Iterable[float], ys: Iterable[float], kind: str) -> str:
        places = (self.at(x, y) for x, y in zip(xs, ys, strict=True))
        return (
            f'<polyline class="{kind}" points="{" ".join(f"{x:.1f},{y:.1f}" for x, y in places)}"/>'
        )

    def frame(self, title: str, x_label: str, y_label: str) -> str:
        """Axes, grid, tick labels and titles."""
        out = []
        for tick in _decades(*self.y) if self.log else _ticks(*self.y):
            _, y = self.at(self.x[0], tick)
            out.append(
                f'<line class="grid" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>'
            )
            out.append(_text(LEFT - 6, y + 4, f"{tick:g}", "end", "small"))
        bottom = self.top + self.height
        for tick in _ticks(*self.x):
            x, _ = self.at(tick, self.y[1])
            out.append(
                f'<line class="grid" x1="{x:.1f}" x2="{x:.1f}" y1="{self.top}" y2="{bottom}"/>'
            )
            out.append(_text(x, bottom + 15, f"{tick:g}", "middle", "small"))
        out.append(
            f'<rect class="frame" x="{LEFT}" y="{self.top}" width="{WIDTH - LEFT - RIGHT}" '
            f'height="{self.height}"/>'
        )
        out.append(_text(LEFT, self.top - 8, title))
        out.append(_text(WIDTH - RIGHT, bottom + 30, x_label, "end", "small"))
        middle = self.top + self.height / 2
        out.append(
            f'<text class="small" text-anchor="middle" '
            f'transform="translate(16 {middle:.0f}) rotate(-90)">{escape(y_label)}</text>'
        )
        return "".join(out)


def draw(analysis: Analysis, machine: Machine | None = None) -> str:
    """The drawing as SVG text."""
    log = analysis.log
    per = 60.0 if log.seconds[-1] > 300 else 1.0
    time_label = "minutes" if per == 60 else "seconds"
    factor = units.to_si(1, log.unit, "pressure")
    parts = [p for p in (analysis.pump, analysis.rise) if p is not None]
    body = []
    top = 62.0

    healthy = _healthy(analysis.pump, machine) if machine else None
    pressures = np.append(log.pascal, healthy[1] if healthy is not None else []) / factor
    whole = _Panel(top, 250, _range(log.seconds / per), _log_range(pressures), log=True)
    shown = _thin(len(log.seconds))
    bands, names = _bands(analysis, whole, per)
    body.append(bands)
    body.append(whole.frame("The whole log", time_label, f"pressure in {log.unit}"))
    body.append(names)
    body.append(whole.dots(log.seconds[shown] / per, log.pascal[shown] / factor))
    for part in parts:
        times = _fine(part)
        body.append(
            whole.line((times + part.start) / per, part.comparison.best.at(times) / factor, "fit")
        )
    if healthy is not None and analysis.pump is not None:
        times, pascal = healthy
        body.append(whole.line((times + analysis.pump.start) / per, pascal / factor, "healthy"))
    body.append(_key(top, with_healthy=healthy is not None))
    top += 250 + 62

    if analysis.rise is not None:
        body.append(_rise_panel(analysis.rise, top, factor, log.unit))
        top += 180 + 62
    for part in parts:
        body.append(_residuals(part, top, per, time_label))
        top += 90 + 62
    sentence = analysis.reading.sentence
    words = [
        _text(14, 20 + 17 * i, line, "start", "") for i, line in enumerate(_wrapped(sentence, 112))
    ]
    shift = 17 * max(len(words) - 2, 0)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {top + shift:.0f}" '
        f'role="img" aria-label="{escape(sentence)}"><style>{_STYLE}</style>'
        f'<rect width="100%" height="100%" fill="#fff"/>{"".join(words)}'
        f'<g transform="translate(0 {shift})">{"".join(body)}</g></svg>\n'
    )


def _rise_panel(rise: Part, top: float, factor: float, unit: str) -> str:
    seconds, pressure = rise.data.seconds, rise.data.pascal / factor
    panel = _Panel(top, 180, (0.0, float(seconds[-1])), (0.0, 1.05 * float(pressure.max())))
    shown = _thin(len(seconds))
    times = _fine(rise)
    name = rise.comparison.best.model.name
    return (
        panel.frame(
            f"With the pump shut off: it {SHAPES[name]}",
            "seconds since the valve was shut",
            f"pressure in {unit}",
        )
        + panel.dots(seconds[shown], pressure[shown])
        + panel.line(times, rise.comparison.best.at(times) / factor, "fit")
    )


def _residuals(part: Part, top: float, per: float, time_label: str) -> str:
    off = 100 * np.log(part.data.pascal / part.comparison.best.at(part.data.seconds))
    most = max(5.0, 1.1 * float(np.quantile(np.abs(off), 0.99)))
    times = (part.data.seconds + part.start) / per
    panel = _Panel(top, 90, _range(times), (-most, most))
    shown = _thin(len(times))
    what = "pump on" if part.segment.kind == "pumping" else "pump shut off"
    return panel.frame(f"Readings minus fit, {what}", time_label, "percent") + panel.dots(
        times[shown], np.clip(off[shown], -most, most)
    )


def _healthy(pump: Part | None, machine: Machine) -> tuple[Floats, Floats] | None:
    """The fall of this coater on a good day, from its volume, pump and usual base."""
    volume, speed = machine.numbers.get("volume"), machine.numbers.get("pump_speed")
    base = machine.numbers.get("usual_base")
    if pump is None or not (volume and speed and base):
        return None
    times = _fine(pump)
    start = min(float(pump.data.pascal[0]), ATMOSPHERE)
    return times, settles(times, base, max(start - base, 0.0), volume / speed)


def _bands(analysis: Analysis, panel: _Panel, per: float) -> tuple[str, str]:
    """Every second segment shaded, and the name of each."""
    names = {"pumping": "pump", "isolated": "shut", "gas": "gas", "venting": "vent", "steady": ""}
    shades, labels = [], []
    for i, segment in enumerate(analysis.segments):
        a, _ = panel.at(analysis.log.seconds[segment.first] / per, panel.y[1])
        b, _ = panel.at(analysis.log.seconds[segment.last] / per, panel.y[1])
        if i % 2:
            shades.append(
                f'<rect class="band" x="{a:.1f}" y="{panel.top}" width="{b - a:.1f}" '
                f'height="{panel.height}"/>'
            )
        if b - a > 30:
            labels.append(
                _text((a + b) / 2, panel.top + 14, names[segment.kind], "middle", "small")
            )
    return "".join(shades), "".join(labels)


def _key(top: float, *, with_healthy: bool) -> str:
    x = WIDTH - RIGHT - (330 if with_healthy else 170)
    y = top - 12
    out = [
        f'<circle class="dot" cx="{x}" cy="{y}" r="3"/>',
        _text(x + 8, y + 4, "reading", "start", "small"),
        f'<line class="fit" x1="{x + 70}" x2="{x + 100}" y1="{y}" y2="{y}"/>',
        _text(x + 106, y + 4, "best fit", "start", "small"),
    ]
    if with_healthy:
        out.append(f'<line class="healthy" x1="{x + 165}" x2="{x + 195}" y1="{y}" y2="{y}"/>')
        out.append(_text(x + 201, y + 4, "this coater on a good day", "start", "small"))
    return "".join(out)


def _text(x: float, y: float, text: str, anchor: str = "start", kind: str = "") -> str:
    return (
        f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(text)}</text>'
    )


def _thin(count: int) -> slice:
    return slice(None, None, max(1, math.ceil(count / DOTS)))


def _fine(part: Part) -> Floats:
    """Times for a smooth line, denser where it moves fast, at the start."""
    return np.asarray(part.data.seconds[-1] * np.linspace(0, 1, 240) ** 2)


def _range(values: Floats) -> tuple[float, float]:
    low, high = float(values.min()), float(values.max())
    return low, high if high > low else low + 1


def _log_range(values: Floats) -> tuple[float, float]:
    low, high = float(values.min()), float(values.max())
    return 10 ** (math.log10(low) - 0.1), 10 ** (math.log10(high) + 0.25)


def _decades(low: float, high: float) -> list[float]:
    first, last = math.ceil(math.log10(low)), math.floor(math.log10(high))
    ticks = [10.0**n for n in range(first, last + 1)]
    if len(ticks) < 2:
        steps = (m * 10.0**n for n in range(first - 1, last + 1) for m in (1, 2, 5))
        ticks = [s for s in steps if low <= s <= high]
    return ticks


def _ticks(low: float, high: float) -> list[float]:
    rough = (high - low) / 6
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(m * power for m in (1, 2, 5, 10) if m * power >= rough)
    first = math.ceil(low / step - 1e-9)
    return [round(n * step, 12) for n in range(first, math.floor(high / step + 1e-9) + 1)]


def _wrapped(text: str, width: int) -> Sequence[str]:
    lines, line = [], ""
    for word in text.split():
        if len(line) + len(word) + 1 > width and line:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}".strip()
    return [*lines, line]
