"""The simulated coater at work: its glow against published values, its answers, its remedies."""

import math
from dataclasses import replace

import numpy as np
import pytest

from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.training.answers import ANSWERS
from troubleshoot.training.faults.looks import LOOKS, SOUND
from troubleshoot.training.glow import Head, current, strikes
from troubleshoot.training.observed import Observed
from troubleshoot.training.practice import FAULTS, start

MACHINE = Machine(
    "ours",
    facts={"isolation_valve": "yes", "gauge_side": "chamber"},
    numbers={"volume": 5e-3, "pump_speed": 1.1e-3},
)


def test_argon_strikes_where_paschens_law_says():
    """Argon's published minimum lies near 0.9 Torr cm at 137 V; far left nothing strikes."""
    easy = 0.9 * 1.333 / 0.05
    assert strikes(Head(voltage=200.0), (0.0, 0.0, easy))
    assert not strikes(Head(voltage=100.0), (0.0, 0.0, easy))
    assert not strikes(Head(), (0.0, 0.0, 0.5))


def test_the_current_goes_with_the_square_of_the_pressure():
    """Similarity of the glow: i/p^2 is the same at the same voltage (Raizer 1991)."""
    at = [current(Head(most=1.0), (0.0, 0.0, p), 0.0) for p in (8.0, 12.0)]
    assert at[1] / at[0] == pytest.approx(2.25)
    assert current(Head(most=0.01), (0.0, 0.0, 20.0), 0.0) == 0.01


def test_a_dirty_target_cleans_itself():
    head = Head(dirt=-0.5, cleans=60.0)
    first, later, last = (current(head, (0.0, 0.0, 8.0), t) for t in (0.0, 60.0, 600.0))
    assert first == pytest.approx(0.5 * last, rel=0.01)
    assert later == pytest.approx((1 - 0.5 / math.e) * last, rel=0.01)


def test_every_fault_is_a_cause_and_every_answer_one_of_its_finding(rules):
    assert set(FAULTS) <= set(rules.causes)
    assert set(ANSWERS) <= set(rules.findings)
    for cause in ("seal_dirty", "argon_supply_off", "gauge_contaminated"):
        at = start(MACHINE, [cause], 4, rules).at
        for name, made in ANSWERS.items():
            assert made(at) in (None, *rules.findings[name].answers), name


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_sound_coater_has_no_complaint(rules, seed):
    assert start(MACHINE, [], seed, rules).complaint is None


def test_checks_say_what_physics_makes_and_leave_the_rest(rules):
    practice = start(MACHINE, ["seal_dirty"], 3, rules)
    assert practice.complaint == "pressure_not_reached"
    seen = practice.look("rate_of_rise")
    assert seen.answers["rise_against_base"] == "gas_comes_in"
    assert seen.answers["rise_shape"] == "straight"
    assert "when_it_happens" in practice.look("ask_pattern").unsaid
    assert practice.minutes > 0
    assert practice.log().startswith("time (s),pressure (mbar)\n")


def test_a_remedy_mends_what_it_is_for(rules):
    practice = start(MACHINE, ["vent_not_closed", "pump_oil_dirty"], 3, rules)
    assert practice.do("clean_insulator").now == "unchanged"
    practice.do("close_vent")
    assert practice.causes == ["pump_oil_dirty"]
    assert practice.complaint == "pressure_not_reached"


def test_two_causes_act_together(rules):
    one, both = (
        start(MACHINE, causes, 5, rules).at.base
        for causes in (["seal_dirty"], ["seal_dirty", "chamber_damp"])
    )
    assert both > one


def test_what_it_cannot_show_is_refused(rules):
    with pytest.raises(UserError, match="cannot show 'beam_damage'"):
        start(MACHINE, ["beam_damage"], 1, rules)


def test_a_seed_repeats_a_coater(rules):
    first, again, other = (start(MACHINE, ["seal_dirty"], s, rules).log() for s in (1, 1, 2))
    assert first == again != other


