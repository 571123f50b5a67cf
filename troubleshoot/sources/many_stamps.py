"""Stamps of many rows as seconds: only the first of each minute is read as a stamp."""

import math
import re
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from troubleshoot.sources.kept import Kept
from troubleshoot.sources.stamps import Stamps

Floats = NDArray[np.float64]

WIDEST_STAMP = 48
SHAPES_KEPT = 3
"""Ways of writing stamps told apart in a piece: with one digit of the hour and with two."""

_TO_SECONDS = re.compile(r"(.*?\d{1,2}:\d{2}:)(\d{2}(?:[.,]\d{1,6})?)(.*)")


class ManyStamps:
    """Reads the stamps of a table, and remembers what they mean."""

    def __init__(self, stamps: Stamps) -> None:
        self._meant = Kept(stamps.seconds)

    def seconds(self, written: NDArray[np.bytes_], text: Callable[[int], str]) -> Floats:
        """Times of stamps; `text` gives the whole of one.

        Where stamps are written alike to the seconds, these are taken digit by digit, and only the
        first of each minute is read as a stamp. All others are, one by one.
        """
        times = np.full(len(written), math.nan)
        for _ in range(SHAPES_KEPT):
            (rest,) = np.nonzero(np.isnan(times))
            shapes = (_TO_SECONDS.fullmatch(line.decode("latin-1")) for line in written[rest[:9]])
            shape = next(filter(None, shapes), None)
            if shape is None:
                break
            alike, seconds = _seconds_alike(written[rest], shape)
            rest, start = rest[alike], shape.end(1)
            minutes = written[rest].astype(f"S{start}")
            new = _starts(minutes)
            at_start = [
                self._meant[f"{minute.decode('latin-1')}00{shape[3]}"] for minute in minutes[new]
            ]
            times[rest] = np.repeat(at_start, np.diff(new, append=len(rest))) + seconds[alike]
        (rest,) = np.nonzero(np.isnan(times))
        new = _starts(written[rest])
        found = [self._meant[text(i)] for i in rest[new].tolist()]
        times[rest] = np.repeat(found, np.diff(new, append=len(rest)))
        return times


def joined(dates: NDArray[np.bytes_], clocks: NDArray[np.bytes_]) -> NDArray[np.bytes_]:
    """Dates and clocks as stamps."""
    both = np.char.add(np.char.add(np.char.strip(dates), b" "), np.char.strip(clocks))
    if (np.char.str_len(both) >= WIDEST_STAMP).any():
        raise ValueError("a stamp too wide")
    return np.asarray(both.astype(f"S{WIDEST_STAMP}"))


def _starts(texts: NDArray[np.bytes_]) -> NDArray[np.intp]:
    """Where another text than the one before begins."""
    return np.flatnonzero(np.append(True, texts[1:] != texts[:-1])[: len(texts)])


def _seconds_alike(
    written: NDArray[np.bytes_], shape: re.Match[str]
) -> tuple[NDArray[np.bool_], Floats]:
    """Which stamps have their digits where this one has them, and the seconds that these give."""
    pattern = np.frombuffer(shape[0].encode("latin-1").ljust(WIDEST_STAMP, b"\0"), np.uint8)
    letters = np.ascontiguousarray(written).view(np.uint8).reshape(-1, WIDEST_STAMP)
    start, end = shape.span(2)
    digits = [n for n in range(start, end) if n != start + 2]
    same = [start - 1, *(n for n in range(start + 2, len(shape[0]) + 1) if n not in digits)]
    found = letters[:, digits] - ord("0")
    alike = (letters[:, same] == pattern[same]).all(axis=1) & (found <= 9).all(axis=1)
    decimals = len(digits) - 2
    whole = found @ (10 ** np.arange(decimals + 1, -1, -1))
    return alike & (whole < 60 * 10**decimals), whole / 10**decimals
