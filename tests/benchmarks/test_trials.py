"""The runner of the bench trials answers as its sheet says and counts what it should.

The small lab's rules and an invented sheet: dust on the seal of a coater.
"""

import json
import shutil
import sys
from pathlib import Path

import pytest

from tests.benchmarks import trials
from tests.benchmarks.trials import Ended, Operator, Trial, Written, play, sheet_from
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append
from troubleshoot.case.relevance import other_trouble
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.errors import UserError
from troubleshoot.knowledge.load import load, shipped
from troubleshoot.readings.quantity import likelihood
from troubleshoot.talk.dialogue import About, Choice
from troubleshoot.talk.talk import CANNOT, DONT_KNOW, FAIRLY

SMALL_LAB = Path(__file__).parents[1] / "talk" / "small_lab"
AT = "2026-01-05T09:00:00"
OPENING = {"state": "pumped", "role": "student", "irreplaceable": "no", "since": None}
SHEET = {
    "id": "tiny",
    "words": "it takes for ever",
    "complaint": "slow",
    "also_fits": ["noisy"],
    "machine": {"name": "the tiny coater"},
    "opening": {**OPENING, "signs": [], "circumstances": ["dusty_room"]},
    "causes": ["dust_on_seal"],
    "nothing_wrong": False,
    "cures": [["wipe_seal"]],
    "better_after": "",
    "harmful": [],
    "cannot": ["wait_an_hour"],
    "findings": {"base": "0.4 mbar", "seal": ["dusty", "clean"]},
    "senseless": [],
    "after": [{"fault": 0, "findings": {"base": "0.05 mbar", "seal": "clean"}}],
    "expert_first": ["look_at_seal"],
    "best_minutes": 20,
}


@pytest.fixture(scope="module")
def rules(tmp_path_factory):
    folder = tmp_path_factory.mktemp("settings")
    shutil.copy(shipped() / "settings.yaml", folder)
    return load([folder, SMALL_LAB])


def trial(rules, *, written_without=(), most=40, own_words=None, **changes):
    findings = frozenset(rules.findings) - frozenset(written_without)
    written = Written(findings, frozenset(rules.actions) - frozenset(written_without))
    sheet = sheet_from({**SHEET, **changes, **({"words": own_words} if own_words else {})})
    return Trial("tiny", sheet, "slow", written, most, own_words is not None)


def operator(rules, **changes):
    """An operator past the opening, to be asked by hand."""
    played = Operator(trial(rules, **changes), Bench(rules, Machine()))
    played.result.complaint = "slow"
    played.journal = append((), AT, "complaint", rules, complaint="slow")
    return played


def offered(*values):
    return [Choice(v, v) for v in values]


def asked(played, finding, text=False):
    about = About("finding", finding)
    if text:
        return played.text("?", about)
    answers = played.rules.findings[finding].answers
    return played.choose("?", offered(*answers, FAIRLY, DONT_KNOW, CANNOT), about)


def done(played, action):
    """The action put and done, with what is seen of the complaint; None if it was refused."""
    about = About("action", action)
    if played.choose("?", offered("done", CANNOT), about) == CANNOT:
        return None
    recheck = offered("cured", "better", "unchanged", "worse")
    seen = played.choose("?", recheck, About("complaint_now", action))
    journal = append(
        played.journal, AT, "action", played.rules, action=action, complaint_now=seen
    )  # fmt: skip
    played.save(journal[-1])
    return seen


# --- the whole conversation ----------------------------------------------------------------------


def test_a_fault_that_is_put_right_and_closed_is_right(rules):
    result = play(trial(rules), rules)
    assert (result.right, result.ended, result.complaint) == (True, "cured", "slow")
    assert result.asked[-1] == "wipe_seal"
    assert result.questions == len(result.asked) <= 8
    assert result.wrong_remedies == result.senseless == result.harmful == result.unknown == []
    assert result.opening == 7  # signs, complaint, state, specimen, role, since when, what holds
    assert ("opening", "history", "dusty_room") in result.answers
    assert result.place == 1
    spent = [rules.actions[a].minutes for a in result.done]
    assert result.minutes >= sum(m.hands + m.wait for m in spent) > 0
    assert result.weighted_minutes > 0
    assert result.sure_at is None or 0 <= result.sure_at <= result.questions


def test_each_kind_of_waste_is_counted_and_named(rules):
    # Nothing that is on offer helps, so that everything is put.
    lost = play(
        trial(rules, written_without=["knob"], cures=[["no_such"]], senseless=["lamp"],
              harmful=["shut_vent", "look_round"]),
        rules,
    )  # fmt: skip
    assert not lost.right
    assert set(lost.senseless) == {"lamp"}
    assert set(lost.unknown) == {"knob"}
    assert sorted(lost.harmful) == ["look_round", "shut_vent"]
    assert "shut_vent" not in lost.done
    assert "look_round" in lost.done  # a harmful check is answered all the same
    assert "wipe_seal" in lost.wrong_remedies


