"""Step 4, what is said of a micrograph, or of two of one field: a sentence, numbers, findings.

A saved frame has lost time, which is the evidence of charging. So of one frame only what it can
carry is said, what could not have been seen is named, and a pair is worth more.
"""

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings.image.pairs import Change, compare
from troubleshoot.readings.image.sampling import sample
from troubleshoot.readings.image.stories import (
    BAND_STEP,
    BAND_Z,
    CHARGING,
    JUMP_GAIN,
    LOOK_ALIKES,
    UNSURE,
    Measured,
    Story,
    measure,
    stories,
)
from troubleshoot.readings.reading import MICROGRAPH, MICROGRAPHS, Estimate, Reading
from troubleshoot.sources.image_file import Picture

READER = "micrograph 1"
PAIRS = {
    "slow-fast": "a slow and a fast frame",
    "kv": "two beam energies, the higher first",
    "bridge": "before and after a bridge to ground",
    "time": "two frames some time apart",
    "coat": "before and after more coat",
}
"""What differs between the first picture and the second."""
NAMES = {
    "clean": "nothing odd",
    "bands": "bands along the scan",
    "streaks": "streaks along the scan",
    "jumps": "displaced lines",
    "flare": "a flare",
    "dark_centre": "a dark centre with a tail along the scan",
    "teeth": "regular teeth",
    "square": "a square",
    "bright_edges": "bright edges",
    "noise": "noise",
    "harsh": "black and white at the stops",
    "stretched": "detail stretched one way",
    "soft": "a soft picture",
    "curtains": "stripes across the scan",
    "blocks": "JPEG blocks",
    "grains": "even grain all over",
}
MEANS = {
    "bands": "whole rows are brighter or darker, as when charge builds up and lets go while the "
    "beam scans; a layer of the specimen that lies exactly along the scan looks the same",
    "streaks": "part of some rows is brighter or darker, as behind a thing that charges",
    "jumps": "rows are displaced, as when charge pushes the beam aside",
    "flare": "one place is white with a glow around it, as a piece without a path to ground is",
    "dark_centre": "the rows beside a dark place are darker too, as beside a charged thing",
    "teeth": "rows move to and fro in step: a stray mains field or vibration, not charge",
    "square": "an even square as an earlier scan leaves it: dark and lasting it is contamination, "
    "bright or fading it is charge",
    "bright_edges": "edges are bright on both sides, which is normal for secondary electrons",
    "noise": "there is too little signal: a slower scan, more frames or a larger spot",
    "harsh": "contrast and brightness cut off bright and dark parts, so detail is lost there",
    "stretched": "astigmatism that is not corrected",
    "soft": "out of focus, or more magnification than the probe can fill",
    "curtains": "as ion milling leaves them, or a scratched surface",
    "blocks": "the file was saved as JPEG too small, which hides most else: save it as TIFF or PNG",
    "grains": "as a coarse coat looks at high magnification, or a grainy specimen",
}
NAMED, OTHER, STRAY, MISSED, DOUBT = 0.8, 0.5, 0.04, 0.12, 0.4
"""P(what was read | answer): of the kind that stands out, of one found beside it, of one that was
not found although another was, of one missed, of one that cannot be ruled out. The detectors do
better on made pictures (docs/micrographs.md); real ones hold more. Judgement."""
LEAST_DRIFT, DRIFT_ERRORS = 0.6, 2.5
"""px, and standard errors, from which a scene has moved. Ours."""
CHANGED_AREA = 0.02
COARSE_GRAIN = 20e-9
Tell = Callable[[str], None]


