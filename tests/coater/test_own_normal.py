"""Readings held against this coater's own good day, where its profile has one."""

import math

import pytest

from tests.readings.simulated import AIR, log_of
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.readings.pressure import curve_models as cm
from troubleshoot.readings.pressure.few import read_few
from troubleshoot.readings.pressure.pressures import analyse
from troubleshoot.readings.pressure.soft import in_bands
from troubleshoot.readings.quantity import LEAST_OWN, edges
from troubleshoot.readings.reading import Estimate

PER_MINUTE = 100 / 60  # mbar/min in Pa/s


def coater(**numbers):
    return machine_from({"isolation_valve": "yes", "gauge_side": "chamber", **numbers}, "here")


def test_the_rise_is_banded_by_that_of_a_good_day(rules):
    """The shipped edges are 0.05, 0.3 and 3 mbar/min for a usual rise of 0.12."""
    finding = rules.findings["rise_rate"]
    plain = [0.05 * PER_MINUTE, 0.3 * PER_MINUTE, 3 * PER_MINUTE]
    assert edges(finding, Machine()) == pytest.approx(plain)
    own = edges(finding, coater(usual_rise="0.24 mbar/min"))
    assert own == pytest.approx([2 * e for e in plain])


def test_without_a_good_day_the_pump_and_the_volume_scale_the_rise(rules):
    finding = rules.findings["rise_rate"]
    sized = coater(volume="3 L", pump_speed="2.22 L/s")
    assert edges(finding, sized) == pytest.approx([2 * e for e in edges(finding, Machine())])
    both = coater(volume="3 L", pump_speed="2.22 L/s", usual_rise="0.12 mbar/min")
    assert edges(finding, both) == pytest.approx(edges(finding, Machine()))


def test_a_very_tight_coater_does_not_make_every_breath_a_leak(rules):
    """Its rise may grow tenfold and still bring too little gas to hold up a base."""
    finding = rules.findings["rise_rate"]
    tight = coater(usual_rise="0.002 mbar/min")
    plain = edges(finding, Machine())
    assert edges(finding, tight) == pytest.approx([LEAST_OWN * e for e in plain])
    row = in_bands(finding, Estimate(0.02 * PER_MINUTE, 0.0, "Pa/s"), tight)
    assert list(finding.answers)[row.index(max(row))] in ("small", "ordinary")


def test_a_default_scales_nothing(rules):
    finding = rules.findings["rise_rate"]
    machine = machine_from({"defaults": {"usual_rise": "1 mbar/min", "volume": "9 L"}}, "here")
    assert edges(finding, machine) == edges(finding, Machine())


def rise_of(rate, seconds=300, noise=0.01):
    return log_of([(lambda t: cm.leak(t, 3.0, rate), seconds)], noise=noise)


@pytest.mark.parametrize(
    ("times", "said"),
    [(1.0, ", about that of a good day"), (3.0, ", 3 times that of a good day"),
     (0.3, ", no more than that of a good day"), (12.0, ", 12 times that of a good day")],
)  # fmt: skip
def test_a_rise_is_told_beside_a_good_days(rules, times, said):
    log = rise_of(times * 0.1 * PER_MINUTE)
    told = analyse(log, rules.findings, coater(usual_rise="0.1 mbar/min")).reading.sentence
    assert said in told
    assert "good day" not in analyse(log, rules.findings, coater()).reading.sentence


def test_a_rise_that_was_hardly_seen_is_told_as_a_range(rules):
    log = rise_of(0.003 * PER_MINUTE, seconds=60, noise=0.05)
    machine = coater(usual_rise="0.0018 mbar/min")
    reading = analyse(log, rules.findings, machine, shut=True).reading
    number = reading.numbers["rise_in_one_minute"]
    assert number.sigma > 0.1 * number.value
    assert " to " in reading.sentence.split("times that of a good day")[0][-20:]


def test_a_base_is_told_beside_a_good_days(rules):
    log = log_of([(lambda t: cm.settles(t, 9.0, AIR, 6), 700)], noise=0.01)
    told = analyse(log, rules.findings, coater(usual_base="0.03 mbar")).reading.sentence
    assert "after ten minutes 3 times that of a good day" in told


def test_typed_numbers_are_told_beside_a_good_days(rules):
    machine = coater(usual_base="0.03 mbar", usual_rise="0.1 mbar/min")
    reading = read_few(rules.findings, machine, loaded=12.0, rise=0.6 * PER_MINUTE)
    assert reading.sentence.startswith(
        "The base is 4 times that of a good day (empty); the rise is 6 times that of a good day "
        "(empty); "
    )


def test_a_known_hose_says_what_gas_would_hold_up(rules):
    """Half the speed at the chamber: twice the share of the base that the same rise explains."""
    sizes = {"volume": "5 L", "pump_speed": "1 L/s"}
    known = {"loaded": 20.0, "rise": 1.0}
    guessed = read_few(rules.findings, coater(**sizes), **known).numbers["gas_share_of_base"]
    narrow = coater(**sizes, hose_diameter="14 mm", hose_length="1 m")
    hosed = read_few(rules.findings, narrow, **known).numbers["gas_share_of_base"]
    # rise V / (left S) / base = 1 x 5 / (0.6 x 1) / 20
    assert guessed.value == pytest.approx(1 * 5 / 0.6 / 20)
    assert hosed.value > 1.5 * guessed.value
    assert math.isfinite(hosed.sigma)
