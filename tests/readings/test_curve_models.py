"""The curves for arrays are those of `physics`, and the fits find what was put in."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from troubleshoot.physics import pumping, rise
from troubleshoot.readings.pressure import curve_models as cm
from troubleshoot.readings.pressure.fits import Data, fit_all, student95

VOLUME = 5e-3
times = st.floats(1, 3600)
pressures = st.floats(0.1, 50)


@given(t=times, start=pressures, rate=st.floats(1e-4, 1), pumped=st.floats(60, 7200))
def test_rises_are_those_of_physics(t, start, rate, pumped):
    seconds, load = np.array([t]), rate * VOLUME
    if start + rate * t < 5000:
        leak = rise.leak_pressure(t, start, load, VOLUME)
        assert cm.leak(seconds, start, rate)[0] == pytest.approx(leak)
    walls = rise.wall_pressure(t, start, load, pumped, VOLUME)
    assert cm.walls(seconds, start, rate, pumped)[0] == pytest.approx(walls)
    seals = rise.seal_pressure(t, start, load, pumped, VOLUME)
    assert cm.seals(seconds, start, rate, pumped)[0] == pytest.approx(seals)


@given(t=times, start=pressures, saturation=st.floats(700, 3000), tau=st.floats(10, 3000))
def test_liquid_is_that_of_physics(t, start, saturation, tau):
    found = cm.liquid(np.array([t]), start, saturation, tau)[0]
    assert found == pytest.approx(rise.vapour_pressure_limited(t, start, saturation, tau))


@given(t=times, start=pressures, pocket=st.floats(1e-7, 1e-5), path=st.floats(1e-10, 1e-7))
def test_pocket_is_that_of_physics(t, start, pocket, path):
    expected = rise.virtual_leak_pressure(t, start, 1e5, pocket, VOLUME, path)
    tau = 1 / (path * (1 / pocket + 1 / VOLUME))
    gain = (1e5 - start) * pocket / (VOLUME + pocket)
    assert cm.pocket(np.array([t]), start, gain, tau)[0] == pytest.approx(expected)


@given(t=times, base=pressures, tau=st.floats(2, 60))
def test_the_fall_is_that_of_physics(t, base, tau):
    expected = pumping.pressure_after(t, VOLUME, VOLUME / tau, 1e5, base)
    assert cm.settles(np.array([t]), base, 1e5 - base, tau)[0] == pytest.approx(expected)


def test_tails_fall_as_outgassing_does():
    t = np.array([1800.0, 7200.0])
    for material, tail in (("metal", cm.tail_walls), ("elastomer", cm.tail_seals)):
        found = tail(t, 1e-9, 1e-9, 1e-6, 0.0, 5.0)
        q = [pumping.outgassing_rate(material, 1.0, s) for s in t]
        assert found[0] / found[1] == pytest.approx(q[0] / q[1])
        assert found[1] == pytest.approx(5.0)


DRAWS = {
    "leak": lambda r: (r.uniform(3, 30), r.uniform(0.05, 5)),
    "walls": lambda r: (r.uniform(3, 30), r.uniform(0.2, 5), r.uniform(200, 500)),
    "seals": lambda r: (r.uniform(3, 30), r.uniform(0.2, 5), r.uniform(200, 500)),
    "pocket": lambda r: (r.uniform(3, 30), r.uniform(30, 300), r.uniform(30, 300)),
    "liquid": lambda r: (r.uniform(3, 30), r.uniform(1200, 2800), r.uniform(60, 300)),
    "leak_and_vapour": lambda r: (
        r.uniform(3, 30), r.uniform(0.2, 1), r.uniform(50, 200), r.uniform(30, 100),
    ),
    "settles": lambda r: (
        r.uniform(3, 30), r.uniform(3e4, 1e5), r.uniform(4, 15), r.uniform(10, 200),
    ),
    "tail_walls": lambda r: (
        r.uniform(3, 30), r.uniform(3e4, 1e5), r.uniform(4, 15), r.uniform(10, 200),
        r.uniform(3, 30),
    ),
    "tail_seals": lambda r: (
        r.uniform(3, 30), r.uniform(3e4, 1e5), r.uniform(4, 15), r.uniform(10, 200),
        r.uniform(3, 30),
    ),
    "tail_pocket": lambda r: (
        r.uniform(3, 30), r.uniform(3e4, 1e5), r.uniform(4, 10), r.uniform(10, 200),
        r.uniform(5, 30), r.uniform(60, 200),
    ),
}  # fmt: skip
RISES = ("leak", "walls", "seals", "pocket", "liquid", "leak_and_vapour")


@pytest.mark.slow
def test_true_parameters_lie_within_their_stated_uncertainty():
    """200 noisy draws, 20 of each model; 95 % of the parameters within 1.96 sigma.

    The parameters of one draw hang together, so the spread of the share is judged by draws: with
    95 % and 200 draws it is 1.54 %, and three of those are allowed.
    """
    rng = np.random.default_rng(20)
    inside, undetermined = [], 0
    for name, draw in DRAWS.items():
        for _ in range(20):
            count = int(rng.choice([60, 120, 300]))
            noise = rng.uniform(0.003, 0.06)
            values = draw(rng)
            t = np.linspace(0, rng.uniform(300, 600), count)
            p = getattr(cm, name)(t, *values) * np.exp(noise * rng.standard_normal(count))
            data = Data.of(t, p, np.ones(count), np.zeros(count))
            models = cm.rise_models(data, 350.0) if name in RISES else cm.pump_models(data)
            comparison = fit_all(models, data)
            fit = next(f for f in comparison.fits if f.model.name == name)
            for parameter, true in zip(fit.model.parameters, values, strict=True):
                found = fit.estimate(parameter.name)
                if found is None:
                    undetermined += 1
                else:
                    inside.append(abs(found.value - true) <= 1.96 * found.sigma)
    share = sum(inside) / len(inside)
    assert 0.95 - 0.046 <= share <= 0.95 + 0.046
    # "Not determined" is no way out: it is said of few.
    assert undetermined < 0.08 * len(inside)


def test_the_criterion_prefers_the_true_model():
    rng = np.random.default_rng(21)
    t = np.linspace(0, 600, 200)
    for name in ("leak", "walls", "pocket", "liquid"):
        values = {"leak": (20, 2), "walls": (20, 3, 300), "pocket": (20, 200, 120)}.get(
            name, (20, 2000, 200)
        )
        p = getattr(cm, name)(t, *values) * np.exp(0.01 * rng.standard_normal(len(t)))
        data = Data.of(t, p, np.ones(len(t)), np.zeros(len(t)))
        comparison = fit_all(cm.rise_models(data, 300.0), data)
        assert comparison.best.model.name == name
        assert sum(comparison.weights) == pytest.approx(1)
        assert comparison.probability(comparison.best.model.kind) > 0.7


def test_noise_that_hangs_together_widens_the_uncertainty():
    rng = np.random.default_rng(22)
    t = np.linspace(0, 600, 600)
    white = 0.02 * rng.standard_normal(len(t))
    drift = np.convolve(rng.standard_normal(len(t) + 30), np.ones(31) / 31, mode="valid")
    drift *= 0.02 / drift.std()
    sigmas = []
    for noise in (white, drift):
        data = Data.of(t, cm.leak(t, 20, 1) * np.exp(noise), np.ones(len(t)), np.zeros(len(t)))
        fit = next(f for f in fit_all(cm.rise_models(data, 600.0), data).fits
                   if f.model.name == "leak")  # fmt: skip
        sigmas.append(fit.estimate("rate").sigma)
    assert sigmas[1] > 3 * sigmas[0]


def test_students_t_against_scipy():
    stats = pytest.importorskip("scipy.stats")
    for freedom in (3, 4, 6, 10, 30, 300):
        assert student95(freedom) == pytest.approx(stats.t.ppf(0.975, freedom), rel=5e-3)


def test_fits_against_scipy():
    optimize = pytest.importorskip("scipy.optimize")
    rng = np.random.default_rng(23)
    t = np.linspace(0, 400, 150)
    p = cm.pocket(t, 15, 180, 90) * np.exp(0.02 * rng.standard_normal(len(t)))
    data = Data.of(t, p, np.ones(len(t)), np.zeros(len(t)))
    ours = next(f for f in fit_all(cm.rise_models(data, 400.0), data).fits
                if f.model.name == "pocket")  # fmt: skip
    theirs, covariance = optimize.curve_fit(
        lambda t, *v: np.log(cm.pocket(t, *np.exp(v))), t, np.log(p), np.log([15, 180, 90])
    )
    assert ours.values == pytest.approx(np.exp(theirs), rel=1e-4)
    # Ours are wider by Student's t over the normal point, by the expected scatter, and by what
    # 150 independent residuals seem to hang together by chance.
    assert np.sqrt(np.diag(ours.covariance)) == pytest.approx(np.sqrt(np.diag(covariance)), rel=0.1)
