"""Which columns of a table are the pressures and the currents, and in which units.

Where the table leaves it open, or where two columns fit, nothing is guessed: `NeedsTelling`.
"""

import re
from pathlib import Path

from troubleshoot import units
from troubleshoot.coater.gauge_scale import EXAMPLE, GaugeScale
from troubleshoot.errors import UserError
from troubleshoot.sources.cells import kind, unit_of
from troubleshoot.sources.heads import ANY_GAS, CHAMBER, ELSEWHERE, FACTOR, WANTED, unit_in
from troubleshoot.sources.layout import Column, Layout
from troubleshoot.sources.times import NeedsTelling, Times

_UNCLEAR_IN_A_NAME = ("bar", "atm", "psi")


def pressure_of(path: Path, layout: Layout, times: Times, wanted: str | None) -> Column:
    """The column of pressures. Raises `UserError`, and `NeedsTelling` where several fit."""
    numbers = [
        c
        for c in layout.columns
        if c.kind in ("number", "void") and (c is not times.column or times.every is not None)
    ]
    if wanted is not None:
        return _named(path, numbers, wanted)
    fit = [c for c in numbers if c.quantity == "pressure"]
    # A gauge without a single reading is not there, or not switched on.
    fit = [c for c in fit if c.kind == "number"] or fit
    # What was wanted, and the air outside, are no readings of the chamber.
    for leave in (WANTED, ELSEWHERE):
        fit = [c for c in fit if not leave.search(c.name)] or fit
    inside = [c for c in fit if CHAMBER.search(c.name)]
    fit = inside if len(fit) > 1 and len(inside) == 1 else fit
    if not fit:
        unnamed = [c for c in numbers if c.quantity == "" and c.kind == "number"]
        fit = [c for c in unnamed if c.name] if any(c.name for c in unnamed) else unnamed
        # A status or a channel stays as it is from row to row.
        fit = [c for c in fit if len(set(c.numbers)) > 1] or fit
        volts = [c for c in numbers if c.quantity == "voltage"]
        fit = fit or (volts if len(volts) == 1 else [])
    fit = _one_of_twins(fit)
    if len(fit) == 1:
        return fit[0]
    if fit:
        names = tuple(c.name or str(c.place + 1) for c in fit)
        listed = " and ".join(c.called for c in fit)
        if len(set(names)) < len(names):
            names = tuple(str(c.place + 1) for c in fit)
            listed = " and ".join(f"no. {c.place + 1} ({c.called})" for c in fit)
        raise NeedsTelling(
            "column",
            f"{path}: columns {listed} could each be the pressure of the chamber; say which with "
            f"--column, for instance --column {names[0]!r}.",
            names,
        )
    beside = [c for c in numbers if c.quantity not in ("counter", "time")]
    if beside:
        held = " and ".join(dict.fromkeys(c.quantity or "numbers without a name" for c in beside))
        raise UserError(
            f"{path}: this table holds {held} against time, and neither pressure nor current, of "
            "which logs are read here; a column of pressures can be named with --column."
        )
    raise UserError(
        f"{path}: there is a column of times, but none of pressures; export the gauge reading "
        "with it."
    )


def _named(path: Path, numbers: list[Column], wanted: str) -> Column:
    """The column whose name holds what is wanted, or that has this number."""
    found = [c for c in numbers if c.name.lower() == wanted.lower()]
    found = found or [c for c in numbers if wanted.lower() in c.name.lower()]
    if not found and wanted.isdigit():
        found = [c for c in numbers if c.place + 1 == int(wanted)]
    if not found:
        listed = ", ".join(c.called for c in numbers) or "none"
        raise UserError(f"{path}: no column is called {wanted!r}; the columns are {listed}.")
    if len(found) > 1:
        listed = " and ".join(c.called for c in found)
        numbered = " or ".join(str(c.place + 1) for c in found)
        raise UserError(
            f"{path}: {wanted!r} is in the names of {listed}; write more of one, or its number "
            f"({numbered})."
        )
    return found[0]


def _one_of_twins(fit: list[Column]) -> list[Column]:
    """Without columns that say the same in another unit."""
    out: list[Column] = []
    for column in fit:
        if not any(_twins(column, other) for other in out):
            out.append(column)
    return out


