"""Sessions dealt from a tree cost on average what sessions drawn one by one cost."""

import math
import random

import numpy as np
import pytest

from tests.benchmarks.dealt import mean_cost
from tests.benchmarks.sessions import simulate
from tests.benchmarks.side_by_side import Known, Lost, Sessions
from troubleshoot.case.diagnose import Bench
from troubleshoot.coater.machine import Machine
from troubleshoot.reasoning.learned import NOTHING_WRONG
from troubleshoot.reasoning.planner import ACCEPT, Option

COMPLAINT = "vent_trouble"
ENDS = {"vent_blocked": 0.4, "vent_bung_left": 0.3, NOTHING_WRONG: 0.3}
REMEDIES = ("take_bung_off", "clear_vent_valve")


def checklist(bench, case):
    """A look at the inlet, then both remedies: which of them first is settled by the answer."""
    tried = [done.action for done in case.known.treatments]
    if not case.known.checked:
        kind, action = "check", "look_at_vent_inlet"
    elif len(tried) == 2 or case.known.last_outcome == "cured":
        return Option(ACCEPT, None, 0.0, 10.0)
    else:
        order = sorted(REMEDIES, reverse=case.seen[0].answer != "clear")
        kind, action = "remedy", next(r for r in order if r not in tried)
    cost = case.planner.cost(bench.rules.actions[action], case.known.state, "student")
    return Option(kind, action, 0.0, cost)


def test_who_knows_the_rates_of_the_lab_loses_nothing(rules):
    bench = Bench(rules, Machine())
    played = Sessions(bench)
    knows = Lost(played, Known(bench))
    assert mean_cost(played.start(COMPLAINT, ENDS), knows.meet, 3, "a") == 0.0


@pytest.mark.slow
def test_they_cost_as_much_as_sessions_drawn_one_by_one(rules):
    """The drawn ones say it within their own error, whatever is guessed on the way."""
    bench, rng = Bench(rules, Machine()), random.Random(4)
    drawn = [
        simulate(bench, COMPLAINT, None if end == NOTHING_WRONG else end, checklist, rng).minutes
        for end in rng.choices(list(ENDS), list(ENDS.values()), k=80)
    ]
    error = np.std(drawn, ddof=1) / math.sqrt(len(drawn))
    dealt = Sessions(bench, checklist)
    root = dealt.start(COMPLAINT, ENDS)
    for guess in (dealt.guess, lambda node: 0.0):
        mean = mean_cost(root, dealt.meet, 20_000, "a", guess)
        assert abs(mean - np.mean(drawn)) < 3.0 * error
        assert mean_cost(root, dealt.meet, 20_000, "b", guess) == pytest.approx(mean, abs=0.5)
