"""Where a case stands follows from its journal, the rules and the machine, and nothing else."""

import ast
from pathlib import Path

import pytest

import troubleshoot
from tests.case.records import from_records
from troubleshoot.advice import step as steps
from troubleshoot.advice import verdict as verdicts
from troubleshoot.advice.page import page_of
from troubleshoot.advice.phrases import lower_first
from troubleshoot.advice.said import answer_of
from troubleshoot.case.diagnose import Bench, in_doubt
from troubleshoot.case.journal import Entry, append, as_records
from troubleshoot.case.known import active, replay, told
from troubleshoot.coater.machine import Machine
from troubleshoot.show.json import as_object

AT = "2026-01-05T09:00:00"


def journal(rules, *entries):
    out = ()
    for kind, data in entries:
        out = append(out, AT, kind, rules, **data)
    return out


def saw(finding, answer, **more):
    return "finding", {"finding": finding, "answer": answer, **more}


def read(finding, quantity, **more):
    return "finding", {"finding": finding, "quantity": quantity, **more}


def did(action, now=None):
    return "action", {"action": action} | ({"complaint_now": now} if now else {})


SLOW = ("complaint", {"complaint": "slow"})
PRESSURE = ("complaint", {"complaint": "pressure_not_reached"})


def numbers(case):
    """What is believed of a case, as plain numbers."""
    belief = case.belief
    sets = [(tuple(names), p) for names, p in belief.sets]
    return belief.present, belief.nothing_wrong, belief.unlisted, belief.log_evidence, sets


def known(rules, *entries):
    return replay(journal(rules, *entries), rules, Machine())


# --- a pure function ---------------------------------------------------------------------------


def test_the_same_journal_gives_the_same_result(small_rules):
    j = journal(small_rules, SLOW, read("base", "0.4 mbar"), did("wipe_seal", "better"))
    benches = [Bench(small_rules, Machine()) for _ in range(2)]
    results = [as_object(page_of(b.assess(j), ())) for b in (*benches, benches[0])]
    assert results[0] == results[1] == results[2]


def test_when_it_happened_changes_nothing(small_rules, small_bench):
    j = journal(small_rules, SLOW, read("base", "0.4 mbar"), did("wipe_seal", "unchanged"))
    later = tuple(Entry(e.number, f"2031-07-0{n + 1}T23:00:00", e.kind, e.data)
                  for n, e in enumerate(j))  # fmt: skip
    first, second = (as_object(page_of(small_bench.assess(x), ())) for x in (j, later))
    assert first == second


def test_one_case_leaves_no_trace_in_the_next(small_rules):
    used, fresh = Bench(small_rules, Machine()), Bench(small_rules, Machine())
    used.assess(journal(small_rules, SLOW, saw("seal", "torn"), saw("lamp", "no")))
    j = journal(small_rules, SLOW, saw("knob", "shut"))
    assert as_object(page_of(used.assess(j), ())) == as_object(page_of(fresh.assess(j), ()))


def test_only_the_command_line_reads_the_clock():
    clocks = {"now", "today", "utcnow", "time", "time_ns", "monotonic", "perf_counter"}
    package = Path(troubleshoot.__file__).parent
    readers = set()
    for path in package.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            call = node.func if isinstance(node, ast.Call) else None
            if (
                isinstance(call, ast.Attribute)
                and call.attr in clocks
                and isinstance(call.value, ast.Name)
                and call.value.id in {"datetime", "date", "time"}
            ):
                readers.add(path.relative_to(package).as_posix())
    assert readers == {"cli/setup.py", "cli/progress.py"}


# --- what was said -----------------------------------------------------------------------------


def test_a_retracted_answer_counts_for_nothing(small_rules, small_bench):
    with_it = journal(small_rules, SLOW, saw("seal", "dusty"), ("retract", {"entry": 1}))
    without = journal(small_rules, SLOW)
    assert numbers(small_bench.assess(with_it)) == numbers(small_bench.assess(without))


def test_in_one_epoch_the_new_answer_takes_the_place_of_the_first(small_rules, small_bench):
    twice = journal(small_rules, SLOW, saw("seal", "dusty"), saw("seal", "clean", replaces=1))
    once = journal(small_rules, SLOW, saw("seal", "clean"))
    first, second = small_bench.assess(twice), small_bench.assess(once)
    assert [s.answer for s in first.seen] == ["clean"]
    assert numbers(first) == numbers(second)


