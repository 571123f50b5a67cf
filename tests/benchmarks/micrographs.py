"""How often the reader of micrographs is right on made pictures of known content.

`python -m tests.benchmarks.micrographs [COUNT]` prints the tables of docs/micrographs.md and writes
their curves. The troubles are those of `troubleshoot.training.micrograph`; what they are laid on is
not made there (`tests.readings.textures`, and photographs that scikit-image ships, where it is
installed).
"""

import math
import sys
from collections import Counter
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from tests.readings import textures
from troubleshoot.readings.image.pairs import compare
from troubleshoot.readings.image.sampling import sample
from troubleshoot.readings.image.stories import CHARGING, LOOK_ALIKES, measure, stories
from troubleshoot.readings.panels import Panel, sheet
from troubleshoot.sources.image_file import Picture
from troubleshoot.training.micrograph import micrograph, moved

ASKED = ("bands", "jumps", "flare")
"""What must be found from its weakest on; drift is the fourth, in pairs."""
SHARES = {"clean": 0.2, **dict.fromkeys(ASKED, 0.1), "drift": 0.1, "still": 0.05}
RIM = 24
"""Pixels around a field out of which it may drift."""
STRENGTHS = (0.25, 0.5, 1.0, 2.0)
LIMITS = (0.6, 0.8, 1.0, 1.25, 1.5, 2.0)
CURVES = Path(__file__).parents[2] / "docs" / "micrographs_rates.svg"


def sources():
    """The textures that can be had here."""
    return textures.KINDS + (textures.OPEN_DATA if find_spec("skimage") else ())


def scene(number):
    """A texture by its number, and the generator that goes on with it. It has a rim on every
    side."""
    rng = np.random.default_rng((number, 99))
    shape = int(rng.integers(200, 420)) + 2 * RIM, int(rng.integers(256, 560)) + 2 * RIM
    kind = sources()[number % len(sources())]
    make = textures.texture if kind in textures.KINDS else textures.open_data
    return kind, make(kind, rng, shape), rng


def cut(field):
    """Without the rim."""
    return field[RIM:-RIM, RIM:-RIM]


def made(number, kind, strength=None):
    """A picture with a trouble, its texture, its signal to noise (3 to 30) and its strength (1 to
    3)."""
    texture, field, rng = scene(number)
    snr = math.exp(rng.uniform(math.log(3), math.log(30)))
    drawn = rng.uniform(1, 3)
    pixels = micrograph(kind, seed=number, snr=snr, strength=strength or drawn, scene=cut(field))
    return texture, snr, strength or drawn, pixels


def as_picture(pixels, name="made.png"):
    return Picture(name, "0" * 64, pixels, 255, False, None)


def read(pixels):
    """Every story of a picture."""
    return stories(measure(sample(as_picture(pixels))))


def found(told):
    """The kinds that are found, the clearest first."""
    there = [k for k, s in told.items() if s.strength >= 1]
    return sorted(there, key=lambda k: -told[k].strength)


def pair(number, size):
    """Two frames of one field, the second moved by `size` px, and what it moved by."""
    _, field, rng = scene(number)
    snr = math.exp(rng.uniform(math.log(3), math.log(30)))
    turn = rng.uniform(0, 2 * math.pi)
    down, right = size * math.sin(turn), size * math.cos(turn)
    frames = [
        micrograph(
            "clean", seed=number, noise_seed=number + n, snr=snr, scene=cut(moved(field, *by))
        )
        for n, by in enumerate(((0.0, 0.0), (down, right)))
    ]
    return [as_picture(f) for f in frames], down, right


def drift_of(pictures):
    """What the reader says of a pair, or None where it says that the frames do not match."""
    return compare(*pictures, *(sample(p) for p in pictures))


def has_moved(change):
    return change.drift > max(0.6, 2.5 * change.error)


def rates(count, done=lambda kind, every: None):
    """Every picture of the tables: the stories by kind, and the pairs. `done` gets each kind."""
    others = (1 - sum(SHARES.values())) / len(LOOK_ALIKES)
    shares = {**SHARES, **dict.fromkeys(LOOK_ALIKES, others)}
    told, number = {}, 0
    for kind, share in shares.items():
        told[kind] = []
        for _ in range(round(share * count)):
            number += 1
            if kind in ("drift", "still"):
                size = 0.0 if kind == "still" else 1.0 + (number % 60) / 6
                pictures, down, right = pair(number, size)
                told[kind].append((drift_of(pictures), down, right))
            else:
                told[kind].append(read(made(number, kind)[3]))
        done(kind, told[kind])
    return told


