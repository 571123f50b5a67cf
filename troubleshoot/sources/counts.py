"""Rows on their way into a log: times that never go back, what is left out, and why."""

import math
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from troubleshoot.errors import UserError
from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.sources.cells import beyond, kind
from troubleshoot.sources.dialect import Dialect
from troubleshoot.sources.rows import Floats
from troubleshoot.sources.stamps import DAY

TOO_HIGH = 2 * ATMOSPHERE
"""No chamber of glass holds more: a reading above it is the gauge's sign for "off scale"."""
TOO_LOW = 1e-13
"""Pa: below the lowest pressure that was ever measured (some 1e-12 Pa; from memory), so a zero."""
HOUR = 3600.0
MINUTE = 60.0
MOST_BREAKS, SHARE_OF_BREAKS = 3, 0.05
"""A log that is started anew more often, and after so few rows, is none: judgement."""
LONGEST = 1e12
"""s, 30,000 years: no clock says so, whatever it counts from."""


@dataclass
class Counts:
    """What is carried from block to block."""

    rows: int = 0
    unreadable: int = 0
    timeless: int = 0
    negative: int = 0
    off_scale: int = 0
    bounds: int = 0
    last: float = math.nan
    shift: float = 0.0
    step: float = 0.0
    newest_first: bool = False
    words: set[str] = field(default_factory=set)
    breaks: list[float] = field(default_factory=list)

    def notes(self, glitches: int, what: str) -> tuple[str, ...]:
        """What was left out, and where the clock starts anew; `what` was logged."""
        signs = {word for word in self.words if math.isinf(beyond(word))}
        words = _listed(self.words - signs)
        high = "zero, or above two atmospheres" if what == "pressure" else "more than a meter shows"
        said = _listed(signs) or f" ({high})"
        told = (
            (self.unreadable, f"without a readable time or {what}{words}"),
            (self.negative, "below zero"),
            (self.off_scale - self.bounds, f"off scale{said}"),
            (glitches, "that jumped for a single reading"),
        )
        left_out = "; ".join(f"{rows_in_words(n)} {text}" for n, text in told if n)
        notes = [f"Left out: {left_out}."] if left_out else []
        if self.bounds:
            notes.append(f"Off scale, so a bound only: {rows_in_words(self.bounds)}{said}.")
        if self.breaks:
            times = "once" if len(self.breaks) == 1 else f"{len(self.breaks)} times"
            notes.append(f"The clock starts anew {times}: read as parts in a row.")
        return tuple(notes)


def _listed(words: set[str]) -> str:
    return f" ({', '.join(sorted(words)[:3])})" if words else ""


def rows_in_words(n: int) -> str:
    """`1 row`, `2 rows`."""
    return "1 row" if n == 1 else f"{n} rows"


def continuous(raw: Floats, dialect: Dialect, state: Counts) -> Floats:
    """Times that never go back: a clock passes midnight, a counter that starts anew is a break.

    A clock without am and pm passes one o'clock, one of minutes and tenths the full hour: told from
    a new start by going on just where it was.
    """
    good = np.flatnonzero(np.isfinite(raw))
    out = np.full(len(raw), math.nan)
    if not len(good):
        return out
    times = raw[good]
    ahead = np.diff(times, prepend=state.last if math.isfinite(state.last) else times[0])
    forward = ahead[ahead > 0]
    if len(forward):
        state.step = float(np.median(forward))
    back = np.flatnonzero(ahead < 0)
    stamps = dialect.stamps
    round_ = np.zeros(len(back))
    if stamps is not None and stamps.kind == "clock" and dialect.date is None:
        round_[(ahead[back] > -DAY) & (ahead[back] <= -DAY / 2)] = DAY
        hands = HOUR if "min" in stamps.form.groupindex else DAY / 2
        round_[np.abs(ahead[back] + hands - state.step) <= 2 * state.step] = hands
    # Where a counter starts anew, the next part follows after a pause of a few readings.
    jumps = np.zeros(len(times))
    jumps[back] = np.where(round_ > 0, round_, -ahead[back] + 5 * state.step)
    shift = np.cumsum(jumps)
    anew = back[round_ == 0]
    state.breaks += (times[anew] + state.shift + shift[anew]).tolist()
    out[good] = times + state.shift + shift
    state.last = float(times[-1])
    state.shift += float(shift[-1])
    return out


def usable(seconds: Floats, pascal: Floats, state: Counts) -> tuple[Floats, Floats]:
    """Times and ln p of what can be used; what cannot is counted. What is off scale is infinite."""
    readable = np.isfinite(seconds) & ~np.isnan(pascal)
    good = readable & np.isfinite(pascal)
    state.unreadable += int((~readable).sum())
    state.timeless += int((~np.isfinite(seconds)).sum())
    state.off_scale += int((readable & ~good).sum())
    state.negative += int((good & (pascal < 0)).sum())
    good &= pascal > 0
    return seconds[good], np.log(pascal[good])


def scaled(pascal: Floats) -> Floats:
    """Pressures with what no chamber holds, above or below, as infinite."""
    low = np.where((pascal >= 0) & (pascal < TOO_LOW), -math.inf, pascal)
    return np.where(low > TOO_HIGH, math.inf, low)


def spread(seconds: Floats, coarsest: float = 0.0) -> Floats:
    """Rows that share a stamp, spread evenly up to the next one, where stamps lie further apart
    than `coarsest` s. Of the first stamp and the last some rows may be missing: they get the pace
    of the others."""
    first = np.flatnonzero(np.diff(seconds, prepend=-np.inf) > 0)
    if len(first) == len(seconds):
        return seconds
    steps, counts = np.diff(seconds[first]), np.diff(first, append=len(seconds))
    step = float(np.median(steps)) if len(first) > 1 else 1.0
    if step < coarsest:
        return seconds
    places, stamps = np.append(first, len(seconds)), np.append(seconds[first], seconds[-1] + step)
    if len(first) > 2:
        pace = float(np.median(steps[1:] / counts[1:-1]))
        stamps[0] = max(stamps[0], stamps[1] - pace * counts[0])
        stamps[-1] = min(stamps[-1], stamps[-2] + pace * counts[-1])
    return np.interp(np.arange(len(seconds)), places, stamps)


def check(path: Path, state: Counts, points: int) -> None:
    """Raise `UserError` where too much of a log was left out to trust the rest, or where its times
    are in no order."""
    if len(state.breaks) > max(MOST_BREAKS, SHARE_OF_BREAKS * state.rows):
        raise UserError(
            f"{path}: the times go back {len(state.breaks)} times in {state.rows} rows, as in a "
            "table that was sorted as text; sort the rows by time, as numbers."
        )
    if state.negative > 0.01 * state.rows:
        raise UserError(
            f"{path}: {rows_in_words(state.negative)} of {state.rows} hold a pressure below zero; "
            "export absolute pressures, for a gauge against the atmosphere cannot be used."
        )
    # A gauge may be switched off for most of a log.
    void = bool(state.words) and all(kind(word) == "void" for word in state.words)
    unreadable = state.timeless if void else state.unreadable
    if unreadable > 0.5 * state.rows:
        raise UserError(
            f"{path}: {rows_in_words(unreadable)} of {state.rows} hold no time and pressure that "
            "can be read; export one column of times and one of pressures."
        )
    if points < 3:
        raise UserError(
            f"{path}: only {points} usable readings; at least three times and pressures are needed."
        )