def test_in_a_later_epoch_both_stand(small_rules, small_bench):
    j = journal(
        small_rules, SLOW, saw("seal", "dusty"), did("wipe_seal", "unchanged"), saw("seal", "clean")
    )
    assert [(s.epoch, s.answer) for s in small_bench.assess(j).seen] == [(0, "dusty"), (1, "clean")]


def test_dont_know_says_nothing_and_is_not_asked_again(small_rules, small_bench):
    j = journal(small_rules, SLOW, saw("seal", "unknown"))
    case = small_bench.assess(j)
    assert case.seen == ()
    assert numbers(case) == numbers(small_bench.assess(journal(small_rules, SLOW)))
    assert "seal" in case.situation.answered


def test_an_answer_after_dont_know_counts(small_rules, small_bench):
    j = journal(small_rules, SLOW, saw("seal", "unknown"), saw("seal", "dusty", replaces=1))
    case = small_bench.assess(j)
    assert [s.answer for s in case.seen] == ["dusty"]
    assert case.known.unknown == []


def test_dont_know_after_an_answer_takes_it_back(small_rules, small_bench):
    j = journal(small_rules, SLOW, saw("seal", "dusty"), saw("seal", "unknown", replaces=1))
    assert small_bench.assess(j).seen == ()


def test_fairly_sure_leaves_the_rest_to_the_neighbours(small_rules):
    p = small_rules.settings.fairly_sure
    assert told(small_rules, "seal", "clean", "certain") == (1.0, 0.0, 0.0)
    assert told(small_rules, "seal", "clean", "fairly") == pytest.approx((p, 1 - p, 0.0))
    half = (1 - p) / 2
    assert told(small_rules, "seal", "dusty", "fairly") == pytest.approx((half, p, half))
    assert told(small_rules, "knob", "shut", "fairly") == pytest.approx((p, half, half))
    assert told(small_rules, "lamp", "yes", "fairly") == pytest.approx((p, 1 - p))


def test_fairly_sure_moves_less_than_certain(small_rules, small_bench):
    def dust(*entries):
        j = journal(small_rules, SLOW, *entries)
        return small_bench.assess(j).belief.present["dust_on_seal"]

    assert dust() < dust(saw("seal", "dusty", sure="fairly")) < dust(saw("seal", "dusty"))


def test_two_answers_share_what_fairly_sure_leaves_to_them(small_rules):
    p = small_rules.settings.fairly_sure
    assert told(small_rules, "knob", ["shut", "open"], "fairly") == pytest.approx(
        (p / 2, p / 2, 1 - p)
    )
    assert told(small_rules, "knob", ["open", "shut"], "certain") == (0.5, 0.5, 0.0)
    (seen,) = known(small_rules, saw("seal", ["torn", "dusty"])).seen
    assert (seen.answer, seen.others, seen.sure) == ("torn", ("dusty",), "fairly")
    assert seen.likelihood == pytest.approx((1 - p, p / 2, p / 2))


def test_a_wavering_answer_lies_between_both(small_rules, small_bench):
    def dust(answer):
        j = journal(small_rules, SLOW, saw("seal", answer, sure="fairly"))
        return small_bench.assess(j).belief.present["dust_on_seal"]

    assert dust("clean") < dust(["clean", "dusty"]) < dust("dusty")
    assert dust(["clean", "dusty"]) == pytest.approx(dust(["dusty", "clean"]))


@pytest.mark.parametrize("answer", [["silent", "hums_not_turning"], ["hums_not_turning", "silent"]])
def test_what_somebody_may_have_seen_warns(rules, bench, answer):
    """Silent or humming: a pump that hums burns out, so that its caution stands at once."""
    case = bench.assess(journal(rules, PRESSURE, saw("pump_sound", answer)))
    assert "pump_stalled" in case.cautions
    (seen,) = [s for s in case.seen if s.finding == "pump_sound"]
    first, second = (rules.findings["pump_sound"].answers[a] for a in answer)
    assert answer_of(case, seen) == f"{first} or {lower_first(second)}"


