"""`troubleshoot` alone says where things stand."""

import pytest

from troubleshoot.case.entries import Complaint, MadeSafe, Sign
from troubleshoot.case.journal import enter
from troubleshoot.casebook.store import Store
from troubleshoot.coater.profile import machine_from

AT = "2026-03-02T09:00:00"


def kept(rules, *said):
    """A case of a coater called ours, in which this was said."""
    store = Store()
    case, journal = store.new_case("one", AT, machine_from({"name": "ours"}, "here")), ()
    for one in said:
        journal = enter(journal, AT, one, rules)
        store.save(case, journal[-1])
    return case


def test_with_nothing_kept_it_says_what_to_type(run):
    said = run()
    assert (said.status, said.err) == (0, "")
    assert "troubleshoot diagnose" in said.out
    assert "Open:" not in said.out


def test_an_open_case_is_named_with_the_command_that_goes_on(run, rules):
    case = kept(rules, Complaint(complaint="no_strike"))
    said = run()
    assert f"--resume --case {case}" in said.out
    assert "OUT OF USE" not in said.out


def test_a_coater_under_a_danger_stands_first(run, rules):
    kept(
        rules,
        Sign(sign="chip_or_crack", present=True),
        Complaint(complaint="slow_pump_down"),
        MadeSafe(caution=rules.signs["chip_or_crack"].caution),
    )
    assert run().out.startswith("OUT OF USE until repaired and proved: ours")


def test_a_misspelt_command_is_told_with_the_nearest(run):
    said = run("diagnos")
    assert said.status == 2
    assert "did you mean 'diagnose'?" in said.err


@pytest.mark.parametrize(
    "words", [("run", "--base", "0.05mbar"), ("cases", "list"), ("machine", "show"),
              ("check-up", "--time", "5min")],
)  # fmt: skip
def test_a_coater_under_a_danger_is_told_at_every_start(run, rules, words):
    case = kept(rules, Sign(sign="chip_or_crack", present=True))
    for _ in range(8):
        kept(rules, Complaint(complaint="no_strike"))  # newer cases do not hide it
    said = run(*words)
    assert said.status == 0
    assert said.err.startswith("OUT OF USE until repaired and proved: ours")
    assert f"--resume --case {case}" in said.err
    assert "OUT OF USE" not in said.out