def share_of(flags):
    """A share, and its 95 % interval (Wilson, J. Am. Stat. Assoc. 22 (1927) 209)."""
    flags = list(flags)
    n, p, z = len(flags), sum(flags) / len(flags), 1.96
    middle, half = (p + z * z / 2 / n), z * math.sqrt(p * (1 - p) / n + z * z / 4 / n / n)
    return p, (middle - half) / (1 + z * z / n), (middle + half) / (1 + z * z / n)


def shown(flags):
    p, low, high = share_of(flags)
    return f"{100 * p:.1f} % ({100 * low:.0f} to {100 * high:.0f})"


def table(told):
    """The rates as rows: what was made, how many, found or named as itself, named as charging."""
    rows = []
    for kind, every in told.items():
        if kind in ("drift", "still"):
            right = [has_moved(c) == (kind == "drift") for c, *_ in every]
            rows.append((kind, len(every), shown(right), ""))
            continue
        names = [found(s) for s in every]
        right = [kind in n if kind != "clean" else not n for n in names]
        charging = [any(k in CHARGING for k in n) for n in names]
        rows.append((kind, len(every), shown(right), shown(charging)))
    return rows


def curve(told):
    """Of each kind that is asked for, detection and false alarms at every limit."""
    return {
        kind: [
            (
                limit,
                share_of(s[kind].strength >= limit for s in told[kind])[0],
                share_of(s[kind].strength >= limit for s in told["clean"])[0],
            )
            for limit in LIMITS
        ]
        for kind in ASKED
    }


def by_strength(count):
    """Of each kind that is asked for, the share found at each strength, `count` pictures each."""
    return {
        kind: [
            share_of(
                kind in found(read(made(n, kind, strength)[3])) for n in range(5000, 5000 + count)
            )[0]
            for strength in STRENGTHS
        ]
        for kind in ASKED
    }


def draw(curves):
    """The share found, and of clean pictures the false alarms, at every limit, as an SVG."""
    kinds = dict(zip(ASKED, ("fit", "level", "healthy"), strict=True))
    body = []
    for top, title, place, most in ((26, "Found", 1, 100), (320, "False alarms", 2, 5)):
        panel = Panel(top, 220, (LIMITS[0], LIMITS[3]), (0, most))
        body.append(panel.frame(title, "limit, as a share of the one in use", "%"))
        for kind, line in kinds.items():
            points = [(row[0], 100 * row[place]) for row in curves[kind] if row[0] <= LIMITS[3]]
            body.append(panel.line(*zip(*points, strict=True), line))
    key = [(line, kind) for kind, line in kinds.items()]
    return sheet("Detection against false alarms, by the limit", key, body, 590)


def main(count):
    print("| made | pictures | found, or named as itself | named as charging |\n|---|---|---|---|")

    def tell(kind, every):
        (row,) = table({kind: every})
        print("|", " | ".join(str(cell) for cell in row), "|", flush=True)

    told = rates(count, tell)
    print(f"\n{sum(len(v) for v in told.values())} pictures on {', '.join(sources())}")
    print("\n| limit |", " | ".join(f"{k} found, false" for k in ASKED), "|")
    print("|---|" + "---|" * len(ASKED))
    curves = curve(told)
    for n, limit in enumerate(LIMITS):
        cells = (f"{100 * curves[k][n][1]:.0f} %, {100 * curves[k][n][2]:.1f} %" for k in ASKED)
        print(f"| {limit:g} |", " | ".join(cells), "|")
    weak = by_strength(max(18, count // 80))
    print("\n| strength |", " | ".join(ASKED), "|")
    print("|---|" + "---|" * len(ASKED))
    for n, strength in enumerate(STRENGTHS):
        print(f"| {strength:g} |", " | ".join(f"{100 * weak[k][n]:.0f} %" for k in ASKED), "|")
    away = [math.hypot(c.down - d, c.right - r) for c, d, r in told["drift"]]
    middle, most = np.quantile(away, (0.5, 0.95))
    print(f"\nDrift: off by {middle:.2f} px in the middle, by {most:.2f} px or less in 95 %.")
    wrong = Counter(
        (kind, name)
        for kind, every in told.items()
        if kind not in ("drift", "still")
        for s in every
        for name in found(s)
        if name != kind
    )
    print("Named besides:", ", ".join(f"{k} as {n} {c}" for (k, n), c in wrong.most_common(20)))
    CURVES.write_text(draw(curves), encoding="utf-8")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