def test_nothing_but_a_caution_follows_from_a_wavering_answer(rules, bench):
    """A quiet pump has no knock to listen for; one that may knock or be quiet does."""
    for answer, refused in (("quiet", True), (["quiet", "knocks"], False), ("knocks", False)):
        case = bench.assess(journal(rules, PRESSURE, saw("pump_sound", answer)))
        assert ("ballast_knock_test" in case.refused) == refused


@pytest.mark.parametrize("base", ["below 0.1 Torr", "0.02 to 2 mbar"])
def test_no_contrast_is_worked_out_from_a_reading_that_leaves_answers_open(rules, bench, base):
    """Usual when empty; whether it is higher when loaded is not known."""
    j = journal(rules, PRESSURE, read("base_loaded", base), read("base_empty", "0.02 mbar"))
    case = bench.assess(j)
    assert [s.finding for s in case.seen] == ["base_loaded", "base_empty"]
    assert case.seen[0].others
    assert "load_contrast" not in case.situation.answered


def test_a_range_and_a_bound_are_kept_as_they_were_typed(small_rules, small_bench):
    for text in ("60 to 70 mTorr", "below 0.1 Torr", "~0.3 mbar", "-0.002 mbar"):
        j = journal(small_rules, SLOW, read("base", text))
        seen, again = (small_bench.assess(x).seen[0] for x in (j, from_records(as_records(j))))
        assert (seen.quantity, seen.origin) == (text, "measured")
        assert seen == again


def test_a_range_across_an_edge_lies_between_both_answers(small_rules, small_bench):
    def open_vent(text):
        j = journal(small_rules, SLOW, read("base", text))
        return small_bench.assess(j).belief.present["vent_open"]

    assert open_vent("0.2 mbar") < open_vent("0.3 to 4 mbar") < open_vent("4 mbar")


def test_a_number_is_banded_and_called_measured(small_rules, small_bench):
    (seen,) = small_bench.assess(journal(small_rules, SLOW, read("base", "0.3 Torr"))).seen
    assert (seen.answer, seen.origin, seen.quantity) == ("raised", "measured", "0.3 Torr")
    assert max(seen.likelihood) == seen.likelihood[1]


def test_the_machines_own_normal_moves_the_bands(rules):
    slow_pump = Machine(numbers={"usual_base": 30.0}, shown={"usual_base": "0.3 mbar"})
    j = journal(rules, PRESSURE, read("base_loaded", "0.3 mbar"))
    answers = [replay(j, rules, m).seen[0].answer for m in (Machine(), slow_pump)]
    assert answers == ["high", "usual"]


# --- circumstances -----------------------------------------------------------------------------


def test_a_circumstance_raises_its_cause(small_rules, small_bench):
    dusty = ("circumstance", {"circumstance": "dusty_room", "answer": "yes"})
    plain, raised = (
        small_bench.assess(journal(small_rules, SLOW, *extra)).belief.present["dust_on_seal"]
        for extra in ((), (dusty,))
    )
    assert raised > plain + 0.05


def test_a_circumstance_of_which_one_is_fairly_sure_weighs_less(small_rules, small_bench):
    """A factor f counts as p f + (1 - p), and nothing of it is left where p is nothing."""
    dusty = {"circumstance": "dusty_room", "answer": "yes"}
    odds = [
        small_bench.assess(
            journal(small_rules, SLOW, *(("circumstance", dusty | more) for more in said))
        ).evidence.odds
        for said in ([{}], [{"sure": "fairly"}], [{"sure": "fairly"}, {}])
    ]
    p = small_rules.settings.fairly_sure
    assert odds[0]
    assert odds[1] == pytest.approx({c: p * f + 1 - p for c, f in odds[0].items()})
    assert odds[2] == odds[0]
    assert in_doubt({"x": 20, "y": 0.02}, 0.0) == {"x": 1, "y": 1}
    assert in_doubt({"x": 20, "y": 0.02}, 1.0) == {"x": 20, "y": 0.02}


