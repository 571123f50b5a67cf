"""Closed cases of a lab with other frequencies make its next diagnoses better."""

import random

import numpy as np
import pytest

from tests.benchmarks.dealt import likely_cost
from tests.benchmarks.learning import (
    Lab,
    LearntBench,
    all_of,
    book_of,
    expected_score,
    log_scores,
)
from tests.benchmarks.side_by_side import Known, Lost, Sessions
from troubleshoot.coater.machine import Machine
from troubleshoot.reasoning.learned import UNLISTED, Tally, ends_by_rules, ends_learned


def gain(rules, lab, cases, seed):
    """Mean log score by the learnt rates less that by the shipped ones, before any answer."""
    book = book_of(lab.draw(cases, random.Random(f"closed {seed}")), rules)
    out = 0.0
    for complaint, often in lab.often.items():
        now = ends_learned(rules, Machine(), complaint, book)
        shipped = ends_by_rules(rules, Machine(), complaint)
        world = lab.ends[complaint]
        out += often * (expected_score(world, now) - expected_score(world, shipped))
    return out


@pytest.mark.parametrize(("cases", "mean", "worst"), [(30, 0.0, -0.01), (200, 0.05, 0.0)])
def test_the_learnt_rates_score_better(rules, cases, mean, worst):
    """After 200 cases in every lab; after 30 in the mean, and in none much worse."""
    gains = [gain(rules, Lab.moved(rules, 1.0, seed), cases, seed) for seed in range(6)]
    assert np.mean(gains) > mean
    assert min(gains) > worst


def test_in_a_lab_that_is_as_the_rules_say_they_cost_little(rules):
    """The price of counting: 0.1 is a probability that is ten per cent too low."""
    gains = [gain(rules, Lab.moved(rules, 0.0, seed), 200, seed) for seed in range(3)]
    assert -0.1 < np.mean(gains) < 0.0


@pytest.mark.slow
def test_they_score_better_after_answers_too(rules):
    lab = Lab.moved(rules, 1.0, 3)
    new = lab.draw(150, random.Random("new"))
    learnt = LearntBench(rules, book_of(lab.draw(200, random.Random("closed")), rules))
    shipped = LearntBench(rules, Tally())
    assert np.mean(log_scores(learnt, new, 1)) > np.mean(log_scores(shipped, new, 1))


@pytest.mark.slow
def test_less_is_lost_by_not_knowing_the_rates_of_a_lab_in_which_two_causes_make_half(rules):
    """After 40 cases of a complaint, summed exactly over what comes up once in 20 cases or more.

    In all of these labs together: in one that is much as the rules say a book may lose a little.
    """
    lost = {0: 0.0, 40: 0.0}
    for seed in range(1, 5):
        lab = Lab.of_two(rules, seed)
        known = Known(LearntBench(rules, all_of(lab, rules)))
        for complaint in ("vent_trouble", "monitor_odd"):
            ends = lab.ends[complaint]
            closed = Lab({complaint: ends}, {complaint: 1.0}).draw(40, random.Random("closed"))
            for cases in lost:
                played = Sessions(LearntBench(rules, book_of(closed[:cases], rules)))
                root = played.start(complaint, ends)
                lost[cases] += likely_cost(root, Lost(played, known).meet, 0.05)[0]
    assert lost[40] < lost[0]


def test_a_lab_that_closed_a_million_cases_knows_its_rates(rules):
    lab = Lab.moved(rules, 1.0, 2)
    known = all_of(lab, rules)
    for complaint in ("too_thin", "pressure_not_reached"):
        now = ends_learned(rules, Machine(), complaint, known)
        listed = 1.0 - now[UNLISTED]
        for end, p in lab.ends[complaint].items():
            assert now[end] == pytest.approx(listed * p, rel=0.01, abs=1e-4)
