"""`run` and `check-up`: noting, the normal, trends and care; and a good day's log."""

import json
from datetime import datetime, timedelta

import pytest

from tests.readings.simulated import AIR, log_of
from tests.talk.scripted import Recorder, Script
from troubleshoot import __main__
from troubleshoot.casebook.store import Store
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.readings.pressure import curve_models as cm
from troubleshoot.talk import run_questions
from troubleshoot.upkeep.run import Run


@pytest.fixture(autouse=True)
def registered(monkeypatch):
    monkeypatch.setitem(__main__.COMMANDS, "run", ("troubleshoot.cli.run_log", "run"))
    monkeypatch.setitem(__main__.COMMANDS, "check-up", ("troubleshoot.cli.run_log", "check_up"))


def fill(values, name="base", kind="check_up", machine="this coater"):
    """One entry a week up to a week ago."""
    store, now = Store(), datetime.now()
    for n, value in enumerate(values):
        at = now - timedelta(weeks=len(values) - n)
        store.save_run(machine, Run(at.isoformat(timespec="seconds"), kind, {name: value}))


def test_a_run_is_kept_in_si(run):
    ended = run("run", "--time", "6min", "--base", "0.05mbar", "--pressure", "0.1mbar",
                "--current", "12mA", "--seconds", "60", "--metal", "gold", "--slip", "good",
                "--did", "seals", "--json")  # fmt: skip
    assert ended.status == 0
    noted = json.loads(ended.out)["noted"]
    assert noted["values"] == pytest.approx(
        {"time": 360, "base": 5, "pressure": 10, "current": 0.012, "seconds": 60}
    )
    (kept,) = Store().runs("this coater")
    assert (kept.kind, kept.metal, kept.slip, kept.did) == ("run", "gold", "good", ("seals",))


def test_everything_but_something_can_be_left_out(run):
    assert run("run", "--slip", "bad").status == 0
    assert run("check-up", "--rise", "0.1mbar/min").status == 0
    ended = run("run")
    assert ended.status == 2
    assert "no terminal" in ended.err
    assert [r.kind for r in Store().runs("this coater")] == ["run", "check_up"]


def test_care_alone_is_no_run(run):
    run("run", "--did", "oil")
    assert [(r.kind, r.did) for r in Store().runs("this coater")] == [("care", ("oil",))]
    ended = run("run", "--did", "sael")
    assert ended.status == 2
    assert "--did sael" in ended.err


def test_what_cannot_be_is_refused_and_not_kept(run):
    ended = run("run", "--base", "0.2mbar", "--pressure", "0.1mbar")
    assert ended.status == 2
    assert "not below" in ended.err
    assert "no unit" in run("run", "--base", "0.2").err
    assert Store().runs("this coater") == []


def test_the_normal_and_a_trend_are_told(run):
    fill([3.0, 3.4, 4.0, 4.5, 5.2])
    ended = run("check-up", "--base", "0.06mbar")
    assert "base, empty: 0.06 mbar, usual 0.0425 mbar (half of 6 between" in ended.out
    assert "Trend: Base pressure, empty: from 0.03 to 0.06 mbar in 5 weeks" in ended.out
    record = json.loads(run("check-up", "--base", "0.06mbar", "--json").out)
    (warned,) = record["warnings"]
    assert warned["low"] < warned["factor"] < warned["high"]
    assert record["normal"]["base_empty"]["count"] == 7


def test_care_falls_due_and_is_done(run):
    fill([3.0, 3.0, 3.0, 3.0])
    assert "Due: Wipe and look over the seals: no record" in run("run", "--slip", "good").out
    assert "look over the seals" not in run("run", "--did", "seals").out


def test_the_normal_becomes_the_machines(run):
    assert "no normal to keep" in run("run", "--as-normal").err
    fill([3.0, 4.0, 4.0])
    ended = run("run", "--as-normal")
    assert "usual base 0.04 mbar" in ended.out
    (profile,) = Store().machines()
    assert profile.numbers == {"usual_base": 4.0}
    assert len(Store().runs("this coater")) == 3


def test_the_rise_is_learnt_as_well(run):
    fill([0.15, 0.16, 0.17], "rise")
    assert "usual rise 0.096 mbar/min" in run("check-up", "--as-normal").out
    (profile,) = Store().machines()
    assert profile.numbers["usual_rise"] == pytest.approx(0.16)


