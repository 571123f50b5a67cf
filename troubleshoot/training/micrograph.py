"""Small made micrographs: one scene, one thing wrong with it, noise of the detector.

    pixels = micrograph("bands", seed=3)                     # a scene of its own, 8 bit grey
    pixels = micrograph("bands", seed=3, scene=my_picture)   # the same trouble on another scene
    slow, fast = micrograph("bands", seed=3), micrograph("clean", seed=3, noise_seed=4)

Rows are scan lines, and time runs along them from left to right and from the first to the last. A
trouble is made as the microscope makes it: what moves the beam moves pixels, what charges adds
signal along the scan, what is out of focus blurs before the noise, and gain and file format come
last. `strength` 1 is the weakest that the reader of micrographs is asked to find (`WEAKEST` says
what that is of each kind). How strong each is in real pictures is judgement: no counted statistics
are published.
"""

import io
import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Random = np.random.Generator

CHARGING = ("bands", "streaks", "jumps", "flare", "dark_centre")
LOOK_ALIKES = (
    *("teeth", "square", "bright_edges", "noise", "harsh"),
    *("stretched", "soft", "curtains", "blocks", "grains"),
)
KINDS = ("clean", *CHARGING, *LOOK_ALIKES)
WEAKEST = {
    "bands": "2 standard deviations of the pixel noise over 3 rows",
    "streaks": "4 standard deviations of the pixel noise over 3 rows, from a thing on",
    "jumps": "rows displaced by 2 px",
    "flare": "1 % of the area white",
    "dark_centre": "1 % of the area dark by 6 standard deviations of the pixel noise, with a tail",
    "teeth": "rows displaced by 1.5 px to each side",
    "square": "3 standard deviations of the pixel noise",
    "bright_edges": "edges brighter by twice the contrast of the scene",
    "noise": "noise as large as the contrast of the scene",
    "harsh": "5 % of the pixels at each stop",
    "stretched": "a probe of 1 by 3 px",
    "soft": "a probe of 3 px",
    "curtains": "3 standard deviations of the pixel noise",
    "blocks": "JPEG of quality 20",
    "grains": "grains of 5 px with the contrast of the scene",
}
MEAN, CONTRAST = 110.0, 24.0
"""Grey level of the scene, and its standard deviation."""


def micrograph(
    kind: str = "clean",
    *,
    seed: int,
    noise_seed: int | None = None,
    shape: tuple[int, int] = (256, 384),
    snr: float = 10.0,
    strength: float = 1.5,
    scene: Floats | None = None,
    drift: tuple[float, float] = (0.0, 0.0),
) -> Bytes:
    """A grey picture of 8 bit (rows, columns) with one trouble of `KINDS`.

    `snr`: standard deviation of the scene over that of the pixel noise. `scene`: another picture to
    spoil, of any scale; its size is taken then. `drift`: pixels down and to the right by which the
    scene has moved. `noise_seed`: another frame of the same field.
    """
    if kind not in KINDS:
        raise ValueError(f"{kind!r} is none of {', '.join(KINDS)}")
    field = made_scene(shape, np.random.default_rng(seed)) if scene is None else scene
    field = MEAN + CONTRAST * (field - field.mean()) / max(float(field.std()), 1e-9)
    field = moved(field, *drift)
    rng = np.random.default_rng((seed, KINDS.index(kind), 7))
    sigma = CONTRAST / snr
    field = _TROUBLES[kind](field, sigma, strength, rng)
    own = np.random.default_rng((seed if noise_seed is None else noise_seed, 11))
    field = field + sigma * own.standard_normal(field.shape)
    if kind == "noise":
        field = (
            MEAN
            + 0.6 * (field - MEAN)
            + 0.6 * CONTRAST * strength * own.standard_normal(field.shape)
        )
    if kind == "harsh":
        field = _clipped(field, min(0.05 * strength, 0.4))
    pixels = np.clip(np.rint(field), 0, 255).astype(np.uint8)
    return _as_jpeg(pixels, round(20 / strength)) if kind == "blocks" else pixels


