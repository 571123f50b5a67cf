"""What is said of a case: next step, verdict, why, today, and the one JSON object."""

import json
import shutil

import pytest

from troubleshoot.advice import phrases, today, why
from troubleshoot.advice import step as steps
from troubleshoot.advice import verdict as verdicts
from troubleshoot.advice.page import page_of
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append
from troubleshoot.cli.setup import demo_files
from troubleshoot.coater.machine import Machine
from troubleshoot.reasoning.planner import ACCEPT
from troubleshoot.show.json import as_object

AT = "2026-01-05T09:00:00"


def case_of(bench, *entries, complaint="slow"):
    journal = append((), AT, "complaint", bench.rules, complaint=complaint)
    for kind, data in entries:
        journal = append(journal, AT, kind, bench.rules, **data)
    return bench.assess(journal)


def saw(finding, answer, **more):
    return "finding", {"finding": finding, "answer": answer, **more}


def did(action, now):
    return "action", {"action": action, "complaint_now": now}


SMELL = ("sign", {"sign": "smell", "present": True})
SOUND = [saw("knob", "shut"), saw("lamp", "yes"), saw("seal", "clean"), saw("base", "usual")]


@pytest.fixture(scope="module", params=demo_files(), ids=lambda p: p.stem)
def demo(request, rules):
    read = read_case(request.param, rules, AT)
    bench = Bench(rules, read.machine)
    return bench.assess(read.journal), bench


# --- words for numbers -------------------------------------------------------------------------


def test_a_chance_is_said_as_a_person_says_it():
    assert phrases.chance(0.99) == "almost certain"
    assert phrases.chance(0.01) == "very unlikely"
    assert phrases.chance(0.07) == "about 1 in 10"
    assert phrases.chance(0.52) == "about 5 in 10"


def test_no_chance_is_ever_put_at_none_or_all():
    said = {phrases.chance(n / 1000) for n in range(1001)}
    assert not any("about 0" in s or s.startswith("certain") for s in said)


@pytest.mark.parametrize(
    ("p", "words"), [(0.95, "Almost"), (0.75, "Very"), (0.5, "Prob"), (0.3, "Not"), (0.1, "Noth")]
)
def test_a_verdict_is_as_firm_as_its_probability(p, words):
    assert phrases.how_sure(p).startswith(words)


@pytest.mark.parametrize(
    ("text", "lower"), [("Dirty seal", "dirty seal"), ("HV off", "HV off"), ("", "")]
)
def test_names_fit_into_a_sentence(text, lower):
    assert phrases.lower_first(text) == lower


# --- verdict -----------------------------------------------------------------------------------


def test_the_ranking_falls_and_names_every_cause_once(demo):
    case, _ = demo
    ranking = verdicts.ranking(case)
    assert [p for _, p in ranking] == sorted((p for _, p in ranking), reverse=True)
    assert len({c.id for c, _ in ranking}) == len(ranking) == len(case.belief.present)


def test_a_cause_that_stands_out(small_bench):
    case = case_of(small_bench, saw("knob", "open"), saw("base", "high"))
    said = verdicts.verdict(case)
    assert said.hypothesis == "vent_open"
    assert said.settled
    assert said.probability == verdicts.ranking(case)[0][1]
    coat = today.today_of(case)
    assert coat.advice == "do_not"
    assert coat.note.endswith("shut it first.")
    assert "vent left open" in said.sentence


def test_nothing_wrong(small_bench):
    case = case_of(small_bench, *SOUND)
    said = verdicts.verdict(case)
    assert said.hypothesis == verdicts.NOTHING_WRONG
    assert today.today_of(case).advice == "coat"
    assert "nothing is wrong" in said.sentence


def test_cured(small_bench):
    case = case_of(small_bench, saw("knob", "open"), did("shut_vent", "cured"))
    assert verdicts.verdict(case).hypothesis == verdicts.CURED
    assert steps.next_step(case).id == verdicts.CURED


