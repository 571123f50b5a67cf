"""The drawing of a log."""

import re
import xml.etree.ElementTree as ET

import numpy as np

from tests.readings.simulated import AIR, log_of, session
from troubleshoot.knowledge.machine import Machine
from troubleshoot.readings import curve_models as cm
from troubleshoot.readings.plot import DOTS, draw
from troubleshoot.readings.pressures import analyse, typed_log

SVG = "{http://www.w3.org/2000/svg}"


def drawn(analysis, machine=None):
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
