"""Step 2a, line by line: rows of another brightness, and rows that are displaced."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from troubleshoot.readings.image.sampling import Sample
from troubleshoot.sources.rows import Floats

PARTS = 16
"""Parts of a row that must agree on a step."""
FITTED, USUAL = 60_000, 1000
"""Pixels, and rows, about, from which what is usual in a picture is taken."""
FAINT = 60.0
"""Where a shift of 2 px is worth less than this, pairs of rows are compared too. Ours."""
MOST_SHIFT = 24
"""px; a row that is displaced by more is found with a smaller number."""


@dataclass(frozen=True)
class Steps:
    """Brightness across each border between two rows, in levels.

    `part`: (borders, parts) the step in each part of the row; `whole`: over the row; `z`: that in
    standard deviations, from how the parts of the same row differ; `agree`: the share of the parts
    in which it is found; `uneven`: how much more the parts differ than they usually do, 1 where a
    step is added to the scene, more where it is part of it. Border n lies after row n.
    """

    part: Floats
    whole: Floats
    z: Floats
    agree: Floats
    uneven: Floats


def steps(sample: Sample) -> Steps:
    """What every border between rows does to the brightness, in levels.

    The difference across a border, less what the rows before and after it and the pixels beside it
    tell of the scene's own slope (by least squares, in which large residues count little). A step
    of the whole row passes unchanged. In each part of a row the median counts.
    """
    return steps_of(sample.rows)


def steps_of(rows: Floats, parts_of_row: int = PARTS) -> Steps:
    """As `steps`, of (rows, strips, columns)."""
    change = np.diff(rows, axis=0)
    a, b, bare, d, e = (change[n : len(change) - 4 + n] for n in range(5))
    terms = [b + d, a + e, _bend(bare)]
    thin = max(1, bare.size // FITTED)
    few, x = bare.ravel()[::thin], np.stack([t.ravel()[::thin] for t in terms])
    weights: Floats = np.zeros(3)
    for _ in range(4):
        left = few - weights @ x
        scale = 1.5 * float(np.median(np.abs(left))) + 1e-9
        w = 1 / (1 + (left / (2 * scale)) ** 2)
        normal = (x * w) @ x.T + 1e-6 * few.size * np.eye(3)
        weights = np.asarray(np.linalg.solve(normal, (x * w) @ few), float)
    left = bare - sum(w * t for w, t in zip(weights, terms, strict=True))
    parts = max(1, round(parts_of_row / rows.shape[1]))
    wide = rows.shape[2] // parts
    cut = left[:, :, : parts * wide].reshape(len(left), -1, wide)
    part = _middle(cut)
    whole = _middle(part)
    own = 1.4826 * _middle(np.abs(part - whole[:, None]))
    usual = max(float(np.median(own)), 1e-6)
    sigma = 1.2533 * np.maximum(own, usual) / math.sqrt(part.shape[1])
    agree = np.mean(part * np.sign(whole)[:, None] > 0.4 * np.abs(whole)[:, None], axis=1)
    pad = ((2, 2), (0, 0))
    return Steps(
        np.pad(part, pad),
        np.pad(whole, pad[0]),
        np.pad(whole / sigma, pad[0]),
        np.pad(agree, pad[0]),
        np.pad(own / usual, pad[0], constant_values=1.0),
    )


def _middle(values: Floats) -> Floats:
    """Medians along the last axis. Of short rows numpy's own take five times as long."""
    order, half = np.sort(values, axis=-1), values.shape[-1] // 2
    if values.shape[-1] % 2:
        return np.asarray(order[..., half])
    return np.asarray(0.5 * (order[..., half - 1] + order[..., half]))


def _bend(rows: Floats) -> Floats:
    """Each pixel against its two neighbours along the row."""
    out = np.zeros_like(rows)
    out[..., 1:-1] = rows[..., 1:-1] - 0.5 * (rows[..., :-2] + rows[..., 2:])
    return out


def places(sample: Sample) -> list[tuple[float, float]]:
    """Where the parts of `Steps.part` begin and end, as shares of the width."""
    width, strips = sample.shape[1], sample.rows.shape[1]
    parts = max(1, round(PARTS / strips))
    wide = sample.rows.shape[2] // parts
    return [
        ((first + n * wide) / width, (first + (n + 1) * wide) / width)
        for first in sample.first
        for n in range(parts)
    ]


@dataclass(frozen=True)
class Shifts:
    """How far each row lies to the right of the row before it, in px.

    `jump`: of the likeliest whole number; `gain`: by how much that is likelier than no shift, in
    ln-likelihood, without the quarter of the row that says most; `match`: the correlation at that
    shift over what neighbours usually have at none; `halves`: the best estimates of two halves of
    the row, within a pixel. Entry n is of row n + 1. `worth`: what a shift of 2 px would gain on
    the average.
    """

    jump: Floats
    gain: Floats
    match: Floats
    halves: Floats
    worth: float


