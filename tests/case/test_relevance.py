"""When a question makes no sense: on a few made-up rules, in a case, and in random cases."""

import random

import pytest

from tests.knowledge import tiny
from troubleshoot.advice.step import next_step
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.entries import UNKNOWN
from troubleshoot.case.journal import append
from troubleshoot.case.relevance import no_sense
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.load import load

AT = "2026-01-05T09:00:00"


def presupposition(name, *denied_by, **more):
    return {
        "source": "judgement",
        "name": name,
        "because": f"Not {name}.",
        "denied_by": list(denied_by),
        **more,
    }


def rules_with(tmp_path, presuppositions, **findings):
    """The tiny rules with presuppositions, a second complaint `odd` and keys added to findings."""
    data = tiny.rules()
    data["complaints"]["odd"] = dict(data["complaints"]["slow"])
    data["presuppositions"] = presuppositions
    for name, keys in findings.items():
        data["findings"][name].update(keys)
    return load([tiny.write(tmp_path, data)])


# --- the function ---------------------------------------------------------------------------------


def test_a_question_stays_in_its_world(tmp_path):
    rules = rules_with(tmp_path, {}, hiss={"world": ["slow"]}, tint={"world": ["odd"]})
    assert set(no_sense(rules, "slow", [])) == {"tint"}
    assert set(no_sense(rules, "odd", [])) == {"hiss"}


def test_a_complaint_that_no_world_names_has_every_question(tmp_path):
    """So a lab that adds a complaint need not touch the findings."""
    rules = rules_with(tmp_path, {}, hiss={"world": ["slow"]})
    assert no_sense(rules, "odd", []) == {}


def test_what_is_presumed_is_denied_by_an_answer(tmp_path):
    lit = {"lit": presupposition("lit", {"hiss": "no"})}
    rules = rules_with(tmp_path, lit, tint={"presumes": ["lit"]})
    assert no_sense(rules, "slow", [("hiss", "no")]) == {"tint": "Not lit."}
    assert no_sense(rules, "slow", [("hiss", "yes")]) == {}
    assert no_sense(rules, "slow", []) == {}


@pytest.mark.parametrize(
    ("denied_by", "unless", "complaint", "seen", "denied"),
    [
        ([{"hiss": "no", "tint": ["dark", "milky"]}], [], "slow", {"hiss": "no"}, False),
        ([{"hiss": "no", "tint": ["dark", "milky"]}], [], "slow",
         {"hiss": "no", "tint": "milky"}, True),
        ([{"hiss": "no"}, {"tint": "dark"}], [], "slow", {"tint": "dark"}, True),
        ([{"complaint": "odd", "hiss": "no"}], [], "odd", {"hiss": "no"}, True),
        ([{"complaint": "odd", "hiss": "no"}], [], "slow", {"hiss": "no"}, False),
        ([{"complaint": ["slow", "odd"]}], [], "slow", {}, True),
        ([{"complaint": "slow"}], [{"hiss": "yes"}], "slow", {"hiss": "yes"}, False),
        ([{"complaint": "slow"}], [{"hiss": "yes"}], "slow", {"hiss": "no"}, True),
    ],
)  # fmt: skip
def test_all_of_one_item_or_any_item_unless_something_affirms(
    tmp_path, denied_by, unless, complaint, seen, denied
):
    lit = {"lit": presupposition("lit", *denied_by, unless=unless)}
    rules = rules_with(tmp_path, lit, tint={"presumes": ["lit"]})
    assert bool(no_sense(rules, complaint, seen.items())) == denied


def test_what_is_needed_is_denied_along(tmp_path):
    """However far off."""
    chain = {
        "third": presupposition("third", needs=["second"]),
        "second": presupposition("second", needs=["first"]),
        "first": presupposition("first", {"hiss": "no"}),
    }
    rules = rules_with(tmp_path, chain, tint={"presumes": ["third"]})
    assert no_sense(rules, "slow", [("hiss", "no")]) == {"tint": "Not third."}


