"""A complaint that nothing on this coater can bring is not offered, and not gone on with."""

import pytest

from tests.talk.scripted import OPENING, Talk
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError

PLAIN = Machine(name="plain", facts={"carbon_accessory": "no", "glow_treatment": "no"})
ONLY_SOME = {"carbon_coat_bad", "grids_stay_water_shy"}
STOP = {**OPENING, "": "/stop", "Which of these hold?": ("/none",), "Since when": "/skip"}


@pytest.mark.parametrize(("machine", "missing"), [(PLAIN, ONLY_SOME), (Machine(), set())])
def test_the_list_holds_what_this_coater_can_raise(rules, machine, missing):
    t = Talk(Bench(rules, machine), {**STOP, "What is the trouble?": "no_strike"})
    t.run()
    offered = t.asker.offered[t.asker.asked.index("What is the trouble?")]
    assert set(rules.complaints) - set(offered) == missing


def test_one_who_complains_of_what_is_not_there_is_asked_again(rules):
    t = Talk(
        Bench(rules, Machine()),
        {**STOP, "What is the trouble?": ["carbon_coat_bad", "discoloured"]},
        ask_machine=lambda: PLAIN,
    )
    t.run()
    assert t.teller.heard("Carbon accessory: no")
    assert [e["complaint"] for e in t.entries("complaint")] == ["carbon_coat_bad", "discoloured"]
    assert t.conversation.bench.assess(t.journal).complaint == "discoloured"


def test_a_case_file_of_it_is_refused_in_a_sentence(rules, tmp_path):
    path = tmp_path / "case.yaml"
    path.write_text('complaint: carbon_coat_bad\nmachine: {carbon_accessory: "no"}\njournal: []\n')
    case = read_case(path, rules, "2026-01-05T09:00:00")
    with pytest.raises(UserError, match=r"'Carbon accessory: no': correct that or choose another"):
        Bench(rules, case.machine).assess(case.journal)
