"""Bars as inline SVG: shapes only, no text, so that words stay words and wrap on a small screen.

A bar stretches to the width it is given. For and against differ by side and by filling, so they
can be told apart in print without colour. Drawings of the rule base go in as images.
"""

import base64

from markupsafe import Markup

from troubleshoot.knowledge.drawings import content

_FRAME = Markup(
    '<svg class="bar" role="img" aria-label="{label}" viewBox="{left} 0 {width} 10" '
    'preserveAspectRatio="none">{shapes}</svg>'
)
_RECT = Markup(
    '<rect class="{kind}" x="{x:.2f}" y="{y}" width="{width:.2f}" height="{height}" '
    'vector-effect="non-scaling-stroke"/>'
)
_ZERO = Markup(
    '<line class="zero" x1="0" y1="0" x2="0" y2="10" vector-effect="non-scaling-stroke"/>'
)


def share(part: float, label: str, *, known: bool = True) -> Markup:
    """A bar of `part` (0 to 1) of the full width; hollow when it stands for no named cause."""
    width = 100.0 * min(max(part, 0.0), 1.0)
    kind = "solid" if known else "hollow"
    shapes = Markup("").join(
        (
            _RECT.format(kind="track", x=0.0, y=1, width=100.0, height=8),
            _RECT.format(kind=kind, x=0.0, y=1, width=width, height=8),
        )
    )
    return _FRAME.format(label=label, left=0, width=100, shapes=shapes)


def balance(decibans: float, most: float, label: str) -> Markup:
    """A bar from the middle: to the right, solid, for; to the left, hollow, against.

    `most` is the number of decibans that fills one side; what exceeds it is cut off there.
    """
    size = 50.0 * min(abs(decibans) / most, 1.0)
    bar = _RECT.format(
        kind="solid" if decibans > 0 else "hollow",
        x=0.0 if decibans > 0 else -size,
        y=1,
        width=size,
        height=8,
    )
    return _FRAME.format(label=label, left=-50, width=100, shapes=Markup("").join((bar, _ZERO)))


def picture(content: bytes, kind: str = "svg+xml") -> str:
    """A picture as the address of an image.

    A browser runs and fetches nothing from within an image, so this is a second lock behind the
    check of the drawings when they are loaded.
    """
    return f"data:image/{kind};base64,{base64.b64encode(content).decode()}"


def drawing(name: str, kept: str) -> str:
    """A picture of the rule base, by its file name and what is kept of it, as an address."""
    return picture(content(name, kept), "png" if name.endswith(".png") else "svg+xml")
