"""The list of cases on terminals of every width."""

import pytest

from troubleshoot.show.cases import BETWEEN, WIDTHS, widths


@pytest.mark.parametrize("width", [60, 79, 80, 81, 100, 120, 160, 240])
def test_the_columns_fit_and_the_number_is_always_there(width):
    columns = widths(width)
    assert sum(columns.values()) + BETWEEN * (len(columns) - 1) <= width
    assert {"No.", "Opened", "Complaint", "How it stands"} <= set(columns)
    assert list(columns) == [name for name in WIDTHS if name in columns]
