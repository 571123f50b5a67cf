"""Pressures by hand: times and pressures typed, turned into a log."""

import hashlib
import math
import re
from dataclasses import dataclass

import numpy as np

from troubleshoot import units
from troubleshoot.errors import UserError
from troubleshoot.numerals import tidied
from troubleshoot.sources.log_file import Log

FEWEST_TYPED = 3
"""A fall or a rise has three numbers in its simplest form."""


@dataclass(frozen=True)
class Point:
    """One typed reading: SI values, the place of the last digit typed (Pa), the unit as typed."""

    seconds: float
    pascal: float
    step: float
    unit: str


def typed_point(
    pair: str, unit: str | None = None, time_unit: str = "s", after: float = -math.inf
) -> Point:
    """A point from `30 s 2 mbar`; it must be later than `after` (s).

    `unit` stands for a pressure without one. Raises `UserError`.
    """
    time, pressure, digits = _pair(pair, unit, time_unit)
    if time.si <= after:
        raise UserError("its time must be later than that of the point before.")
    if pressure.si <= 0:
        raise UserError("a pressure of zero is the end of the gauge's scale; leave it out.")
    step = _typed_step(digits) * units.to_si(1, pressure.unit, "pressure")
    return Point(time.si, pressure.si, step, pressure.unit)


def typed_log(text: str, unit: str | None = None, time_unit: str = "s") -> Log:
    """A log from `0 s 1000 mbar; 30 s 2 mbar; 1:30 0.2 mbar` (semicolons or lines between).

    `unit` stands for pressures without one. Raises `UserError` naming the pair.
    """
    pairs = [part.strip() for part in re.split(r"[;\n]", text) if part.strip()]
    points: list[Point] = []
    for number, pair in enumerate(pairs, start=1):
        try:
            after = points[-1].seconds if points else -math.inf
            points.append(typed_point(pair, unit, time_unit, after))
        except UserError as error:
            raise UserError(f"Point {number}, {pair!r}: {error}") from None
    if len(points) < FEWEST_TYPED:
        raise UserError(
            f"{len(points)} points are too few for a curve: give at least three times with their "
            "pressures, better six."
        )
    t = np.array([p.seconds for p in points])
    return Log(
        source="typed",
        sha256=hashlib.sha256(text.encode()).hexdigest(),
        seconds=t - t[0],
        pascal=np.array([p.pascal for p in points]),
        rows_each=np.ones(len(t)),
        step=np.array([p.step for p in points]),
        rows=len(t),
        unit=points[0].unit,
        typed=True,
    )


def _pair(
    pair: str, unit: str | None, time_unit: str
) -> tuple[units.Quantity, units.Quantity, str]:
    """Time and pressure of one pair, and the digits of the pressure."""
    words = re.sub(r"[,:>]\s+|=", " ", pair).split()
    for cut in range(1, len(words)):
        time, pressure = " ".join(words[:cut]), " ".join(words[cut:])
        if not re.match(r"[+-]?[0-9.]", pressure):
            continue
        return (
            units.parse(time, "time", default_unit=time_unit),
            units.parse(pressure, "pressure", default_unit=unit),
            tidied(pressure),
        )
    raise UserError("write a time and a pressure, for instance '30 s 2 mbar'.")


def _typed_step(text: str) -> float:
    """The place of the last digit that was typed: 0.01 for `0.35`, 1 for `20`."""
    match = re.match(r"[+-]?(\d*)[.,]?(\d*)(?:[eE]([+-]?\d+))?", text)
    if match is None:
        return 0.0
    return float(10.0 ** (-len(match[2]) + int(match[3] or 0)))
