"""A case with a danger sign: made safe, repaired by the right person, recorded, closed."""

import pytest

from tests.talk.scripted import OPENING, Recorder, Talk
from troubleshoot.advice import step as steps
from troubleshoot.advice import verdict as verdicts
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.entries import Complaint, Sign
from troubleshoot.case.journal import enter
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.talk.conversation import Conversation
from troubleshoot.talk.player import Player

AT = "2026-01-05T09:00:00"
CHIP = {
    **OPENING,
    "danger sign": ["chip_or_crack", "none"],
    "What is the trouble?": "pressure_not_reached",
    "person in charge told?": "done",
}


@pytest.fixture(scope="module")
def bench(rules):
    return Bench(rules, Machine())


def talk(bench, more):
    return Talk(bench, {**CHIP, **more})


def test_made_safe_alone_leads_nowhere_but_to_the_person_in_charge(bench):
    t = talk(bench, {"What now?": "/stop"})
    assert t.run() == "stopped"
    assert t.asker.asked[-1] == "What now?"
    assert "finding" not in t.kinds()
    assert t.teller.heard("The danger comes first", "title") == 1


def test_the_person_in_charge_repairs_proves_records_and_closes(bench, rules):
    t = talk(
        bench,
        {"What now?": ["in_charge", "repaired:in_charge"], "Tell me when it is done.": "done",
         "where does it come to now?": "cured", "What was it?": "glass_chipped",
         "How do you know?": "fault seen"},
    )  # fmt: skip
    assert t.run() == "closed"
    assert t.entries("action") == [{"action": "replace_glass", "complaint_now": "cured"}]
    assert t.entries("repaired") == [{"caution": "damaged_glass", "role": "in_charge"}]
    assert t.teller.told[-1] == ("line", f"Remember: {rules.causes['glass_chipped'].lesson}")


def test_what_could_not_be_told_yet_is_asked_once_service_has_repaired_it(bench):
    t = talk(
        bench,
        {"danger sign": ["crackle_outside", "none"], "What is the trouble?": "too_thin",
         "Tell me when it is done.": "done", "how thick is it now?": ["unknown", "cured"],
         "What now?": "repaired:service", "What was it?": "hv_contact_fault",
         "How do you know?": "said by service"},
    )  # fmt: skip
    assert t.run() == "closed"
    assert not t.asker.left
    done = bench.assess(t.journal).known.treatments
    assert [(d.action, d.complaint_now) for d in done] == [("call_hv_service", "cured")]


def test_a_call_for_service_is_not_a_repair(bench):
    """ "Done" is said of what they did, and having called them has an answer of its own."""
    t = talk(
        bench,
        {"danger sign": ["crackle_outside", "none"], "What is the trouble?": "too_thin",
         "Tell me when it is done.": "/later", "": "/stop"},
    )  # fmt: skip
    offered = []
    t.asker.choose = lambda q, c, about=None, ask=t.asker.choose: (
        offered.extend(x.label for x in c if "Tell me" in q), ask(q, c, about))[1]  # fmt: skip
    t.run()
    assert offered[:2] == [
        "They have been, and it is done", "They are called: something else until then",
    ]  # fmt: skip
    assert not any("still too thin" in q for q in t.asker.asked)


def test_a_repair_that_nobody_entered_is_entered_with_what_became_of_the_complaint(bench):
    t = talk(
        bench,
        {"What now?": "repaired:service", "where does it come to now?": "cured",
         "What was it?": "glass_chipped", "How do you know?": "said by service"},
    )  # fmt: skip
    assert t.run() == "closed"
    assert t.entries("action") == [{"action": "replace_glass", "complaint_now": "cured"}]


def test_meanwhile_only_what_does_not_touch_it_is_asked(bench, rules):
    """Going on offers nothing that pumps, and the case stays about the danger."""
    t = talk(bench, {"What now?": "go_on", "How long": "stop", "?": "/stop", ":": "/stop",
                     ".": "/stop"})  # fmt: skip
    t.run()
    case = bench.assess(t.journal)
    assert case.dangers == ("damaged_glass",)
    assert verdicts.verdict(case).hypothesis == verdicts.DANGER
    step = steps.next_step(case)
    assert case.may(step.id)
    assert "under_vacuum" not in getattr(rules.actions.get(step.id), "effects", ())


def test_a_sign_seen_in_the_middle_stops_at_once(bench):
    answers = {**CHIP, "danger sign": ["none", "tingle_or_shock", "none"], "What now?": "/stop"}
    t = Talk(bench, {**answers, "rise in one minute": "danger", "it is done": "/stop"})
    t.run()
    assert t.entries("sign") == [{"sign": "tingle_or_shock", "present": True}]
    assert t.entries("made_safe") == [{"caution": "burn_or_shock"}]


def test_a_slip_can_be_taken_back_before_it_counts(bench):
    t = talk(
        bench,
        {"danger sign": ["gas_alarm", "/slip", "none"], "?": "/stop", "rise in one minute": "stop"},
    )
    t.run()
    assert t.entries("sign") == []


def test_several_signs_hold_at_once(bench):
    t = talk(
        bench,
        {"danger sign": ["chip_or_crack", "bridged_interlock", "none"], "What now?": "/stop"},
    )
    t.run()
    assert {e["caution"] for e in t.entries("made_safe")} == {"damaged_glass", "interlock_bridged"}


def write(tmp_path, text):
    path = tmp_path / "case.yaml"
    path.write_text(text, encoding="utf-8")
    return path


CASE = "complaint: slow_pump_down\nsigns: [chip_or_crack]\njournal:\n  - made_safe: damaged_glass\n"


def test_a_case_file_records_the_repair_with_the_role(tmp_path, bench, rules):
    for head, item in (
        ("", "  - repaired: damaged_glass\n    role: in_charge\n"),
        ("role: service\n", "  - repaired: damaged_glass\n"),
    ):
        case = read_case(write(tmp_path, head + CASE + item), rules, AT)
        assert bench.deduce(case.journal).dangers == ()


@pytest.mark.parametrize(
    ("item", "says"),
    [
        ("  - repaired: damaged_glass\n", "only the person in charge or qualified service"),
        ("  - repaired: damaged_glass\n    role: experienced\n", "only the person in charge"),
        ("  - repaired: damaged_glas\n    role: in_charge\n", "did you mean 'damaged_glass'"),
        ("  - repaired: solvents\n    role: in_charge\n", "unknown danger 'solvents'"),
    ],
)
def test_a_repair_that_cannot_stand_is_one_sentence(tmp_path, rules, item, says):
    with pytest.raises(UserError, match="line 5") as caught:
        read_case(write(tmp_path, CASE + item), rules, AT)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("sign", ["smell_or_smoke", "tingle_or_shock", "liquid_inside"])
def test_a_look_that_told_nothing_is_not_asked_for_for_ever(rules, sign):
    """Service cannot come and nobody knows what was measured: the person in charge decides."""
    bench = Bench(rules, Machine())
    journal = ()
    for said in (Sign(sign=sign, present=True), Complaint(complaint="no_strike")):
        journal = enter(journal, AT, said, rules)
    answered = []

    def save(entry):
        answered.append(entry)
        assert len(answered) < 60, [e.kind for e in answered[-6:]]

    player = Player(rules, journal, [], lambda question, answer: None)
    talk = Conversation(bench, player, Recorder(), (), save, lambda: AT)
    assert talk.run() == "stopped"
