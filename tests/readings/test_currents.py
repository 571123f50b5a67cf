"""Logs of a discharge with known drift, jumps, steps, swings and gaps; and pressure beside it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.readings.current.currents import analyse, runs_current
from troubleshoot.readings.current.relation import RELATIONS
from troubleshoot.sources.log_file import Table, Told, read_table
from troubleshoot.sources.times import NeedsTelling

T = np.arange(0, 240, 0.25)


def noise(rng, size=0.01):
    return 1 + size * rng.standard_normal(len(T))


def table(amps, seconds=T, **others):
    return Table("made", "", seconds, {"current": amps, **others}, {"current": "mA"})


def answer(analysis, rules, finding="current_over_time"):
    shares = analysis.reading.findings[finding]
    return list(rules.findings[finding].answers)[int(np.argmax(shares))]


@settings(max_examples=30, deadline=None)
@given(
    change=st.sampled_from([-0.6, -0.3, -0.02, 0.0, 0.02, 0.3, 0.6]),
    level=st.sampled_from([0.003, 0.02, 0.2]),
    sd=st.sampled_from([0.002, 0.02]),
    seed=st.integers(0, 9999),
)
def test_drift_comes_back(rules, change, level, sd, seed):
    rng = np.random.default_rng(seed)
    amps = level * (1 + change * (T - 120) / 120) * noise(rng, sd)
    got = analyse(table(amps), rules.findings)
    number = got.reading.numbers["change_in_two_minutes"]
    assert number.value == pytest.approx(change, abs=4 * number.sigma + 0.01)
    want = "steady" if abs(change) < 0.1 else "drifts_down" if change < 0 else "drifts_up"
    assert answer(got, rules) == want
    assert not got.events
    assert got.swing is None


@pytest.mark.parametrize("count", [6, 20])
@pytest.mark.parametrize("factor", [0.3, 1.6])
def test_jumps_are_counted_with_their_depth(rules, count, factor):
    rng = np.random.default_rng(count)
    amps = 0.012 * noise(rng)
    places = 20 + np.arange(count) * (len(T) - 40) // count
    amps[places] *= factor
    got = analyse(table(amps), rules.findings)
    assert [e.start for e in got.of("jump")] == T[places].tolist()
    numbers = got.reading.numbers
    assert numbers["jump_depth"].value == pytest.approx(abs(factor - 1), abs=0.05)
    # While it jumps, and right beside, no other jump can be seen.
    assert numbers["jump_rate"].value == pytest.approx(count / (T[-1] - count * 0.5))
    assert answer(got, rules) == "flickers"


def test_volts_that_break_down_are_jumps_too(rules):
    rng = np.random.default_rng(4)
    volts = 1400 * noise(rng)
    volts[[100, 300, 500, 700]] *= 0.4
    got = analyse(table(0.012 * noise(rng), voltage=volts), rules.findings)
    assert len(got.of("jump")) == 4


def test_going_out_is_seen_and_the_ends_are_not(rules):
    rng = np.random.default_rng(2)
    amps = 0.012 * noise(rng)
    amps[(T < 15) | (T > 230)] = 0
    amps[(T >= 60) & (T < 70)] = 0
    amps[(T >= 150) & (T < 153)] = 0
    got = analyse(table(amps), rules.findings)
    assert [(e.start, e.seconds) for e in got.of("out")] == [(60.0, 10.0), (150.0, 3.0)]
    assert answer(got, rules) == "cuts_out"
    assert abs(got.reading.numbers["change_in_two_minutes"].value) < 0.02


@pytest.mark.parametrize("change", [-0.3, 0.25])
def test_a_step_is_a_step_and_no_drift(rules, change):
    rng = np.random.default_rng(8)
    amps = 0.012 * np.where(T < 100, 1, 1 + change) * noise(rng)
    got = analyse(table(amps), rules.findings)
    (step,) = got.of("step")
    assert step.start == pytest.approx(100, abs=1)
    assert step.depth == pytest.approx(change, rel=0.1)
    assert abs(got.reading.numbers["change_in_two_minutes"].value) < 0.05


@pytest.mark.parametrize("period", [3.0, 14.0, 45.0])
@pytest.mark.parametrize("half", [0.05, 0.2])
def test_a_swing_has_its_period_and_depth(rules, period, half):
    rng = np.random.default_rng(6)
    amps = 0.012 * (1 + half * np.sin(2 * np.pi * T / period)) * noise(rng)
    got = analyse(table(amps), rules.findings)
    assert got.swing.period.value == pytest.approx(period, rel=0.03)
    assert got.reading.numbers["swing_depth"].value == pytest.approx(2 * half, rel=0.1)
    assert not got.of("step")


def slow(rng, size):
    walk = np.convolve(rng.standard_normal(size + 200).cumsum(), np.ones(8) / 8, "valid")[:size]
    return walk / walk.std()


@pytest.mark.parametrize(
    ("lag", "want"), [(6.0, "follows"), (0.0, "together"), (-6.0, "leads")]
)  # fmt: skip
def test_which_goes_first(rules, lag, want):
    called = []
    for seed in range(8):
        rng = np.random.default_rng(seed)
        rows = int(lag / 0.25)
        walk = slow(rng, len(T) + 100)
        pascal = 10 * (1 + 0.05 * walk[50 : 50 + len(T)]) * noise(rng, 0.005)
        amps = 0.012 * (1 + 0.1 * walk[50 - rows : 50 - rows + len(T)]) * noise(rng)
        got = analyse(table(amps, pressure=pascal), rules.findings)
        assert sum(got.relation.values()) == pytest.approx(1)
        called.append(max(RELATIONS, key=got.relation.__getitem__))
        assert got.reading.numbers["current_after_pressure"].value == pytest.approx(lag, abs=1.5)
    assert called.count(want) == len(called)


def test_two_that_have_nothing_to_do_with_each_other_are_seldom_said_to(rules):
    sure = []
    for seed in range(30):
        rng = np.random.default_rng(100 + seed)
        amps = 0.012 * (1 + 0.1 * slow(rng, len(T))) * noise(rng)
        pascal = 10 * (1 + 0.05 * slow(rng, len(T))) * noise(rng, 0.005)
        got = analyse(table(amps, pressure=pascal), rules.findings)
        sure.append(max(got.relation[k] for k in ("follows", "together", "leads")) >= 0.7)
    assert sum(sure) <= 6


def test_pressure_and_the_usual_current(rules):
    rng = np.random.default_rng(1)
    machine = Machine(numbers={"usual_current": 0.012, "usual_pressure": 10.0})
    pascal = 10 * (1 - 0.3 * (T - 120) / 120) * noise(rng)
    got = analyse(table(0.006 * noise(rng), pressure=pascal), rules.findings, machine)
    assert answer(got, rules, "pressure_hold") == "falls"
    assert answer(got, rules, "current_at_reference") == "low"
    far = analyse(table(0.006 * noise(rng), pressure=3 * pascal), rules.findings, machine)
    assert "current_at_reference" not in far.reading.findings


def test_a_coarse_display_makes_no_jumps(rules):
    rng = np.random.default_rng(3)
    got = analyse(table(np.round(5 * noise(rng, 0.08)) / 1000), rules.findings)
    assert not got.of("jump")


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.floats(0, 0.1), min_size=25, max_size=80),
    st.lists(st.floats(0, 200), min_size=80, max_size=80),
)
def test_any_numbers_end_in_a_reading_or_a_sentence(rules, amps, pascal):
    amps = np.array(amps)
    seconds = np.arange(len(amps)) * 1.0
    made = table(amps, seconds, pressure=np.array(pascal[: len(amps)]))
    if not runs_current(made):
        return
    try:
        got = analyse(made, rules.findings)
    except UserError:
        return  # it ran too short
    for name, shares in got.reading.findings.items():
        assert len(shares) == len(rules.findings[name].answers)
        assert all(0 < share <= 1 for share in shares)
    assert all(np.isfinite([n.value, n.sigma]).all() for n in got.reading.numbers.values())


def test_a_voltage_that_was_not_connected_is_left_out(rules):
    got = analyse(table(0.012 * noise(np.random.default_rng(1)), voltage=0 * T), rules.findings)
    assert "voltage_change" not in got.reading.numbers


# Files


def write(tmp_path, text):
    path = tmp_path / "run.csv"
    path.write_text(text)
    return path


def test_columns_by_name_and_unit(tmp_path):
    path = write(
        tmp_path,
        "time (s);set current (mA);current (mA);pressure (mbar);voltage (kV)\n"
        + "".join(f"{i};20;{12 + i / 10:.1f};0,1;1,4\n".replace(".", ",") for i in range(30)),
    )
    got = read_table(path)
    assert got.columns["current"].tolist() == pytest.approx([0.012 + i / 1e4 for i in range(30)])
    assert got.columns["pressure"].tolist() == pytest.approx([10.0] * 30)
    assert got.columns["voltage"].tolist() == pytest.approx([1400.0] * 30)
    assert got.shown == {"current": "mA", "pressure": "mbar", "voltage": "kV"}


def test_stamps_that_repeat_are_spread(tmp_path):
    rows = "".join(f"09:00:{i // 4:02},{12}\n" for i in range(40))
    got = read_table(write(tmp_path, "clock,I (mA)\n" + rows))
    assert np.diff(got.seconds) == pytest.approx(np.full(39, 0.25))


def test_a_log_of_pressures_has_no_current(tmp_path):
    assert read_table(write(tmp_path, "t (s),p (mbar)\n0,1\n1,2\n2,3\n")) is None
    nameless = "t (s),gauge A (mbar)\n0,1\n1,2\n2,3\n"
    assert read_table(write(tmp_path, nameless)) is None


def test_a_current_without_a_unit_is_refused(tmp_path):
    with pytest.raises(NeedsTelling, match=r"'current \(mA\)'"):
        read_table(write(tmp_path, "t (s),current\n0,1\n1,2\n2,3\n"))


def test_rows_that_cannot_be_read_are_told(tmp_path):
    got = read_table(write(tmp_path, "t (s),I (mA)\n0,1\n1,OVER\n2,3\n3,4\n"))
    assert got.notes == ("Left out: 1 row off scale (OVER).",)


@settings(max_examples=80, deadline=None)
@given(
    st.sampled_from(["t (s),I (mA)", "time;current (A);p (mbar)", "I (mA) p (Pa) t (min)", ""]),
    st.lists(st.text("0123456789.,;:eE+- \tNaOVR\n", max_size=30), max_size=12),
)
def test_any_text_ends_in_a_table_or_a_sentence(tmp_path_factory, head, lines):
    path = tmp_path_factory.mktemp("any") / "log.csv"
    path.write_text("\n".join([head, *lines]))
    try:
        got = read_table(path, Told(time_unit="s"))
    except UserError:
        return
    if got is not None:
        assert np.isfinite(got.columns["current"]).all()
        assert (np.diff(got.seconds) > 0).all()
