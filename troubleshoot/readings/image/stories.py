"""Step 3, which stories fit: what is measured held against what each trouble does to a picture.

Every threshold here is ours, from made pictures (docs/micrographs.md): no alarm limits for such
numbers are published. A story has a strength: from 1 on it is found, from `UNSURE` on nobody can
tell.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from troubleshoot.readings.image.areas import (
    Box,
    Patch,
    Ridges,
    Run,
    Square,
    Tail,
    patches,
    ridges,
    runs,
    square,
    tail,
)
from troubleshoot.readings.image.lines import Shifts, Steps, places, shifts, steps, steps_of
from troubleshoot.readings.image.sampling import Sample
from troubleshoot.readings.image.shade import Shade, shade
from troubleshoot.readings.image.spectrum import Spectrum, spectrum

CHARGING = ("bands", "streaks", "jumps", "flare", "dark_centre")
LOOK_ALIKES = (
    *("teeth", "square", "bright_edges", "noise", "harsh"),
    *("stretched", "soft", "curtains", "blocks", "grains"),
)
UNSURE, DOUBT = 0.6, 0.95
"""From this strength on a story cannot be ruled out; that of one which something speaks against."""

CLEAR, PLAIN = 1.7, 1.2
"""From these strengths on a story stands although another explains most of it, or some of it."""
FEIGNED = {
    "soft": ("bands", "streaks", "dark_centre"),
    "stretched": ("bands", "streaks", "dark_centre"),
    "harsh": ("bands", "streaks", "dark_centre"),
    "square": ("bands", "streaks", "dark_centre"),
    "curtains": ("streaks",),
}
"""What each of these makes of a scene may be taken for charging. A blur rounds things and thins
noise, so that faint steps and shadows count for more than they are; stops cut noise away; the sides
of a square are steps that stand on one another; stripes that lean step from row to row. Where one
of them is found nobody can tell whether such charging is there too, unless it is plain."""

BAND_Z, BAND_STEP, BAND_AGREE, BAND_UNEVEN = 7.0, 0.9, 0.75, 3.0
TAIL_Z = 10.5
SQUARE_Z, SIDE = 6.0, 0.015
JUMP_GAIN, JUMP, MATCH = 9.0, 2.0, 0.55
TEETH_RATIO, TEETH_SHARE, TEETH_LONGEST = 60.0, 0.2, 60.0
WHITE_AREA, WHITE_ALONE, WHITE_AWAY = 0.008, 0.8, 3.0
DARK_AREA, DARK_ALONE, DARK_GAP, RIM = 0.004, 0.2, 0.2, 0.02
SHADE_Z, SHADE_DEPTH, SHADE_ALONG, LONGEST = 2.2, 0.2, 1.3, 3.0
AT_STOPS, MOSTLY_CUT = 0.04, 0.6
NOISY = 2.0
BLOCKS = 5.0
SOFT = 2.1
STRETCH, STRETCH_SURE = 2.2, 5.0
CURTAINS = 1.5
EVEN, RISE = 0.54, 0.35
RIMS, RIM_ON_EDGE, RIM_HEIGHT = 0.1, 1.0, (1.15, 1.65)
"""Rims need less height where they stand on edges; bright threads have none. Ours."""


@dataclass(frozen=True)
class Measured:
    """All that was measured of one picture."""

    sample: Sample
    borders: Steps
    shifts: Shifts
    across: list[Run]
    white: Patch
    dark: Patch
    shade: Shade
    square: Square | None
    tail: Tail | None
    ridges: Ridges
    spectrum: Spectrum
    teeth: "Teeth"


@dataclass(frozen=True)
class Teeth:
    """Rows that move to and fro: `ratio` of the strongest period to what is usual, its `share` of
    all the movement, the `period` in rows and the `size` in px (half the whole movement).
    """

    ratio: float
    share: float
    period: float
    size: float


def measure(sample: Sample) -> Measured:
    """Everything about a picture that the stories ask for."""
    moved = shifts(sample)
    bright, (white, dark) = steps(sample), patches(sample)
    across = runs(bright.part, places(sample), sharp=True)
    turned = steps_of(np.ascontiguousarray(sample.small.T)[:, None, :])
    count = turned.part.shape[1]
    down = runs(turned.part, [(n / count, (n + 1) / count) for n in range(count)], sharp=False)
    return Measured(
        sample=sample,
        borders=bright,
        shifts=moved,
        across=across,
        white=white,
        dark=dark,
        shade=shade(sample, dark.box),
        square=square(runs(bright.part, places(sample), sharp=False), down),
        tail=tail(across),
        ridges=ridges(sample),
        spectrum=spectrum(sample),
        teeth=teeth(moved),
    )


def teeth(moved: Shifts) -> Teeth:
    """The strongest period of the rows' displacement on which both halves of the rows agree."""
    halves = np.clip(moved.halves, -8, 8)
    count = halves.shape[1]
    halves = halves - halves.mean(axis=1, keepdims=True)
    one, other = np.fft.rfft(halves * np.hanning(count), axis=1)
    both = np.convolve(np.real(one * np.conj(other)), np.ones(3), "same")
    size = np.abs(one) * np.abs(other)
    first = max(3, math.ceil(count / TEETH_LONGEST))
    if first + 2 > len(both):
        return Teeth(0.0, 0.0, 1.0, 0.0)
    best = first + int(np.argmax(both[first:-1]))
    power = max(float(both[best]), 0.0)
    period = count / best
    # The difference of two rows of a sine of size a is 2 a sin(pi / period) at most.
    moved_by = 2 * math.sqrt(power / 1.5) / (0.5 * count)
    return Teeth(
        power / max(float(np.median(size)), 1e-9),
        power / max(float(size.sum()), 1e-9),
        period,
        moved_by / (2 * math.sin(math.pi / max(period, 2.0))),
    )


