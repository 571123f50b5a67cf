"""The lab's closed cases on top of the rule base's rates: by hand, and what must always hold."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from troubleshoot.coater.machine import Machine
from troubleshoot.reasoning.belief import Evidence, Network, posterior
from troubleshoot.reasoning.learned import (
    NOTHING_WRONG,
    UNLISTED,
    Tally,
    cure_learned,
    ends_by_rules,
    ends_learned,
    with_cases,
)

ANY = Machine()


def belief(rules, complaint="slow"):
    return posterior(Network(rules, ANY, complaint), Evidence(complaint))


def test_without_cases_nothing_is_changed(small_rules):
    assert ends_learned(small_rules, ANY, "slow", Tally()) == pytest.approx(
        ends_by_rules(small_rules, ANY, "slow")
    )
    plain, moved = belief(small_rules), belief(with_cases(small_rules, ANY, "slow", Tally()))
    assert moved.shares == pytest.approx(plain.shares)


def test_the_ends_by_the_rules_are_those_of_the_network(small_rules):
    """But for the rare cases of two causes at once."""
    said, ends = belief(small_rules), ends_by_rules(small_rules, ANY, "slow")
    assert sum(ends.values()) == pytest.approx(1.0)
    assert said.nothing_wrong == pytest.approx(ends[NOTHING_WRONG], abs=0.01)
    assert said.unlisted == pytest.approx(ends[UNLISTED], abs=0.01)
    for cause, p in said.shares.items():
        assert p == pytest.approx(ends.get(cause, 0.0), abs=0.02)


def test_cases_of_this_coater_and_of_others_by_hand(small_rules):
    """Dirichlet twice: the lab, then the coater, each with its weight in cases."""
    p = ends_by_rules(small_rules, ANY, "slow")["vent_open"]
    here, lab = {"vent_open": 4.0}, {"vent_open": 6.0, UNLISTED: 4.0}
    tally = Tally(here={"slow": here}, lab={"slow": lab})
    weights = small_rules.settings.learn_lab, small_rules.settings.learn_coater
    assert weights == (100, 100)
    # First whether anything was wrong (ten faults, each counted half there), then what it was.
    nothing = ends_by_rules(small_rules, ANY, "slow")[NOTHING_WRONG]
    after_lab = 100 * nothing / (100 + 0.5 * 10)
    p = (100 * p + 6) * (1 - after_lab) / (100 * (1 - nothing) + 10)
    after_here = 100 * after_lab / (100 + 0.5 * 4)
    expected = (100 * p + 4) * (1 - after_here) / (100 * (1 - after_lab) + 4)
    assert ends_learned(small_rules, ANY, "slow", tally)["vent_open"] == pytest.approx(expected)


def test_that_nothing_was_wrong_is_learnt_without_being_thought_rare(small_rules):
    """A lab in which it is as often as the rules say: counted half, as the faults are then."""
    ends = ends_by_rules(small_rules, ANY, "slow")
    seen = {end: 200 * p for end, p in ends.items()}
    seen[NOTHING_WRONG] *= small_rules.settings.learn_unproved
    now = ends_learned(small_rules, ANY, "slow", Tally(here={"slow": seen}))
    assert now == pytest.approx(ends)


def test_cases_of_another_complaint_move_the_causes_that_both_have(small_rules):
    both = [c.id for c in small_rules.causes.values() if len(c.complaints) > 1]
    other = next(q for q in small_rules.complaints if q != "slow")
    cause = next(c for c in both if other in small_rules.causes[c].complaints)
    before = ends_by_rules(small_rules, ANY, "slow")
    after = ends_learned(small_rules, ANY, "slow", Tally(lab={other: {cause: 30.0}}))
    assert after[cause] > before[cause]
    assert after[NOTHING_WRONG] == pytest.approx(before[NOTHING_WRONG])
    assert after[UNLISTED] == pytest.approx(before[UNLISTED])


def test_a_remedy_by_hand(small_rules):
    tally = Tally(cures={"wipe_seal": {"dust_on_seal": (6.0, 3.0)}})
    p = small_rules.actions["wipe_seal"].cures["dust_on_seal"]
    expected = (10 * p + 3) / 16
    assert cure_learned(small_rules, "wipe_seal", "dust_on_seal", tally) == pytest.approx(expected)
    moved = with_cases(small_rules, ANY, "slow", tally)
    assert moved.actions["wipe_seal"].cures["dust_on_seal"] == pytest.approx(expected)


def test_the_learnt_rates_are_what_the_belief_starts_from(small_rules):
    tally = Tally(here={"slow": {"vent_open": 60.0, NOTHING_WRONG: 20.0}}, cases=80)
    ends = ends_learned(small_rules, ANY, "slow", tally)
    said = belief(with_cases(small_rules, ANY, "slow", tally))
    assert said.nothing_wrong == pytest.approx(ends[NOTHING_WRONG], abs=0.01)
    assert said.shares["vent_open"] == pytest.approx(ends["vent_open"], abs=0.02)


def test_many_cases_overrule_the_rules(small_rules):
    tally = Tally(here={"slow": {"vent_open": 7000.0, "dust_on_seal": 3000.0}})
    ends = ends_learned(small_rules, ANY, "slow", tally)
    assert ends["vent_open"] == pytest.approx(0.7, abs=0.02)
    assert ends["dust_on_seal"] == pytest.approx(0.3, abs=0.02)


COUNTS = st.dictionaries(
    st.sampled_from(["slow", "noisy", "no such complaint"]),
    st.dictionaries(
        st.sampled_from(["vent_open", "dust_on_seal", "no such cause", NOTHING_WRONG, UNLISTED]),
        st.floats(0, 1e5),
        max_size=4,
    ),
    max_size=3,
)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(here=COUNTS, lab=COUNTS)
def test_whatever_was_counted_the_ends_are_probabilities_and_the_rules_stand(
    small_rules, here, lab
):
    tally = Tally(here, lab)
    ends = ends_learned(small_rules, ANY, "slow", tally)
    assert sum(ends.values()) == pytest.approx(1.0)
    assert all(0.0 < p < 1.0 for p in ends.values())
    moved = with_cases(small_rules, ANY, "slow", tally)
    assert all(0.0 < c.share < 100.0 for c in moved.causes.values())
    shares = belief(moved).shares
    assert sum(shares.values()) + belief(moved).nothing_wrong + belief(moved).unlisted == (
        pytest.approx(1.0)
    )


def test_the_hash_changes_with_any_count_and_is_of_both(small_rules):
    one, two = Tally(here={"slow": {"vent_open": 1.0}}), Tally(here={"slow": {"vent_open": 2.0}})
    assert one.hash != two.hash
    assert one.hash == Tally(here={"slow": {"vent_open": 1.0}}).hash
    assert with_cases(small_rules, ANY, "slow", one).hash == f"{small_rules.hash}+{one.hash}"


def test_a_complaint_that_nothing_here_can_raise_is_no_stumbling_block(small_rules):
    """Nor are cases of it, of a coater that has what this one lacks."""
    causes = {
        name: cause.model_copy({"complaints": {"noisy": 0.5} if name == "tired_pump" else {}})
        for name, cause in small_rules.causes.items()
    }
    bare = small_rules.model_copy({"causes": causes})
    tally = Tally(here={"slow": {"vent_open": 3.0}, "noisy": {"tired_pump": 2.0}})
    for complaint in ("slow", "noisy"):
        assert sum(ends_learned(bare, ANY, complaint, tally).values()) == pytest.approx(1.0)
        with_cases(bare, ANY, complaint, tally)


@pytest.mark.parametrize("complaint", ["too_thin", "discoloured", "pressure_not_reached"])
def test_the_rates_are_those_that_a_diagnosis_starts_from(rules, complaint):
    """Of a coater of which little is known too: each cause as far from the other as there.

    That several causes may be there at once moves all of them by much the same factor.
    """
    ends, said = ends_by_rules(rules, ANY, complaint), belief(rules, complaint)
    shares = said.shares
    assert said.nothing_wrong == pytest.approx(ends[NOTHING_WRONG], abs=0.01)
    assert said.unlisted == pytest.approx(ends[UNLISTED], abs=0.001)
    factors = [shares[c] / p for c, p in ends.items() if c in shares and p > 0.002]
    assert len(factors) > 20
    assert max(factors) < 1.5 * min(factors)