@pytest.mark.parametrize("before", [SOUND, [saw("knob", "open"), did("shut_vent", "cured")], []])
def test_nobody_coats_while_a_danger_stands(small_bench, before):
    said = today.today_of(case_of(small_bench, *before, SMELL))
    assert said.advice == "do_not"
    assert said.ways == ()
    assert "Smoke" in said.note


def test_today_is_the_strictest_of_what_matters(small_bench):
    case = case_of(small_bench, saw("base", "raised"), saw("lamp", "no"), saw("seal", "dusty"))
    live = {c.today.verdict for c, p in verdicts.ranking(case) if p >= verdicts.MATTERS}
    assert live == {"do_not", "expect"}
    assert today.today_of(case).advice == "do_not"
    assert today.today_of(case).ways == ()


@pytest.mark.slow
def test_from_the_complaint_alone_today_claims_nothing(rules):
    """Nobody has looked at anything: it says what to look at, and nothing of how things are."""
    bench = Bench(rules, Machine())
    for complaint in rules.complaints.values():
        case = case_of(bench, complaint=complaint.id)
        said = today.today_of(case)
        assert said.head == "Not known yet"
        first = phrases.lower_first(steps.next_step(case).name)
        assert said.note == f"Nothing was looked at yet. First: {first}."


def test_what_a_cause_would_allow_is_said_on_its_condition(rules):
    bench = Bench(rules, Machine())
    case = case_of(bench, saw("seal_look", "dust_or_flakes"), complaint="pressure_not_reached")
    assert today.today_of(case).note.startswith("If it is this (dirty seal): ")


@pytest.mark.slow
def test_what_cannot_be_replaced_is_never_told_to_coat(small_bench, rules):
    kept = ("specimen", {"irreplaceable": True})
    cases = [
        case_of(small_bench, kept, *SOUND),
        case_of(small_bench, kept, saw("knob", "open"), did("shut_vent", "cured")),
        case_of(small_bench, kept, saw("seal", "dusty")),
        case_of(small_bench, kept),
    ]
    bench = Bench(rules, Machine())
    cases += [case_of(bench, kept, complaint=name) for name in rules.complaints]
    for case in cases:
        said = today.today_of(case)
        assert said.advice != "coat"
        assert "oat" not in said.head


@pytest.mark.first_quick(3)
def test_ways_round_fit_the_complaint_and_a_live_cause(demo):
    case, _ = demo
    for name in today.today_of(case).ways:
        way = case.rules.workarounds[name]
        assert case.known.complaint in way.complaints
        live = {c.id: p for c, p in verdicts.ranking(case)}
        assert sum(live.get(c, 0) for c in way.causes) > 0.05


def test_a_way_round_that_marks_is_not_for_what_cannot_be_replaced(rules):
    bench = Bench(rules, Machine())
    journal = append((), AT, "complaint", rules, complaint="pressure_not_reached")
    journal = append(journal, AT, "finding", rules, finding="seal_look", answer="dust_or_flakes")
    kept = append(journal, AT, "specimen", rules, irreplaceable=True)
    for entries, offered in ((journal, True), (kept, False)):
        ways = today.today_of(bench.assess(entries)).ways
        assert ("coat_at_raised_base" in ways) == offered
        assert ways


# --- next step ---------------------------------------------------------------------------------


def test_a_step_says_why_and_for_how_long(demo):
    case, _ = demo
    step = steps.next_step(case)
    assert step.kind in ("check", "remedy", "stop")
    assert step.say
    assert step.why
    assert "None" not in step.why
    if step.kind != "stop":
        assert step.minutes >= step.hands > 0
        assert step.id in case.rules.actions or step.id == steps.CALL_SERVICE


def test_a_step_in_another_state_says_how_to_get_there(small_bench):
    case = case_of(small_bench)
    step = steps.step_for(case, "look_at_seal", "so")
    assert "open to air" in step.do.prepare
    assert step.do.move == small_bench.rules.states["pumped"].to["vented"]
    assert step.minutes == step.do.move + 8
    assert steps.step_for(case, "look_round", "so").do.prepare is None