def test_a_short_log_is_held_against_the_profile(run):
    machine = {"usual_rise": "0.1 mbar/min", "usual_base": "0.03 mbar"}
    Store().save_machine(machine_from(machine, "here"))
    said = run("check-up", "--rise", "0.3mbar/min", "--base", "0.03mbar").out
    assert "rise: 0.3 mbar/min, of a good day 0.1 mbar/min (machine profile)" in said
    assert "base, empty: 0.03 mbar, of a good day 0.03 mbar (machine profile)" in said
    fill([0.5, 0.5], "rise")
    assert "rise: 0.3 mbar/min, usual 0.3 mbar/min" in run("check-up", "--rise", "0.3mbar/min").out


def test_a_trend_does_not_become_the_normal(run):
    fill([3.0, 3.4, 4.0, 4.5, 5.2, 6.0])
    ended = run("run", "--as-normal")
    assert ended.status == 2
    assert "trend" in ended.err
    assert Store().machines() == []


def test_the_list(run):
    assert "No run is noted yet" in run("run", "--list").out
    run("run", "--current", "12mA", "--metal", "gold")
    assert "current 12 mA, gold" in run("run", "--list").out
    assert len(json.loads(run("run", "--list", "--json").out)["runs"]) == 1


def test_with_several_coaters_one_must_be_named(run):
    for name in ("one", "two"):
        Store().save_machine(Machine(name=name))
    ended = run("run", "--slip", "good")
    assert ended.status == 2
    assert "--machine" in ended.err
    assert run("run", "--slip", "good", "--machine", "two").status == 0
    assert len(Store().runs("two")) == 1


# Asked


def asked(rules, answers, machine=None, kind="run"):
    script = Script(answers)
    entry = run_questions.ask(
        Run("2026-03-02T09:00:00", kind), machine or Machine(), script, Recorder(), rules
    )
    return entry, script


SKIPPED = {"": "", "The test slip?": "/skip", "Care": []}


def test_everything_can_be_skipped(rules):
    entry, _ = asked(rules, SKIPPED | {"Care": [[]]})
    assert (entry.values, entry.metal, entry.slip, entry.did) == ({}, None, None, ())


def test_that_no_care_was_done_can_be_said(rules):
    entry, _ = asked(rules, SKIPPED | {"Care": [["/none"]]})
    assert entry.did == ()


def test_bare_numbers_are_in_the_units_of_this_coater(rules):
    entry, _ = asked(
        rules,
        {"": "", "Base pressure": "0.05", "Current": "12", "Time from": ["six", "6"],
         "metal": "gold", "The test slip?": "good", "Care": [["oil"]]},
        Machine(told_unit="Torr"),
    )  # fmt: skip
    assert entry.values == pytest.approx({"base": 6.66612, "current": 0.012, "time": 360}, rel=1e-5)
    assert (entry.metal, entry.slip, entry.did) == ("gold", "good", ("oil",))


@pytest.mark.parametrize(
    ("typed", "unit", "said"),
    [("0.05", None, 1), ("0.05 mbar", None, 0), ("0.05", "mbar", 0)],
)
def test_the_unit_of_a_bare_pressure_is_said_where_the_gauges_was_never_told(
    rules, typed, unit, said
):
    """A profile that tells other things has not told it."""
    teller = Recorder()
    answers = SKIPPED | {"Base pressure": typed, "Care": [[]]}
    machine = Machine(name="ours", shown={"volume": "5 L"}, told_unit=unit)
    run_questions.ask(Run("2026-03-02T09:00:00", "run"), machine, Script(answers), teller, rules)
    assert teller.heard("Taken as 0.05 mbar", "small") == said


def test_an_impossible_pair_is_asked_again(rules):
    answers = {"": "", "Base pressure": ["1", "0.01"], "Pressure while": ["0.1", "0.1"]}
    entry, _ = asked(rules, answers | {"The test slip?": "/skip", "Care": [[]]})
    assert entry.values == pytest.approx({"base": 1.0, "pressure": 10.0})


def test_the_rise_is_asked_only_where_it_can_be_seen(rules):
    answers = SKIPPED | {"Care": [[]]}
    _, with_valve = asked(rules, answers, kind="check_up")
    without = Machine(facts={"isolation_valve": "no"})
    _, no_valve = asked(rules, answers | {"Care": [[]]}, without, kind="check_up")
    assert any("Valve to the pump shut" in q for q in with_valve.asked)
    assert not any("Valve to the pump shut" in q for q in no_valve.asked)


# A good day


