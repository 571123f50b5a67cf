"""Vapour pressure of water and of the solvents found near a coater."""

import math
from dataclasses import dataclass

from troubleshoot.errors import UserError
from troubleshoot.physics.limits import within

CELSIUS_ZERO = 273.15
CRITICAL_TEMPERATURE = 647.096
CRITICAL_PRESSURE = 22.064e6

_WATER = (
    (1.0, -7.85951783),
    (1.5, 1.84408259),
    (3.0, -11.7866497),
    (3.5, 22.6807411),
    (4.0, -15.9618719),
    (7.5, 1.80122502),
)


@dataclass(frozen=True)
class _Antoine:
    """log10(p / bar) = a - b / (T / K + c) between two temperatures in K."""

    a: float
    b: float
    c: float
    lowest: float
    highest: float


_SOLVENTS = {
    # NIST Chemistry WebBook.
    "acetone": _Antoine(4.42448, 1312.253, -32.445, 259.16, 507.60),
    "ethanol": _Antoine(5.37229, 1670.409, -40.191, 273.0, 351.7),
    # Coefficients: from memory: Poling, Prausnitz and O'Connell, The Properties of Gases and
    # Liquids, appendix A. The range is judgement.
    "isopropanol": _Antoine(5.24268, 1580.92, 219.61 - CELSIUS_ZERO, 283.0, 373.0),
}

SUBSTANCES = ("water", *_SOLVENTS)
"""What `vapour_pressure` knows."""


def water_vapour_pressure(temperature: float) -> float:
    """Saturation pressure of liquid water in Pa, 273.15 to 647.096 K, within 0.03 %.

    ln(p/pc) = (Tc/T) sum a_i (1 - T/Tc)^n_i. Source: Wagner and Pruss, J. Phys. Chem. Ref. Data 22
    (1993) 783, equation 1.

    >>> round(water_vapour_pressure(293.15))
    2339
    """
    within(
        CELSIUS_ZERO,
        CRITICAL_TEMPERATURE,
        "K",
        "water is not liquid there",
        temperature=temperature,
    )
    rest = 1 - temperature / CRITICAL_TEMPERATURE
    series = sum(a * rest**n for n, a in _WATER)
    return CRITICAL_PRESSURE * math.exp(CRITICAL_TEMPERATURE / temperature * series)


def vapour_pressure(substance: str, temperature: float) -> float:
    """Saturation pressure in Pa of water, acetone, ethanol or isopropanol at a temperature in K.

    Water as `water_vapour_pressure`; solvents by Antoine's equation, log10(p/bar) = A - B/(T + C),
    within 1 % (isopropanol 5 %). Source: NIST Chemistry WebBook; isopropanol from memory: Poling,
    Prausnitz and O'Connell. Raises `UserError` outside the fitted range.

    >>> round(vapour_pressure("ethanol", 293.15) / 1000, 2)  # kPa
    5.87
    """
    if substance == "water":
        return water_vapour_pressure(temperature)
    if substance not in _SOLVENTS:
        raise UserError(f"No vapour pressure for {substance!r}: use {', '.join(SUBSTANCES)}.")
    fit = _SOLVENTS[substance]
    within(
        fit.lowest,
        fit.highest,
        "K",
        f"the vapour pressure of {substance} is not known here",
        temperature=temperature,
    )
    bar: float = 10 ** (fit.a - fit.b / (temperature + fit.c))
    return bar * 1e5