def test_a_step_for_somebody_else_says_whom_to_fetch(small_bench):
    role = ("role", {"role": "in_charge"})
    case = case_of(small_bench, role)
    assert "qualified service" in steps.step_for(case, "mend_pump", "").do.fetch
    assert steps.step_for(case, "wipe_seal", "").do.fetch is None


def test_what_was_answered_is_not_asked_again(small_bench):
    case = case_of(small_bench, saw("knob", "shut"))
    assert steps.step_for(case, "look_round", "so").findings == ("lamp",)


def test_what_does_not_exist_on_this_machine_is_not_asked(rules):
    bench = Bench(rules, Machine(facts={"isolation_valve": "no"}))
    case = case_of(bench, complaint="pressure_not_reached")
    for name in rules.actions:
        for finding in steps.step_for(case, name, "so").findings:
            assert bench.machine.allows(rules.findings[finding].machine)


def test_a_closed_case_has_no_next_step(small_bench):
    case = case_of(small_bench, ("closed", {"outcome": "cured"}))
    assert (steps.next_step(case).kind, steps.next_step(case).id) == ("stop", steps.CLOSED)


def test_a_case_without_a_complaint_asks_for_one(small_bench):
    case = small_bench.assess(append((), AT, "role", small_bench.rules, role="student"))
    assert (steps.next_step(case).kind, steps.next_step(case).id) == ("stop", steps.UNNAMED)
    whole = as_object(page_of(case, ()))
    assert whole["complaint"] is None
    assert whole["ranking"] == []


def test_a_stop_goes_before_everything(small_bench):
    for before in (SOUND, [("closed", {"outcome": "cured"})], []):
        assert steps.next_step(case_of(small_bench, *before, SMELL)).id == "smoke"


def test_cautions_of_the_case_go_before_those_of_the_step(small_bench):
    made_safe = ("made_safe", {"caution": "smoke"})
    case = case_of(small_bench, SMELL, made_safe)
    step = steps.step_for(case, "look_round", "so")
    assert steps.in_force(case, step) == ["smoke", "glass"]


def test_a_follow_up_never_marks_a_specimen_that_cannot_be_replaced(rules):
    """The check that a rule asks for is held to the same as the planner's own."""
    marked = {
        name: a.model_copy(update={"specimen": "marks"}) if "valve_shuts" in a.reveals else a
        for name, a in rules.actions.items()
    }
    bench = Bench(
        rules.model_copy(update={"actions": marked}),
        Machine(facts={"isolation_valve": "yes", "gauge_side": "chamber"}),
    )
    small_rise = [saw("base_loaded", "high"), saw("rise_rate", "small")]
    for kept in (False, True):
        specimen = ("specimen", {"irreplaceable": kept})
        case = case_of(bench, specimen, *small_rise, complaint="pressure_not_reached")
        assert case.follow_up == ("valve_shuts",)
        step = steps.next_step(case)
        assert ("valve_shuts" in step.findings) is not kept


# --- evidence ----------------------------------------------------------------------------------


def test_every_answer_is_weighed(demo):
    case, _ = demo
    if steps.next_step(case).id in (verdicts.CURED,):
        return
    rows = why.grounds(case, (), why.view(case)).rows
    assert [row.seen for row in rows] == list(case.seen)
    assert all(abs(row.decibans) < 100 for row in rows)


READINGS = {
    "reading: picture_bright_spines.png": "read off a picture",
    "reading: picture_slow_scan.png\n    second: picture_fast_scan.png\n    pair: slow-fast": (
        "read off two pictures"
    ),
    "reading: log_rise_straight.csv\n    valve: shut": "read off a log",
    'points: "0 s 900 mbar; 30 s 4 mbar; 60 s 0.9 mbar; 120 s 0.4 mbar; 300 s 0.3 mbar"': (
        "read off a row of readings"
    ),
}


