"""Numbers with units, as people write them at the bench, to SI and back.

Every unit known here stands in one table with its factor to SI and the other ways of writing it.
Exact factors follow the SI brochure and BIPM/CGPM definitions: 1 atm = 101325 Pa,
1 Torr = 101325/760 Pa, 1 eV = 1.602176634e-19 J, 1 in = 25.4 mm. A micron is a micrometre when a
length is asked for and a micrometre of mercury (1 mTorr) when a pressure is. Pressures are
absolute; one that is typed as a gauge pressure (barg, psig) is made so by adding 1 atm.
"""

import math
import re
from dataclasses import dataclass
from difflib import get_close_matches

from troubleshoot.errors import UserError
from troubleshoot.numerals import TYPOGRAPHY, duration, tidied

MAX_TEXT = 60
ATM = 101325.0
TORR = ATM / 760

# unit -> (factor to SI, other spellings). Case is kept where it carries meaning (mPa, MPa);
# spellings that could mean two things (mpa, Mbar) are left out so that they are refused.
_Table = dict[str, tuple[float, tuple[str, ...]]]

_SIMPLE: dict[str, _Table] = {
    "pressure": {
        "Pa": (1.0, ("pa", "pascal", "pascals")),
        "mbar": (100.0, ("mBar", "millibar", "millibars")),
        "Torr": (TORR, ("torr", "TORR")),
        "mTorr": (TORR / 1000, ("mtorr", "millitorr")),
        "micron": (TORR / 1000, ("microns", "Micron", "umHg", "um Hg")),
        "hPa": (100.0, ("hpa",)),
        "mmHg": (133.322387415, ("mmhg", "mm Hg")),
        "kPa": (1000.0, ("kpa",)),
        "mPa": (1e-3, ()),
        "uPa": (1e-6, ()),
        "MPa": (1e6, ()),
        "bar": (1e5, ("Bar", "BAR", "bars")),
        "ubar": (0.1, ("microbar",)),
        "atm": (ATM, ("ATM", "Atm")),
        "psi": (0.45359237 * 9.80665 / 0.0254**2, ("psia", "PSI")),
        "inHg": (0.0254 * 13595.1 * 9.80665, ("inhg", "in Hg", "InHg")),
    },
    "time": {
        "s": (1.0, ("sec", "secs", "second", "seconds")),
        "min": (60.0, ("mins", "minute", "minutes")),
        "h": (3600.0, ("hr", "hrs", "hour", "hours")),
        "ms": (1e-3, ("millisecond", "milliseconds")),
        "us": (1e-6, ("\u00b5s", "\u03bcs", "microsecond", "microseconds")),
        "d": (86400.0, ("day", "days")),
    },
    "length": {
        "m": (1.0, ("metre", "metres", "meter", "meters")),
        "cm": (1e-2, ()),
        "mm": (1e-3, ()),
        "um": (1e-6, ("micron", "microns", "Micron")),
        "nm": (1e-9, ("nanometre", "nanometres", "nanometer", "nanometers")),
        "angstrom": (1e-10, ("angstroms", "Angstrom", "\u00c5", "\u212b")),
        "in": (0.0254, ("inch", "inches")),
        "ft": (0.3048, ("foot", "feet")),
    },
    "area": {
        "m2": (1.0, ("m^2", "sqm")),
        "cm2": (1e-4, ("cm^2",)),
        "mm2": (1e-6, ("mm^2",)),
        "in2": (0.0254**2, ("in^2",)),
    },
    "volume": {
        "L": (1e-3, ("l", "litre", "litres", "liter", "liters", "dm3", "dm^3")),
        "m3": (1.0, ("m^3", "cbm")),
        "mL": (1e-6, ("ml",)),
        "cm3": (1e-6, ("cm^3", "cc", "ccm")),
        "mm3": (1e-9, ("mm^3",)),
        "ft3": (0.3048**3, ("ft^3", "cuft")),
    },
    "current": {
        "A": (1.0, ("amp", "amps", "ampere", "amperes")),
        "mA": (1e-3, ("milliamp", "milliamps")),
        "uA": (1e-6, ("microamp", "microamps")),
        "nA": (1e-9, ()),
        "pA": (1e-12, ()),
    },
    "voltage": {
        "V": (1.0, ("v", "volt", "volts")),
        "kV": (1e3, ("kv", "KV", "kilovolt", "kilovolts")),
        "mV": (1e-3, ()),
    },
    "energy": {
        "eV": (1.602176634e-19, ("ev", "EV", "V", "v")),
        "keV": (1.602176634e-16, ("kev", "KeV", "KEV", "kV", "kv")),
        "MeV": (1.602176634e-13, ()),
        "J": (1.0, ("joule", "joules")),
    },
    "mass": {
        "g": (1e-3, ("gram", "grams")),
        "mg": (1e-6, ("milligram", "milligrams")),
        "ug": (1e-9, ("microgram", "micrograms")),
        "kg": (1.0, ()),
    },
    # Thickness of a coat for each ampere second of the discharge.
    "coat rate": {
        "nm/mA/min": (
            1e-9 / 60e-3,
            ("nm/(mA min)", "nm/mA min", "nm/min/mA", "nm/mA*min", "nm/(mA*min)"),
        ),
        "angstrom/mA/s": (1e-10 / 1e-3, ()),
    },
    "temperature": {
        "K": (1.0, ("kelvin",)),
        "degC": (1.0, ("C", "celsius", "Celsius", "degc", "deg C")),
        "degF": (5 / 9, ("F", "fahrenheit", "Fahrenheit", "degf", "deg F")),
    },
    "resistance": {
        "ohm": (1.0, ("Ohm", "ohms", "Ohms", "OHM")),
        "kohm": (1e3, ("kOhm", "kohms", "Kohm", "KOhm")),
        "Mohm": (1e6, ("MOhm", "Mohms", "megohm", "megohms")),
        "Gohm": (1e9, ("GOhm", "Gohms")),
        "mohm": (1e-3, ("mOhm",)),
    },
    "volume flow": {
        "cfm": (0.3048**3 / 60, ("CFM",)),
    },
    # A standard cubic centimetre is counted at 0 degC and 1 atm.
    "throughput": {
        "sccm": (ATM * 1e-6 / 60, ("SCCM",)),
        "slm": (ATM * 1e-3 / 60, ("SLM", "slpm")),
    },
    "pressure rate": {},
}

