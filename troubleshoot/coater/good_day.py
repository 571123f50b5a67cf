"""The pump-down of a good day, as a profile keeps it: `0 s 1013 mbar; 20 s 110 mbar; ...`."""

from troubleshoot import units
from troubleshoot.errors import UserError

Curve = tuple[tuple[float, float], ...]
FEWEST = 3


def read_curve(text: str) -> Curve:
    """Seconds and pascal, the times rising. Raises `UserError` for what is no such curve."""
    points: list[tuple[float, float]] = []
    for part in filter(None, (part.strip() for part in text.split(";"))):
        words = part.split()
        if len(words) != 4:
            raise UserError(f"{part!r}: write a time and a pressure, such as '20 s 110 mbar'.")
        seconds = units.parse(" ".join(words[:2]), "time").si
        pascal = units.parse(" ".join(words[2:]), "pressure").si
        if pascal <= 0 or (points and seconds <= points[-1][0]):
            raise UserError(f"{part!r}: times must rise, and pressures lie above zero.")
        points.append((seconds, pascal))
    if len(points) < FEWEST:
        raise UserError(f"{len(points)} points are no curve: keep one with `machine good-day`.")
    return tuple(points)


def write_curve(curve: Curve, unit: str) -> str:
    """The text that `read_curve` reads, pressures in `unit`."""
    return "; ".join(
        f"{units.format_number(t)} s {units.from_si(p, unit, 'pressure'):.3g} {unit}"
        for t, p in curve
    )