@dataclass(frozen=True)
class Story:
    """One trouble: its `strength` (found from 1 on), `size` in the words of its measure, and
    where."""

    kind: str
    strength: float
    size: float = 0.0
    where: tuple[Box, ...] = ()


def stories(m: Measured) -> dict[str, Story]:
    """The strength of every story, each by itself, then those taken back that another explains."""
    found = {s.kind: s for s in (*_of_lines(m), *_of_areas(m), *_of_spectrum(m))}

    def has(kind: str) -> bool:
        return found[kind].strength >= 1

    def drop(*kinds: str) -> None:
        for kind in kinds:
            found[kind] = Story(kind, 0.0)

    if found["harsh"].size > MOSTLY_CUT:  # what is left says nothing of lines, noise or focus
        drop(*(kind for kind in found if kind != "harsh"))
    if has("blocks"):  # what JPEG left is flat in squares, so that neither rows nor noise tell
        drop("bands", "streaks", "jumps", "teeth", "square", "stretched", "noise", "dark_centre")
    if has("noise"):
        drop("grains", "bright_edges")
    if has("teeth"):
        drop("jumps", "stretched")
    for kind, feigned in FEIGNED.items():
        for other in feigned:
            if has(kind) and 1 <= found[other].strength < PLAIN:
                found[other] = replace(found[other], strength=DOUBT)
    if has("flare"):
        drop("harsh", "bright_edges")
    if has("square"):
        drop("streaks", "curtains", "dark_centre")
        top, _, bottom, _ = found["square"].where[0]
        if all(min(abs(box[0] - top), abs(box[0] - bottom)) < SIDE for box in found["jumps"].where):
            drop("jumps")
    if has("bands") and has("dark_centre"):  # a band that crosses a dark thing shades it as well
        found["dark_centre"] = replace(found["dark_centre"], strength=DOUBT)
    if has("dark_centre"):
        drop("streaks")
    if has("bands") and has("streaks"):
        drop("bands" if _starts_at_a_thing(found["bands"], found["streaks"]) else "streaks")
    if has("bright_edges") and found["streaks"].strength < CLEAR:
        drop("streaks")
    if has("soft"):
        drop("curtains", *(("stretched",) if found["stretched"].strength < CLEAR else ()))
    if has("grains"):
        drop("bright_edges")
    return found


def _starts_at_a_thing(bands: Story, streaks: Story) -> bool:
    """Whether what looks like bands is one streak that does not reach from edge to edge."""
    top, left, bottom, right = streaks.where[0]
    return right - left < 0.93 and all(top - 0.02 < box[0] < bottom + 0.02 for box in bands.where)


def _least(*ratios: float) -> float:
    """A story is as strong as the weakest of what it needs; capped, so that none is endless."""
    return float(np.clip(min(ratios), 0.0, 9.0))


def _of_lines(m: Measured) -> tuple[Story, ...]:
    height = m.sample.shape[0]
    z, step = np.abs(m.borders.z), np.abs(m.borders.whole) / m.sample.noise
    weight = np.minimum.reduce(
        [
            z / BAND_Z,
            step / BAND_STEP,
            m.borders.agree / BAND_AGREE,
            BAND_UNEVEN / np.maximum(m.borders.uneven, 1e-9),
        ]
    )
    # Where a picture was enlarged the first rows of its bar run into it.
    at_rim = math.ceil(RIM * height)
    weight[:at_rim] = weight[len(weight) - at_rim :] = 0.0
    row = int(np.argmax(weight))
    bands = np.flatnonzero(weight >= 1)
    # Charge that lets go comes back: one border alone may as well be the rim of a thing.
    back = weight[np.sign(m.borders.whole) != np.sign(m.borders.whole[row])]
    clear = float(weight[row])
    if back.max(initial=0.0) < UNSURE:
        clear = min(clear, DOUBT)
    # A displaced row looks like the one before it; one where a thing begins does so nowhere.
    gain, match = m.shifts.gain / JUMP_GAIN, m.shifts.match / MATCH
    likely = np.where(match >= 1, gain, np.minimum(gain, match))
    jump = np.where(np.abs(m.shifts.jump) >= JUMP, likely, 0.0)
    jumps = np.flatnonzero(jump >= 1)
    largest = int(np.argmax(jump))
    teeth_fit = _least(m.teeth.ratio / TEETH_RATIO, m.teeth.share / TEETH_SHARE)
    return (
        Story("bands", _least(clear), float(step[row]), _rows(bands, height)),
        Story(
            "jumps",
            _least(float(jump[largest])),
            abs(float(m.shifts.jump[largest])),
            _rows(jumps, height),
        ),
        Story("teeth", teeth_fit, m.teeth.size),
    )