@pytest.mark.parametrize("answer", ["no", "unknown"])
def test_only_a_yes_makes_a_circumstance_hold(small_rules, small_bench, answer):
    said = ("circumstance", {"circumstance": "dusty_room", "answer": answer})
    case = small_bench.assess(journal(small_rules, SLOW, said))
    assert active(case.known) == []
    assert numbers(case) == numbers(small_bench.assess(journal(small_rules, SLOW)))


def test_the_finding_that_says_the_same_silences_it(small_rules, small_bench):
    dusty = ("circumstance", {"circumstance": "dusty_room", "answer": "yes"})
    seal = saw("seal", "dusty")
    both, alone = (
        small_bench.assess(journal(small_rules, SLOW, *extra)).belief
        for extra in ((dusty, seal), (seal,))
    )
    assert both.present == pytest.approx(alone.present)


def test_dont_know_does_not_silence_it(small_rules, small_bench):
    dusty = ("circumstance", {"circumstance": "dusty_room", "answer": "yes"})
    both, alone = (
        small_bench.assess(journal(small_rules, SLOW, *extra)).belief.present["dust_on_seal"]
        for extra in ((dusty, saw("seal", "unknown")), (saw("seal", "unknown"),))
    )
    assert both > alone + 0.05


def test_every_shipped_circumstance_is_silenced_by_what_says_the_same(rules, bench):
    for name, entry in rules.circumstances.items():
        for finding in entry.said_by:
            complaint = (entry.complaints or list(rules.complaints))[0]
            fact = ("circumstance", {"circumstance": name, "answer": "yes"})
            answer = next(iter(rules.findings[finding].answers))
            head = ("complaint", {"complaint": complaint})
            both, alone = (
                bench.assess(journal(rules, head, *extra)).evidence
                for extra in ((fact, saw(finding, answer)), (saw(finding, answer),))
            )
            assert both == alone, (name, finding)


# --- what follows ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("loaded", "empty", "contrast"),
    [
        ("0.3 mbar", "0.02 mbar", "usual_empty"),
        ("0.3 mbar", "0.3 mbar", "same_empty"),
        ("2 mbar", "0.2 mbar", "lower_empty"),
        ("0.02 mbar", "0.02 mbar", None),
    ],
)
def test_the_contrast_follows_from_two_readings(rules, bench, loaded, empty, contrast):
    j = journal(rules, PRESSURE, read("base_loaded", loaded), read("base_empty", empty))
    derived = [(s.finding, s.answer) for s in bench.assess(j).seen if s.origin == "derived"]
    assert derived == ([] if contrast is None else [("load_contrast", contrast)])


def test_readings_of_two_epochs_make_no_contrast(rules, bench):
    j = journal(
        rules, PRESSURE, read("base_loaded", "0.3 mbar"),
        ("epoch", {"why": "next day"}), read("base_empty", "0.02 mbar"),
    )  # fmt: skip
    assert [s for s in bench.assess(j).seen if s.origin == "derived"] == []


def test_what_was_said_outright_is_not_derived(rules, bench):
    j = journal(
        rules, PRESSURE, saw("load_contrast", "same_empty"), read("base_loaded", "0.3 mbar"),
        read("base_empty", "0.02 mbar"),
    )  # fmt: skip
    seen = [(s.answer, s.origin) for s in bench.assess(j).seen if s.finding == "load_contrast"]
    assert seen == [("same_empty", "told")]


def test_what_follows_from_a_fairly_sure_answer_is_fairly_sure(rules, bench):
    j = journal(
        rules, PRESSURE, saw("base_loaded", "high", sure="fairly"), saw("base_empty", "usual")
    )
    (derived,) = [s for s in bench.assess(j).seen if s.origin == "derived"]
    assert derived.sure == "fairly"


def test_an_answered_contrast_stands_in_for_the_reading_it_was_computed_from(rules, bench):
    """`load_contrast` replaces `base_empty`: the one below says the same with and without it."""
    loaded, empty = saw("base_loaded", "high"), saw("base_empty", "usual")
    contrast = saw("load_contrast", "usual_empty")
    both, alone = (
        bench.assess(journal(rules, PRESSURE, *x)).belief.present
        for x in ((loaded, empty), (loaded, contrast))
    )
    assert both == pytest.approx(alone)


def offered(case):
    return {o.action for o in case.plan.options}