def shifts(sample: Sample) -> Shifts:
    """Displacement from row to row, by generalised correlation with the weights of the likelihood.

    With X the spectra of two rows, G their usual power and c the usual coherence of neighbours, the
    ln-likelihood of the shift s gains sum 2 c Re(X1* X2 (exp(i w s) - 1))/(G (1 - c^2)) over none
    (Knapp and Carter, IEEE Trans. Acoust. Speech Signal Process. 24 (1976) 320).
    """
    quarters = max(1, 4 // sample.rows.shape[1])
    size = sample.rows.shape[2] // quarters
    rows = sample.rows[:, :, : quarters * size].reshape(len(sample.rows), -1, size)
    flat = rows - rows.mean(axis=2, keepdims=True)
    spectra = np.fft.rfft(flat * np.hanning(size + 2)[1:-1], axis=2)
    jump, gain, match, parts = _between(spectra, 1, size)
    middle = parts.shape[2] // 2
    half = np.stack([_peak(parts[:, n::2].sum(axis=1)) for n in (0, 1)]) - middle
    loss = -np.median(parts.sum(axis=1)[:, [middle - 2, middle + 2]], axis=0)
    worth = float(loss.mean())
    if worth < FAINT:  # two rows together say more where noise is the trouble
        pairs, clear, alike, _ = _between(0.5 * (spectra[1:] + spectra[:-1]), 2, size)
        clear = np.pad(clear, 1)
        jump = np.where(clear > gain, np.pad(pairs, 1), jump)
        match = np.where(clear > gain, np.pad(alike, 1), match)
        gain = np.maximum(gain, clear)
    return Shifts(jump, gain, match, half, worth)


def _between(
    spectra: NDArray[np.complex128], gap: int, size: int
) -> tuple[Floats, Floats, Floats, Floats]:
    """Of each border: the likeliest shift, its gain and match, and the gains by part and shift.

    Rows are compared with those `gap` rows further on.
    """
    before, after = spectra[:-gap], spectra[gap:]
    cross = after * np.conj(before)
    # Medians, so that few displaced rows change nothing; the factors of medians cancel.
    some = slice(None, None, max(1, len(before) // USUAL))
    power, like, unlike = (
        _even(np.median(np.abs(x) ** 2, axis=(0, 1)))
        for x in (before[some], after[some] + before[some], after[some] - before[some])
    )
    power = np.maximum(power, 1e-6 * float(power.max()) + 1e-9) / math.log(2)
    coherence = np.clip((like - unlike) / (like + unlike + 1e-9), 0.0, 0.995)
    weight = coherence / (power * (1 - coherence**2))
    weight[0] = 0.0
    # In a Hann window two of three values are independent.
    lags = np.fft.irfft(cross * weight, n=size, axis=2) * size * (2 / 3)
    reach = min(MOST_SHIFT, size // 4)
    lags = np.concatenate([lags[..., -reach:], lags[..., : reach + 1]], axis=2)
    parts = lags - lags[..., reach : reach + 1]
    gain = parts.sum(axis=1)
    best = np.argmax(gain, axis=1)
    place = np.arange(len(gain))
    # Leaning edges move from row to row, but not all over a row: what one part says most is left
    # out.
    told = parts[place, :, best]
    rest = gain[place, best] - told.max(axis=1)
    # Rows that differ more than usual after that shift too, as at the rim of a thing, say less.
    energy = np.sum(weight * np.abs(spectra) ** 2, axis=(1, 2))
    matched = _matched(lags, best)
    left_over = energy[gap:] + energy[:-gap] - matched
    size_of = np.sqrt(energy[gap:] * energy[:-gap]) + 1e-9
    usual = float(np.median(_matched(lags, np.full(len(best), reach)) / size_of))
    match = matched / size_of / max(usual, 1e-9)
    rest = rest / np.maximum(left_over / max(float(np.median(left_over)), 1e-9), 1.0)
    rest = np.maximum(rest - _beside((best - reach), gain[place, best], gap), 0.0)
    return (best - reach).astype(float), rest, match, parts


def _beside(jump: NDArray[np.intp], gain: Floats, gap: int) -> Floats:
    """The most that a border nearby gains by a shift the same way, as along an edge that leans.

    Borders nearer than `gap` share rows with this one.
    """
    most = np.zeros(len(jump))
    for away in range(gap, gap + 3):
        for there in (away, -away):
            same = np.roll(jump, there) * jump > 0
            most = np.maximum(most, np.where(same, np.roll(gain, there), 0.0))
    return most


def _matched(lags: Floats, best: NDArray[np.intp]) -> Floats:
    """Of each row the correlation at its best shift, all parts together."""
    return np.asarray(lags.sum(axis=1)[np.arange(len(lags)), best])


def _peak(gain: Floats) -> Floats:
    """Where each row of `gain` is greatest, within a pixel by a parabola."""
    place, last = np.arange(len(gain)), gain.shape[1] - 1
    best = np.clip(np.argmax(gain, axis=1), 1, last - 1)
    left, top, right = (gain[place, best + k] for k in (-1, 0, 1))
    bend = np.minimum(left - 2 * top + right, -1e-9)
    return np.asarray(np.clip(0.5 * (left - right) / bend, -1, 1) + best)


def _even(values: Floats) -> Floats:
    """A spectrum, each value with its four neighbours."""
    return np.convolve(np.pad(values, 2, "edge"), np.ones(5) / 5, "valid")
