"""A pressure log as an SVG drawing: readings, fits, the healthy curves, and residuals."""

from collections.abc import Sequence

import numpy as np

from troubleshoot import units
from troubleshoot.coater.machine import Machine
from troubleshoot.readings.panels import (
    BELOW,
    Panel,
    log_range,
    sheet,
    text,
    thin,
    time_unit,
    triangle,
    whole_range,
)
from troubleshoot.readings.pressure.curve_models import IN_WORDS
from troubleshoot.readings.pressure.good_day import good_fall
from troubleshoot.readings.pressure.parts import DECISIVE, Part
from troubleshoot.readings.pressure.pressures import Analysis
from troubleshoot.sources.rows import Floats

NAMES = {
    "pumping": "pump",
    "isolated": "shut",
    "gas": "gas",
    "venting": "vent",
    "unclear": "?",
    "steady": "",
}


def draw_pressures(
    analysis: Analysis,
    machine: Machine | None = None,
    earlier: Sequence[tuple[float, float]] = (),
) -> str:
    """The drawing as SVG text. `machine` gives the healthy fall and rise, where it knows them.

    `earlier`: points that earlier runs left, in s of pumping and Pa.
    """
    log = analysis.log
    per, time_label = time_unit(float(log.seconds[-1]))
    factor = units.to_si(1, log.unit, "pressure")
    parts = [p for p in (analysis.pump, analysis.rise) if p is not None]
    fall = good_fall(analysis.pump, machine)
    rise = _healthy_rise(analysis.rise, machine)

    pressures = np.append(log.pascal, fall[1] if fall is not None else []) / factor
    whole = Panel(0, 250, whole_range(log.seconds / per), log_range(pressures), log=True)
    shown = thin(len(log.seconds))
    bands, names = _bands(analysis, whole, per)
    body = [
        bands,
        whole.frame("The whole log", time_label, f"pressure in {log.unit}"),
        names,
        whole.dots(log.seconds[shown] / per, log.pascal[shown] / factor),
    ]
    for part in parts:
        times = _fine(part)
        body.append(
            whole.line((times + part.start) / per, part.comparison.best.at(times) / factor, "fit")
        )
    if fall is not None and analysis.pump is not None:
        times, pascal = fall
        body.append(whole.line((times + analysis.pump.start) / per, pascal / factor, "healthy"))
    seen = _earlier(earlier, analysis, whole, per, factor)
    body.append(seen)
    top = whole.bottom + BELOW
    if analysis.rise is not None:
        body.append(_rise_panel(analysis.rise, rise, top, factor, log.unit))
        top += 180 + BELOW
    for part in parts:
        body.append(_residuals(part, top, per, time_label))
        top += 90 + BELOW

    key = [("dot", "reading"), ("fit", "best fit")]
    if fall is not None or rise is not None:
        key.append(("healthy", "this coater on a good day"))
    if seen:
        key.append(("jump", "runs before"))
    return sheet(analysis.reading.sentence, key, body, top - 20)


def _rise_panel(
    rise: Part, healthy: tuple[Floats, Floats] | None, top: float, factor: float, unit: str
) -> str:
    seconds, pressure = rise.data.seconds, rise.data.pascal / factor
    panel = Panel(top, 180, (0.0, float(seconds[-1])), (0.0, 1.05 * float(pressure.max())))
    shown = thin(len(seconds))
    times = _fine(rise)
    fit = rise.comparison.plain(DECISIVE)
    return (
        panel.frame(
            f"With the pump shut off: it {IN_WORDS[fit.model.name]}",
            "seconds since the valve was shut",
            f"pressure in {unit}",
        )
        + panel.dots(seconds[shown], pressure[shown])
        + panel.line(times, fit.at(times) / factor, "fit")
        + (_up_to_the_top(panel, healthy[0], healthy[1] / factor) if healthy is not None else "")
    )


def _up_to_the_top(panel: Panel, times: Floats, values: Floats) -> str:
    """A rising straight line, ended where it leaves the panel."""
    first, last = float(values[0]), float(values[-1])
    part = min(1.0, (panel.y[1] - first) / (last - first)) if last > first else 1.0
    end = float(times[-1]) * part
    return panel.line((0.0, end), (first, first + part * (last - first)), "healthy")


def _residuals(part: Part, top: float, per: float, time_label: str) -> str:
    off = 100 * np.log(part.data.pascal / part.comparison.best.at(part.data.seconds))
    most = max(5.0, 1.1 * float(np.quantile(np.abs(off), 0.99)))
    times = (part.data.seconds + part.start) / per
    panel = Panel(top, 90, whole_range(times), (-most, most))
    shown = thin(len(times))
    what = "pump on" if part.segment.kind == "pumping" else "pump shut off"
    return panel.frame(f"Readings minus fit, {what}", time_label, "percent") + panel.dots(
        times[shown], np.clip(off[shown], -most, most)
    )


def _earlier(
    points: Sequence[tuple[float, float]], analysis: Analysis, panel: Panel, per: float, unit: float
) -> str:
    """What earlier runs left, as far as it lies within the panel, or just behind its end."""
    if analysis.pump is None:
        return ""
    out = []
    for seconds, pascal in points:
        x, y = (analysis.pump.start + seconds) / per, pascal / unit
        if x < 1.05 * panel.x[1]:  # a log of ten minutes has room for the base after ten
            x = min(x, panel.x[1])
        if panel.x[0] <= x <= panel.x[1] and panel.y[0] <= y <= panel.y[1]:
            across, up = panel.at(x, y)
            out.append(triangle(across, up - 8))
    return "".join(out)


def _healthy_rise(rise: Part | None, machine: Machine | None) -> tuple[Floats, Floats] | None:
    """The rise of the empty chamber on a good day, from the pressure at which it was shut."""
    usual = machine.numbers.get("usual_rise") if machine is not None else None
    if rise is None or usual is None:
        return None
    times = np.array([0.0, float(rise.data.seconds[-1])])
    return times, float(rise.comparison.best.at(times[:1])[0]) + usual * times


def _bands(analysis: Analysis, panel: Panel, per: float) -> tuple[str, str]:
    """Every second segment shaded, and the name of each that has room for it."""
    shades, labels = [], []
    for i, segment in enumerate(analysis.segments):
        start = float(analysis.log.seconds[segment.first]) / per
        end = float(analysis.log.seconds[segment.last]) / per
        if i % 2:
            shades.append(panel.band(start, end, "band"))
        a, b = (panel.at(x, panel.y[1])[0] for x in (start, end))
        if b - a > 30:
            labels.append(text((a + b) / 2, panel.top + 14, NAMES[segment.kind], "middle", "small"))
    return "".join(shades), "".join(labels)


def _fine(part: Part) -> Floats:
    """Times for a smooth line, denser where it moves fast, at the start."""
    return np.asarray(part.data.seconds[-1] * np.linspace(0, 1, 240) ** 2)
