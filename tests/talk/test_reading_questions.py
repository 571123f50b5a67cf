"""A log, or a row of readings, taken into a case while it is led by questions."""

import itertools
from pathlib import Path

import pytest

from tests.case.records import from_records
from tests.case.test_readings_in_cases import straight_rise
from tests.talk.scripted import OPENING, Killed, Recorder, Script, Talk
from troubleshoot.advice.phrases import at_hour
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append, as_records
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.errors import UserError
from troubleshoot.regular_file import open_regular
from troubleshoot.talk.conversation import Conversation
from troubleshoot.talk.reading_questions import ask_points, ask_reading
from troubleshoot.talk.typed_path import path_of

AT = "2026-01-05T09:00:00"
SHUT = {
    "What do you have?": "paper",
    "anything in the chamber": "empty",
    "pump open to the chamber": "shut",
    "describe what was logged": "yes",
}
RISE = ["0 s 0.30 mbar", "60 s 2.9 mbar", "120 s 5.5", "180 s 8.1", "240 s 10.7", "300 s 13.3", ""]
BY_GAUGE = ["0.30 mbar", "2.9", "5.5", "8.1", "10.7", "13.3", ""]


def asked(rules, answers, machine=None, clock=None, earlier=()):
    teller = Recorder()
    script = Script({**SHUT, **answers})
    clock = clock or (lambda: 0.0)
    data = ask_reading(script, teller, rules.findings, machine or Machine(), clock, earlier)
    assert not script.left
    return data, teller


def test_times_and_pressures_on_paper_become_soft_evidence(rules):
    data, teller = asked(rules, {"Reading": list(RISE)})
    assert data.what == "typed pressures"
    assert data.findings["rise_rate"][-2:] > data.findings["rise_rate"][:2]
    assert data.numbers["rise_in_one_minute"][0] == pytest.approx(260 / 60, rel=0.02)
    assert data.points.startswith("0 s 0.30 mbar; 60 s 2.9 mbar; 120 s 5.5 mbar")
    assert "<svg" in data.plot
    assert teller.heard("pump shut off", "line")


def test_earlier_runs_are_marked_in_the_drawing(rules):
    fall = ["0 s 100 mbar", "60 s 8", "120 s 0.9", "180 s 0.3", "300 s 0.12", "600 s 0.08", ""]
    told = {"pump open to the chamber": "open", "Reading": fall}
    marked, _ = asked(rules, told, earlier=[(300.0, 9.0)])
    assert "runs before" in marked.plot
    plain, _ = asked(rules, {**told, "Reading": list(fall)})
    assert "runs before" not in plain.plot


def test_the_clock_of_the_tool_stands_in_for_a_stopwatch(rules):
    """The same numbers read off the gauge a minute apart say the same."""
    clock = itertools.count(1000.0, 60.0)
    live, _ = asked(
        rules, {"What do you have?": "now", "Reading": list(BY_GAUGE)}, clock=lambda: next(clock)
    )
    paper, _ = asked(rules, {"Reading": list(RISE)})
    got = live.numbers["rise_in_one_minute"]
    assert got[0] == pytest.approx(paper.numbers["rise_in_one_minute"][0], rel=1e-6)
    assert set(live.findings) == set(paper.findings)


def test_a_clock_that_is_set_meanwhile_changes_no_reading(small_bench):
    """The readings of a case are timed by its stopwatch, not by the time of the day."""
    watch, days = itertools.count(5000.0, 60.0), itertools.cycle(["2026-01-05", "1970-01-01"])
    talk = Conversation(
        small_bench, Script({}), Recorder(), (), print, lambda: f"{next(days)}T09:00:00",
        stopwatch=lambda: next(watch),
    )  # fmt: skip
    told = ask_points(Script({"Reading": list(BY_GAUGE)}), Recorder(), None, talk.stopwatch)
    assert told.split("; ")[:3] == ["0 s 0.30 mbar", "60 s 2.9 mbar", "120 s 5.5 mbar"]


@pytest.mark.parametrize(
    ("at", "said"),
    [("2026-03-02T23:10", "23:10"), ("2026-03-03T08:10:00", "2026-03-03 08:10")],
)
def test_an_hour_of_another_day_is_told_with_its_day(at, said):
    assert at_hour(at, "2026-03-02T17:00:00") == said


def test_a_slip_costs_one_line():
    teller = Recorder()
    lines = ["0 s 1 mbar", "nonsense", "0 s 2 mbar", "60 s 0 mbar", "1:00 2", "9 s 9 mbar", "",
             "90 s 3 mbar", "120 s 99 mbar", "undo", ""]  # fmt: skip
    script = Script({"Reading": lines, "Go on?": "more"})
    assert ask_points(script, teller, None, None) == "0 s 1 mbar; 1:00 2 mbar; 90 s 3 mbar"
    assert not script.left
    assert teller.heard("later than that of the point before") == 2
    assert teller.heard("end of the gauge") == 1
    assert teller.heard("2 are too few") == 1