def moved(field: Floats, down: float, right: float) -> Floats:
    """The picture moved by parts of a pixel; what comes in at the rim is mirrored."""
    if not down and not right:
        return field
    rim = math.ceil(max(abs(down), abs(right))) + 8
    wide = np.pad(field, rim, "reflect")
    rows, columns = wide.shape
    turn = np.fft.fftfreq(rows)[:, None] * down + np.fft.rfftfreq(columns)[None] * right
    wide = np.fft.irfft2(np.fft.rfft2(wide) * np.exp(-2j * np.pi * turn), s=wide.shape)
    return np.asarray(wide[rim:-rim, rim:-rim])


def made_scene(shape: tuple[int, int], rng: Random) -> Floats:
    """Round and long bodies, lit from one side, on a fine ground."""
    rows, columns = shape
    y, x = np.mgrid[:rows, :columns].astype(float)
    size = min(shape)
    field = 0.25 * _rough(shape, rng, 1.1)
    height = np.zeros(shape)
    for _ in range(int(rng.integers(7, 13))):
        cy, cx = rng.uniform(0, rows), rng.uniform(0, columns)
        a, b = rng.uniform(0.06, 0.25) * size, rng.uniform(0.05, 0.12) * size
        turn = rng.uniform(0, math.pi)
        u = (x - cx) * math.cos(turn) + (y - cy) * math.sin(turn)
        v = (y - cy) * math.cos(turn) - (x - cx) * math.sin(turn)
        inside = 1 - (u / a) ** 2 - (v / b) ** 2
        body = np.sqrt(np.maximum(inside, 0.0)) * b
        pores = 0.06 * b * np.cos(2 * math.pi * u / 7) * np.cos(2 * math.pi * v / 7)
        height = np.maximum(height, body + np.where(inside > 0.15, pores, 0.0))
    down, right = np.gradient(height)
    slope = 0.7 * right - 0.4 * down
    return field + np.clip(slope, -1, 0.7) + 0.8 * (height > 0)


def _rough(shape: tuple[int, int], rng: Random, power: float) -> Floats:
    """Ground whose amplitude falls with spatial frequency as f^-power, of standard deviation 1."""
    f = np.hypot(np.fft.fftfreq(shape[0])[:, None], np.fft.rfftfreq(shape[1])[None])
    f[0, 0] = np.inf
    field = np.fft.irfft2(np.fft.rfft2(rng.standard_normal(shape)) * f**-power, s=shape)
    return field / field.std()


def _clean(field: Floats, sigma: float, strength: float, rng: Random) -> Floats:
    return field