def test_a_coat_off_the_middle_is_one_sided(rules):
    """The view factor of a disc (`physics.uniformity`) from 30 mm beside its axis."""
    sound = start(MACHINE, [], 1, rules).sound
    aside = replace(sound, recipe=replace(sound.recipe, offset=0.03))
    left, middle, right = Observed(aside, sound, 1).spread
    assert left > middle > right
    assert np.isclose(Observed(sound, sound, 1).spread[0], Observed(sound, sound, 1).spread[2])


def test_what_a_lamp_shows_is_an_answer_of_its_finding(rules):
    for cause, seen in LOOKS.items():
        assert cause in FAULTS
        for finding, answer in seen.items():
            assert {answer, SOUND[finding]} <= set(rules.findings[finding].answers)


def test_what_an_operator_says_of_a_remedy(rules):
    """Of two chokes the second holds on; behind a leak a dead lead is another trouble."""
    both = start(MACHINE, ["isolation_valve_partly", "hose_collapsed"], 2, rules)
    said = [both.do(r).now for r in ("work_isolation_valve", "reseat_hose")]
    assert said[-1] == "cured"
    assert said[0] in ("better", "unchanged")
    other = start(MACHINE, ["port_leak", "hv_contact_fault"], 2, rules)
    assert other.do("reseal_port").now == "cured"
    assert other.complaint == "no_strike"


def test_an_open_ballast_is_no_fault_of_the_pump_when_it_is_shut(rules):
    at = start(MACHINE, ["gas_ballast_open"], 2, rules).at
    assert at.base > at.usual_base
    assert ANSWERS["blank_off"](at) == "usual"


def test_an_operator_goes_no_further_than_the_meter_bears(rules):
    """A film over the insulator takes part of the current that is meant: the coat is thin."""
    at = start(MACHINE, ["insulator_metallised"], 2, rules).at
    assert np.median(at.amps) <= 1.4 * at.usual_amps
    assert at.coat < 0.7
    assert ANSWERS["current_at_reference"](at) == "high"


def test_a_flush_takes_what_stood_in_a_soft_line(rules):
    """No more air than its own pressure in the room comes into a tube at 1.3 bar or more."""
    practice = start(MACHINE, ["gas_line_breathes"], 2, rules)
    line = practice.at.plant.coater.line
    assert 0 < line.fouled < 1 / 1.3
    assert practice.at.flushed.stale < line.stale
    hurried = start(MACHINE, ["gas_line_breathes", "few_flushes"], 2, rules).at
    assert hurried.flushed.stale == pytest.approx(line.stale)
    assert hurried.air_share[0] > 0.1


def test_a_tall_thing_gets_more_on_its_top(rules):
    """On the axis of a disc R^2/(R^2 + h^2) (Howell, radiation configuration factors, B-12)."""
    sound = start(MACHINE, [], 1, rules).at
    r, h = sound.sound.head.radius, sound.sound.head.gap
    wanted = (r**2 + h**2) / (r**2 + (h - 0.015) ** 2)
    assert sound.share(0.0, 0.015) / sound.share(0.0) == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("cause", "complaint", "seen"),
    [
        ("stage_tilted_or_tall", "uneven_coat", {"film_spread": "one_side"}),
        ("shutter_closed", "too_thin", {"slip_density": "none", "glow": "full"}),
        ("target_wrong", "too_thin", {"target_matches": "no", "slip_density": "lighter"}),
        ("gauge_wrong_gas", "too_thin", {"pressure_set": "as_recipe", "dose": "low"}),
        ("adhesive_gap", "images_charge", {"slip_density": "as_reference", "top_to_stub": "open"}),
    ],
)
def test_what_is_set_wrong_shows_in_the_coat(rules, cause, complaint, seen):
    practice = start(MACHINE, [cause], 3, rules)
    assert practice.complaint == complaint
    assert {f: ANSWERS[f](practice.at) for f in seen} == seen