def test_without_an_isolation_valve_nobody_is_sent_to_shut_it(rules):
    j = journal(rules, PRESSURE, read("base_loaded", "0.3 mbar"), read("base_empty", "0.3 mbar"))
    plain = Bench(rules, Machine()).assess(j)
    without = Bench(rules, Machine(facts={"isolation_valve": "no"})).assess(j)
    assert "rate_of_rise" in offered(plain)
    assert "rate_of_rise" not in offered(without)
    assert "suck oil" in without.refused["rate_of_rise"].because


def test_a_valve_that_does_not_shut_takes_the_rise_out_of_reach(rules, bench):
    j = journal(rules, PRESSURE, read("base_loaded", "0.3 mbar"), saw("valve_shuts", "no"))
    case = bench.assess(j)
    assert {"rate_of_rise", "rise_with_line_shut"} <= set(case.refused)
    assert not {"rate_of_rise", "rise_with_line_shut"} & offered(case)


def test_a_veto_holds_for_its_epoch_only(rules, bench):
    j = journal(rules, PRESSURE, saw("valve_shuts", "no"), ("epoch", {"why": "valve mended"}))
    assert "rate_of_rise" not in bench.assess(j).refused


def test_a_reading_from_before_the_lid_was_opened_is_no_contradiction(rules, bench):
    """The chamber stands open now; the base was read while it was pumped."""
    for state in ("vented", "unplugged", "pumped"):
        j = journal(rules, ("state", {"state": state}), PRESSURE, read("base_loaded", "0.05 mbar"))
        assert bench.assess(j).contradictions == ()


SILENT = (saw("pump_sound", "silent"), read("base_loaded", "0.02 mbar"))


def test_what_does_not_fit_together_is_told_once(rules, bench):
    found = bench.assess(journal(rules, PRESSURE, *SILENT)).contradictions
    assert len(found) == 1
    assert "pump does not turn" in found[0]


def test_a_retracted_half_ends_the_contradiction(rules, bench):
    j = journal(rules, PRESSURE, *SILENT)
    assert bench.assess(append(j, AT, "retract", rules, entry=1)).contradictions == ()


def test_a_rise_too_small_asks_whether_the_valve_shuts(rules):
    bench = Bench(rules, Machine(facts={"isolation_valve": "yes", "gauge_side": "chamber"}))
    j = journal(
        rules, PRESSURE, read("base_loaded", "0.3 mbar"), read("rise_rate", "0.01 mbar/min")
    )
    case = bench.assess(j)
    assert case.follow_up == ("valve_shuts",)
    step = steps.next_step(case)
    assert "valve_shuts" in rules.actions[step.id].reveals
    answered = bench.assess(append(j, AT, "finding", rules, finding="valve_shuts", answer="yes"))
    assert "valve_shuts" not in steps.next_step(answered).findings


# --- stop now ----------------------------------------------------------------------------------


def test_a_danger_sign_stops_until_it_is_made_safe(small_rules, small_bench):
    j = journal(small_rules, ("sign", {"sign": "smell", "present": True}), SLOW)
    case = small_bench.assess(j)
    assert case.stop == "smoke"
    assert steps.next_step(case).kind == "stop"
    safe = small_bench.assess(append(j, AT, "made_safe", small_rules, caution="smoke"))
    assert safe.stop is None
    assert "smoke" in safe.cautions
    assert steps.next_step(safe).kind != "stop"


def test_a_sign_that_is_absent_stops_nothing(small_rules, small_bench):
    j = journal(small_rules, ("sign", {"sign": "smell", "present": False}), SLOW)
    assert small_bench.assess(j).stop is None


def test_a_stop_needs_no_complaint(small_rules, small_bench):
    case = small_bench.assess(journal(small_rules, ("sign", {"sign": "smell", "present": True})))
    assert case.stop == "smoke"
    assert steps.next_step(case).id == "smoke"


def test_an_answer_can_stop_too(rules, bench):
    case = bench.assess(journal(rules, PRESSURE, saw("glass_rim", "chip_on_seal_face")))
    assert case.stop == "damaged_glass"
    assert "timed_pump_down" in case.refused


