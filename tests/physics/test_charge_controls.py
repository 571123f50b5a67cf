"""Which control weakens which charging, by a second way: a circuit integrated in time."""

import re
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from troubleshoot.knowledge import model
from troubleshoot.physics import charge_controls as controls
from troubleshoot.physics.charge_controls import CONTROLS, KINDS, Patch, says


def swing(patch):
    """Peak to peak of C dU/dt = I - U/R in the steady state, I only while the beam is on it."""
    yielded = 0.1 + 0.9 * (patch.kv / patch.crossover) ** (1 - patch.exponent)
    current = patch.current * abs(1 - yielded)
    on, period = controls.PATCH * patch.dwell, controls.PIXELS * patch.dwell
    start, ends = 0.0, []
    for _ in range(2):  # twice: the state at the period's start follows from linearity
        for low, high, fed in ((0.0, on, current), (on, period, 0.0)):
            done = solve_ivp(
                lambda t, u, fed=fed: (fed - u / patch.leak) / patch.capacitance,
                (low, high), [start if not ends else ends[-1]],
                method="LSODA", rtol=1e-8, atol=1e-12,
            )  # fmt: skip
            ends.append(done.y[0, -1])
    rise, first, second = ends[0], ends[1], ends[3]
    kept = (second - first) / first if first else 0.0  # of a period
    base = first / (1 - kept)
    peak = base * np.exp(-on / (patch.leak * patch.capacitance)) + rise
    return peak - base


@pytest.mark.parametrize(
    "patch",
    [
        Patch(1e12, 1e-15, 1e-10, 1.6, 1.5, False, False),
        Patch(1e13, 1e-14, 1e-11, 1.6, 1.5, False, False),
        Patch(1e10, 1e-14, 1e-10, 1.6, 1.5, False, False),
        Patch(1e13, 1e-13, 1e-11, 1.6, 1.5, False, False, dwell=1e-7),
    ],
)
def test_the_swing_is_that_of_the_integrated_circuit(patch):
    most = 1e3 * (patch.kv - patch.crossover)
    assert patch.voltage() == pytest.approx(min(most, swing(patch)), rel=1e-3)


def test_a_floating_piece_of_1_pf_takes_10_v_in_10_ms_at_1_na():
    from troubleshoot.physics.charging import charged_to

    assert charged_to(1e-9, 1e17, 1e-12, 10e-3, 1e4) == pytest.approx(10)


# What practice says: a lump without earth stays white at any scan speed; a bridge cures it and more
# coat does not; a thin film is cured by more coat and not by a bridge (symptom tables of university
# microscopy pages, https://lampz.tugraz.at and https://www.biotech.ufl.edu/EM/data/charging.html).
PRACTICE = {
    ("floating", "dwell"): "same", ("floating", "bridge"): "better", ("floating", "coat"): "same",
    ("gaps", "coat"): "better", ("gaps", "bridge"): "same", ("gaps", "dwell"): "better",
    ("gaps", "kv"): "better", ("deep", "kv"): "better", ("deep", "dwell"): "better",
    ("deep", "current"): "better", ("deep", "bridge"): "same", ("none", "dwell"): "same",
}  # fmt: skip


@pytest.mark.parametrize(("kind", "control"), PRACTICE)
def test_what_practice_says_follows(kind, control):
    assert says(kind, control) == PRACTICE[kind, control]


def test_fast_electrons_tell_small_charges_from_large_ones():
    """A gap charged by volts is gone in backscattered electrons, a lump at kilovolts is not."""
    shares = {kind: controls.share_better(kind, "backscatter") for kind in KINDS}
    assert shares["gaps"] > shares["deep"] > shares["floating"] > 0.3
    assert {says(kind, "backscatter") for kind in ("gaps", "deep", "floating")} == {"cannot_say"}


def test_the_table_of_the_documents_is_this_one():
    """`docs/film.md` prints the shares."""
    text = (Path(__file__).parents[2] / "docs" / "film.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (?:a piece|gaps|deep)[^|]*\|(.*)\|$", text, re.MULTILINE)
    printed = [[float(cell) for cell in row.split("|")] for row in rows]
    reckoned = [[controls.share_better(kind, c) for c in CONTROLS] for kind in KINDS[:3]]
    assert printed == [[round(share, 2) for share in row] for row in reckoned]


def test_nothing_helps_against_what_is_no_charge():
    assert {says("none", control) for control in CONTROLS} == {"same"}


def test_the_rules_know_the_same_words():
    assert set(model.Charge.__args__) == set(KINDS)
    assert set(model.Control.__args__) == set(CONTROLS)
