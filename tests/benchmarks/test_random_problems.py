"""The look-ahead pays on random problems that are solved exactly (a few of them)."""

import pytest

from tests.benchmarks.random_problems import ratios


@pytest.mark.slow
@pytest.mark.parametrize("clusters", [False, True])
def test_each_further_look_costs_less_on_average_and_none_beats_the_optimum(clusters):
    r = ratios(30, 7, clusters)
    assert all((values >= 1 - 1e-12).all() for values in r.values())
    two, one, blind = (
        r[name].mean() for name in ("two steps", "one step", "one move, then repairs")
    )
    assert two <= one <= blind < r["repairs only"].mean()
    assert two <= 1.002
    assert one <= 1.01
