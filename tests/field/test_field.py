"""Real reports: each can be read and assessed. How often the tool is right is a benchmark."""

from pathlib import Path

import pytest

from tests.benchmarks.field import FOLDER, NOW, complaint_alone, rank, reports, wilson
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.entries import UNLISTED
from troubleshoot.strict_yaml import read

FILES = sorted(FOLDER.glob("case-*.yaml"))


@pytest.mark.first_quick(6)
@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_a_report_is_assessed(path: Path, rules, bench):
    """A real report leaves a full set of probabilities that add up and a next step or a stop."""
    case = read_case(path, rules, NOW)
    mine = bench if case.machine == bench.machine else Bench(rules, case.machine)
    assessed = mine.assess(case.journal)
    assert assessed.belief is not None
    assert sum(p for _, p in assessed.belief.sets) + assessed.belief.unlisted == pytest.approx(1)
    assert assessed.plan is not None or assessed.stop is not None


def test_every_report_has_a_true_cause_that_the_rules_know(rules):
    """Reports and true causes belong together one to one, and the causes exist."""
    truths = read(FOLDER / "causes.yaml").data
    assert sorted(truths) == [p.stem for p in FILES]
    for truth in truths.values():
        assert truth["scope"] in ("near", "far")
        assert truth["causes"] == [UNLISTED] or set(truth["causes"]) <= set(rules.causes)


def test_the_outcome_is_kept_out_of_the_case_file(rules):
    """What the reporter found stands in causes.yaml alone, so a case file cannot give it away."""
    assert all(report.case.outcome is None for report in reports(rules))


def test_only_the_complaint_is_left(rules):
    """The comparison without findings knows the complaint and nothing else."""
    journal = read_case(FOLDER / "case-072.yaml", rules, NOW).journal
    assert [e.kind for e in complaint_alone(journal)] == ["complaint"]


def test_a_cause_with_the_same_remedy_counts_as_alike(rules):
    """Ranks count from one; a cause with the true one's first remedy stands for it if asked."""
    order = ["hair_on_seal", "vent_not_closed", "seal_dirty"]
    assert rank(order, ["seal_dirty"], rules, alike=False) == 3
    assert rank(order, ["seal_dirty"], rules, alike=True) == 1
    assert rank(order, ["pump_worn"], rules, alike=True) == 4


@pytest.mark.parametrize(
    ("hits", "number", "low", "high"),
    [(0, 10, 0.0, 0.2775), (5, 10, 0.2366, 0.7634), (81, 263, 0.2553, 0.3662)],
)
def test_interval_of_a_share(hits, number, low, high):
    """Wilson's score interval: 81/263 is the example of Newcombe, Stat. Med. 17 (1998) 857."""
    assert wilson(hits, number) == pytest.approx((low, high), abs=1e-4)
