"""Readings beyond the ends of a scale: put back where they tell a bound, left out elsewhere."""

import math
from itertools import groupby, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from troubleshoot.readings.pressure.pressures import analyse
from troubleshoot.sources.beyond import FEWEST, Beyond
from troubleshoot.sources.log_file import read_log

VALUES = st.lists(st.sampled_from([1.0, math.inf, -math.inf, math.nan]), max_size=40)


def gathered(values, cuts=()):
    beyond = Beyond()
    seconds = np.arange(len(values), dtype=float)
    bounds = [0, *sorted(cuts), len(values)]
    for a, b in pairwise(bounds):
        beyond.add(seconds[a:b], np.array(values[a:b], dtype=float))
    return [run for run in beyond.runs if run[-1] >= FEWEST]


@given(VALUES, st.lists(st.integers(0, 40), max_size=4))
def test_blocks_make_no_difference(values, cuts):
    assert gathered(values, [min(cut, len(values)) for cut in cuts]) == gathered(values)


@given(VALUES)
def test_every_long_stretch_is_kept_whole(values):
    stretches = [(key, len(list(rows))) for key, rows in groupby(values, key=str)]
    long = [n for key, n in stretches if "inf" in key and n >= FEWEST]
    assert [run[-1] for run in gathered(values)] == long


def written(tmp_path, cells):
    path = tmp_path / "log.csv"
    rows = "".join(f"{2 * n},{cell}\n" for n, cell in enumerate(cells))
    path.write_text("t (s),p (mbar)\n" + rows)
    return path


def falling():
    p = 1000 * np.exp(-np.arange(200) * 2 / 9) + 0.0008 * (1 + 30 / (1 + np.arange(200)))
    return ["OVER" if x > 100 else "UNDER" if x < 0.002 else f"{x:.3g}" for x in p]


def test_a_base_below_the_scale_is_a_bound(tmp_path, rules):
    log = read_log(written(tmp_path, falling()))
    assert "Off scale, so a bound only" in " ".join(log.notes)
    numbers = analyse(log, rules.findings).reading.numbers
    base = numbers["base"]
    assert base.value - 1.96 * base.sigma <= 0.08 < base.value + 1.96 * base.sigma
    assert numbers["pumped_for"].value == pytest.approx(380, abs=20)


def test_a_plug_pulled_out_at_the_base_is_no_end_of_the_scale(tmp_path):
    cells = falling()
    cells[60:70] = ["OVER"] * 10
    log = read_log(written(tmp_path, cells))
    assert "10 rows off scale" in " ".join(log.notes)
    inside = log.pascal[(log.seconds > 110) & (log.seconds < 150)]
    assert inside.max() < 100