@dataclass(frozen=True)
class Look:
    """One picture as it was read: what was found, what cannot be ruled out, what could not be
    seen."""

    picture: Picture
    measured: Measured
    stories: Mapping[str, Story]

    @property
    def found(self) -> list[str]:
        """The kinds that are there, the clearest first."""
        there = [k for k, s in self.stories.items() if s.strength >= 1]
        return sorted(there, key=lambda k: -self.stories[k].strength)

    @property
    def doubtful(self) -> list[str]:
        """The kinds that nobody can tell."""
        doubt = [k for k, s in self.stories.items() if UNSURE <= s.strength < 1]
        if self.measured.shifts.worth < JUMP_GAIN and "jumps" not in (*doubt, *self.found):
            doubt.append("jumps")
        return doubt

    @property
    def faintest_band(self) -> float:
        """The step between rows that would just have been found, in levels."""
        m = self.measured
        usual = abs(m.borders.whole) / (abs(m.borders.z) + 1e-9)
        return max(BAND_Z * sorted(usual.tolist())[len(usual) // 2], BAND_STEP * m.sample.noise)


@dataclass(frozen=True)
class MicrographAnalysis:
    """What was read of one picture or two."""

    reading: Reading
    looks: tuple[Look, ...]
    pair: str | None = None
    change: Change | None = None


def analyse(
    pictures: tuple[Picture, ...],
    findings: Mapping[str, Finding],
    *,
    pair: str | None = None,
    pixel: float | None = None,
    tell: Tell = lambda text: None,
) -> MicrographAnalysis:
    """What one picture shows, or what became of it in a second of the same field.

    `pixel`: m a pixel. `tell` is told what is being done. Raises `UserError` where two pictures
    have no `pair`, or cannot be laid over each other.
    """
    kinds = f"{', '.join(list(PAIRS)[:-1])} or {list(PAIRS)[-1]}"
    if len(pictures) == 2 and pair is None:
        raise UserError(
            f"Two pictures: say by --pair (in a case file pair:) what differs: {kinds}."
        )
    if len(pictures) == 1 and pair is not None:
        raise UserError(f"{pair} compares two pictures of one field: name the second one too.")
    looks = []
    samples = []
    for picture in pictures:
        tell(f"Reading {picture.name} …")
        samples.append(sample(picture))
    change = None
    if pair is not None:
        change = compare(pictures[0], pictures[1], samples[0], samples[1])
    for picture, seen in zip(pictures, samples, strict=True):
        measured = measure(seen)
        looks.append(Look(picture, measured, stories(measured)))
    first = looks[0]
    evidence: dict[str, tuple[float, ...]] = {}
    if pair is None:
        evidence["picture_shows"] = _shows(first, findings)
        evidence |= _grain(first, pixel)
        sentence = _one(first, pixel)
    else:
        assert change is not None
        evidence |= _of_pair(pair, looks[0], looks[1], change)
        # After a bridge or a coat the second is what is seen now; else the first shows the trouble.
        evidence["picture_shows"] = _shows(looks[1 if pair in ("bridge", "coat") else 0], findings)
        sentence = _two(pair, looks[0], looks[1], change)
    return MicrographAnalysis(
        Reading(
            kind=MICROGRAPH if pair is None else MICROGRAPHS,
            source=" and ".join(p.name for p in pictures),
            sha256=hashlib.sha256("".join(p.sha256 for p in pictures).encode()).hexdigest()
            if pair
            else pictures[0].sha256,
            reader=READER,
            sentence=sentence,
            numbers=_numbers(first, change, pixel),
            findings={k: v for k, v in evidence.items() if k in findings and v},
        ),
        tuple(looks),
        pair,
        change,
    )


def _shows(look: Look, findings: Mapping[str, Finding]) -> tuple[float, ...]:
    """P(what was read | each answer of the finding that names the kinds)."""
    finding = findings.get("picture_shows")
    if finding is None:
        return ()
    found, doubtful = look.found, look.doubtful

    def chance(kind: str) -> float:
        if found:
            if kind == found[0]:
                return NAMED
            return OTHER if kind in found else STRAY
        if kind == "clean":
            return NAMED
        return DOUBT if kind in doubtful else MISSED

    return tuple(chance(answer) for answer in finding.answers)


def _grain(look: Look, pixel: float | None) -> dict[str, tuple[float, ...]]:
    """Grain of a coat, where the size of a pixel is known: smooth, fine, coarse, cracks."""
    if pixel is None or "grains" not in look.found:
        return {}
    coarse = look.stories["grains"].size * pixel > COARSE_GRAIN
    return {"film_grain": (0.05, 0.1 if coarse else 0.8, 0.8 if coarse else 0.1, 0.05)}


def trouble(look: Look) -> float:
    """How much of charging there is: the strengths of what was found, 0 where nothing was."""
    return sum(s.strength for k, s in look.stories.items() if k in CHARGING and s.strength >= 1)


def _of_pair(pair: str, one: Look, other: Look, change: Change) -> dict[str, tuple[float, ...]]:
    """What the comparison says of the findings that it answers, as P(read | answer)."""
    before, after = trouble(one), trouble(other)
    if pair == "time":
        moved = change.drift > max(LEAST_DRIFT, DRIFT_ERRORS * change.error)
        still = change.drift + DRIFT_ERRORS * change.error < 1.0
        drift = (0.05, 0.9, 0.8) if moved else (0.9, 0.1, 0.3) if still else ()
        own = change.changed >= CHANGED_AREA
        return {
            "picture_drift": drift,
            "changes_with_time": (0.85, 0.1) if own else (0.25, 0.9),
        }
    if pair == "slow-fast":
        teeth = [look.stories["teeth"].strength >= 1 for look in (one, other)]
        if any(teeth):
            periods = [look.measured.teeth.period for look in (one, other)]
            other_spacing = not all(teeth) or max(periods) > 1.15 * min(periods)
            return {"tv_rate": (0.15, 0.2, 0.8) if other_spacing else (0.05, 0.8, 0.3)}
        if not before:
            return {}
        return {"tv_rate": (0.85, 0.1, 0.2) if after < 0.4 * before else (0.1, 0.85, 0.3)}
    if pair == "kv" and (before or after):
        better, worse = after < 0.5 * before, after > 2 * before
        return {
            "low_kv": (0.85, 0.15, 0.03)
            if better
            else (0.03, 0.15, 0.85)
            if worse
            else (0.15, 0.8, 0.15)
        }
    return {}


def _numbers(look: Look, change: Change | None, pixel: float | None) -> dict[str, Estimate]:
    s = look.measured.sample
    numbers = {
        "noise": Estimate(s.noise, 0.05 * s.noise, "levels"),
        "contrast": Estimate(s.contrast, 0.05 * s.contrast, "levels"),
        "faintest_band": Estimate(look.faintest_band, 0.2 * look.faintest_band, "levels"),
    }
    if "teeth" in look.found:
        teeth = look.measured.teeth
        numbers["teeth_period"] = Estimate(teeth.period, teeth.period**2 / s.shape[0], "rows")
    if "grains" in look.found:
        size, unit = (look.stories["grains"].size, "px")
        if pixel is not None:
            size, unit = size * pixel, "m"
        numbers["grain_size"] = Estimate(size, 0.2 * size, unit)
    if change is not None:
        numbers["drift_down"] = Estimate(change.down, change.error, "px")
        numbers["drift_right"] = Estimate(change.right, change.error, "px")
        numbers["changed_area"] = Estimate(change.changed, 0.02, "1")
    return numbers


def _one(look: Look, pixel: float | None) -> str:
    """The sentence for one picture."""
    s = look.measured.sample
    said = [_seen(look, pixel)]
    charging = any(k in CHARGING for k in look.found)
    if not look.found:
        said.append(
            "Nothing that charging, or what looks like it, does to a single frame is seen: no "
            f"band of {look.faintest_band / s.noise:.1f} times the pixel noise or more."
        )
    if look.doubtful:
        said.append(f"Cannot tell: {_list(NAMES[k] for k in look.doubtful)}.")
    if not charging:
        said.append(
            "One saved frame has lost time: what creeps or flickers does not show in it. A slow "
            "and a fast frame of one field, or two a minute apart, tell more."
        )
    elif all(k in CHARGING for k in look.found):
        said.append("A fast frame of the same field would prove it.")
    return " ".join(part for part in said if part)


def _seen(look: Look, pixel: float | None) -> str:
    """What was found, with where and how much, and what it means."""
    parts = []
    for kind in look.found:
        parts.append(f"{NAMES[kind]}{_how_much(look, kind, pixel)}: {MEANS[kind]}")
    if not parts:
        return ""
    charging = [k for k in look.found if k in CHARGING]
    like = [k for k in look.found if k in LOOK_ALIKES]
    head = (
        "The picture shows what charging does, and something else besides"
        if charging and like
        else "The picture shows what charging does"
        if charging
        else "The picture shows what is not charging"
    )
    return f"{head}. {'. '.join(p[:1].upper() + p[1:] for p in parts)}."


def _how_much(look: Look, kind: str, pixel: float | None) -> str:
    """The measure of a kind in brackets, with where it is."""
    story, m = look.stories[kind], look.measured
    size = {
        "bands": f"{story.size:.1f} times the pixel noise",
        "streaks": f"{story.size:.1f} times the pixel noise",
        "jumps": f"up to {story.size:.0f} px",
        "flare": f"{100 * story.size:.1f} % of the area",
        "dark_centre": f"{100 * story.size:.1f} % of the area",
        "teeth": f"{story.size:.1f} px to each side, once in {m.teeth.period:.1f} rows",
        "square": f"{'darker' if story.size < 0 else 'brighter'} by {abs(story.size):.1f} levels",
        "noise": f"contrast {story.size:.1f} times the noise",
        "harsh": f"{100 * story.size:.0f} % of the pixels",
        "stretched": f"blurred by {m.spectrum.long:.1f} px one way and "
        f"{max(m.spectrum.short, 0):.1f} px the other",
        "soft": f"blurred by {story.size:.1f} px",
        "curtains": f"they lean by {story.size:.0f} degrees",
        "grains": f"about {story.size:.0f} px apart"
        + (f", {story.size * pixel * 1e9:.0f} nm" if pixel else ""),
    }.get(kind, "")
    rows = sorted({round(100 * box[0]) for box in story.where})
    place = ""
    if kind in ("bands", "jumps", "streaks") and rows:
        some = ", ".join(str(r) for r in rows[:4]) + (" …" if len(rows) > 4 else "")
        place = f"at {some} % of the height"
    both = ", ".join(p for p in (size, place) if p)
    return f" ({both})" if both else ""


def _list(names: Iterable[str]) -> str:
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last


def _two(pair: str, one: Look, other: Look, change: Change) -> str:
    """The sentence for two pictures."""
    said = []
    names = [
        _list(NAMES[k] for k in look.found) if look.found else "nothing that was looked for"
        for look in (one, other)
    ]
    said.append(f"{PAIRS[pair][:1].upper()}{PAIRS[pair][1:]}: the first shows {names[0]}, the "
                f"second {names[1]}.")  # fmt: skip
    before, after = trouble(one), trouble(other)
    if pair != "time":
        if before and after < 0.4 * before:
            said.append(_GONE[pair])
        elif before and after <= 2 * before:
            said.append(_STAYS[pair])
        elif after and not before:
            said.append(_COMES[pair])
        else:
            said.append("Neither shows what charging does to a frame, so the pair decides nothing.")
    moved = change.drift > max(LEAST_DRIFT, DRIFT_ERRORS * change.error)
    if moved:
        said.append(
            f"The field has moved by {change.drift:.1f} ± {1.96 * change.error:.1f} px "
            f"({abs(change.down):.1f} {'down' if change.down > 0 else 'up'}, "
            f"{abs(change.right):.1f} to the {'right' if change.right > 0 else 'left'})."
        )
    elif DRIFT_ERRORS * change.error >= 1:
        said.append("Whether the field has moved by a pixel cannot be told: too little detail.")
    else:
        said.append("The field has not moved by a pixel.")
    if change.changed >= CHANGED_AREA:
        said.append(
            f"{100 * change.changed:.0f} % of it became brighter or darker by itself."
            + (" Charge does that; so does contamination that grows." if pair == "time" else "")
        )
    elif pair == "time":
        said.append("No part of it became brighter or darker by itself.")
    return " ".join(said)


_GONE = {
    "slow-fast": "At fast scan it is gone, or much weaker: that speaks for charging.",
    "kv": "At the lower energy it is gone, or much weaker: the beam brought more charge than this "
    "coat can lead off.",
    "bridge": "With the bridge it is gone, or much weaker: the path to ground was missing.",
    "coat": "With more coat it is gone, or much weaker: the film had gaps or was too thin.",
}
_STAYS = {
    "slow-fast": "Fast scan does not help: a piece without a path to ground stays white at any "
    "speed, and what is not charging stays too.",
    "kv": "The lower energy does not help.",
    "bridge": "The bridge does not help: look at the coat, or at the beam.",
    "coat": "More coat does not help: look at the path to ground, or at the beam.",
}
_COMES = {
    "slow-fast": "It shows in the fast frame only, which charging seldom does.",
    "kv": "It is worse at the lower energy.",
    "bridge": "It is worse with the bridge.",
    "coat": "It is worse with more coat.",
}