def _rows(rows: NDArray[np.intp], height: int) -> tuple[Box, ...]:
    """Thin boxes across the picture at these borders, not more than can be seen."""
    return tuple((float(r + 1) / height, 0.0, float(r + 1) / height, 1.0) for r in rows[:24])


def _of_areas(m: Measured) -> tuple[Story, ...]:
    s, white, dark = m.sample, m.white, m.dark
    flare = _least(
        white.area / WHITE_AREA,
        white.of_all / WHITE_ALONE,
        white.away / WHITE_AWAY,
        s.at_stops[1] / (0.3 * white.area + 1e-9),
    )
    stops = s.at_stops[0] + s.at_stops[1]
    # A flare whitens. Where as much is black the contrast may have cut a bright thing flat.
    if stops >= AT_STOPS and s.at_stops[0] > 0.5 * s.at_stops[1] and flare < CLEAR:
        flare = min(flare, DOUBT)
    noise = s.noise
    tail_fit = 0.0
    boxes: tuple[Box, ...] = ()
    if m.tail is not None:
        tail_fit = _least(m.tail.z / TAIL_Z, abs(m.tail.step) / (1.5 * noise))
        boxes = (m.tail.box,)
    shades = min(
        m.shade.z / SHADE_Z,
        m.shade.along / max(m.shade.depth, 1e-9) / SHADE_DEPTH,
        m.shade.along / max(abs(m.shade.across), 1e-9) / SHADE_ALONG,
    )
    beside = m.tail is not None and _level(m.tail.box, dark.box)
    dark_fit = _least(
        dark.area / DARK_AREA,
        dark.of_all / DARK_ALONE,
        m.shade.gap / (DARK_GAP * s.contrast),
        0.0 if _at_the_rim(dark.box) else 9.0,
        LONGEST / _length(dark.box, s.shape),
        max(shades, tail_fit if beside else 0.0),
    )
    square_fit, square_step = 0.0, 0.0
    square_box: tuple[Box, ...] = ()
    if m.square is not None:
        square_fit, square_step = _least(m.square.z / SQUARE_Z), m.square.step
        square_box = (m.square.box,)
    return (
        Story("flare", flare, white.area, (white.box,)),
        Story("harsh", _least(stops / AT_STOPS), stops),
        Story("streaks", tail_fit, abs(m.tail.step) / noise if m.tail else 0.0, boxes),
        Story("dark_centre", dark_fit, dark.area, (dark.box,)),
        Story("square", square_fit, square_step, square_box),
        Story(
            "bright_edges",
            _least(
                m.ridges.rims / RIMS,
                m.ridges.height / RIM_HEIGHT[m.ridges.sides < RIM_ON_EDGE],
            ),
            m.ridges.height,
        ),
    )


def _at_the_rim(box: Box) -> bool:
    """Whether a patch goes on beyond the picture, so that nobody sees how it ends."""
    return min(box[0], box[1], 1 - box[2], 1 - box[3]) < RIM


def _length(box: Box, shape: tuple[int, int]) -> float:
    """How many times as long along the scan as high a patch is."""
    return max((box[3] - box[1]) * shape[1], 1.0) / max((box[2] - box[0]) * shape[0], 1.0)


def _level(rows: Box, core: Box) -> bool:
    """Whether some rows lie at the height of a patch, about."""
    middle, half = (core[0] + core[2]) / 2, (core[2] - core[0]) / 2 + 0.03
    return abs((rows[0] + rows[2]) / 2 - middle) < half


def _of_spectrum(m: Measured) -> tuple[Story, ...]:
    s, p = m.sample, m.spectrum
    ratio = s.contrast / s.noise
    return (
        Story("noise", _least(NOISY / max(ratio, 1e-9)), ratio),
        Story("soft", _least(p.short / SOFT), p.probe),
        Story(
            "stretched",
            _least(
                math.sqrt(max(p.long**2 - max(p.short, 0.0) ** 2, 0.0)) / STRETCH,
                p.sure / STRETCH_SURE,
            ),
            p.long,
        ),
        Story("curtains", _least(p.line / CURTAINS), p.lean),
        Story("blocks", _least(p.grid / BLOCKS), p.grid),
        Story("grains", _least(m.ridges.even / EVEN, p.rise / RISE), p.grain),
    )
