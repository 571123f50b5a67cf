"""What is kept for a facility in long use is bounded: counted in things, not in megabytes."""

import gc
import weakref

from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append
from troubleshoot.coater.machine import Machine
from troubleshoot.reasoning.learned import Tally


def test_of_the_planners_with_the_labs_cases_only_the_last_is_kept(small_rules):
    bench = Bench(small_rules, Machine())
    plain = bench.planner("slow")
    made = [weakref.ref(bench.planner("slow", Tally(cases=n))) for n in range(1, 6)]
    gc.collect()
    assert [planner() is None for planner in made] == [True, True, True, True, False]
    assert bench.planner("slow") is plain


def test_nothing_of_a_case_is_kept_once_it_is_done(small_rules):
    """A case that is assessed again and again leaves no object behind."""
    bench, counts = Bench(small_rules, Machine()), []
    at = "2026-03-02T09:00:00"
    for _ in range(6):
        journal = append((), at, "complaint", small_rules, complaint="slow")
        journal = append(journal, at, "finding", small_rules, finding="seal", answer="dusty")
        assert bench.assess(journal).plan.next
        del journal
        gc.collect()
        counts.append(len(gc.get_objects()))
    assert counts[-1] - counts[1] <= 2
