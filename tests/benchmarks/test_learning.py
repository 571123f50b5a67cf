"""Closed cases of a lab with other frequencies make its next diagnoses better."""

import random

import numpy as np
import pytest

from tests.benchmarks.learning import (
    Lab,
    LearntBench,
    all_of,
    book_of,
    expected_score,
    log_scores,
)
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
    gains = [gain(rules, Lab(rules, 1.0, seed), cases, seed) for seed in range(6)]
    assert np.mean(gains) > mean
    assert min(gains) > worst


def test_in_a_lab_that_is_as_the_rules_say_they_cost_little(rules):
    """The price of counting: 0.1 is a probability that is ten per cent too low."""
    gains = [gain(rules, Lab(rules, 0.0, seed), 200, seed) for seed in range(3)]
    assert -0.1 < np.mean(gains) < 0.0


@pytest.mark.slow
def test_they_score_better_after_answers_too(rules):
    lab = Lab(rules, 1.0, 3)
    new = lab.draw(150, random.Random("new"))
    learnt = LearntBench(rules, book_of(lab.draw(200, random.Random("closed")), rules))
    shipped = LearntBench(rules, Tally())
    assert np.mean(log_scores(learnt, new, 1)) > np.mean(log_scores(shipped, new, 1))


def test_a_lab_that_closed_a_million_cases_knows_its_rates(rules):
    lab = Lab(rules, 1.0, 2)
    known = all_of(lab, rules)
    for complaint in ("too_thin", "pressure_not_reached"):
        now = ends_learned(rules, Machine(), complaint, known)
        listed = 1.0 - now[UNLISTED]
        for end, p in lab.ends[complaint].items():
            assert now[end] == pytest.approx(listed * p, rel=0.01, abs=1e-4)