# dimension -> what stands before the stroke; after it stands a time.
_PER_TIME: dict[str, tuple[str, ...]] = {
    "volume flow": ("volume",),
    "throughput": ("pressure", "volume"),
    "pressure rate": ("pressure",),
}

_LISTED_PER_TIME: dict[str, tuple[str, ...]] = {
    "volume flow": ("L/s", "L/min", "m3/h", "m3/s"),
    "throughput": ("mbar L/s", "Pa m3/s", "Torr L/s"),
    "pressure rate": ("mbar/min", "Pa/s", "Torr/min", "mTorr/min", "micron/h"),
}

_SI_UNIT: dict[str, str] = {
    "pressure": "Pa",
    "time": "s",
    "length": "m",
    "area": "m2",
    "volume": "m3",
    "current": "A",
    "voltage": "V",
    "energy": "J",
    "mass": "kg",
    "coat rate": "m/(A s)",
    "temperature": "K",
    "resistance": "ohm",
    "volume flow": "m3/s",
    "throughput": "Pa m3/s",
    "pressure rate": "Pa/s",
}

_MAY_BE_NEGATIVE = {"voltage", "current", "pressure rate", "temperature"}

# What must be added, in kelvin, after the factor has been applied.
_OFFSET = {"degC": 273.15, "degF": 273.15 - 32 * 5 / 9}

# Pressures counted from the atmosphere -> the unit they are counted in. Only `parse` knows them: as
# the unit of a scale or of a difference they would mislead.
_GAUGE = {
    spelling: unit
    for unit in ("bar", "mbar", "kPa", "psi", "inHg")
    for spelling in (f"{unit}g", f"{unit} g", f"{unit}(g)", f"{unit} gauge", f"{unit} (gauge)")
}

_SPELLING: dict[str, dict[str, str]] = {
    dimension: {
        spelling: unit for unit, (_, others) in table.items() for spelling in (unit, *others)
    }
    for dimension, table in _SIMPLE.items()
}

_NUMBER = re.compile(r"\s*([+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?)\s*(.*)")
_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}$")


@dataclass(frozen=True)
class Quantity:
    """A number with its unit, as given and in SI."""

    si: float
    value: float
    unit: str
    dimension: str

    def to(self, unit: str) -> float:
        """The same quantity as a number of `unit`; `UserError` if that measures something else."""
        return from_si(self.si, unit, self.dimension)

    def shown(self) -> str:
        """As the operator gave it, for reading back: `0.2 Torr`."""
        return f"{self.value:.6g} {self.unit}"