@pytest.mark.parametrize(("item", "whose"), READINGS.items())
def test_evidence_says_what_it_was_read_off(rules, tmp_path, item, whose):
    for file in demo_files()[0].parent.glob("*[_a-z].[pc][ns][gv]"):
        shutil.copy(file, tmp_path)
    complaint = "pressure_not_reached" if "mbar" in item or "log" in item else "images_charge"
    path = tmp_path / "case.yaml"
    path.write_text(f"complaint: {complaint}\njournal:\n  - {item}\n")
    read = read_case(path, rules, AT)
    case = Bench(rules, read.machine).assess(read.journal)
    rows = why.grounds(case, read.journal, why.view(case)).rows
    assert {row.whose for row in rows if row.seen.origin == "reading"} == {whose}


@pytest.mark.parametrize("seen", [saw("base", "raised"), saw("seal", "dusty")], ids=str)
def test_the_answer_that_would_change_it_does(small_bench, seen):
    """What is said to overturn the verdict is tried: it is one of the answers that do."""
    case = case_of(small_bench, seen)
    said = why.would_change(case)
    lead = verdicts.ranking(case)[0][0]
    flips = []
    for name, finding in small_bench.rules.findings.items():
        for answer in finding.answers:
            if name == seen[1]["finding"]:
                continue
            now = verdicts.ranking(case_of(small_bench, seen, saw(name, answer)))[0][0]
            if now.id != lead.id:
                flips.append((finding.ask, finding.answers[answer], phrases.lower_first(now.name)))
    assert flips
    assert any(all(part in (said or "") for part in flip) for flip in flips), (said, flips)


# --- one object --------------------------------------------------------------------------------


@pytest.mark.first_quick(4)
def test_the_object_is_json_and_agrees_with_the_words(demo):
    case, bench = demo
    whole = json.loads(json.dumps(as_object(page_of(case, ())), allow_nan=False))
    assert whole["next"]["id"] == steps.next_step(case).id
    assert whole["verdict"]["sentence"] == verdicts.verdict(case).sentence
    assert [r["probability"] for r in whole["ranking"]] == [p for _, p in verdicts.ranking(case)]
    assert whole["rule_base"] == bench.rules.hash
    assert sum(s["probability"] for s in whole["sets"]) <= 1 + 1e-9
    assert 0 < whole["nothing_wrong"] < 1
    assert 0 < whole["unlisted"] < 1


# --- after a remedy -----------------------------------------------------------------------------


def test_better_is_never_called_nothing(rules):
    """A complaint that is still there, only less, is not taken for normal."""
    bench = Bench(rules, Machine())
    for now in ("better", "worse"):
        case = case_of(bench, did("close_vent", now), complaint="pressure_not_reached")
        assert case.situation.still_there
        assert all(o.kind != ACCEPT for o in case.plan.options)


@pytest.mark.parametrize("now", ["better", "worse"])
def test_what_is_left_after_a_remedy_is_never_told_to_be_nothing(small_bench, now):
    """However sound all looks that was seen since."""
    case = case_of(small_bench, did("shut_vent", now), *SOUND)
    assert case.belief.nothing_wrong > 0.5
    said = verdicts.verdict(case)
    assert "nothing is wrong" not in said.sentence
    assert not said.settled
    assert today.today_of(case).advice == "expect"


def test_what_does_not_fit_a_sound_coater_is_named_as_such(small_bench):
    note = today.today_of(case_of(small_bench, *SOUND)).note
    assert "fits a sound coater" in note
    assert "does not" not in note
    others = [said for said in SOUND if said[1].get("finding") != "seal"]
    odd = today.of_normal(case_of(small_bench, *others, saw("seal", "dusty")), "look").note
    told, _, left = odd.partition("This does not by itself: ")
    assert "Dusty" in left
    assert "Dusty" not in told


