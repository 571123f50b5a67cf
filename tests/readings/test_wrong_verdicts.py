"""Kinds of log that were told wrongly once, each from a simulated coater that shares nothing with
the readers (`troubleshoot.training`)."""

from dataclasses import replace

import numpy as np
import pytest

from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.readings.current import currents
from troubleshoot.readings.pressure.pressures import analyse
from troubleshoot.sources.log_file import Log, Table
from troubleshoot.sources.points import display_step
from troubleshoot.training.coater import Coater, Leak, Pump, Tube
from troubleshoot.training.gauge import Gauge, readings
from troubleshoot.training.run import Stage, simulate

COATER = Coater(5e-3, Pump(1e-3, 1.0), Tube(0.016, 0.8), walls=2e-6, seals=2e-5)
LEAKY = replace(COATER, leaks=(Leak("lid", 0.03),))
FIRST = [Stage("open", 10), Stage("pump", 600)]
QUIET = Gauge(noise=0.005, lag=0.5)


def logged(coater, stages, gauge=QUIET, every=2.0, since=0.0, until=1e9, seed=1):
    """The log of a run between two moments."""
    t, p = readings(gauge, simulate(coater, stages), every, np.random.default_rng(seed))
    kept = (p > 0) & (t >= since) & (t <= until)
    t, p = t[kept], p[kept]
    return Log("made", "", t - t[0], p, np.ones(len(t)), display_step(p), len(t), "mbar")


def without(log, first, last):
    """The log without the rows between two moments."""
    kept = (log.seconds < first) | (log.seconds > last)
    return replace(log, seconds=log.seconds[kept], pascal=log.pascal[kept],
                   rows_each=log.rows_each[kept], step=log.step[kept])  # fmt: skip


@pytest.mark.parametrize("top", [100.0, 200.0, 1000.0])
def test_a_rise_to_the_end_of_the_scale_is_a_leak_or_open(rules, top):
    coater = replace(COATER, leaks=(Leak("lid", 0.03),))
    log = logged(coater, [*FIRST, Stage("shut", 300)], replace(QUIET, top=top))
    assert analyse(log, rules.findings).verdict.story in ("leak", None)


def test_a_rise_alone_never_tells_a_weak_pump(rules):
    for rate in (0.003, 0.03, 1.0):
        coater = replace(COATER, leaks=(Leak("lid", rate),))
        log = logged(coater, [*FIRST, Stage("shut", 200)], since=612.0)
        found = analyse(log, rules.findings, shut=True)
        assert "weak_pump" not in found.verdict.rivals
        assert "weak pump" not in found.reading.sentence


def test_the_size_of_a_rise_alone_is_told_against_the_chamber(rules):
    log = logged(LEAKY, [*FIRST, Stage("shut", 200)], since=612.0)
    machine = Machine(numbers={"volume": 5e-3})
    found = analyse(log, rules.findings, machine, shut=True).reading
    assert "mbar L/s of gas" in found.sentence
    assert found.numbers["gas_load"].value == pytest.approx(0.03, rel=0.1)


def test_the_pressure_when_shut_is_what_stood_before(rules):
    log = logged(LEAKY, [*FIRST, Stage("shut", 300)], replace(QUIET, lag=3.0), since=540.0)
    run = simulate(LEAKY, FIRST)
    number = analyse(log, rules.findings).reading.numbers["pressure_when_shut"]
    assert abs(number.value - run.pascal[-1]) <= 1.96 * number.sigma + 1.5  # water reads double


def test_a_gap_does_not_swallow_a_rise(rules):
    log = without(logged(LEAKY, [*FIRST, Stage("shut", 400)]), 560, 700)
    found = analyse(log, rules.findings)
    assert found.rise is not None
    assert not found.rise.begun
    assert "stays where it is" not in found.reading.sentence


def test_a_row_days_later_is_no_pumping(rules):
    log = logged(COATER, FIRST)
    late = replace(log, seconds=np.append(log.seconds, 3e5), pascal=np.append(log.pascal, 1e5),
                   rows_each=np.append(log.rows_each, 1), step=np.append(log.step, 0))  # fmt: skip
    numbers = analyse(late, rules.findings).reading.numbers
    assert numbers["pumped_for"].value < 700


def test_a_narrow_tube_is_told(rules):
    """2 mm by 0.5 m before the pump: 1/p grows linearly with time."""
    coater = replace(COATER, chokes=(Tube(2e-3, 0.5),))
    found = analyse(logged(coater, [Stage("open", 10), Stage("pump", 1200)]), rules.findings)
    assert found.verdict.story == "throttled"
    assert "something narrow" in found.reading.sentence


def test_the_floor_of_a_gauge_is_a_bound(rules):
    log = logged(COATER, FIRST, replace(QUIET, bottom=5.0, noise=0.02))
    found = analyse(log, rules.findings).reading
    assert "less than" in found.sentence
    number = found.numbers["end_pressure"]
    assert number.value + 1.96 * number.sigma == pytest.approx(5.0, rel=0.1)


def test_a_high_vacuum_is_read_without_being_called_usual(rules):
    t = np.arange(0.0, 1800, 2.0)
    p = 1e-5 + 1e-3 * 60 / (t + 60)
    log = Log("made", "", t, p, np.ones(len(t)), display_step(p), len(t), "mbar")
    found = analyse(log, rules.findings)
    assert found.verdict.story is None
    assert "high vacuum" in found.reading.sentence


