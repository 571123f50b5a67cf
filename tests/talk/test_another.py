"""Whether it is another trouble after all: asked once, and only where there is a reason."""

import pytest

from tests.talk.scripted import OPENING, STILL, Talk
from tests.talk.test_conversation import only
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append
from troubleshoot.coater.machine import Machine

AT = "2026-01-05T09:00:00"
IN_VAIN = [
    ("action", {"action": a, "complaint_now": "unchanged"}) for a in ("wipe_seal", "shut_vent")
]


def begun(bench, *done):
    journal = append((), AT, "complaint", bench.rules, complaint="slow")
    for kind, said in done:
        journal = append(journal, AT, kind, bench.rules, **said)
    return journal


def asked(t):
    return [q for q in t.asker.asked if STILL in q]


def led(bench, journal, **answers):
    """The talk up to the first question that is not named in `answers`."""
    t = Talk(bench, {"": "/stop", "gauge read": "stop", **answers}, journal=journal)
    t.run()
    return t


def test_before_service_the_trouble_is_asked_for_once_more(small_bench):
    journal = only(small_bench, "mend_pump", seal="clean")
    t = led(small_bench, append(journal, AT, "cannot", small_bench.rules, action="mend_pump"),
            **{STILL: "slow", "handed to service?": "yes"})  # fmt: skip
    assert asked(t) == ["Is it still this: it pumps slowly?"]
    assert not t.teller.heard("could not be answered here")
    assert t.entries("closed") == [{"outcome": "service"}]


def test_another_trouble_is_led_on_with_all_that_was_seen(small_bench):
    t = led(small_bench, begun(small_bench, *IN_VAIN), **{STILL: ["noisy"]})
    case = small_bench.assess(t.journal)
    assert case.complaint == "noisy"
    assert [d.action for d in case.known.treatments if d] == ["wipe_seal", "shut_vent"]
    assert t.teller.heard("What was done changed nothing.") == 1


@pytest.mark.parametrize(("last", "told"), [("unchanged", 1), ("better", 0)])
def test_two_remedies_in_vain_are_a_reason(small_bench, last, told):
    done = [IN_VAIN[0], ("action", {"action": "shut_vent", "complaint_now": last})]
    t = led(small_bench, begun(small_bench, *done))
    assert t.teller.heard("What was done changed nothing.") == told


@pytest.mark.parametrize(("open_", "reason"), [(5, True), (4, False)])
def test_questions_that_nobody_can_answer_are_a_reason(small_bench, open_, reason):
    names = ["look_round", "read_gauge", "look_at_seal", "press_specimen", "wait_an_hour"]
    done = [("finding", {"finding": "knob", "answer": "shut"})]
    done += [("cannot", {"action": a}) for a in names[:open_]]
    t = led(small_bench, begun(small_bench, *done))
    assert bool(t.teller.heard("could not be answered here")) == reason


def test_it_is_asked_once_in_a_case(small_bench):
    done = [*IN_VAIN, ("complaint", {"complaint": "slow"})]
    t = led(small_bench, begun(small_bench, *done))
    assert not asked(t)


def test_an_answer_that_shows_another_trouble_is_a_reason_at_once(rules):
    """No discharge strikes at such a pressure: it is the vacuum, which stands first in the list."""
    bench = Bench(rules, Machine())
    journal = append((), AT, "complaint", rules, complaint="no_strike")
    journal = append(journal, AT, "finding", rules, finding="permit_lamp", answer="unlit")
    journal = append(journal, AT, "finding", rules, finding="base_loaded", answer="very_high")
    t = led(bench, journal, **{STILL: "pressure_not_reached"})
    at = next(n for n, q in enumerate(t.asker.asked) if STILL in q)
    assert t.teller.heard("fits another trouble better: working pressure not reached.") == 1
    assert t.asker.offered[at][:2] == ["no_strike", "pressure_not_reached"]
    case = bench.assess(t.journal)
    assert case.complaint == "pressure_not_reached"
    assert case.contradictions == ()  # the lamp was asked for while it was the other trouble


@pytest.mark.parametrize(("accessory", "asked_for"), [("yes", True), (None, True), ("no", False)])
def test_what_the_coat_is_of_is_asked_at_once_where_it_may_be_carbon(accessory, asked_for, rules):
    """Carbon told as a discoloured coat: the list comes up before any question of metal coats."""
    facts = {"carbon_accessory": accessory} if accessory else {}
    held = ("carbon_coat",) if asked_for else ("/none",)
    t = Talk(Bench(rules, Machine(facts=facts)),
             {**OPENING, "What is the trouble?": "discoloured", "Which of these hold?": held,
              STILL: "carbon_coat_bad", "": "/stop"})  # fmt: skip
    t.run()
    at = next(n for n, q in enumerate(t.asker.asked) if "Which of these hold?" in q)
    assert ("carbon_coat" in t.asker.offered[at]) == asked_for
    assert (STILL in t.asker.asked[at + 1]) == asked_for


def test_troubles_that_what_is_suspected_would_raise_too_stand_first(rules):
    bench = Bench(rules, Machine())
    journal = append((), AT, "complaint", rules, complaint="slow_pump_down")
    for action in ("wipe_and_reseat_seals", "close_vent"):
        journal = append(
            journal, AT, "action", rules, action=action, complaint_now="unchanged"
        )  # fmt: skip
    t = led(bench, journal, **{STILL: "slow_pump_down"})
    at = next(n for n, q in enumerate(t.asker.asked) if STILL in q)
    offered = t.asker.offered[at]
    assert offered[0] == "slow_pump_down"
    assert "pressure_not_reached" in offered[1:4]
    assert offered.index("pressure_not_reached") < offered.index("picture_unsharp")