@pytest.fixture
def good_log(tmp_path):
    made = log_of([(lambda t: cm.settles(t, 3.0, AIR, 6), 700)], noise=0.01)
    path = tmp_path / "good.csv"
    rows = zip(made.seconds, made.pascal / 100, strict=True)
    path.write_text("time (s);pressure (mbar)\n" + "".join(f"{t:g};{p:.5g}\n" for t, p in rows))
    return path


def test_a_good_day_is_shown_and_kept(run, good_log):
    ended = run("machine", "good-day", good_log, "--target", "0.1mbar", "--yes")
    assert ended.status == 0
    assert ended.out.startswith("With the pump on the pressure falls")
    (profile,) = Store().machines()
    assert profile.numbers["usual_base"] == pytest.approx(3.0, rel=0.05)
    # 6 s ln((101325 - 3)/(10 - 3))
    assert profile.numbers["usual_time"] == pytest.approx(57.5, rel=0.1)


def test_nothing_is_kept_unasked(run, good_log):
    ended = run("machine", "good-day", good_log)
    assert ended.status == 2
    assert "--yes" in ended.err
    assert Store().machines() == []


def test_a_worse_day_is_doubted(run, good_log):
    Store().save_machine(Machine(name="ours", numbers={"usual_base": 1.0},
                                 shown={"usual_base": "1 Pa"}))  # fmt: skip
    refused = run("machine", "good-day", good_log, "--yes")
    assert refused.status == 2
    assert "higher than the usual one" in refused.err
    ended = run("machine", "good-day", good_log, "--anyway", "--json")
    record = json.loads(ended.out)
    assert any("higher than the usual one" in s for s in record["doubts"])
    assert record["machine"]["name"] == "ours"


def test_a_loaded_log_without_a_target_gives_nothing(run, good_log):
    assert "--target" in run("machine", "good-day", good_log, "--loaded", "--yes").err


def test_an_odd_profile_is_asked_about(run, tmp_path):
    path = tmp_path / "big.yaml"
    path.write_text("name: big\nvolume: 3 L\npump_speed: 200 L/s\n")
    ended = run("machine", "read", path)
    assert ended.status == 0
    assert "Please check: " in ended.err


# Out of the ordinary


def test_a_run_far_from_a_sound_coater_is_told_with_the_way_to_its_case(run):
    """Half an hour, and ten times the usual base, on a coater of which nothing is known."""
    said = run("run", "--time", "30min", "--base", "0.5mbar").out
    assert "Out of the ordinary: Base pressure, loaded: 0.5 mbar, more than on a sound" in said
    assert "Out of the ordinary: Time to pump down: 30 min, more than on a sound coater." in said
    assert said.rstrip().endswith("To look for the cause: `troubleshoot diagnose`.")


def test_a_run_far_from_the_logs_own_normal_is_told(run):
    fill([5, 5.5, 6], name="base", kind="run")
    found = json.loads(run("run", "--base", "0.5mbar", "--json").out)["unusual"]
    (odd,) = found
    assert (odd["finding"], odd["quantity"]) == ("base_loaded", "0.5 mbar")
    assert odd["complaint"] == "pressure_not_reached"
    assert "9.1 times the usual 0.055 mbar" in odd["sentence"]


@pytest.mark.parametrize("given", [["--base", "0.09mbar"], ["--time", "9min"], ["--slip", "good"]])
def test_what_scatters_is_not_out_of_the_ordinary(run, given):
    fill([5, 5.5, 6], name="base", kind="run")
    fill([300, 310, 320], name="time", kind="run")
    assert "Out of the ordinary" not in run("run", *given).out


@pytest.mark.parametrize(
    ("current", "pressure", "answer"),
    [("8mA", "0.1mbar", "low"), ("18mA", "0.1mbar", "high"), ("12mA", "0.1mbar", None),
     ("8mA", "0.05mbar", None)],
)  # fmt: skip
def test_a_current_is_compared_at_the_usual_pressure_only(run, current, pressure, answer):
    store, now = Store(), datetime.now()
    for weeks in (3, 2, 1):
        at = (now - timedelta(weeks=weeks)).isoformat(timespec="seconds")
        store.save_run("this coater", Run(at, "run", {"current": 0.012, "pressure": 10.0}))
    given = ["--current", current, "--pressure", pressure, "--json"]
    found = json.loads(run("run", *given).out)["unusual"]
    assert [odd["answer"] for odd in found] == [answer] * bool(answer)


def test_a_slip_that_is_not_good_is_told_without_a_case(run):
    said = run("run", "--slip", "bad").out
    assert "Out of the ordinary: The test slip is not good." in said