def _bands(field: Floats, sigma: float, strength: float, rng: Random) -> Floats:
    """Whole rows brighter or darker: charge builds up and lets go from line to line."""
    rows = len(field)
    add = np.zeros(rows)
    for _ in range(int(rng.integers(1, 5))):
        wide = int(rng.integers(3, max(4, rows // 10)))
        start = int(rng.integers(2, rows - wide - 2))
        add[start : start + wide] = rng.choice((-1, 1)) * 2 * sigma * strength * rng.uniform(1, 2)
    return field + add[:, None]


def _streaks(field: Floats, sigma: float, strength: float, rng: Random) -> Floats:
    """Behind a bright thing rows stay brighter or darker until the charge has leaked away."""
    rows, columns = field.shape
    field = field.copy()
    x = np.arange(columns)
    for _ in range(int(rng.integers(2, 5))):
        wide = int(rng.integers(3, max(4, rows // 16)))
        y, at = int(rng.integers(2, rows - wide - 2)), rng.uniform(0.05, 0.45) * columns
        fade = rng.uniform(0.4, 1.0) * columns
        tail = np.where(x >= at, np.exp(-(x - at) / fade), 0.0)
        field[y : y + wide] += (
            rng.choice((-1, 1)) * 4 * sigma * strength * rng.uniform(1, 1.5) * tail
        )
        thing = np.hypot(np.arange(rows)[:, None] - y - wide / 2, x - at) < wide
        field[thing] += 1.5 * CONTRAST
    return field


def _jumps(field: Floats, sigma: float, strength: float, rng: Random) -> Floats:
    """Rows displaced along the scan: some for a while, or all from one row on."""
    rows = len(field)
    shift = np.zeros(rows, int)
    for _ in range(int(rng.integers(1, 4))):
        size = round(2 * strength * rng.uniform(1, 2)) * int(rng.choice((-1, 1)))
        start = int(rng.integers(4, rows - 12))
        end = rows if rng.random() < 0.5 else start + int(rng.integers(4, max(5, rows // 5)))
        shift[start:end] += size
    return rolled(field, shift.astype(float))


def rolled(field: Floats, shift: Floats) -> Floats:
    """Each row moved to the right by its shift in px, the ends held."""
    x = np.arange(field.shape[1])
    return np.array([np.interp(x - s, x, row) for s, row in zip(shift, field, strict=True)])


def _flare(field: Floats, sigma: float, strength: float, rng: Random) -> Floats:
    """A thing without earth glows white, and its surroundings with it."""
    rows, columns = field.shape
    area = min(0.01 * strength * rng.uniform(1.0, 3.0), 0.25) * rows * columns
    long = rng.uniform(1.0, 2.0)
    b = math.sqrt(area / math.pi / long)
    y, x = np.mgrid[:rows, :columns]
    away = np.hypot(
        (y - rng.uniform(0.25, 0.75) * rows) / b, (x - rng.uniform(0.25, 0.75) * columns) / b / long
    )
    return field + 330 * np.where(away < 1, 1.0, np.exp(-(away - 1) / rng.uniform(0.25, 0.7)))


def _dark_centre(field: Floats, sigma: float, strength: float, rng: Random) -> Floats:
    """A charged thing is dark, and so are the rows beside it, less with distance from it."""
    rows, columns = field.shape
    radius = math.sqrt(0.01 * strength * rng.uniform(1, 2) * rows * columns / math.pi)
    cy, cx = rng.uniform(0.3, 0.7) * rows, rng.uniform(0.3, 0.7) * columns
    y, x = np.mgrid[:rows, :columns]
    edge = max(1.0, 0.12 * radius)
    away = np.hypot(y - cy, x - cx)
    core = 1 / (1 + np.exp((away - radius) / (0.3 * edge)))
    half = np.sqrt(np.maximum(radius**2 - (y - cy) ** 2, 0.0))
    beyond = np.maximum(np.abs(x - cx) - half, 0.0)
    fade = np.where(x > cx, rng.uniform(0.6, 1.2), rng.uniform(1.0, 2.5)) * radius
    beside = np.clip((radius - np.abs(y - cy)) / edge, 0, 1)
    depth = max(6 * sigma * strength, 0.6 * MEAN)
    return field - depth * np.maximum(core, 0.65 * beside * np.exp(-beyond / fade))


def _teeth(field: Floats, sigma: float, strength: float, rng: Random) -> Floats:
    """A field of the mains or a shaking floor moves rows to and fro, once in so many rows."""
    y = np.arange(len(field))
    period = rng.uniform(3, min(40, len(field) / 6))
    size = 1.5 * strength * rng.uniform(1, 2)
    return rolled(field, size * np.sin(2 * math.pi * (y / period + rng.random())))


def _square(field: Floats, sigma: float, strength: float, rng: Random) -> Floats:
    """Carbon grown where the beam stayed: an even, dark square with a rim."""
    rows, columns = field.shape
    size = rng.uniform(0.2, 0.5)
    high, wide = size * rows, size * columns
    top, left = rng.uniform(0.1, 0.9 - size) * rows, rng.uniform(0.1, 0.9 - size) * columns
    y, x = np.mgrid[:rows, :columns]
    deep = np.minimum(np.minimum(y - top, top + high - y), np.minimum(x - left, left + wide - x))
    edge = np.clip(deep / 1.5 + 0.5, 0, 1)
    rim = 0.4 * np.exp(-np.abs(deep) / (0.03 * rows)) * (deep > 0)
    return field - max(3 * sigma * strength, 0.5 * CONTRAST) * (edge + rim)


def _bright_edges(field: Floats, sigma: float, strength: float, rng: Random) -> Floats:
    """More secondary electrons leave near edges and from slopes."""
    smooth = _blurred(field, 1.2, 1.2, 0.0)
    steep = np.hypot(*np.gradient(smooth))
    rim = np.clip(steep / np.quantile(steep, 0.97), 0, 1.5) ** 3
    return field + 2 * CONTRAST * strength * _blurred(rim, 0.6, 0.6, 0.0)


def _noise(field: Floats, sigma: float, strength: float, rng: Random) -> Floats:
    return field


def _clipped(field: Floats, share: float) -> Floats:
    """Brightness and contrast so that `share` of the pixels lie at either stop."""
    low, high = np.quantile(field, (share, 1 - share))
    return np.asarray((field - low) / (high - low) * 255)


def _blurred(field: Floats, along: float, across: float, turn: float) -> Floats:
    """Blurred by a Gaussian probe with these standard deviations in px, turned by `turn`."""
    fy, fx = np.fft.fftfreq(field.shape[0])[:, None], np.fft.rfftfreq(field.shape[1])[None]
    u, v = fx * math.cos(turn) + fy * math.sin(turn), fy * math.cos(turn) - fx * math.sin(turn)
    probe = np.exp(-2 * np.pi**2 * ((along * u) ** 2 + (across * v) ** 2))
    return np.fft.irfft2(np.fft.rfft2(field) * probe, s=field.shape)


def _stretched(field: Floats, sigma: float, strength: float, rng: Random) -> Floats:
    """Astigmatism: a probe that is long one way."""
    return _blurred(field, 3 * strength, 1.0, rng.uniform(0, math.pi))


def _soft(field: Floats, sigma: float, strength: float, rng: Random) -> Floats:
    """Out of focus: a probe larger than the detail."""
    return _blurred(field, 3 * strength, 3 * strength, 0.0)


def _curtains(field: Floats, sigma: float, strength: float, rng: Random) -> Floats:
    """Milling leaves stripes that run down the picture, none of them along the scan."""
    rows, columns = field.shape
    lean = math.tan(math.radians(rng.uniform(-8, 8)))
    far = np.arange(-rows, columns + rows)
    stripes = np.convolve(rng.standard_normal(far.size), np.hanning(7), "same")
    stripes /= stripes.std()
    y, x = np.mgrid[:rows, :columns]
    return field + max(3 * sigma, 0.35 * CONTRAST) * strength * np.interp(
        x + lean * (y - rows / 2), far, stripes
    )


def _grains(field: Floats, sigma: float, strength: float, rng: Random) -> Floats:
    """Grains of a coarse coat: hills that keep their distance from each other."""
    step = 5.0 * strength * rng.uniform(1, 1.3)
    rows, columns = field.shape
    cy, cx = np.mgrid[0 : rows / step + 1, 0 : columns / step + 1]
    cy, cx = cy * step, cx * step
    cx = cx + (np.arange(len(cx)) % 2)[:, None] * step / 2
    cy, cx = (c + rng.normal(0, 0.22 * step, c.shape) for c in (cy, cx))
    cover = np.zeros(field.shape)
    reach = int(step)
    oy, ox = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    for y0, x0, high in zip(cy.flat, cx.flat, rng.uniform(0.7, 1.3, cy.size), strict=True):
        y, x = oy + round(y0), ox + round(x0)
        hill = high * np.maximum(1 - ((y - y0) ** 2 + (x - x0) ** 2) / (0.62 * step) ** 2, 0.0)
        held = (y >= 0) & (y < rows) & (x >= 0) & (x < columns)
        cover[y[held], x[held]] = np.maximum(cover[y[held], x[held]], hill[held])
    return 0.6 * (field - MEAN) + MEAN + CONTRAST * (cover - cover.mean()) / cover.std()


def _as_jpeg(pixels: Bytes, quality: int) -> Bytes:
    from PIL import Image

    kept = io.BytesIO()
    Image.fromarray(pixels).save(kept, "JPEG", quality=max(quality, 3))
    return np.asarray(Image.open(kept))


def as_png(pixels: Bytes) -> bytes:
    """A picture as a PNG file."""
    from PIL import Image

    kept = io.BytesIO()
    Image.fromarray(pixels).save(kept, "PNG")
    return kept.getvalue()


_TROUBLES: dict[str, Callable[[Floats, float, float, Random], Floats]] = {
    "clean": _clean,
    "bands": _bands,
    "streaks": _streaks,
    "jumps": _jumps,
    "flare": _flare,
    "dark_centre": _dark_centre,
    "teeth": _teeth,
    "square": _square,
    "bright_edges": _bright_edges,
    "noise": _noise,
    "harsh": _clean,
    "stretched": _stretched,
    "soft": _soft,
    "curtains": _curtains,
    "blocks": _clean,
    "grains": _grains,
}
