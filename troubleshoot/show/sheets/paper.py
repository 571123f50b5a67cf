"""A page of plain shapes and lines of text, in mm from the top left, with the widths of its font.

The font is Helvetica, one of the fourteen that every PDF reader has (ISO 32000-1, 9.6.2.2): widths
are known, nothing is embedded, and Arial or Liberation Sans, which are as wide, stand in for it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

PAPERS = {"A4": (210.0, 297.0), "A3": (297.0, 420.0)}
"""mm (ISO 216)."""
POINT = 25.4 / 72
"""mm."""
CAP = 0.718
"""Height of its capitals over the size (Helvetica's own metrics)."""
LEADING = 1.18
SLACK = 0.97
"""Part of a width that is filled, so that a font that stands in has room."""
OTHERS = {
    "≤": "at most ",
    "≥": "at least ",
    "Ω": "ohm",
    "→": "to",
    "−": "-",
    "₂": "2",
    "≈": "about ",
}


@dataclass(frozen=True)
class Text:
    """A line of text: its left end and base line, size in points."""

    x: float
    y: float
    text: str
    size: float
    bold: bool = False


@dataclass(frozen=True)
class Shape:
    """A closed or open line through points; `fill` and `line` from 0 black to 1 white, or None."""

    points: tuple[tuple[float, float], ...]
    fill: float | None = None
    line: float | None = 0.0
    width: float = 0.35
    closed: bool = True


@dataclass(frozen=True)
class Image:
    """A PNG picture of the rules, by its file name."""

    x: float
    y: float
    width: float
    height: float
    name: str


@dataclass
class Sheet:
    """One page, filled from the top."""

    title: str
    width: float = 210.0
    height: float = 297.0
    items: list[Text | Shape | Image] = field(default_factory=list)

    def box(
        self, x: float, y: float, width: float, height: float, *, fill: float | None = None,
        line: float | None = 0.0, thick: float = 0.35,
    ) -> None:  # fmt: skip
        """A rectangle."""
        corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
        self.items.append(Shape(corners, fill, line, thick))

    def arrow(self, x: float, y: float, length: float = 7.0) -> None:
        """An arrow to the right, its tail at (x, y)."""
        self.items.append(Shape(((x, y), (x + length - 2, y)), None, 0.0, 0.7, closed=False))
        tip = ((x + length, y), (x + length - 2.6, y - 1.5), (x + length - 2.6, y + 1.5))
        self.items.append(Shape(tip, 0.0, None))

    def down(self, x: float, y: float, length: float) -> None:
        """An arrow downwards from (x, y)."""
        self.items.append(Shape(((x, y), (x, y + length - 2)), None, 0.0, 0.7, closed=False))
        tip = ((x, y + length), (x - 1.5, y + length - 2.6), (x + 1.5, y + length - 2.6))
        self.items.append(Shape(tip, 0.0, None))

    def triangle(self, x: float, y: float, size: float) -> None:
        """A warning triangle (ISO 7010, W001, in outline) with its base line at y."""
        self.items.append(
            Shape(((x, y), (x + size, y), (x + size / 2, y - 0.9 * size)), None, 0.0, 0.55)
        )
        self.items.append(Text(x + 0.39 * size, y - 0.1 * size, "!", size * 0.62 / POINT, True))

    def lines(
        self, x: float, y: float, lines: Sequence[str], size: float, *, bold: bool = False
    ) -> float:
        """Lines below one another, the top of the first at y; the y below the last."""
        for line in lines:
            self.items.append(Text(x, y + 0.8 * size * POINT, line, size, bold))
            y += LEADING * size * POINT
        return y


def height(lines: int, size: float) -> float:
    """The height of so many lines in mm."""
    return lines * LEADING * size * POINT


def plain(text: str) -> str:
    """The text in letters that the font has."""
    for other, words in OTHERS.items():
        text = text.replace(other, words)
    return text.encode("cp1252", "replace").decode("cp1252")


def wrap(text: str, size: float, width: float, *, bold: bool = False) -> list[str]:
    """The text broken between words into lines of at most `width` mm."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    font = "Helvetica-Bold" if bold else "Helvetica"
    out: list[str] = []
    for word in plain(text).split():
        longer = f"{out[-1]} {word}" if out else word
        if out and stringWidth(longer, font, size) * POINT <= SLACK * width:
            out[-1] = longer
        else:
            out.append(word)
    return out


def arcmin(size: float, distance: float) -> float:
    """The height of a capital of `size` points in minutes of arc, seen from `distance` in m."""
    import math

    return math.degrees(math.atan(CAP * size * POINT / 1000 / distance)) * 60