def parse(
    text: str, dimension: str, *, default_unit: str | None = None, signed: bool = False
) -> Quantity:
    """Read a number with unit such as `0.2 Torr`, `5L`, `0,05 mbar`, `5x10-2 mbar` or `2 min 30`.

    `dimension` is one of `dimensions()`. A bare number takes `default_unit`; without one it is
    refused. A time may be `1:30` (minutes:seconds) or `1:05:30`. Pressures are absolute, but for
    those named as gauge pressures (`0.5 barg`), to which 1 atm = 101325 Pa is added. `signed` lets
    a pressure stand below zero, as a gauge with a drifted zero shows it.

    Raises `UserError` for text that is no number with a unit of that dimension, for nan, inf and
    absurd lengths of text, and for negative values of what cannot be negative.

    >>> parse("200 mTorr", "pressure").si == parse("0.2Torr", "pressure").si
    True
    """
    _known(dimension)
    check_length(text, dimension)
    clean = tidied(text)
    seconds = duration(clean) if dimension == "time" else None
    if seconds is not None:
        return Quantity(seconds, seconds, "s", dimension)
    match = _NUMBER.fullmatch(clean)
    if not match or ":" in clean:
        clocks = ", or minutes:seconds such as '1:30'" if dimension == "time" else ""
        given = f"{text!r} is not {_a(dimension)}" if clean else f"{_a(dimension)} is missing"
        raise UserError(
            f"{given}: expected a number and a unit, for instance {_example(dimension)}{clocks}."
        )
    number, unit = match[1], " ".join(match[2].split())
    if _THOUSANDS.fullmatch(number):
        plain = number.replace(",", "")
        raise UserError(
            f"{text!r} can be read two ways: write {plain} or {number.replace(',', '.')} instead."
        )
    if not unit:
        if default_unit is None:
            raise UserError(
                f"{text!r} has no unit: write for instance "
                f"{text.strip()} {units_of(dimension)[0]} for {_a(dimension)}."
            )
        unit = default_unit
    if re.match(r"[-\u2013] ?[0-9]", unit):
        raise UserError(f"{text!r} holds two numbers: write one, and a power of ten such as 1e-3.")
    value = float(number.replace(",", "."))
    gauge = dimension == "pressure" and counts_from_air(unit)
    si = _absolute(value, unit) if gauge else to_si(value, unit, dimension)
    if not math.isfinite(si):
        raise UserError(f"{text!r} is too large for {_a(dimension)}: check the exponent.")
    if dimension == "temperature" and si < 0:
        raise UserError(f"{text!r} is colder than absolute zero: check the sign and the unit.")
    if si < 0 and gauge:
        raise UserError(f"{text!r} is less than no pressure at all: check the number and the unit.")
    if si < 0 and dimension not in _MAY_BE_NEGATIVE and not (signed and dimension == "pressure"):
        absolute = " (pressures here are absolute)" if dimension == "pressure" else ""
        raise UserError(f"{text!r} is negative, and {_a(dimension)} cannot be{absolute}.")
    return Quantity(si, value, unit, dimension)


def _a(dimension: str) -> str:
    return f"{'an' if dimension[0] in 'aeiou' else 'a'} {dimension}"


def check_length(text: str, dimension: str) -> None:
    """Raise `UserError` for a text that is absurdly long for a number with its unit."""
    if len(text) > MAX_TEXT:
        raise UserError(
            f"{_a(dimension).capitalize()} of {len(text)} characters was given: write a short "
            f"number and a unit, for instance {_example(dimension)}."
        )


def to_si(value: float, unit: str, dimension: str) -> float:
    """`value` in `unit` as SI; raises `UserError` for a unit that does not measure `dimension`.

    >>> round(to_si(20, "degC", "temperature"), 2)
    293.15
    """
    canonical, factor = _resolve(unit, dimension)
    return value * factor + _OFFSET.get(canonical, 0.0)


def from_si(si: float, unit: str, dimension: str) -> float:
    """The SI number `si` as a number of `unit`; raises `UserError` as `to_si` does.

    >>> round(from_si(101325, "Torr", "pressure"))
    760
    """
    canonical, factor = _resolve(unit, dimension)
    return (si - _OFFSET.get(canonical, 0.0)) / factor


def measures(unit: str, dimension: str) -> bool:
    """Whether a text is a unit of a dimension: `to_si` without its advice, which takes long."""
    _known(dimension)
    return _lookup(unit, dimension) is not None


def format_in(si: float, unit: str, dimension: str | None = None) -> str:
    """Three significant digits (whole numbers from 1000 on) and the unit: `26.7 Pa`.

    Without `dimension` the unit says which; `micron` then means the pressure.

    >>> format_in(26.664, "Torr")
    '0.2 Torr'
    """
    if dimension is None:
        dimension = dimension_of(unit)
    return f"{format_number(from_si(si, unit, dimension))} {unit}"


def format_number(value: float) -> str:
    """Three significant digits, whole numbers from 1000 on, powers of ten outside 0.001 to 1e6."""
    size = abs(value)
    if size == 0:
        return "0"
    if not math.isfinite(size) or not 0.001 <= size < 1e6:
        return f"{value:.3g}"
    if size >= 1000:
        return f"{value:.0f}"
    digits = f"{value:.{max(0, 2 - math.floor(math.log10(size)))}f}"  # log10 may round up to 3
    return digits.rstrip("0").rstrip(".") if "." in digits else digits


