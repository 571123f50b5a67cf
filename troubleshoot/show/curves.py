"""Curves side by side as SVG, each on axes of its own."""

from xml.sax.saxutils import escape

from troubleshoot.training.figures import Curve, Curves
from troubleshoot.training.letters import LETTERS

WIDE, TALL, LEFT, BELOW, ABOVE = 330, 200, 46, 40, 26


def as_svg(figure: Curves) -> str:
    """An SVG drawing, two panels in a row; under each stands what it is."""
    rows = (len(figure.curves) + 1) // 2
    size = f"0 0 {2 * WIDE} {rows * TALL}"
    sound = figure.sound or (None,) * len(figure.curves)
    drawn = map(_panel, LETTERS, figure.curves, sound)
    panels = (
        f'<g transform="translate({n % 2 * WIDE} {n // 2 * TALL})">{panel}</g>'
        for n, panel in enumerate(drawn)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{size}" font-family="sans-serif" '
        f'font-size="12"><title>{escape(figure.title)}</title>'
        f'<rect width="{2 * WIDE}" height="{rows * TALL}" fill="#fff"/>{"".join(panels)}</svg>'
    )


def _panel(letter: str, curve: Curve, sound: Curve | None) -> str:
    drawn = [curve, sound] if sound else [curve]
    last, top = curve.seconds[-1], max(max(c.values) for c in drawn) * 1.05
    bottom, right = TALL - BELOW, WIDE - 16

    def points(of: Curve) -> str:
        return " ".join(
            f"{LEFT + s / last * (right - LEFT):.1f},{bottom - p / top * (bottom - ABOVE):.1f}"
            for s, p in zip(of.seconds, of.values, strict=True)
        )

    beside = ""
    if sound:
        beside = (
            f'<polyline points="{points(sound)}" fill="none" stroke="#555" stroke-width="1.5" '
            'stroke-dasharray="5 4"/>'
        )
    labels = [
        (8, 16, "start", f"{letter}: {curve.name}"),
        (LEFT - 5, ABOVE + 8, "end", f"{top / 1.05:.2g}"),
        (LEFT - 5, bottom, "end", "0"),
        (LEFT - 5, (ABOVE + bottom) / 2, "end", curve.unit),
        (LEFT, bottom + 15, "middle", "0"),
        (right, bottom + 15, "end", f"{last / 60:.0f} min"),
    ]
    texts = "".join(
        f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}">{escape(text)}</text>'
        for x, y, anchor, text in labels
    )
    return (
        f'<path d="M{LEFT} {ABOVE}V{bottom}H{right}" fill="none" stroke="#555"/>'
        f'{beside}<polyline points="{points(curve)}" fill="none" stroke="#0b4a52" '
        f'stroke-width="2.5"/>{texts}'
    )
