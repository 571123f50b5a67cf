"""The list of cases on terminals of every width."""

from dataclasses import replace

import pytest

from troubleshoot.casebook.statistics import Coater, statistics
from troubleshoot.casebook.store import Store
from troubleshoot.show.cases import BETWEEN, WIDTHS, widths
from troubleshoot.show.statistics import Rightness, sections


@pytest.mark.parametrize("width", [60, 79, 80, 81, 100, 120, 160, 240])
def test_the_columns_fit_and_the_number_is_always_there(width):
    columns = widths(width)
    assert sum(columns.values()) + BETWEEN * (len(columns) - 1) <= width
    assert {"No.", "Opened", "Complaint", "How it stands"} <= set(columns)
    assert list(columns) == [name for name in WIDTHS if name in columns]


@pytest.mark.parametrize(
    ("cases", "last", "said"),
    [
        (1, "2026-01-01", "east: 1 case, 5 min spent"),
        (2, "2026-01-01", "east: 2 cases, 5 min spent"),
        (3, "2026-01-03", "east: 3 cases, one a day, 5 min spent"),
        (3, "2026-01-31", "east: 3 cases, one in 15 days, 5 min spent"),
    ],
)
def test_how_often_a_coater_fails_is_said_once_days_lie_between(tmp_path, rules, cases, last, said):
    coater = Coater("east", cases, 5.0, "2026-01-01T09:00:00", f"{last}T17:00:00", None)
    found = replace(statistics(Store(str(tmp_path / "cases.db")), None, None), coaters=(coater,))
    assert sections(found, rules, {}, Rightness(()))[0].lines == (said,)


@pytest.mark.parametrize(
    ("sure", "right", "said"),
    [
        (0.9, 9, "should have been right in 9.0 of them (within 1.9, by chance): that fits"),
        (0.9, 4, "it is surer than it is right"),
        (0.2, 9, "it is right more often than it says"),
    ],
)
def test_whether_it_was_as_sure_as_it_was_right(sure, right, said):
    """Two standard deviations of a sum of trials of unlike odds (Poisson binomial)."""
    seen = Rightness(tuple((0.5, sure, n < right) for n in range(10)))
    first, second = seen.sentences()
    assert first.startswith(f"In {right} of 10 closed and proved cases")
    assert said in second
    assert len(list(Rightness(seen.cases[:4]).sentences())) == 1