def units_of(dimension: str) -> tuple[str, ...]:
    """The units of a dimension in their usual spelling, the commonest first."""
    _known(dimension)
    return (*_LISTED_PER_TIME.get(dimension, ()), *_SIMPLE[dimension])


def spellings(dimension: str) -> tuple[str, ...]:
    """Every way to write the units of a dimension, those over a time left out."""
    _known(dimension)
    return tuple(_SPELLING[dimension])


def dimensions() -> tuple[str, ...]:
    """The names of all dimensions."""
    return tuple(_SIMPLE)


def si_unit(dimension: str) -> str:
    """The SI unit of a dimension."""
    _known(dimension)
    return _SI_UNIT[dimension]


def dimension_of(unit: str) -> str:
    """What a unit measures; the first of `dimensions()` that knows it. Raises `UserError`."""
    found = next((d for d in _SIMPLE if _lookup(unit, d) is not None), None)
    if found is None:
        everything = {s: u for spellings in _SPELLING.values() for s, u in spellings.items()}
        raise UserError(f"{unit!r} is not a unit known here: {_hint(unit, everything)}")
    return found


def _known(dimension: str) -> None:
    if dimension not in _SIMPLE:
        raise UserError(f"'{dimension}' is not one of the dimensions: {', '.join(_SIMPLE)}.")


def _example(dimension: str) -> str:
    return " or ".join(f"'0.5 {unit}'" for unit in units_of(dimension)[:2])


def counts_from_air(unit: str) -> bool:
    """Whether a unit names a gauge pressure, which counts from the atmosphere."""
    return _spelled(unit) in _GAUGE


def _absolute(value: float, gauge_unit: str) -> float:
    return to_si(value, _GAUGE[_spelled(gauge_unit)], "pressure") + ATM


def _spelled(unit: str) -> str:
    """A unit with its typography made plain: `mbar.l/s` is `mbar l/s`, `min.` is `min`."""
    plainly = re.sub(r"\.(?= ?[A-Za-z])", " ", unit.translate(TYPOGRAPHY))
    return " ".join(plainly.removesuffix(".").split())


def _lookup(unit: str, dimension: str) -> tuple[str, float] | None:
    """The unit in its usual spelling and its factor to SI, or None."""
    unit = _spelled(unit)
    canonical = _SPELLING[dimension].get(unit)
    if canonical is not None:
        return canonical, _SIMPLE[dimension][canonical][0]
    if dimension not in _PER_TIME or unit.count("/") != 1:
        return None
    above, below = (side.strip() for side in unit.split("/"))
    names = above.rsplit(" ", 1) if len(_PER_TIME[dimension]) == 2 else [above]
    if len(names) != len(_PER_TIME[dimension]):
        return None
    per = _lookup(below, "time")
    parts = [_lookup(n, d) for n, d in zip(names, _PER_TIME[dimension], strict=True)]
    if per is None or None in parts:
        return None
    found = [part for part in parts if part is not None]
    return (
        f"{' '.join(name for name, _ in found)}/{per[0]}",
        math.prod(factor for _, factor in found) / per[1],
    )


def _resolve(unit: str, dimension: str) -> tuple[str, float]:
    _known(dimension)
    found = _lookup(unit, dimension)
    if found is not None:
        return found
    if counts_from_air(unit):
        raise UserError(
            f"{unit!r} counts from the atmosphere, and {_a(dimension)} is expected here in "
            f"absolute units: use {', '.join(units_of(dimension)[:4])} or the like."
        )
    elsewhere = next((d for d in _SIMPLE if _lookup(unit, d) is not None), None)
    if elsewhere is not None:
        raise UserError(
            f"{unit!r} is a unit of {elsewhere}, but {_a(dimension)} is expected, in "
            f"{', '.join(units_of(dimension)[:4])} or the like."
        )
    listed = {name: name for name in _LISTED_PER_TIME.get(dimension, ())}
    raise UserError(
        f"{unit!r} is not a unit of {dimension}: {_hint(unit, {**_SPELLING[dimension], **listed})}"
    )


def _hint(unit: str, spellings: dict[str, str]) -> str:
    """The end of a refusal: the nearest units or, if nothing is near, the commonest ones."""
    same_letters = [s for s in spellings if s.lower() == unit.lower()]
    near = same_letters or get_close_matches(unit, spellings, n=2, cutoff=0.5)
    names = list(dict.fromkeys(spellings[s] for s in near))
    if not names:
        return f"use {', '.join(list(dict.fromkeys(spellings.values()))[:6])} or the like."
    case = " (small and capital letters differ)" if same_letters else ""
    return f"did you mean {' or '.join(names)}{case}?"
