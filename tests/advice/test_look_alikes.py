"""What is taken for what, against the definition written out in plain Python."""

import math

import pytest

from troubleshoot.advice.look_alikes import LookAlikes


def overlap(rules, one, other, names):
    """The product of the Bhattacharyya coefficients of two causes, and each one's distance."""
    out, apart = 1.0, {}
    for name in names:
        background = rules.findings[name].background
        p = rules.rows.get((one, name), background)
        q = rules.rows.get((other, name), background)
        out *= sum(math.sqrt(p[a] * q[a]) for a in background)
        apart[name] = sum(abs(p[a] - q[a]) for a in background) / 2
    return out, apart


@pytest.mark.parametrize("cause", ["seal_dirty", "pump_oil_wet", "adhesive_gap", "virtual_leak"])
def test_the_nearest_overlap_most_and_are_told_apart_by_what_differs_most(rules, cause):
    mine = rules.causes[cause]
    names = [
        f
        for f in rules.findings
        if rules.revealed_by[f] and any(rules.is_in_world(f, c) for c in mine.complaints)
    ]
    others = {
        c.id: overlap(rules, cause, c.id, names)
        for c in rules.causes.values()
        if c.id != cause
        and c.id not in mine.alike
        and cause not in c.alike
        and mine.complaints.keys() & c.complaints.keys()
    }
    found = LookAlikes(rules).nearest(cause)
    assert len(found) == 3
    best = sorted((o for o, _ in others.values()), reverse=True)[:3]
    for one, expected in zip(found, best, strict=True):
        same, apart = others[one.other]
        assert same == pytest.approx(expected)
        assert apart[one.finding] == pytest.approx(max(apart.values()))
        here = rules.rows.get((cause, one.finding), rules.findings[one.finding].background)
        there = rules.rows.get((one.other, one.finding), rules.findings[one.finding].background)
        assert here[one.here] > there[one.here]
        assert there[one.there] > here[one.there]


def test_a_cause_that_shares_no_complaint_is_not_taken_for_it(small_rules):
    for cause in small_rules.causes.values():
        for one in LookAlikes(small_rules).nearest(cause.id):
            assert small_rules.causes[one.other].complaints.keys() & cause.complaints.keys()
