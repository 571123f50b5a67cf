"""Logs and typed points in a case file become entries of the journal."""

import math

import pytest

from tests.case.records import from_records
from troubleshoot.advice.page import page_of
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import as_records
from troubleshoot.errors import UserError
from troubleshoot.show.html import pages as html

AT = "2026-01-05T09:00:00"
HEAD = "complaint: pressure_not_reached\nmachine: {volume: 5 L, pump_speed: 4 m3/h}\njournal:\n"


def written(tmp_path, *items):
    path = tmp_path / "case.yaml"
    path.write_text(HEAD + "".join(f"  - {i}\n" for i in items), encoding="utf-8")
    return path


def straight_rise(tmp_path):
    """A straight rise of 2.6 mbar a minute, as a log with decimal points."""
    rows = [f"{t},{0.3 + 2.6 * t / 60:.4f}" for t in range(0, 301, 10)]
    (tmp_path / "rise.csv").write_text("seconds,mbar\n" + "\n".join(rows), encoding="utf-8")


def seen_of(case, rules):
    bench = Bench(rules, case.machine)
    return {s.finding: s for s in bench.assess(case.journal).seen}


def test_a_log_is_soft_evidence_and_is_never_read_again(tmp_path, rules):
    """Replay needs the journal only: the file may be gone."""
    straight_rise(tmp_path)
    case = read_case(written(tmp_path, "reading: rise.csv\n    valve: shut"), rules, AT)
    (tmp_path / "rise.csv").unlink()
    seen = seen_of(case, rules)
    assert seen["rise_shape"].answer == "straight"
    assert seen["rise_rate"].answer in ("fast", "very_fast")
    assert {s.origin for s in seen.values() if s.finding != "rise_against_base"} == {"reading"}
    assert all(x > 0 for s in seen.values() if s.origin == "reading" for x in s.likelihood)


def test_a_reading_survives_storage(tmp_path, rules):
    straight_rise(tmp_path)
    case = read_case(written(tmp_path, "reading: rise.csv\n    valve: shut"), rules, AT)
    assert from_records(as_records(case.journal)) == case.journal


def test_points_typed_by_hand_do_the_same(tmp_path, rules):
    points = "; ".join(f"{t} s {0.3 + 2.6 * t / 60:.3f} mbar" for t in range(0, 301, 60))
    case = read_case(written(tmp_path, f'points: "{points}"\n    valve: shut'), rules, AT)
    assert seen_of(case, rules)["rise_shape"].answer == "straight"


def test_a_log_of_a_discharge_tells_of_the_current(tmp_path, rules):
    rows = [f"{t},{9.0 * math.exp(-t / 300):.3f}" for t in range(0, 241, 2)]
    (tmp_path / "run.csv").write_text("time s,current mA\n" + "\n".join(rows), encoding="utf-8")
    case = read_case(written(tmp_path, "reading: run.csv"), rules, AT)
    assert seen_of(case, rules)["current_over_time"].answer == "drifts_down"


def test_the_report_draws_the_curve_as_an_image_that_runs_nothing(tmp_path, rules):
    straight_rise(tmp_path)
    case = read_case(written(tmp_path, "reading: rise.csv\n    valve: shut"), rules, AT)
    bench = Bench(rules, case.machine)
    page = html.render(page_of(bench.assess(case.journal), case.journal), made_at=AT)
    assert "What the readings show" in page
    assert '<img src="data:image/svg+xml;base64,' in page


@pytest.mark.parametrize(
    ("item", "words"),
    [
        ("reading: none.csv", ("line 4", "none.csv", "does not exist")),
        ("reading: rise.csv\n    valve: ajar", ("line 5", "'ajar'", "open, shut")),
        (
            "reading: rise.csv\n    valv: shut",
            ("line 5", "key valv: unknown key", "did you mean 'valve'?"),
        ),
        ('points: "0 s -1 mbar; 60 s 2 mbar"', ("line 4", "item 1 of journal, key points")),
    ],
)
def test_what_cannot_be_read_is_said_with_its_place(tmp_path, rules, item, words):
    straight_rise(tmp_path)
    with pytest.raises(UserError) as error:
        read_case(written(tmp_path, item), rules, AT)
    for word in words:
        assert word in str(error.value)
