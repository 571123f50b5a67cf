"""Upkeep in the rules: an interval is needed, and machine facts must exist."""

import pytest

from tests.knowledge import tiny
from troubleshoot.errors import UserError
from troubleshoot.knowledge.load import load

OIL = {"source": "judgement", "name": "Oil", "say": "Change it.", "days": 100}


def loaded(tmp_path, **changed):
    entry = {k: v for k, v in (OIL | changed).items() if v is not None}
    tiny.write(tmp_path, {**tiny.rules(), "care": {"oil": entry}})
    return load([tmp_path])


def test_care_is_loaded(tmp_path):
    care = loaded(tmp_path, runs=50).care["oil"]
    assert (care.runs, care.days) == (50, 100)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"days": None}, "`runs`, `days` or both"),
        ({"days": 0}, "days"),
        ({"machine": {"trapp": "yes"}}, "did you mean 'trap'"),
        ({"every": 3}, "unknown key 'every'"),
    ],
)
def test_what_cannot_be_is_refused(tmp_path, changed, said):
    with pytest.raises(UserError, match=said.replace("'", ".").replace("`", ".")):
        loaded(tmp_path, **changed)
