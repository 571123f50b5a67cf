"""The small made pictures of the rule base: what each kind of charging, and each look-alike, looks
like.

`python -m tests.micrograph_drawings` writes them into `rules/drawings`; a test holds the files
against this.
"""

import numpy as np

from troubleshoot.training.micrograph import KINDS, Bytes, micrograph

SHAPE = (120, 180)
LEVELS = 32
"""Grey levels of a picture, so that its file is small."""
SEED = 26
STRENGTH = {
    "bands": 4.0,
    "streaks": 4.0,
    "jumps": 4.0,
    "flare": 2.5,
    "dark_centre": 2.0,
    "teeth": 1.0,
    "square": 2.5,
    "bright_edges": 1.5,
    "noise": 1.2,
    "harsh": 4.0,
    "stretched": 1.2,
    "soft": 0.8,
    "curtains": 1.6,
    "blocks": 2.0,
    "grains": 1.0,
}
"""Plain enough to be seen at a glance."""


def name_of(kind: str) -> str:
    """The file of a kind in `rules/drawings`."""
    return f"made_{kind}.png"


def picture(kind: str) -> Bytes:
    """The picture of a kind, grey, in few levels."""
    seed = SEED
    pixels = micrograph(
        kind, seed=seed, noise_seed=1, shape=SHAPE, snr=12, strength=STRENGTH.get(kind, 1.0)
    )
    step = 255 / (LEVELS - 1)
    return np.rint(np.rint(pixels / step) * step).astype(np.uint8)


def pictures() -> dict[str, Bytes]:
    """Every kind by the name of its file."""
    return {name_of(kind): picture(kind) for kind in KINDS}
