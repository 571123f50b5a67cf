"""Logs made by stepping the balance of gas in time, which knows none of the reader's curves.

V dp/dt = -S(p) p + Q(t, p), S(p) = S (1 - p_u/p) of a rotary pump with the ultimate pressure p_u;
the valve shuts after `pumped` seconds. Q is a leak, outgassing walls (1/t), water (Hertz-Knudsen)
or a pocket behind a narrow path, which empties while the chamber is pumped.
"""

from collections import Counter

import numpy as np
import pytest

from tests.readings.simulated import AIR
from troubleshoot.coater.machine import Machine
from troubleshoot.readings.pressure.pressures import analyse
from troubleshoot.sources.log_file import Log
from troubleshoot.sources.points import display_step

STEP = 0.05
MEMBRANE = Machine(facts={"gauge_kind": "capacitance"})
"""These pressures are what they are, in every gas."""
USUAL = 6.0
"""Pa: about 0.05 mbar, below which a base is as usual."""


def simulate(rng, kind):
    """Pressure once a second through a pump-down and a rise, with 2 % noise and three digits."""
    tau, pumped, watched = rng.uniform(5, 12), int(rng.uniform(400, 800)), 400
    ultimate = rng.uniform(15, 60) if kind == "weak_pump" else rng.uniform(0.5, 2)
    base = rng.uniform(10, 50)
    load = (rng.uniform(0.2, 1) if kind == "weak_pump" else base) / tau  # Pa/s
    # A hollow of 50 to 200 cm3: a smaller one that empties in minutes is gone before the valve
    # shuts, and the coater is then as usual.
    ratio, emptying = rng.uniform(0.01, 0.04), rng.uniform(150, 250)
    inside = AIR
    p, out = AIR, []
    for i in range(int((pumped + watched) / STEP)):
        t = i * STEP
        if i % round(1 / STEP) == 0:
            out.append(p)
        if kind == "vapour":
            gas = load * (pumped + 60) / (t + 60)
        elif kind == "water":
            gas = load * (2000 - p) / 2000 if p < 2000 else 0.0
        elif kind == "virtual_leak":
            gas = (inside - p) * ratio / emptying
            inside -= STEP * (inside - p) / emptying
        else:
            gas = load
        p += STEP * (gas - (max(p - ultimate, 0) / tau if t < pumped else 0.0))
    t = np.arange(len(out), dtype=float)
    noisy = np.array(out) * np.exp(0.02 * rng.standard_normal(len(out)))
    shown = np.array([float(f"{x:.3g}") for x in noisy])
    return Log("made", "", t, shown, np.ones(len(t)), display_step(shown), len(t), "Pa")


@pytest.mark.first_quick(1)
@pytest.mark.parametrize("kind", ["leak", "vapour", "water", "virtual_leak", "weak_pump"])
def test_the_reader_is_right_or_says_that_it_cannot_tell(rules, kind):
    rng = np.random.default_rng(31)
    true = {"water": "vapour"}.get(kind, kind)
    found = Counter()
    for _ in range(30):
        # A damp load may level off as a pocket does, so a pocket is sure in an empty chamber only.
        empty = kind == "virtual_leak"
        analysis = analyse(simulate(rng, kind), rules.findings, MEMBRANE, empty=empty)
        story = analysis.verdict.story
        if story == "usual" and analysis.reading.numbers["end_pressure"].value < USUAL:
            # A pocket that has emptied leaves nothing to find.
            continue
        found["right" if story == true else "cannot tell" if story is None else "wrong"] += 1
    assert found["wrong"] <= 0.05 * found.total(), found
    assert found["right"] >= 0.6 * found.total(), found
    assert found.total() >= 20