def test_near_an_edge_the_reader_says_so(rules):
    told = set()
    for base in (4.6, 5.4):
        coater = replace(COATER, pump=Pump(1e-3, base - 0.4))
        gauge = replace(QUIET, heat_loss=False)
        found = analyse(logged(coater, FIRST, gauge), rules.findings)
        told.add(found.verdict.story)
        assert "at the edge of what is usual" in found.reading.sentence
    assert told == {None}


def test_four_stories_are_no_headline(rules):
    log = logged(replace(COATER, walls=2e-4), [Stage("open", 10), Stage("pump", 500)])
    found = analyse(log, rules.findings)
    assert len(found.verdict.rivals) >= 4
    assert "what makes it this alone does not tell" in found.reading.sentence


def swinging(shape):
    t = np.arange(0.0, 300, 0.5)
    phase = t / 12.3 % 1
    wave = {"triangle": 4 * np.abs(phase - 0.5) - 1, "square": np.sign(phase - 0.5),
            "sine": np.sin(2 * np.pi * phase)}[shape]  # fmt: skip
    noise = 0.01 * np.random.default_rng(3).standard_normal(len(t))
    amps = 0.012 * (1 + 0.15 * wave) * (1 + noise)
    return Table("made", "", t, {"current": amps}, {"current": "mA"})


@pytest.mark.parametrize("shape", ["triangle", "square", "sine"])
def test_a_swing_is_as_deep_as_it_is_whatever_its_shape(rules, shape):
    depth = currents.analyse(swinging(shape), rules.findings).reading.numbers["swing_depth"]
    assert depth.value == pytest.approx(0.3, rel=0.08)
    assert abs(depth.value - 0.3) <= 4 * depth.sigma


@pytest.mark.parametrize("amps", [1e297, 1e305, 150.0])
def test_no_coater_takes_such_a_current(rules, amps):
    t = np.arange(60.0)
    table = Table("made", "", t, {"current": np.full(60, amps)}, {"current": "A"})
    with pytest.raises(UserError, match="none of a bench-top coater"):
        currents.analyse(table, rules.findings)


def test_a_fall_that_shows_no_speed_neither_rules_the_pump_out_nor_in(rules):
    coater = replace(COATER, pump=Pump(1e-3, 20.0))
    log = logged(coater, [*FIRST, Stage("shut", 300)], replace(QUIET, top=100.0))
    found = analyse(log, rules.findings)
    assert "gas_share_of_base" not in found.reading.numbers
    assert found.verdict.story is None
    assert "weak_pump" in found.verdict.rivals


def test_gas_explains_no_more_than_the_whole_base(rules):
    for hose in (0.006, 0.016, 0.03):
        coater = replace(LEAKY, hose=Tube(hose, 0.8))
        found = analyse(logged(coater, [*FIRST, Stage("shut", 300)]), rules.findings).reading
        share = found.numbers["gas_share_of_base"]
        assert share.value <= 1
        assert share.value + 1.96 * share.sigma > 0.9


def test_a_straight_rise_in_an_empty_chamber_is_a_leak(rules):
    coater = replace(COATER, walls=1e-7, seals=1e-6, leaks=(Leak("lid", 0.003),))
    log = logged(coater, [*FIRST, Stage("shut", 400)])
    assert analyse(log, rules.findings, empty=True).verdict.story == "leak"


def test_readings_that_hop_by_themselves_put_the_gauge_in_doubt(rules):
    log = logged(LEAKY, FIRST)
    found = analyse(replace(log, glitches=log.rows // 3, rows=log.rows), rules.findings)
    assert "the plug, the cable and the head" in found.reading.sentence
    assert found.verdict.story is None


def test_the_only_story_that_fits_hopping_readings_is_told_with_doubt(rules):
    log = logged(LEAKY, [*FIRST, Stage("shut", 400)])
    found = analyse(replace(log, glitches=log.rows // 3), rules.findings)
    assert found.verdict.story is None
    assert "as far as these readings can be trusted, a leak" in found.reading.sentence


def test_of_two_runs_the_worse_and_newer_is_told(rules):
    sound, leaky = (logged(coater, FIRST) for coater in (COATER, LEAKY))
    both = replace(
        sound,
        seconds=np.append(sound.seconds, leaky.seconds + 90_000),
        pascal=np.append(sound.pascal, leaky.pascal),
        rows_each=np.append(sound.rows_each, leaky.rows_each),
        step=np.append(sound.step, leaky.step),
        rows=sound.rows + leaky.rows,
    )
    found = analyse(both, rules.findings).reading
    last = float(np.median(leaky.pascal[-5:]))
    assert found.numbers["end_pressure"].value == pytest.approx(last, rel=0.1)
    assert "the one before it got to" in found.sentence


def test_a_log_that_ends_beyond_the_scale_is_no_pump_down(rules):
    log = logged(COATER, FIRST)
    capped = np.append(np.minimum(log.pascal[:-8], 12_230.0), np.full(8, 12_230.0))
    with pytest.raises(UserError, match="last readings stand at the end of the gauge"):
        analyse(replace(log, pascal=capped), rules.findings, shut=False)
