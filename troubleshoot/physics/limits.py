"""The refusals that all formulas share, and the shape of an answer that needs a word beside it."""

import math
from dataclasses import dataclass

from troubleshoot.errors import UserError


@dataclass(frozen=True)
class Noted:
    """A number that may be used, with what must be said about it (empty: nothing to add)."""

    value: float
    notes: tuple[str, ...] = ()


def above_zero(**named: float) -> None:
    """Raise `UserError` unless every named number is finite and above zero."""
    for name, value in named.items():
        _finite(name, value)
        if not value > 0:
            raise UserError(f"The {_words(name)} must be above zero, but is {value:g}.")


def not_negative(**named: float) -> None:
    """Raise `UserError` unless every named number is finite and zero or above."""
    for name, value in named.items():
        _finite(name, value)
        if not value >= 0:
            raise UserError(f"The {_words(name)} must not be below zero, but is {value:g}.")


def fraction(**named: float) -> None:
    """Raise `UserError` unless every named number lies between 0 and 1."""
    for name, value in named.items():
        if not 0 <= value <= 1:
            raise UserError(f"The {_words(name)} must lie between 0 and 1, but is {value:g}.")


def within(low: float, high: float, unit: str, why: str, **named: float) -> None:
    """Raise `UserError`, naming the reason, unless every named number lies in low to high."""
    for name, value in named.items():
        if not low <= value <= high:
            raise UserError(
                f"The {_words(name)} of {value:g} {unit} lies outside {low:g} to {high:g} {unit}: "
                f"{why}."
            )


def no_other_run(now: float, then: float, of: str) -> None:
    """Raise `UserError` where a run is to be scaled by more than a factor of ten: it is another
    kind of discharge there, and no law of similarity leads to it."""
    if not 0.1 <= now / then <= 10:
        raise UserError(
            f"The {of} changes by a factor of {max(now / then, then / now):.3g}: so far from the "
            "run that is known there may be no glow of this kind at all; give a run nearer by."
        )


def more_than_twofold(*ratios: float) -> bool:
    """Whether any ratio lies outside a half to two: too far to scale from one run to another."""
    return any(not 0.5 <= ratio <= 2 for ratio in ratios)


def shown(pressure: float) -> str:
    """A pressure for use in a message, in Pa and mbar."""
    return f"{pressure:.4g} Pa ({pressure / 100:.4g} mbar)"


def _finite(name: str, value: float) -> None:
    if not math.isfinite(value):
        raise UserError(f"The {_words(name)} must be a number, but is {value:g}.")


def _words(name: str) -> str:
    return name.replace("_", " ")
