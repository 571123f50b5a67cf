"""A log of every kind that loggers, meters and notebooks write, and what is read of it."""

from pathlib import Path

import pytest

from troubleshoot import units
from troubleshoot.errors import UserError
from troubleshoot.sources.log_file import Log, Told, read_log, read_table
from troubleshoot.strict_yaml import read

FOLDER = Path(__file__).parent / "fixtures"
EXPECTED = read(FOLDER / "expected.yaml").data


def read_either(name, told):
    """The log as the program reads it: of a discharge if it holds a current, else of pressures."""
    beside = {"scale": "gauge_scale"}
    said = Told.of({beside.get(key, key): str(value) for key, value in told.items()})
    return read_table(FOLDER / name, said) or read_log(FOLDER / name, said)


def test_every_fixture_is_expected():
    there = {path.name for path in FOLDER.iterdir()} - {"expected.yaml"}
    assert there == set(EXPECTED)


@pytest.mark.parametrize("name", [name for name, said in EXPECTED.items() if "refused" in said])
def test_what_cannot_be_read_is_refused_with_its_remedy(name):
    expected = EXPECTED[name]
    with pytest.raises(UserError) as caught:
        read_either(name, {})
    message = str(caught.value)
    assert message.count("\n") == 0
    assert name in message
    said = message.replace(name, "")
    for words in expected["refused"]:
        assert words in said
    for words in expected.get("not_said", ()):
        assert words not in said


@pytest.mark.parametrize("name", [name for name, said in EXPECTED.items() if "refused" not in said])
def test_every_kind_of_log_is_read(name):
    expected = EXPECTED[name]
    got = read_either(name, expected.get("told", {}))
    quantity = expected.get("quantity", "pressure")
    if isinstance(got, Log):
        values, unit, rows = got.pascal, got.unit, got.rows
    else:
        values, unit, rows = got.columns[quantity], got.shown[quantity], len(got.seconds)
    assert units.to_si(1, unit, quantity) == units.to_si(1, expected["unit"], quantity)
    assert rows == expected["rows"]
    if "span" in expected:
        assert got.seconds[-1] == pytest.approx(expected["span"], abs=1)
    # A log is written with four digits.
    near = expected.get("tol", 0.006)
    assert values[[0, -1]] == pytest.approx([expected["first"], expected["last"]], rel=near)
    for key in ("column", "time"):
        for part in filter(None, str(expected.get(key) or "").split(" + ")):
            assert repr(part) in got.taken
    assert expected.get("note", "") in got.taken + " ".join(got.notes)
