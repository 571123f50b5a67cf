"""A log of a discharge as an SVG drawing: current, voltage and pressure on one time axis.

Jumps are marked by triangles at the top, steps by upright lines, and times when it was out are
grey; what the fit leaves is drawn below.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from troubleshoot import units
from troubleshoot.coater.machine import Machine
from troubleshoot.readings.current.currents import CurrentAnalysis
from troubleshoot.readings.panels import (
    BELOW,
    DOTS,
    WIDTH,
    Panel,
    finite,
    sheet,
    text,
    thin,
    time_unit,
    triangle,
    whole_range,
    wider,
)
from troubleshoot.sources.rows import Floats

UNITS = {"current": "mA", "voltage": "V", "pressure": "Pa"}
HEIGHTS = {"current": 220, "voltage": 110, "pressure": 110}
USUAL = {"current": "usual_current", "pressure": "usual_pressure"}
APART = 9.0
"""Triangles closer than this would run into each other: one stands for them all."""
MOST_LINE, LEAST_SWING = 400, 16.0
"""Points in a fitted line; width of the narrowest swing that is drawn."""


def draw_currents(analysis: CurrentAnalysis, machine: Machine | None = None) -> str:
    """The drawing as SVG text. `machine` gives the usual current and pressure, if it has them."""
    table, run = analysis.table, analysis.run
    per, time_label = time_unit(float(table.seconds[-1]))
    x = whole_range(table.seconds / per)
    body: list[str] = []
    top, dashed = 0.0, False
    for name, height in HEIGHTS.items():
        if name not in table.columns or not np.isfinite(table.columns[name]).any():
            continue
        unit = table.shown.get(name, UNITS[name])
        factor = units.to_si(1, unit, name)
        values = table.columns[name] / factor
        if name != "pressure":
            values = np.abs(values)
        usual = machine.numbers.get(USUAL.get(name, "")) if machine is not None else None
        span = wider(np.append(finite(values), usual / factor if usual else []))
        panel = Panel(top, height, x, span)
        body.append(_outs(analysis, panel, per))
        body.append(panel.frame(name.capitalize(), time_label, f"{name} in {unit}"))
        shown = _shown(analysis, np.isfinite(values))
        body.append(panel.dots(table.seconds[shown] / per, values[shown]))
        if usual:
            dashed = True
            body.append(panel.line(x, [usual / factor] * 2, "healthy"))
        drift = analysis.drifts.get(name)
        if name == "current":
            level = analysis.reading.numbers["current"].value / factor
            body.append(panel.line(x, [level] * 2, "level"))
            body.append(_marks(analysis, panel, per))
        if drift is not None:
            curve = drift.curve
            if name == "current" and analysis.swing is not None and _draws_swing(analysis):
                curve = curve + analysis.swing.curve
            body.append(_fit_line(analysis, drift.start, curve / factor, panel, per))
        top = panel.bottom + BELOW
    drift = analysis.drifts.get("current")
    if drift is not None:
        off = 100 * (run.even - drift.curve) / analysis.reading.numbers["current"].value
        kept = run.steady & (run.seconds >= drift.start)
        body.append(_residuals(run.seconds[kept] / per, off[kept], top, x, time_label))
        top += 90 + BELOW
    return sheet(analysis.reading.sentence, _key(analysis, dashed), body, top - 20)


def _key(analysis: CurrentAnalysis, dashed: bool) -> list[tuple[str, str]]:
    steps = ", steps" if analysis.of("step") else ""
    key = [("dot", "reading"), ("level", "mean level")]
    if analysis.drifts:
        swing = ", swing" if _draws_swing(analysis) else ""
        key.append(("fit", f"fit: drift{steps}{swing} and settling"))
    told = {"jump": "jump (one or more)", "step": "step", "out": "out"}
    key += [(kind, words) for kind, words in told.items() if analysis.of(kind)]
    if dashed:
        key.append(("healthy", "usual on this coater (the current: at the usual pressure)"))
    return key


def _shown(analysis: CurrentAnalysis, readable: NDArray[np.bool_]) -> NDArray[np.intp]:
    """The rows that are drawn: thinned, but no jump is left out."""
    run = analysis.run
    first = int(np.searchsorted(analysis.table.seconds, run.seconds[0]))
    wild = first + np.flatnonzero(run.lit & ~run.steady)[:DOTS]
    rows = np.union1d(np.arange(len(readable))[thin(len(readable))], wild)
    return np.asarray(rows[readable[rows]])


def _outs(analysis: CurrentAnalysis, panel: Panel, per: float) -> str:
    return "".join(
        panel.band(e.start / per, (e.start + e.seconds) / per, "out") for e in analysis.of("out")
    )


def _marks(analysis: CurrentAnalysis, panel: Panel, per: float) -> str:
    """Jumps and steps, in a strip at the top of the panel."""
    marks, last = [], -APART
    for event in analysis.of("jump"):
        x, _ = panel.at(event.start / per, panel.y[1])
        if x - last >= APART:
            marks.append(triangle(x, panel.top + 3))
            last = x
    for event in analysis.of("step"):
        x, _ = panel.at(event.start / per, panel.y[1])
        marks.append(
            f'<line class="step" x1="{x:.1f}" x2="{x:.1f}" y1="{panel.top}" y2="{panel.bottom}"/>'
        )
        # At the side where the words have room.
        anchor, dx = ("end", -5) if x > WIDTH / 2 else ("start", 5)
        words = f"{100 * event.depth:+.0f} %".replace("-", "\u2212")
        marks.append(text(x + dx, panel.bottom - 8, words, anchor, "small"))
    return "".join(marks)


def _draws_swing(analysis: CurrentAnalysis) -> bool:
    """Whether single swings can be told apart in the drawing."""
    swing, log = analysis.swing, analysis.table.seconds
    return swing is not None and swing.period.value * WIDTH > LEAST_SWING * float(log[-1] - log[0])


def _fit_line(
    analysis: CurrentAnalysis, start: float, curve: Floats, panel: Panel, per: float
) -> str:
    """The fitted curve from `start` on, broken where the glow was out and at steps."""
    seconds = analysis.run.seconds
    breaks = [start, *(e.start for e in analysis.events if e.kind in ("step", "out"))]
    breaks += [e.start + e.seconds for e in analysis.of("out")]
    edges = [*np.searchsorted(seconds, sorted(breaks)).tolist(), len(seconds)]
    out = []
    for a, b in pairwise(edges):
        if b - a > 1 and analysis.run.lit[(a + b) // 2]:
            rows = np.unique(np.linspace(a, b - 1, MOST_LINE).astype(int))
            out.append(panel.line(seconds[rows] / per, curve[rows], "fit"))
    return "".join(out)


def _residuals(
    times: Floats, off: Floats, top: float, x: tuple[float, float], time_label: str
) -> str:
    most = max(1.0, 1.1 * float(np.quantile(np.abs(off), 0.99)))
    panel = Panel(top, 90, x, (-most, most))
    shown = thin(len(times))
    return panel.frame("Current minus fit, without jumps", time_label, "percent") + panel.dots(
        times[shown], np.clip(off[shown], -most, most)
    )
