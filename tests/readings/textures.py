"""Pictures of specimens that nobody spoilt yet, made in other ways than those of the product.

Ground of every roughness (spectra by powers), grains (Voronoi cells), tissue (packed cells with
walls and bodies), fibres (drawn lines), powder (heaped discs). `open_data` adds photographs that
scikit-image ships (CC0 or public domain), where it is installed.
"""

import numpy as np

KINDS = ("ground", "grains", "tissue", "fibres", "powder")
OPEN_DATA = ("gravel", "grass", "cell", "chelsea")


def texture(kind, rng, shape):
    """A picture of mean 0 and standard deviation 1."""
    field = globals()[f"_{kind}"](rng, shape)
    return (field - field.mean()) / field.std()


def open_data(name, rng, shape):
    """A part of a photograph, turned and mirrored at random, scaled as `texture` is."""
    import pytest

    skimage = pytest.importorskip("skimage.data")
    field = np.asarray(getattr(skimage, name)(), float)
    field = field.mean(axis=2) if field.ndim == 3 else field
    field = np.rot90(field, rng.integers(4))[:: rng.choice((-1, 1))]
    rows, columns = (min(a, b) for a, b in zip(shape, field.shape, strict=True))
    top, left = (
        rng.integers(0, a - b + 1) for a, b in zip(field.shape, (rows, columns), strict=True)
    )
    field = field[top : top + rows, left : left + columns]
    return (field - field.mean()) / field.std()


def _ground(rng, shape):
    """A sum of octaves of smooth noise, each weaker than the one before."""
    field, amplitude = np.zeros(shape), 1.0
    falls = rng.uniform(0.5, 0.75)
    for octave in range(int(np.log2(min(shape)))):
        n = 2 ** (octave + 1)
        grid = [max(2, round(n * side / min(shape))) for side in shape]
        field += amplitude * _stretched(rng.standard_normal([g + 3 for g in grid]), shape)
        amplitude *= falls
    return field


def _stretched(coarse, shape):
    """A coarse grid drawn out smoothly (cubic in each direction)."""
    for axis, size in enumerate(shape):
        n = coarse.shape[axis] - 3
        at = np.linspace(0, n - 1e-9, size)
        i, t = at.astype(int), at % 1
        w = ((1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3)
        side = [1, 1]
        side[axis] = size
        coarse = sum(
            (np.reshape(wk / 6, side) * np.take(coarse, i + k, axis)) for k, wk in enumerate(w)
        )
    return coarse


def _nearest(rng, shape, count):
    """For each pixel the number of its nearest point, and the distances to the nearest two."""
    y, x = np.arange(shape[0])[:, None], np.arange(shape[1])[None]
    best, second = np.full(shape, np.inf), np.full(shape, np.inf)
    owner = np.zeros(shape, int)
    for n in range(count):
        away = (y - rng.uniform(0, shape[0])) ** 2 + (x - rng.uniform(0, shape[1])) ** 2
        np.minimum(second, np.maximum(best, away), out=second)
        owner[away < best] = n
        np.minimum(best, away, out=best)
    return owner, np.sqrt(best), np.sqrt(second)


def _soft(field, sigma):
    """Blurred by sums of neighbours, so that edges take a few pixels as in a real picture."""
    for _ in range(max(1, round(2 * sigma**2))):
        for axis in (0, 1):
            field = 0.25 * np.roll(field, 1, axis) + 0.5 * field + 0.25 * np.roll(field, -1, axis)
    return field


def _grains(rng, shape):
    count = int(rng.integers(20, 120))
    owner, _, _ = _nearest(rng, shape, count)
    return _soft(rng.uniform(0, 1, count)[owner], 0.8) + 0.05 * _soft(rng.standard_normal(shape), 1)


def _tissue(rng, shape):
    owner, best, second = _nearest(rng, shape, int(rng.integers(12, 50)))
    walls = np.exp(-(((second - best) / rng.uniform(2, 5)) ** 2))
    body = np.exp(-((best / rng.uniform(6, 14)) ** 4))
    inside = rng.normal(0, 0.3, owner.max() + 1)[owner]
    return _soft(inside - walls - 0.8 * body, 0.7) + 0.1 * _ground(rng, shape)


def _fibres(rng, shape):
    y, x = np.mgrid[: shape[0], : shape[1]]
    field = 0.05 * _ground(rng, shape)
    for _ in range(int(rng.integers(10, 40))):
        turn, wide = rng.uniform(0, np.pi), rng.uniform(2, 9)
        off = rng.uniform(-0.7, 0.7) * max(shape)
        u = (x - shape[1] / 2) * np.sin(turn) - (y - shape[0] / 2) * np.cos(turn) - off
        v = (x - shape[1] / 2) * np.cos(turn) + (y - shape[0] / 2) * np.sin(turn)
        u = u + rng.uniform(0, 20) * np.sin(v / rng.uniform(30, 90))
        profile = np.sqrt(np.maximum(1 - (u / wide) ** 2, 0))
        field = np.where(profile > 0, rng.uniform(0.4, 1.0) * (0.4 + 0.6 * profile), field)
    return _soft(field, 0.7)


def _powder(rng, shape):
    field = np.zeros(shape)
    for _ in range(int(rng.integers(40, 160))):
        cy, cx, r = rng.uniform(0, shape[0]), rng.uniform(0, shape[1]), rng.uniform(4, 22)
        cut = tuple(slice(max(int(c - r), 0), int(c + r) + 2) for c in (cy, cx))
        y, x = np.arange(shape[0])[cut[0], None], np.arange(shape[1])[None, cut[1]]
        inside = 1 - ((y - cy) ** 2 + (x - cx) ** 2) / r**2
        shade = 0.5 + 0.4 * np.sqrt(np.maximum(inside, 0)) + 0.2 * (x - cx) / r
        field[cut] = np.where(inside > 0, shade * rng.uniform(0.7, 1.0), field[cut])
    return _soft(field, 0.7)