def test_a_pressure_without_a_unit_takes_that_of_the_gauge_and_is_refused_if_there_is_none():
    lines = ["0 s 1", "60 s 2", "120 s 3", ""]
    assert ask_points(Script({"Reading": list(lines)}), Recorder(), "Torr", None).count("Torr") == 3
    teller = Recorder()
    assert ask_points(Script({"Reading": list(lines)}), teller, None, None) == ""
    assert teller.heard("has no unit") == 3


def test_a_file_is_asked_for_until_it_can_be_read(rules, tmp_path):
    straight_rise(tmp_path)
    names = [str(tmp_path / "no.csv"), f"'{tmp_path / 'rise.csv'}'"]
    data, teller = asked(rules, {"What do you have?": "file", "Which file?": names})
    assert data.source == "rise.csv"
    assert data.what == "pressure log"
    assert data.points is None
    assert teller.heard("does not exist") == 1


def test_a_unit_that_the_file_does_not_say_is_asked_for(rules, tmp_path):
    rows = "\n".join(f"{t};{0.3 + 2.6 * t / 60:.4f}" for t in range(0, 301, 10))
    (tmp_path / "log.csv").write_text("seconds;p\n" + rows, encoding="utf-8")
    name = [str(tmp_path / "log.csv")]
    data, _ = asked(
        rules, {"What do you have?": "file", "Which file?": name, "Unit of the pressures": "mbar"}
    )
    assert data.numbers["rise_in_one_minute"][0] == pytest.approx(260 / 60, rel=0.02)


@pytest.mark.parametrize(
    "answers",
    [
        {"What do you have?": "/none"},
        {"pump open to the chamber": "/none"},
        {"Reading": [""]},
        {"What do you have?": "file", "Which file?": [" "]},
        {"Reading": list(RISE), "describe what was logged": "no"},
        {"Reading": list(RISE), "pump open to the chamber": "open"},
    ],
)
def test_nothing_is_kept_when_the_operator_turns_back_or_it_cannot_be(rules, answers):
    assert asked(rules, answers)[0] is None


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("a.csv", "a.csv"),
        (" 'my log.csv' ", "my log.csv"),
        ('"my log.csv"', "my log.csv"),
        ("my\\ log.csv", "my log.csv"),
        ("file:///tmp/my%20log.csv", "/tmp/my log.csv"),
    ],
)
def test_a_name_may_be_dropped_onto_the_terminal(typed, name):
    assert path_of(typed) == Path(name)


@pytest.mark.parametrize("typed", ["~no-such-user/log.csv", "x" * 5000, "file://[x", "a\0b"])
def test_a_name_that_no_file_can_have_is_left_to_who_opens_it(typed):
    with pytest.raises(UserError):
        open_regular(path_of(typed))


def test_no_path_is_none():
    assert path_of("  ") is None


# --- in a case ---------------------------------------------------------------------------------

RISE_QUESTION = "by how much does the pressure rise"


def a_case(rules, answers, machine=None):
    """The shipped rules, a slow pump-down, asked up to the rise with the valve shut."""
    bench = Bench(rules, machine or machine_from({"name": "x", "isolation_valve": "yes"}, "test"))
    journal = append((), AT, "complaint", rules, complaint="slow_pump_down")
    for name, action in rules.actions.items():
        if "rise_rate" not in action.reveals:
            journal = append(journal, AT, "cannot", rules, action=name)
    return Talk(bench, {**OPENING, **SHUT, **answers}, journal=journal)


def test_a_log_at_the_prompt_answers_the_check_that_was_asked(rules):
    t = a_case(
        rules,
        {RISE_QUESTION: ["log"], "Reading": list(RISE), "Close this case": "leave",
         "What does": "/stop", "?": "/stop"},
    )  # fmt: skip
    t.run()
    (entry,) = t.entries("reading")
    assert entry["what"] == "typed pressures"
    assert t.teller.heard("six times and readings", "small") == 1
    assert sum(RISE_QUESTION in q for q in t.asker.asked) == 1
    seen = {s.finding: s.origin for s in t.conversation.case().seen}
    assert seen["rise_rate"] == seen["rise_shape"] == "reading"
    assert from_records(as_records(t.journal)) == t.journal


def test_going_back_takes_a_reading_out_again(rules):
    t = a_case(
        rules,
        {RISE_QUESTION: ["log", "stop"], "Reading": list(RISE), "Close this case": ["/back"],
         "?": ["/back"]},
    )  # fmt: skip
    t.run()
    assert t.kinds().count("reading") == 1
    assert not t.conversation.case().seen


def test_a_kill_among_the_readings_loses_nothing_before_them(rules):
    t = a_case(rules, {RISE_QUESTION: ["log"], "Reading": list(RISE)})
    t.asker.kill_at = 5
    before = list(t.journal)
    with pytest.raises(Killed):
        t.run()
    assert t.saved[: len(before)] == before
    assert not t.entries("reading")
