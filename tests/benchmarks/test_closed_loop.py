"""From a broken coater to its cure: two troubles one after the other, and what is alike."""

import pytest

from tests.benchmarks.closed_loop import MACHINE, groups, own, play
from troubleshoot.case.diagnose import Bench
from troubleshoot.training.practice import start


def test_what_shows_after_a_cure_is_played_as_a_trouble_of_its_own(rules):
    machine = own(start(MACHINE, [], 2, rules))
    practice = start(MACHINE, ["hv_control_zero", "stage_off_centre"], 2, rules)
    assert practice.complaint == "no_strike"
    played = play(practice, Bench(rules, machine))
    assert played.cured
    assert 2 <= played.remedies <= 4


@pytest.mark.parametrize(("lamp", "alike"), [(True, False), (False, True)])
def test_a_lamp_tells_a_hair_from_dust_and_physics_does_not(rules, lamp, alike):
    found = groups(["hair_on_seal", "seal_dirty", "port_leak"], rules, lamp=lamp)
    assert ("hair_on_seal" in found["seal_dirty"]) is alike
    assert found["port_leak"] == {"port_leak"}
