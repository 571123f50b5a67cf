"""The questions about a coater: short, skippable, with defaults that are called so."""

import pytest

from tests.talk.scripted import Recorder, Script
from troubleshoot.coater.fields import FIELDS
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.talk.machine_questions import (
    BACK,
    EQUIPMENT,
    HAS,
    QUESTIONS,
    SKIP,
    ask_machine,
    ask_profile,
)
from troubleshoot.talk.machine_questions import MORE as OFFER

SKIPPED = {"": "", "valve between": SKIP, "unit": SKIP, "sets the": SKIP, "permits": SKIP,
           "vented": SKIP, "Which of these": [[]], "did not mark": SKIP,
           "Tell more": SKIP}  # fmt: skip
MORE = SKIPPED | {"Tell more": "yes", "kind of gauge": SKIP, "scale right": SKIP, "which gas": SKIP,
                  "Which metal": SKIP, "head like": SKIP, "made of": SKIP,
                  "kind of pump": SKIP}  # fmt: skip


def asked(answers, kept=()):
    script, teller = Script(answers), Recorder()
    machine = ask_profile(script, teller, {m.name: m for m in kept})
    assert not script.left
    return machine, script, teller


def test_an_example_of_a_pressure_is_in_the_unit_of_the_gauge():
    script = Script(SKIPPED | {"Tell it once?": "yes", "which unit": "Pa"})
    ask_machine(script, Recorder(), {})
    assert any("usual base pressure" in q and "such as 3 Pa;" in q for q in script.asked)


def test_every_key_of_a_profile_is_asked_for_in_the_order_of_the_rows():
    """The name is asked before everything, equipment in one list."""
    keys = [k for q in QUESTIONS for k in (HAS if q is EQUIPMENT else [q.key]) if q is not OFFER]
    assert ["name", *keys] == [key for key, row in FIELDS.items() if row.part != "untold"]


def test_what_is_skipped_stays_unknown():
    machine, script, _ = asked(SKIPPED)
    assert machine == Machine()
    assert len(script.asked) < 15


def test_the_offer_can_be_declined():
    script = Script({"Tell it once?": SKIP})
    assert ask_machine(script, Recorder(), {}) == Machine()


def test_what_follows_is_told_before_the_case_goes_on():
    answers = MORE | {"Tell it once?": "yes", "which gas": "argon", "argon cylinder": "50 L",
                      "room's volume": "50 m3"}  # fmt: skip
    teller = Recorder()
    ask_machine(Script(answers), teller, {})
    assert teller.heard("below the usual alarm level") == 1


def test_the_second_part_can_be_left_out_whole():
    _, short, _ = asked(SKIPPED)
    machine, long, _ = asked(MORE)
    assert not any("volume" in q for q in short.asked)
    assert any("chamber's volume" in q for q in long.asked)
    assert machine.numbers == machine.facts == {}


def test_a_default_is_kept_apart_and_marked():
    """An empty line takes the default that was offered; it is no number of this coater."""
    machine, script, _ = asked(MORE)
    assert machine.defaults["volume"] == "3 L"
    assert machine.defaults["gauge_kind"] == "heat_loss"
    assert machine.number("volume") is machine.number("sweep_rate") is None
    assert any(
        "chamber's volume? (such as 5 L; empty: 3 L, as a default)" in q for q in script.asked
    )
    assert machine_from(machine.as_dict(), "again") == machine


def test_a_told_number_is_no_default():
    machine, _, _ = asked(MORE | {"chamber's volume": "4"})
    assert machine.shown["volume"] == "4 L"
    assert "volume" not in machine.defaults
    assert "pump_speed" in machine.defaults


def test_a_bare_pressure_is_in_the_gauges_unit():
    machine, _, _ = asked(
        SKIPPED | {"unit": "Torr", "usual base": "0.05", "usual discharge current": "12"}
    )
    assert machine.shown == {"usual_base": "0.05 Torr", "usual_current": "12 mA"}
    _, _, teller = asked(SKIPPED | {"usual base": ["0.05", "5 Pa"]})
    assert teller.heard("has no unit") == 1


@pytest.mark.parametrize("garbage", ["six", "-3 min", "0", "3 mbar", "nan", "5 5"])
def test_garbage_costs_one_sentence(garbage):
    machine, _, teller = asked(SKIPPED | {"usual time": [garbage, "6 min"]})
    assert machine.shown == {"usual_time": "6 min"}
    assert len([text for kind, text in teller.told if kind == "line"]) == 1