def test_beyond_the_limit_a_trial_ends_and_is_wrong(rules):
    result = play(trial(rules, most=2), rules)
    assert (result.right, result.ended, result.questions) == (False, "limit", 2)


def test_nothing_wrong_is_right_only_if_it_is_so(rules):
    sound = {"findings": {"base": "0.05 mbar"}, "cures": [], "causes": []}
    for nothing_wrong in (True, False):
        result = play(trial(rules, **sound, nothing_wrong=nothing_wrong), rules)
        assert (result.ended, result.right) == ("normal", nothing_wrong)


def test_service_is_right_where_what_is_left_needs_it(rules):
    dead = {"findings": {"lamp": "no", "base": "0.4 mbar"}, "causes": ["tired_pump"]}
    everything = [a for a in rules.actions if a not in ("look_round", "read_gauge")]
    for cures, right in (([["mend_pump"]], True), ([["wipe_seal"]], False)):
        result = play(trial(rules, **dead, cures=cures, cannot=everything), rules)
        assert (result.ended, result.right) == ("service", right)


def test_own_words_lead_to_the_complaint_or_back_to_the_list(rules):
    plain = play(trial(rules, own_words="it takes for ever"), rules)
    assert (plain.words_led, plain.complaint, plain.right) == ("complaint", "slow", True)
    assert plain.answers[1][1:] == ("complaint", "/own")
    other = play(trial(rules, own_words="the pump hammers"), rules)
    meant = [said for kind, name, said in other.answers if name == "meant"]
    assert (other.words_led, meant[0]) == ("also_fits", "noisy")
    lost = play(trial(rules, own_words="xyzzy"), rules)
    assert (lost.words_led, lost.complaint, lost.right) == ("list", "slow", True)


def test_a_trial_that_breaks_is_told_and_not_raised(rules):
    broken = play(trial(rules, machine={"volume": "lots"}), rules)
    assert broken.ended.startswith("error: UserError")
    assert not broken.right


# --- asked by hand -------------------------------------------------------------------------------


def test_a_pair_is_said_with_fairly_sure_and_counts_once(rules):
    played = operator(rules)
    assert asked(played, "seal") == FAIRLY
    assert asked(played, "seal") == "dusty"
    assert played.result.asked == ["seal"]


def test_what_the_sheet_leaves_out_is_normal_and_what_is_newer_is_not_known(rules):
    played = operator(rules, written_without=["knob"])
    assert asked(played, "lamp") == "yes"
    assert asked(played, "knob") == DONT_KNOW
    assert played.result.unknown == ["knob"]
    assert asked(operator(rules, findings={}), "base", text=True) == "unknown"


def test_what_cannot_be_told_or_done_is_said(rules):
    played = operator(rules, findings={"seal": "cannot", "lamp": "unknown"})
    assert asked(played, "seal") == CANNOT
    assert asked(played, "lamp") == DONT_KNOW
    assert asked(played, "overnight") == CANNOT  # its only check is one that this lab cannot do
    assert played.choose("?", offered("park", "now", CANNOT), About("wait", "wait_an_hour"))
    assert played.result.unknown == []
    assert done(operator(rules, cannot=["wipe_seal"]), "wipe_seal") is None


def test_a_number_is_typed_and_told_in_words_as_it_is_asked(rules):
    played = operator(rules)
    assert asked(played, "base", text=True) == "0.4 mbar"
    assert asked(played, "base", text=True) == "unknown"  # it was not taken
    assert asked(operator(rules), "base") == "raised"
    base = rules.findings["base"]
    for answer in base.answers:
        typed = asked(operator(rules, findings={"base": answer}), "base", text=True)
        bands = likelihood(base, typed, Machine())
        assert list(base.answers)[bands.index(max(bands))] == answer


def test_a_senseless_question_counts_each_time_and_harm_once(rules):
    played = operator(rules, senseless=["seal"], harmful=["wait_it_out", "look_round"])
    for _ in range(2):
        assert asked(played, "seal") == DONT_KNOW
        assert done(played, "wait_it_out") is None
        played.save(append(played.journal, AT, "note", rules, text="-")[-1])
    assert played.result.senseless == ["seal", "seal"]
    assert played.result.harmful == ["wait_it_out"]
    assert played.result.asked == ["seal", "wait_it_out"] * 2
    played.title(rules.actions["look_round"].say)
    assert played.result.harmful == ["wait_it_out", "look_round"]


def test_of_two_faults_each_is_put_right_by_its_own_group(rules):
    after = [
        {"fault": 0, "findings": {"seal": "clean", "base": "0.3 mbar"}},
        {"fault": 1, "findings": {"knob": "shut", "base": "0.05 mbar"}},
    ]
    two = {"cures": [["wipe_seal"], ["shut_vent"]], "better_after": "better", "after": after}
    findings = {"seal": "dusty", "knob": "open", "base": "0.4 mbar"}
    played = operator(rules, **two, findings=findings)
    assert done(played, "mend_pump") == "unchanged"
    assert done(played, "wipe_seal") == "better"
    assert (asked(played, "seal"), asked(played, "knob")) == ("clean", "open")
    assert asked(played, "base", text=True) == "0.3 mbar"
    assert done(played, "wipe_seal") == "unchanged"
    assert done(played, "shut_vent") == "cured"
    assert asked(played, "base", text=True) == "0.05 mbar"
    assert played.result.wrong_remedies == ["mend_pump", "wipe_seal"]


