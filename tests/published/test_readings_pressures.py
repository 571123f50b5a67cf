"""The reader of pressures against worked examples; each source stands beside it."""

import numpy as np
import pytest

from troubleshoot.coater.machine import Machine
from troubleshoot.readings.pressure.pressures import analyse
from troubleshoot.readings.pressure.typed import typed_log
from troubleshoot.sources.log_file import Log
from troubleshoot.units import from_si, parse


def test_rise_of_five_millitorr_in_a_minute(rules):
    # electronicsweb.com/doc/an-explanation-of-leak-rate-0001: 100 to 105 mTorr in 1 min is a rate
    # of rise of 5 mTorr/min. The readings between are ours, on the same straight line.
    log = typed_log("0 s 100.0; 15 s 101.25; 30 s 102.5; 45 s 103.75; 60 s 105.0", "mTorr")
    rate = analyse(log, rules.findings, shut=True).reading.numbers["rise_in_one_minute"]
    assert from_si(rate.value, "mTorr/min", "pressure rate") == pytest.approx(5, rel=0.02)


def test_pump_for_a_leaking_plant(rules):
    # common practice, no source: 1000 cubic feet rise from 25 to 75 Torr in 30 min; to hold 60 Torr
    # a pump of 27.7 cubic feet a minute is needed. A line through the middle is ours.
    log = typed_log("0 min 25.0; 10 min 41.67; 20 min 58.33; 30 min 75.0", "Torr")
    machine = Machine(numbers={"volume": parse("1000 ft3", "volume").si})
    load = analyse(log, rules.findings, machine, shut=True).reading.numbers["gas_load"]
    speed = load.value / parse("60 Torr", "pressure").si
    assert from_si(speed, "cfm", "volume flow") == pytest.approx(27.7, rel=0.01)


@pytest.mark.parametrize(
    ("volume", "start", "end", "seconds", "expected"),
    [
        # vacuum-guide.com/english/vacuum_units/evacuation_time_vacuum_pump_sizing.htm: 1000 m3 from
        # 1000 to 200 mbar in 10 min takes 160 m3/min (rounded there).
        ("1000 m3", "1000 mbar", "200 mbar", "10 min", "160 m3/min"),
        # common practice, no source: 750 cubic feet, 760 to 150 Torr in 3 min: 405 cubic feet/min.
        ("750 ft3", "760 Torr", "150 Torr", "3 min", "405 cfm"),
        # common practice, no source: 0.2 m3 from the atmosphere to 0.1 hPa in 180 s: 10.2 L/s.
        ("0.2 m3", "1 atm", "0.1 hPa", "180 s", "10.2 L/s"),
    ],
)
def test_speed_read_off_a_pump_down(rules, volume, start, end, seconds, expected):
    """A log that falls exponentially between the two published points, one reading a hundredth."""
    p0, p1 = parse(start, "pressure").si, parse(end, "pressure").si
    t = np.linspace(0, parse(seconds, "time").si, 101)
    p = p0 * (p1 / p0) ** (t / t[-1])
    log = Log("made", "", t, p, np.ones(101), np.zeros(101), 101, "mbar")
    machine = Machine(numbers={"volume": parse(volume, "volume").si})
    speed = analyse(log, rules.findings, machine, shut=False).reading.numbers["speed_at_chamber"]
    wanted = parse(expected, "volume flow").si
    assert speed.value == pytest.approx(wanted, rel=0.012)
