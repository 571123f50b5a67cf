"""The way in for a log: its units, its reader, and the findings that it can answer."""

import numpy as np
import pytest

from tests.readings.simulated import session
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.readings.current import currents
from troubleshoot.readings.door import discharge_of, log_of, read_any
from troubleshoot.readings.pressure import pressures
from troubleshoot.sources.log_file import Table, Told
from troubleshoot.sources.times import NeedsTelling

OURS = machine_from(
    {
        "name": "ours", "gauge_unit": "Torr", "isolation_valve": "yes", "gauge_side": "chamber",
        "current_set_by": "needle_valve", "usual_current": "12 mA", "usual_pressure": "0.08 mbar",
        "usual_base": "0.04 mbar",
    },
    "test",
)  # fmt: skip


def by(rules, reader):
    return {name for name, finding in rules.findings.items() if finding.read_by == reader}


def test_the_reader_of_pressures_answers_what_the_rules_say_it_can(rules):
    rng = np.random.default_rng(3)
    found = set()
    for kind in ("leak", "vapour", "weak_pump"):
        log = session(kind, rng).log
        for empty in (True, False):
            read = pressures.analyse(log, rules.findings, OURS, empty=empty, target=50.0)
            found |= set(read.reading.findings)
    assert found == by(rules, "pressure")


def test_the_reader_of_currents_answers_what_the_rules_say_it_can(rules):
    seconds = np.arange(0.0, 240.0, 0.25)
    noise = 1 + 0.01 * np.random.default_rng(3).standard_normal(len(seconds))
    columns = {"current": 0.012 * noise, "pressure": 8.0 * noise[::-1]}
    table = Table("made", "", seconds, columns, {"current": "mA", "pressure": "mbar"})
    got = currents.analyse(table, rules.findings, OURS)
    assert set(got.reading.findings) == by(rules, "current")


@pytest.fixture
def silent(tmp_path):
    """A log that says neither unit."""
    path = tmp_path / "log.csv"
    rows = "\n".join(f"{t};{0.3 + 2.6 * t / 60:.4f}" for t in range(0, 301, 10))
    path.write_text("t;p\n" + rows, encoding="utf-8")
    return path


def test_a_unit_that_is_told_is_not_asked_for(silent):
    log = log_of(silent, OURS, Told("mbar", "s"), ask=pytest.fail)
    assert (log.unit, log.notes) == ("mbar", ())
    assert log.pascal[0] == pytest.approx(30.0)


def test_pressures_without_a_unit_are_in_that_of_the_gauge_and_it_says_so(silent):
    log = log_of(silent, OURS, Told(time_unit="s"), ask=pytest.fail)
    assert log.unit == "Torr"
    assert "as ours has" in log.notes[0]


def test_what_nobody_told_is_asked_for_once_each(silent, rules):
    asked = []

    def ask(open_):
        asked.append(open_.what)
        return {"pressure": "Pa", "time": "min"}[open_.what]

    reading, _ = read_any(silent, rules.findings, Machine(), Told(), ask=ask)
    assert sorted(asked) == ["pressure", "time"]
    assert reading.numbers["rise_in_one_minute"].value == pytest.approx(2.6 / 3600, rel=0.05)


@pytest.mark.parametrize("told", [Told(), Told(time_unit="s"), Told(unit="Pa")])
def test_where_nobody_can_be_asked_the_log_is_refused(silent, told):
    with pytest.raises(NeedsTelling):
        log_of(silent, None, told)


def test_a_named_column_is_one_of_pressures(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("t (s);I (mA);p (mbar)\n0;5;0.1\n1;5;0.1\n2;5;0.1\n3;5;0.1\n")
    assert discharge_of(path, Told())[0] is not None
    assert discharge_of(path, Told(column="p"))[0] is None


def test_a_case_speaks_in_the_unit_of_its_gauge(silent, rules):
    """The log is in mbar; sentence and drawing are in what this gauge shows, if that was told."""
    torr = machine_from({"name": "m", "gauge_unit": "Torr"}, "profile")
    told = Told("mbar", "s")
    ours, drawn = read_any(silent, rules.findings, torr, told, shut=True)
    plain, _ = read_any(silent, rules.findings, Machine(), told, shut=True)
    assert "Torr/min" in ours.sentence
    assert "mbar" not in ours.sentence
    assert "pressure in Torr" in drawn
    assert "mbar/min" in plain.sentence
    assert ours.findings.keys() == plain.findings.keys()