def test_after_a_danger_sign_no_high_voltage_even_when_made_safe(rules, bench):
    """Whoever smelt smoke is not sent back to demand high voltage."""
    for name, sign in rules.signs.items():
        j = journal(
            rules, ("sign", {"sign": name, "present": True}),
            ("complaint", {"complaint": "no_strike"}), ("made_safe", {"caution": sign.caution}),
        )  # fmt: skip
        case = bench.assess(j)
        if sign.caution in ("burn_or_shock", "interlock_bridged", "liquid_in_cabinet"):
            assert "look_at_glow" not in offered(case), name


def test_a_danger_sign_is_evidence_for_what_makes_it(rules, bench):
    """A crackle at a cable speaks for a contact of the high voltage; the odds are moved by 8."""
    told = ("complaint", {"complaint": "no_strike"})
    before = bench.assess(journal(rules, told)).belief
    after = bench.assess(
        journal(rules, told, ("sign", {"sign": "crackle_outside", "present": True}))
    )
    cause = "hv_contact_fault"
    assert rules.signs["crackle_outside"].odds == {cause: 8}

    def odds(p):
        return p / (1 - p)

    moved = odds(after.belief.present_at_start[cause]) / odds(before.present_at_start[cause])
    assert moved == pytest.approx(8)


def test_a_chamber_of_metal_needs_no_caution_for_glass(rules):
    def cautions(chamber):
        bench = Bench(rules, Machine(facts={"chamber": chamber}))
        step = steps.step_for(bench.assess(journal(rules, PRESSURE)), "timed_pump_down", "")
        return step.hazards

    assert "glass_under_vacuum" in cautions("glass")
    assert "glass_under_vacuum" not in cautions("metal")


# --- parked, later, cannot ---------------------------------------------------------------------


def test_parked_holds_until_the_next_entry(small_rules):
    parked = ("parked", {"action": "wait_an_hour", "until": "2026-01-05T10:00"})
    assert known(small_rules, SLOW, parked).parked.until == "2026-01-05T10:00"
    note = ("note", {"text": "still at it"})
    assert known(small_rules, SLOW, parked, note).parked is not None
    assert known(small_rules, SLOW, parked, saw("overnight", "same")).parked is None


@pytest.mark.parametrize(
    ("entry", "back_later"),
    [
        (did("look_at_seal"), True),
        (("cannot", {"action": "look_at_seal"}), False),
        (("later", {"action": "look_at_seal"}), True),
    ],
)
def test_what_is_done_refused_or_put_off_is_not_offered(
    small_rules, small_bench, entry, back_later
):
    j = journal(small_rules, SLOW, entry)
    assert "look_at_seal" not in offered(small_bench.assess(j))
    after = append(j, AT, "epoch", small_rules, why="next day")
    assert ("look_at_seal" in offered(small_bench.assess(after))) is back_later


def test_a_remedy_leaves_the_machine_in_its_state(small_rules):
    assert known(small_rules, SLOW).state == "pumped"
    assert known(small_rules, SLOW, did("look_at_seal")).state == "vented"
    assert known(small_rules, SLOW, did("look_at_seal"), did("wipe_seal", "cured")).state == (
        "pumped"
    )


def test_a_cured_complaint_ends_the_case_until_something_new_is_seen(small_rules, small_bench):
    j = journal(small_rules, SLOW, saw("knob", "open"), did("shut_vent", "cured"))
    case = small_bench.assess(j)
    assert verdicts.is_cured(case)
    assert case.belief.present_at_start["vent_open"] > 0.9
    assert case.belief.present["vent_open"] < 0.05
    again = small_bench.assess(
        append(j, AT, "finding", small_rules, finding="seal", answer="dusty")
    )
    assert not verdicts.is_cured(again)


@pytest.mark.parametrize("outcome", ["better", "unchanged", "worse"])
def test_a_remedy_that_did_not_cure_lowers_its_cause(small_rules, small_bench, outcome):
    j = journal(small_rules, SLOW, saw("seal", "dusty"))
    before = small_bench.assess(j).belief.present["dust_on_seal"]
    after = append(j, AT, "action", small_rules, action="wipe_seal", complaint_now=outcome)
    assert small_bench.assess(after).belief.present["dust_on_seal"] < before