def _twins(a: Column, b: Column) -> bool:
    if not (unit_of(a.unit, "pressure") and unit_of(b.unit, "pressure")):
        return False
    ratio = units.to_si(1, a.unit, "pressure") / units.to_si(1, b.unit, "pressure")
    pairs = [(x * ratio, y) for x, y in zip(a.numbers, b.numbers, strict=False) if x and y]
    return bool(pairs) and all(abs(x - y) <= 0.02 * abs(y) for x, y in pairs)


def pressure_unit(
    path: Path, column: Column, layout: Layout, told: str | None, scale: GaugeScale | None
) -> tuple[str, str]:
    """What the column of pressures is written in: its dimension ("voltage" for the output of a
    gauge, which `scale` turns into pressures) and its unit."""
    if told is not None:
        try:
            units.to_si(1, told, "pressure")
        except UserError as error:
            raise UserError(f"--unit: {error}") from None
        return "pressure", told
    _refuse_factor(path, column, "give the unit of the numbers with --unit, such as --unit ubar")
    if column.unit and unit_of(column.unit, "pressure"):
        return "pressure", column.unit
    said = {unit for row in layout.preface if (unit := unit_in(" ".join(row), "pressure"))}
    volts = column.unit if column.unit and unit_of(column.unit, "voltage") else ""
    if not column.unit and not said:
        # A scope or a multimeter says once for all what it measured.
        alone = (cell.strip() for row in layout.preface for cell in row)
        volts = next((unit for cell in alone if (unit := unit_of(cell, "voltage"))), "")
    if volts:
        if scale is not None:
            return "voltage", volts
        raise UserError(
            f"{path}: column {column.called} holds volts, which are no pressure; if a gauge puts "
            f"them out, give its scale with --gauge-scale, for instance --gauge-scale {EXAMPLE!r}."
        )
    if column.unit:
        raise UserError(
            f"{path}: column {column.called} holds {column.quantity} in {column.unit}, no "
            "pressure; name the column of pressures with --column."
        )
    bracket = re.search(r"[\[(]\s*([^\])]+?)\s*[\])]", column.name)
    if bracket and not kind(bracket[1]) and not bracket[1].isdigit():
        raise UserError(
            f"{path}: {bracket[1]!r} above the pressures is not a unit of pressure; give the unit "
            "with --unit, for instance --unit mbar."
        )
    if len(said) == 1:
        return "pressure", said.pop()
    found = unit_in(path.stem, "pressure")
    if found and found not in _UNCLEAR_IN_A_NAME:
        return "pressure", found
    raise NeedsTelling(
        "pressure",
        f"{path}: neither the table nor its name says the unit of pressure; give it with --unit "
        "mbar (or Pa, Torr, ...).",
    )


def _refuse_factor(path: Path, column: Column, remedy: str) -> None:
    """Raise `UserError` for a head such as `p (10^-3 mbar)`: a factor, or one that was applied?"""
    if FACTOR.search(column.name):
        raise UserError(
            f"{path}: a power of ten stands in the head {column.called}, and whether the numbers "
            f"are to be multiplied by it or were already can be read two ways: {remedy}."
        )


# Currents


def quantities_of(path: Path, layout: Layout, times: Times) -> dict[str, Column]:
    """Current, voltage and pressure, of those that are there with a unit; the current first.

    Of several the first that is no set value; of pressures that of a gauge that reads every gas
    alike, since argon flows. Raises `NeedsTelling` for a current without a unit where there are no
    pressures either.
    """
    numbers = [c for c in layout.columns if c.kind == "number" and c is not times.column]
    found: dict[str, Column] = {}
    for quantity in ("current", "voltage", "pressure"):
        fit = [
            c for c in numbers if c.quantity == quantity and c.unit and unit_of(c.unit, quantity)
        ]
        for leave in (WANTED, ELSEWHERE):
            fit = [c for c in fit if not leave.search(c.name)] or fit
        if quantity == "pressure":
            fit = [c for c in fit if ANY_GAS.search(c.name)] or fit
        if fit:
            _refuse_factor(path, fit[0], "write the unit of the numbers there")
            found[quantity] = fit[0]
    nameless = [c for c in numbers if c.quantity == "current" and not c.unit]
    pressures = any(c.quantity == "pressure" for c in numbers)
    if "current" not in found and nameless and not pressures:
        name = nameless[0].name
        raise NeedsTelling(
            "current",
            f"{path}: the column {name!r} does not say its unit; write it into its head, for "
            f"instance '{name} (mA)'.",
        )
    return found