def test_what_follows_from_answers_is_not_asked(tmp_path):
    rules = rules_with(tmp_path, {}, tint={"decided_by": [["hiss"]]})
    assert no_sense(rules, "slow", [("hiss", "no")]) == {
        "tint": "It follows from what was said already: Hiss."
    }
    assert no_sense(rules, "slow", []) == {}


# --- in a case ------------------------------------------------------------------------------------


def journal(rules, complaint, *entries):
    out = append((), AT, "complaint", rules, complaint=complaint)
    for kind, data in entries:
        out = append(out, AT, kind, rules, **data)
    return out


def saw(finding, answer):
    return "finding", {"finding": finding, "answer": answer}


def not_asked(rules, complaint, *entries):
    case = Bench(rules, Machine()).assess(journal(rules, complaint, *entries))
    return case.situation.answered


def test_the_dials_of_a_shut_cylinder_are_asked_about_once_it_is_open(rules):
    """A remedy that may have changed the answer gives the questions that hung on it their sense."""
    shut = saw("cylinder_valve", "shut")
    remedy = "action", {"action": "restore_argon", "complaint_now": "better"}
    in_vain = "action", {"action": "restore_argon", "complaint_now": "unchanged"}
    assert "regulator_outlet" not in not_asked(rules, "no_strike")
    assert "regulator_outlet" in not_asked(rules, "no_strike", shut)
    assert "regulator_outlet" not in not_asked(rules, "no_strike", shut, remedy)
    assert "regulator_outlet" in not_asked(rules, "no_strike", shut, in_vain)


def test_what_nobody_knows_denies_nothing(rules):
    """Nor does an answer that was taken back by "don't know" later."""
    shut, unknown = saw("cylinder_valve", "shut"), saw("cylinder_valve", UNKNOWN)
    later = "epoch", {"why": "another day"}
    assert "regulator_outlet" not in not_asked(rules, "no_strike", unknown)
    assert "regulator_outlet" not in not_asked(rules, "no_strike", shut, later, unknown)


def test_one_look_at_the_glow_asks_no_colour_of_none(rules):
    """The check stays; what it would tell shrinks with each answer, or grows."""
    bench = Bench(rules, Machine())
    look = rules.actions["look_at_glow"].reveals
    none = bench.assess(journal(rules, "uneven_coat", saw("glow", "none")))
    faint = bench.assess(journal(rules, "no_strike", saw("glow", "faint_or_patchy")))
    assert set(look) <= none.situation.answered
    assert "ring_glow" not in faint.situation.answered


# --- in random cases ------------------------------------------------------------------------------


def denied(rules, name, complaint, told):
    """The same by plain recursion."""
    it = rules.presuppositions[name]

    def said(together):
        for key, wanted in together.items():
            value = complaint if key == "complaint" else told.get(key)
            if value != wanted and (isinstance(wanted, str) or value not in wanted):
                return False
        return True

    if any(denied(rules, other, complaint, told) for other in it.needs):
        return True
    return any(said(x) for x in it.denied_by) and not any(said(x) for x in it.unless)


@pytest.mark.first_quick(4)
@pytest.mark.parametrize("seed", range(40))
def test_no_step_asks_what_was_denied_or_what_belongs_elsewhere(seed, rules):
    """Whatever was answered; the deniers are drawn often, so that much is denied."""
    draw = random.Random(seed)
    complaint = draw.choice(sorted(rules.complaints))
    deniers = sorted(
        {
            finding
            for it in rules.presuppositions.values()
            for together in it.denied_by
            for finding in together
            if finding not in ("complaint", "circumstance")
        }
    )
    told = {}
    for name in [*draw.sample(deniers, 5), *draw.sample(sorted(rules.findings), 5)]:
        told[name] = draw.choice(list(rules.findings[name].answers))
    case = Bench(rules, Machine()).assess(journal(rules, complaint, *map(saw, told, told.values())))
    told |= {s.finding: s.answer for s in case.seen}
    for name in next_step(case).findings:
        finding = rules.findings[name]
        assert not finding.world or complaint in finding.world
        assert not any(denied(rules, p, complaint, told) for p in finding.presumes)
        assert not any(all(f in told for f in names) for names in finding.decided_by)
