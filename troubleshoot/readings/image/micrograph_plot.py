"""The picture that was read with what was found marked in it (SVG that needs nothing else)."""

import base64
import io
import string
from collections.abc import Sequence

import numpy as np

from troubleshoot.readings.image.areas import Box
from troubleshoot.readings.image.micrograph import NAMES, Look, MicrographAnalysis
from troubleshoot.readings.panels import WIDTH, sheet, text

SIDE = 680
"""Most pixels of the copy that is drawn on."""
QUALITY = 72
GAP = 16
_THIN = 0.004
"""Boxes flatter than this are borders between rows, marked at the rim only."""


def draw_micrographs(analysis: MicrographAnalysis) -> str:
    """The picture, or both side by side, with a letter at each thing that was found."""
    looks = analysis.looks
    wide = (WIDTH - GAP * (len(looks) + 1)) / len(looks)
    body: list[str] = []
    end = 0.0
    letters = iter(string.ascii_uppercase)
    for n, look in enumerate(looks):
        left = GAP + n * (wide + GAP)
        rows, columns = look.picture.shape
        high = wide * rows / columns
        body.append(text(left, 14, look.picture.name))
        body.append(_copy(look, left, 22, wide, high))
        named = []
        for kind in look.found:
            letter = next(letters, "+")
            named.append(f"{letter}: {NAMES[kind]}")
            for box in look.stories[kind].where:
                body.append(_mark(box, letter, left, 22, wide, high))
        if n == 0 and analysis.change is not None:
            changed = _joined(analysis.change.where)
            body += [_mark(box, "", left, 22, wide, high) for box in changed]
            named += ["framed: became brighter or darker by itself"] * bool(changed)
        for line, words in enumerate(named or ["nothing that was looked for"]):
            body.append(text(left, 22 + high + 20 + 17 * line, words, "start", "small"))
        end = max(end, 22 + high + 30 + 17 * max(1, len(named)))
    return sheet(analysis.reading.sentence, [], body, end)


def _joined(boxes: Sequence[Box]) -> list[Box]:
    """Boxes of one row that touch each other, as one."""
    out: list[Box] = []
    for box in boxes:
        if out and out[-1][0] == box[0] and abs(out[-1][3] - box[1]) < _THIN:
            out[-1] = (*out[-1][:3], box[3])
        else:
            out.append(box)
    return out


def _copy(look: Look, left: float, top: float, wide: float, high: float) -> str:
    """A small copy of the picture, its contrast drawn out, as part of the drawing."""
    from PIL import Image

    small = look.measured.sample.small
    low, top_level = (float(q) for q in np.quantile(small, (0.002, 0.998)))
    grey = np.clip((small - low) / max(top_level - low, 1e-9) * 255, 0, 255).astype(np.uint8)
    image = Image.fromarray(grey)
    image.thumbnail((SIDE, SIDE))
    kept = io.BytesIO()
    image.save(kept, "JPEG", quality=QUALITY)
    data = base64.b64encode(kept.getvalue()).decode()
    return (
        f'<image x="{left:.1f}" y="{top:.1f}" width="{wide:.1f}" height="{high:.1f}" '
        f'preserveAspectRatio="none" href="data:image/jpeg;base64,{data}"/>'
    )


def _mark(box: Box, letter: str, left: float, top: float, wide: float, high: float) -> str:
    """A frame around a place, dark on light so that it shows anywhere; of a row only its ends."""
    y0, x0, y1, x1 = (
        share * size + start
        for share, size, start in zip(box, (high, wide) * 2, (top, left) * 2, strict=True)
    )
    if box[2] - box[0] < _THIN:
        shapes = f"M{left:.1f} {y0:.1f}h18M{left + wide - 18:.1f} {y0:.1f}h18"
        at = (left + 20, y0 + 4)
    else:
        shapes = f"M{x0:.1f} {y0:.1f}H{x1:.1f}V{y1:.1f}H{x0:.1f}Z"
        at = (x0 + 3, max(y0 - 4, top + 12))
    return (
        f'<path d="{shapes}" fill="none" stroke="#fff" stroke-width="4"/>'
        f'<path d="{shapes}" fill="none" stroke="#9a2c06" stroke-width="2"/>'
        + (_letter(*at, letter) if letter else "")
    )


def _letter(x: float, y: float, letter: str) -> str:
    return (
        f'<rect x="{x - 2:.1f}" y="{y - 11:.1f}" width="13" height="14" fill="#fff"/>'
        f"{text(x, y, letter, 'start', '')}"
    )