def test_a_remedy_that_failed_may_be_tried_once_more_and_never_a_third_time(rules):
    bench = Bench(rules, Machine())
    once = case_of(bench, did("wipe_and_reseat_seals", "unchanged"), complaint="slow_pump_down")
    assert "wipe_and_reseat_seals" in once.situation.tried
    assert "wipe_and_reseat_seals" not in once.situation.closed
    twice = case_of(
        bench, did("wipe_and_reseat_seals", "unchanged"), did("wipe_and_reseat_seals", "better"),
        complaint="slow_pump_down",
    )  # fmt: skip
    assert "wipe_and_reseat_seals" in twice.situation.closed
    worse = case_of(bench, did("wipe_and_reseat_seals", "worse"), complaint="slow_pump_down")
    assert "wipe_and_reseat_seals" in worse.situation.closed


@pytest.mark.parametrize("setting", ["lower_beam_energy", "scan_fast_and_average"])
def test_a_control_that_changed_nothing_is_not_set_again_but_may_be_set_further(rules, setting):
    """A beam energy is set or it is not; a wipe may have been a poor one."""
    bench = Bench(rules, Machine())
    for outcome, open_ in (("unchanged", False), ("better", True)):
        situation = case_of(bench, did(setting, outcome), complaint="images_charge").situation
        assert (setting in situation.tried) is open_
        assert (setting in situation.closed) is not open_


def test_what_uses_up_an_irreplaceable_specimen_is_named_with_what_it_does_to_it(rules):
    bench = Bench(rules, Machine())
    gentle = [("cannot", {"action": a.id}) for a in rules.actions.values() if a.specimen == "safe"]
    case = case_of(
        bench, ("specimen", {"irreplaceable": True}), saw("mounted_taut", "yes"),
        saw("damage", "cracked"), saw("handled", "no"), saw("dried_how", "hard_by_nature"), *gentle,
        complaint="specimen_damage",
    )  # fmt: skip
    step = steps.next_step(case)
    assert step.id == "mount_without_strain"
    assert "uses up" in step.do.leave
    assert "leave of its owner" in step.do.leave
    assert case.plan.next.kind != "remedy"


def test_what_marks_an_irreplaceable_specimen_is_named_as_its_owners_decision(rules):
    """When nothing gentler is left, and then with the leave that it needs."""
    bench = Bench(rules, Machine())
    gentle = [("cannot", {"action": a.id}) for a in rules.actions.values() if a.specimen == "safe"]
    case = case_of(
        bench, ("specimen", {"irreplaceable": True}), saw("top_to_stub", "open"),
        saw("adhesive_insulating", "yes"), saw("changes_with_time", "yes"), *gentle,
        complaint="images_charge",
    )  # fmt: skip
    step = steps.next_step(case)
    assert step.id == "bridge_with_tape"
    assert "leave of its owner" in step.do.leave
    assert case.refused[step.id].kind == "specimen"
    assert rules.actions[step.id].specimen == "marks"


@pytest.mark.parametrize("last", ["better", "cured"])
def test_of_two_faults_the_one_that_was_cured_first_was_there(small_bench, last):
    """It is not called very unlikely beside what is left, on no page and in no list."""
    seen = [saw("seal", "dusty"), saw("knob", "open"), did("wipe_seal", "better")]
    done = [did("shut_vent", last)] if last == "cured" else []
    case = case_of(small_bench, *seen, saw("knob", "open"), *done)
    assert case.belief.present["dust_on_seal"] < verdicts.MATTERS
    page = page_of(case, ())
    (one,) = [m for m in page.found.mended if m.cause.id == "dust_on_seal"]
    assert one.remedy.id == "wipe_seal"
    assert one.sentence.startswith("Was there, cured by “wipe")
    assert one.cause.name not in [bar.name for bar in page.found.bars]
    assert {"cause": "dust_on_seal", "remedy": "wipe_seal"} in as_object(page)["mended"]


def test_a_remedy_that_changed_nothing_has_cured_nothing(small_bench):
    case = case_of(small_bench, saw("seal", "dusty"), did("wipe_seal", "unchanged"))
    assert page_of(case, ()).found.mended == ()
