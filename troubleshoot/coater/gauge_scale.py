"""What the volts at a gauge's output mean: its own scale, as its handbook prints it.

Two ways of writing are read and nothing is evaluated: a small table, `0 V 1e-3 mbar; 5 V 1 mbar;
10 V 1000 mbar` (between its lines the logarithm of the pressure goes straight with the volts, which
is how such scales are made), or a pressure at 0 V with the decades a volt,
`1e-3 mbar at 0 V, 0.6 decades/V`.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from troubleshoot import units
from troubleshoot.errors import UserError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

EXAMPLE = "0 V 1e-3 mbar; 5 V 1 mbar; 10 V 1000 mbar"
_STRAIGHT = re.compile(r"(.+?)\s+at\s+0\s*V\s*[,;]?\s*(.+?)\s*decades?\s*(?:/|per|a)\s*V(?:olt)?")
_HIGHEST_VOLTS, _MOST_DECADES = 100.0, 20.0


@dataclass(frozen=True)
class GaugeScale:
    """ln(p/Pa) at some volts, rising or falling; `open_ended`: a straight line beyond them too."""

    volts: tuple[float, ...]
    log_pascal: tuple[float, ...]
    unit: str
    open_ended: bool = False

    def pascal(self, volts: "Floats") -> "Floats":
        """The pressures at some volts; nan beyond the ends of a table.

        >>> read_scale("1e-3 mbar at 0 V, 1 decade/V").pascal([2.0]).round(6).tolist()
        [10.0]
        """
        import numpy as np

        volts = np.asarray(volts)
        (v0, v1), (a, b) = self.volts[:2], self.log_pascal[:2]
        beyond = a + (b - a) * (volts - v0) / (v1 - v0) if self.open_ended else np.nan
        inside = (volts >= self.volts[0]) & (volts <= self.volts[-1])
        logs = np.where(inside, np.interp(volts, self.volts, self.log_pascal), beyond)
        with np.errstate(over="ignore"):
            return np.exp(logs)


def read_scale(text: str) -> GaugeScale:
    """A scale as it is typed. Raises `UserError` for what is none."""
    straight = _STRAIGHT.fullmatch(text.strip())
    if straight:
        at_zero = units.parse(straight[1], "pressure")
        try:
            decades = float(straight[2].replace(",", "."))
        except ValueError:
            raise UserError(f"{straight[2]!r} is no number of decades a volt.") from None
        if not 0 < abs(decades) <= _MOST_DECADES or at_zero.si <= 0:
            raise UserError(f"{text!r}: the pressure and the decades a volt must be above zero.")
        start = math.log(at_zero.si)
        return GaugeScale(
            (0.0, 1.0), (start, start + decades * math.log(10)), at_zero.unit, open_ended=True
        )
    points = [_point(part.strip()) for part in re.split(r"[;\n]", text) if part.strip()]
    if len(points) < 2:
        raise UserError(
            f"{text!r} is no scale of a gauge: give volts with their pressures, for instance "
            f"'{EXAMPLE}', or '1e-3 mbar at 0 V, 0.6 decades/V'."
        )
    points.sort(key=lambda point: point[0])
    volts = tuple(v for v, _ in points)
    logs = tuple(math.log(p.si) for _, p in points)
    if not (_rises(volts) and (_rises(logs) or _rises(logs[::-1]))):
        raise UserError(f"{text!r}: with the volts the pressures must go one way only.")
    return GaugeScale(volts, logs, points[0][1].unit)


def _rises(numbers: Sequence[float]) -> bool:
    return all(a < b for a, b in pairwise(numbers))


def _point(pair: str) -> tuple[float, units.Quantity]:
    """Volts and the pressure at them, of `5 V 1 mbar`."""
    match = re.fullmatch(r"(\S+?\s*m?V)\s*[:=,]?\s+(.+)", pair)
    if match is None:
        raise UserError(f"{pair!r}: write volts and a pressure, such as '5 V 1 mbar'.")
    volts, pressure = units.parse(match[1], "voltage"), units.parse(match[2], "pressure")
    if pressure.si <= 0 or abs(volts.si) > _HIGHEST_VOLTS:
        raise UserError(f"{pair!r}: give a pressure above zero, at {_HIGHEST_VOLTS:g} V or less.")
    return volts.si, pressure
