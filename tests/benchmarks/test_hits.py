"""The vectorised belief of `hits` is that of the program, and its draws are what they say."""

import numpy as np
import pytest

from tests.benchmarks import hits
from troubleshoot.case.diagnose import Bench
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.load import load
from troubleshoot.reasoning.belief import posterior


@pytest.fixture(scope="module")
def bench():
    return Bench(load(), Machine())


@pytest.mark.first_quick(1)
@pytest.mark.parametrize("quick", [True, False])
def test_all_draws_at_once_give_each_draw_its_own_posterior(bench, quick):
    planner = bench.planner("slow_pump_down")
    net, rng = planner.net, np.random.default_rng(5)
    truths = rng.integers(len(net.causes), size=3)
    answers = hits.draw(net, truths, hits.revealed(planner, quick), 0.0, rng)
    together = hits.present(net, answers)
    for at in range(3):
        alone = posterior(net, hits.evidence(net, answers, at)).present
        assert together[at] == pytest.approx([alone[c] for c in net.causes], abs=1e-9)


def test_without_an_answer_it_is_the_belief_when_the_complaint_comes_in(bench):
    net = bench.planner("no_strike").net
    alone = posterior(net, hits.evidence(net, {}, 0)).present
    assert hits.present(net, {})[0] == pytest.approx([alone[c] for c in net.causes], abs=1e-9)


@pytest.mark.parametrize("nearer", [0.0, 0.3, 1.0])
def test_answers_are_drawn_from_the_row_or_part_of_the_way_to_the_background(bench, nearer):
    net = bench.planner("slow_pump_down").net
    cause, number = net.index["seal_dirty"], 20_000
    rng = np.random.default_rng(11)
    drawn = hits.draw(net, np.full(number, cause), ["seal_look"], nearer, rng)["seal_look"]
    table = net.table("seal_look")
    wanted = table.rows[cause] + nearer * (table.background - table.rows[cause])
    share = np.bincount(drawn, minlength=len(wanted)) / number
    assert np.abs(share - wanted).max() < 4 * np.sqrt(0.25 / number)


def test_what_is_seen_in_a_minute_needs_no_tool_and_no_other_state(bench):
    planner = bench.planner("slow_pump_down")
    quick = {a.id for a in planner.actions if a.kind == "check" and hits.is_quick(planner, a)}
    assert {"read_knobs", "look_at_lid"} <= quick
    assert not quick & {"look_at_seals", "read_panel_hv", "rate_of_rise", "timed_pump_down"}
    few, many = hits.revealed(planner, True), hits.revealed(planner, False)
    assert set(few) < set(many)