def test_where_a_number_is_found():
    _, script, teller = asked(MORE | {"pump's speed": ["?", "4 m3/h"]})
    assert teller.heard("On the pump's plate") == 1
    assert sum("pump's speed" in q for q in script.asked) == 2


def test_an_odd_number_is_asked_about_at_once():
    machine, _, _ = asked(
        SKIPPED | {"usual discharge current": ["12 A", "12 mA"], "12000 mA is unusual": "no"}
    )
    assert machine.shown == {"usual_current": "12 mA"}
    machine, _, _ = asked(
        SKIPPED | {"usual discharge current": "12 A", "12000 mA is unusual": "yes"}
    )
    assert machine.shown == {"usual_current": "12 A"}


def test_numbers_that_do_not_fit_can_be_changed_before_they_are_kept():
    answers = MORE | {"chamber's volume": "3 L", "pump's speed": ["19 L/s", "1 L/s"],
                      "Change a number?": ["pump_speed"]}  # fmt: skip
    machine, _, teller = asked(answers)
    assert teller.heard("very large for 3 L") == 1
    assert machine.shown["pump_speed"] == "1 L/s"


def test_back_asks_the_question_before_again():
    answers = SKIPPED | {"valve between": ["yes", "no"], "which side": BACK}
    machine, script, _ = asked(answers)
    assert machine.facts == {"isolation_valve": "no"}
    assert sum("which side" in q for q in script.asked) == 1


def test_back_from_a_number_and_over_the_ticks():
    answers = SKIPPED | {"Which of these": [["shutter"], ["rotation"]],
                         "did not mark": ["no", "no"], "usual time": ["back", "6 min"]}  # fmt: skip
    machine, _, _ = asked(answers)
    assert machine.shown == {"usual_time": "6 min"}
    assert machine.facts == {k: "yes" if k == "rotation" else "no" for k in HAS}
    _, script, _ = asked(SKIPPED | {"Which of these": [[], []], "did not mark": [BACK, SKIP]})
    assert sum("vented" in q for q in script.asked) == 2


def test_back_at_the_first_question_stays_there():
    _, script, teller = asked(SKIPPED | {"valve between": [BACK, SKIP]})
    assert teller.heard("first question") == 1
    assert sum("valve between" in q for q in script.asked) == 2


def test_what_was_undone_is_forgotten():
    answers = MORE | {"chamber's volume": "4 L", "pump's speed": ["back", ""]}
    answers["chamber's volume"] = ["4 L", ""]
    machine, _, _ = asked(answers)
    assert machine.numbers == {}
    assert machine.defaults["volume"] == "3 L"


def test_only_what_makes_sense_is_asked():
    _, script, _ = asked(MORE | {"valve between": "no", "Which of these": [list(HAS)],
                                 "head of the thickness monitor": "no"})  # fmt: skip
    assert not any("which side" in q or "rise" in q or "when full" in q for q in script.asked)
    assert any("voltage of the discharge" in q for q in script.asked)
    _, script, _ = asked(MORE | {"valve between": "yes", "which side": "chamber",
                                 "argon cylinder": "10 L", "which gas": "argon"})  # fmt: skip
    assert any("rise in one minute" in q for q in script.asked)
    assert any("room's volume" in q for q in script.asked)


OLD = machine_from({"name": "ours", "volume": "5 L"}, "here")


def test_a_kept_coater_is_not_overwritten_silently():
    machine, script, teller = asked({"called": "ours", "What now?": "leave"}, [OLD])
    assert machine is OLD
    assert teller.heard("volume: 5 L") == 1
    assert len(script.asked) == 2


def test_a_kept_coater_can_be_told_anew_or_another_name_given():
    machine, _, _ = asked(SKIPPED | {"called": "ours", "What now?": "anew"}, [OLD])
    assert machine == Machine(name="ours")
    answers = SKIPPED | {"called": ["ours", "theirs"], "What now?": ["other"]}
    assert asked(answers, [OLD])[0].name == "theirs"
    nameless = machine_from({"volume": "5 L"}, "here")
    assert asked({"": "", "What now?": "leave"}, [nameless])[0] is nameless
