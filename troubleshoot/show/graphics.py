"""Pictures in a terminal that says it can show them, by the sixel protocol.

A terminal is asked for its attributes (DA1, `CSI c`); with a 4 among them it draws sixels (ECMA-48;
DEC VT330/VT340 Programmer Reference Manual, Vol. 2, Chapter 14). Drawings are made into pixels by
resvg (`pip install '.[pictures]'`); without it, and in any other terminal, nothing is shown.
"""

import importlib.util
import io
import itertools
import os
import re
import select
import sys
from collections.abc import Iterable, Sequence
from functools import cache
from typing import TYPE_CHECKING

from troubleshoot.knowledge.drawings import content

if TYPE_CHECKING:
    from PIL.Image import Image

WIDTH, HEIGHT, GAP = 180, 120, 10
"""Pixels of one picture on the sheet, and between two."""
IN_A_ROW = 4
COLOURS = 32
WAIT = 0.3
"""Seconds that a terminal has to say what it can."""
LONGEST = 100
"""Letters of an answer; more are keys that somebody pressed."""


@cache
def shows_pictures() -> bool:
    """Whether the terminal says that it draws sixels, and pictures can be made into pixels."""
    streams = (sys.stdin, sys.stdout)
    if not all(s is not None and s.isatty() for s in streams):
        return False
    if os.environ.get("TERM") in (None, "dumb") or importlib.util.find_spec("resvg_py") is None:
        return False
    return 4 in attributes(_asked())


def attributes(reply: str) -> set[int]:
    """The attributes that a terminal names: of `CSI ? 62 ; 4 c` 62 and 4."""
    found = re.search(r"\x1b\[\?([\d;]*)c", reply)
    return {int(n) for n in found[1].split(";") if n} if found else set()


def _asked() -> str:
    """What the terminal answers when it is asked what it is."""
    try:
        import termios
        import tty
    except ImportError:  # not a terminal of this kind
        return ""
    number, reply = sys.stdin.fileno(), ""
    before = termios.tcgetattr(number)
    try:
        tty.setcbreak(number)
        sys.stdout.write("\x1b[c")
        sys.stdout.flush()
        while not reply.endswith("c") and len(reply) < LONGEST:
            if not select.select([number], [], [], WAIT)[0]:
                break
            reply += os.read(number, 64).decode("ascii", "replace")
    finally:
        termios.tcsetattr(number, termios.TCSAFLUSH, before)
    return reply


def sheet(pictures: Sequence[tuple[str, str]]) -> "Image":
    """Pictures, by file name and what is kept of them, side by side and numbered from 1."""
    from PIL import Image, ImageDraw, ImageFont

    rows = -(-len(pictures) // IN_A_ROW)
    across = min(len(pictures), IN_A_ROW)
    size = (across * (WIDTH + GAP) + GAP, rows * (HEIGHT + GAP) + GAP)
    out = Image.new("RGB", size, "white")
    draw, font = ImageDraw.Draw(out), ImageFont.load_default(18)
    for number, (name, kept) in enumerate(pictures):
        left = GAP + number % IN_A_ROW * (WIDTH + GAP)
        top = GAP + number // IN_A_ROW * (HEIGHT + GAP)
        picture = _pixels(name, kept)
        picture.thumbnail((WIDTH, HEIGHT))
        out.paste(picture, (left, top), picture)
        draw.rectangle((left, top, left + WIDTH, top + HEIGHT), outline="gray")
        draw.text((left + 4, top + 2), str(number + 1), fill="black", font=font,
                  stroke_width=3, stroke_fill="white")  # fmt: skip
    return out


def _pixels(name: str, kept: str) -> "Image":
    from PIL import Image

    raw = content(name, kept)
    if not name.endswith(".png"):
        import resvg_py

        raw = bytes(resvg_py.svg_to_bytes(svg_string=kept, width=WIDTH))
    return Image.open(io.BytesIO(raw)).convert("RGBA")


def sixels(image: "Image") -> str:
    """The image as a sixel sequence: its colours, then bands of six rows, a colour at a time."""
    flat = image.convert("RGB").quantize(COLOURS)
    palette = flat.getpalette() or []
    width, height = flat.size
    rows = [flat.crop((0, y, width, y + 1)).tobytes() for y in range(height)]
    used = sorted(set(itertools.chain.from_iterable(rows)))
    out = ["\x1bPq", f'"1;1;{width};{height}']
    for colour in used:
        r, g, b = (round(100 * v / 255) for v in palette[3 * colour : 3 * colour + 3])
        out.append(f"#{colour};2;{r};{g};{b}")
    for top in range(0, height, 6):
        band = rows[top : top + 6]
        for colour in sorted(set(itertools.chain.from_iterable(band))):
            bits = (
                sum((row[x] == colour) << bit for bit, row in enumerate(band)) for x in range(width)
            )
            out.append(f"#{colour}{_runs(bits)}$")
        out.append("-")
    return "".join((*out, "\x1b\\"))


def _runs(bits: Iterable[int]) -> str:
    """Six pixels a letter, from `?` on; more than three alike as `!` and how many."""
    out = []
    for value, same in itertools.groupby(bits):
        many, letter = len(list(same)), chr(63 + value)
        out.append(f"!{many}{letter}" if many > 3 else letter * many)
    return "".join(out)