def test_each_row_of_a_list_counts_and_so_does_the_limit(rules):
    played = operator(rules, most=3)
    rows = offered("vent_touched", "dusty_room")
    assert played.several("?", rows, About("circumstances")) == ["dusty_room"]
    assert played.result.asked == ["vent_touched", "dusty_room"]
    asked(played, "lamp")
    with pytest.raises(Ended, match="limit"):
        asked(played, "seal")


def test_a_danger_is_repaired_only_once_it_is(rules):
    played = operator(rules)
    danger = offered("repaired:in_charge", "in_charge", "stop")
    assert played.choose("?", danger, About("danger")) == "in_charge"
    done(played, "wipe_seal")
    assert played.choose("?", danger, About("danger")) == "repaired:in_charge"
    assert played.choose("?", offered("done", "stop"), About("stop")) == "done"


# --- the sheets and the command ------------------------------------------------------------------


def test_the_sheets_are_well_formed_against_the_rule_base():
    rules = load()
    sheets = [trials.read_sheet(path) for path in sorted(trials.FOLDER.glob("*.yaml"))]
    assert len({s.id for s in sheets}) == len(sheets) == 80
    assert {s.id: found for s in sheets if (found := trials.problems(s, rules))} == {}


def test_what_is_seen_in_a_trial_never_points_away_from_its_own_trouble():
    """The complaints' `rather` against sheets whose authors did not know it."""
    rules = load()
    for path in trials.FOLDER.glob("*.yaml"):
        sheet = trials.read_sheet(path)
        machine = machine_from(sheet.machine, sheet.id)
        seen = {}
        for name, said in sheet.findings.items():
            finding = rules.findings[name]
            if said[0] in finding.answers:
                seen[name] = said[0]
            elif said[0] not in (trials.UNKNOWN, trials.NOT_HERE):
                shares = likelihood(finding, said[0], machine)
                seen[name] = list(finding.answers)[shares.index(max(shares))]
        held = sheet.opening.circumstances
        assert other_trouble(rules, sheet.complaint, seen.items(), held) is None, sheet.id


def test_every_sheet_names_only_what_there_was_when_it_was_written():
    for path in trials.FOLDER.glob("*.yaml"):
        sheet = trials.read_sheet(path)
        written = trials.written_for(trials.FOLDER, sheet.known)
        assert sheet.findings.keys() | sheet.senseless <= written.findings
        assert {a for group in sheet.cures for a in group} | sheet.cannot <= written.actions


def test_what_is_wrong_with_a_sheet_is_named(rules):
    sheet = sheet_from({**SHEET, "complaint": "lost", "senseless": ["seal"], "cures": [["pray"]],
                        "findings": {"seal": "green", "base": "3 kg"}})  # fmt: skip
    assert trials.problems(sheet, rules) == [
        "complaint lost",
        "cure pray",
        "seal both answered and senseless",
        "answer seal: green",
        "answer base: 3 kg",
    ]


def test_a_sheet_without_a_key_is_refused_with_its_file(tmp_path):
    (tmp_path / "a.yaml").write_text("id: a\n")
    with pytest.raises(UserError, match=r"a\.yaml"):
        trials.read_sheet(tmp_path / "a.yaml")


def test_other_complaints_are_trials_of_their_own(tmp_path):
    (tmp_path / "tiny.yaml").write_text(json.dumps(SHEET))
    (tmp_path / "bad.yaml").write_text("id: bad\n")
    assert [t.id for t in trials.trials(tmp_path)] == ["tiny"]
    other = list(trials.trials(tmp_path, other=True))
    assert [(t.id, t.complaint) for t in other] == [("tiny/noisy", "noisy")]


def test_the_table_and_the_log(rules, tmp_path, monkeypatch, capsys):
    (tmp_path / "tiny.yaml").write_text(json.dumps(SHEET))
    monkeypatch.setattr(trials, "_rules", lambda: rules)
    log = tmp_path / "log.json"
    monkeypatch.setattr(sys, "argv", ["trials", str(tmp_path), "--log", str(log)])
    trials.main()
    told = capsys.readouterr().out
    assert "right: 1 of 1" in told
    assert "median minutes" in told
    (kept,) = json.loads(log.read_text())
    assert {"id", "complaint", "right", "ended", "questions", "asked", "opening", "minutes",
            "expert_minutes", "wrong_remedies", "senseless", "harmful", "unknown", "sure_at",
            "place"} <= kept.keys()  # fmt: skip
    assert (kept["id"], kept["right"], kept["questions"]) == ("tiny", True, len(kept["asked"]))
