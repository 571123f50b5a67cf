"""The drawings of logs: pressures, and currents with what was logged beside them."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from tests.readings.simulated import AIR, log_of, session
from troubleshoot.coater.machine import Machine
from troubleshoot.readings.current import currents
from troubleshoot.readings.current.current_plot import draw_currents
from troubleshoot.readings.panels import DOTS, WIDTH
from troubleshoot.readings.pressure import curve_models as cm
from troubleshoot.readings.pressure.pressure_plot import draw_pressures
from troubleshoot.readings.pressure.pressures import analyse
from troubleshoot.readings.pressure.typed import typed_log
from troubleshoot.sources.log_file import Table

SVG = "{http://www.w3.org/2000/svg}"


def drawn(analysis, machine=None, draw=draw_pressures):
    text = draw(analysis, machine)
    assert "nan" not in text
    assert "inf" not in text.replace("info", "")
    root = ET.fromstring(text)
    width, height = (float(x) for x in root.attrib["viewBox"].split()[2:])
    for circle in root.iter(f"{SVG}circle"):
        assert 0 <= float(circle.attrib["cx"]) <= width
        assert 0 <= float(circle.attrib["cy"]) <= height
    for line in root.iter(f"{SVG}polyline"):
        for x, y in re.findall(r"([\d.-]+),([\d.-]+)", line.attrib["points"]):
            assert 0 <= float(x) <= width
            assert 0 <= float(y) <= height
    return root


def lines(root, kind):
    return [e for e in root.iter(f"{SVG}polyline") if e.attrib["class"] == kind]


def test_readings_fits_and_the_healthy_curve(rules):
    analysis = analyse(session("leak", np.random.default_rng(2)).log, rules.findings)
    machine = Machine(numbers={"volume": 5e-3, "pump_speed": 1e-3, "usual_base": 3.0})
    root = drawn(analysis, machine)
    assert len(lines(root, "fit")) == 3  # fall and rise on the whole log, the rise again
    assert len(lines(root, "healthy")) == 1
    assert not lines(drawn(analysis), "healthy")
    assert root.attrib["aria-label"] == analysis.reading.sentence


def test_a_long_log_is_thinned(rules):
    log = log_of([(lambda t: cm.settles(t, 5, AIR, 6), 5000)])
    root = drawn(analyse(log, rules.findings))
    assert len(list(root.iter(f"{SVG}circle"))) <= 2 * DOTS + 1


def test_typed_numbers_and_odd_names(rules):
    log = typed_log("0 min 0.02 mbar; 1 min 0.03 mbar; 2 min 0.04 mbar")
    drawn(analyse(log, rules.findings))


def words(root):
    return [e.text for e in root.iter(f"{SVG}text")]


def points(line):
    return [tuple(map(float, xy)) for xy in re.findall(r"([\d.-]+),([\d.-]+)", line.get("points"))]


def test_the_healthy_rise_starts_where_the_valve_was_shut_and_ends_at_the_frame(rules):
    log = log_of([(lambda t: cm.leak(t, 20, 2.0), 300)], noise=0.001)
    analysis = analyse(log, rules.findings, shut=True)
    for usual, ends_early in ((0.5, False), (40.0, True)):
        root = drawn(analysis, Machine(numbers={"usual_rise": usual}))
        (line,) = lines(root, "healthy")
        fit = lines(root, "fit")[-1]  # in the panel of the rise
        (x0, y0), (x1, y1) = points(line)
        assert (x0, y0) == points(fit)[0]
        assert (x1 < points(fit)[-1][0] - 5) is ends_early
        # Pascal a pixel from the fit, which rises by 2 Pa/s over 300 s.
        scale = 600 / (points(fit)[0][1] - points(fit)[-1][1])
        seconds = 300 * (x1 - x0) / (points(fit)[-1][0] - x0)
        assert (y0 - y1) * scale == pytest.approx(usual * seconds, rel=0.05)
        assert "this coater on a good day" in words(root)


def test_without_a_usual_rise_none_is_drawn(rules):
    log = log_of([(lambda t: cm.leak(t, 20, 2.0), 300)])
    assert not lines(drawn(analyse(log, rules.findings, shut=True), Machine()), "healthy")


T = np.arange(0, 240, 0.25)


def discharge(rules, amps, seconds=T, **others):
    shown = {"current": "mA", "voltage": "kV", "pressure": "mbar"}
    made = Table("made", "", seconds, {"current": amps, **others}, shown)
    return currents.analyse(made, rules.findings)


def steady(rng, level=0.012):
    return level * (1 + 0.01 * rng.standard_normal(len(T)))


def marks(root, kind):
    return [e for e in root.iter() if e.get("class") == kind]


def in_key(root):
    return len([e for e in root if e.get("class") in ("mark", "step", "out")])


def test_current_alone_has_two_panels(rules):
    root = drawn(discharge(rules, steady(np.random.default_rng(1))), draw=draw_currents)
    assert [w for w in words(root) if w in ("Current", "Voltage", "Pressure")] == ["Current"]
    assert "current in mA" in words(root)
    assert any(w.startswith("Current minus fit") for w in words(root))
    assert len(lines(root, "fit")) == 1
    assert len(lines(root, "level")) == 1
    assert not lines(root, "healthy")
    assert in_key(root) == 0


def test_everything_beside_the_current_is_drawn_over_the_same_time(rules):
    rng = np.random.default_rng(2)
    analysis = discharge(rules, steady(rng), voltage=steady(rng, 1400), pressure=steady(rng, 10.0))
    machine = Machine(numbers={"usual_current": 0.014, "usual_pressure": 10.0})
    root = drawn(analysis, machine, draw_currents)
    assert {"current in mA", "voltage in kV", "pressure in mbar"} <= set(words(root))
    assert len(lines(root, "healthy")) == 2
    assert any("at the usual pressure" in w for w in words(root))
    frames = [e for e in root.iter(f"{SVG}rect") if e.get("class") == "frame"]
    assert len({(f.get("x"), f.get("width")) for f in frames}) == 1
    assert len(frames) == 4


def test_what_happened_is_marked_where_it_happened(rules):
    rng = np.random.default_rng(3)
    amps = steady(rng) * np.where(T < 100, 1, 0.7)
    amps[[80, 240]] *= 0.4
    amps[(T >= 160) & (T < 172)] = 0
    analysis = discharge(rules, amps)
    root = drawn(analysis, draw=draw_currents)
    frame = next(e for e in root.iter(f"{SVG}rect") if e.get("class") == "frame")
    left, wide = float(frame.get("x")), float(frame.get("width"))

    def place(seconds):
        return left + wide * seconds / T[-1]

    assert in_key(root) == 3
    jumps = [float(e.get("d")[1:].split()[0]) + 4 for e in marks(root, "mark")[1:]]
    assert jumps == pytest.approx([place(20), place(60)], abs=1)
    (step,) = marks(root, "step")[1:]
    assert float(step.get("x1")) == pytest.approx(place(100), abs=3)
    (out,) = marks(root, "out")[1:]
    assert float(out.get("x")) == pytest.approx(place(160), abs=2)
    assert float(out.get("width")) == pytest.approx(place(12) - left, abs=2)
    assert any("30 %" in w for w in words(root))
    # The fitted line is broken at the step and while it was out.
    assert len(lines(root, "fit")) == 3


def test_no_jump_is_thinned_away(rules):
    rng = np.random.default_rng(4)
    seconds = np.arange(0, 600, 0.05)
    amps = 0.012 * (1 + 0.01 * rng.standard_normal(len(seconds)))
    places = 503 + 997 * np.arange(10)
    amps[places] *= 0.2
    root = drawn(discharge(rules, amps, seconds), draw=draw_currents)
    heights = [float(e.get("cy")) for e in root.iter(f"{SVG}circle") if e.get("r") == "1.8"]
    assert len(heights) <= 2 * DOTS + 10
    assert sum(150 < h <= 221 for h in heights) == len(places)


def test_many_jumps_do_not_run_into_each_other(rules):
    rng = np.random.default_rng(5)
    amps = steady(rng)
    amps[rng.random(len(T)) < 0.08] *= 0.4
    root = drawn(discharge(rules, amps), draw=draw_currents)
    xs = sorted(float(e.get("d")[1:].split()[0]) for e in marks(root, "mark")[1:])
    assert min(np.diff(xs)) >= 8


def test_words_stay_within_the_sheet(rules):
    rng = np.random.default_rng(6)
    analysis = discharge(rules, steady(rng), pressure=steady(rng, 10.0))
    machine = Machine(numbers={"usual_current": 0.014})
    for element in drawn(analysis, machine, draw_currents).iter(f"{SVG}text"):
        letters = 0.5 * (11 if element.get("class") == "small" else 13) * len(element.text)
        if element.get("transform"):
            continue
        x, anchor = float(element.get("x")), element.get("text-anchor")
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
        assert x - share * letters >= 0
        assert x + (1 - share) * letters <= WIDTH


def test_a_log_of_one_display_value_is_drawn(rules):
    drawn(discharge(rules, np.full(len(T), 0.012), pressure=np.full(len(T), 8.0)),
          draw=draw_currents)  # fmt: skip
