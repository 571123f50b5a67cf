"""What the docstrings of the formulas promise, held against pint, a unit library of others' making.

The dimension of each quantity is that of ISO 80000 (parts 3 to 6); from memory.
"""

import importlib
import inspect
import pkgutil
import re

import pint
import pytest

from troubleshoot import physics

UNITS = pint.UnitRegistry()
HELPERS = {"limits", "gases"}  # refusals and a table: they compute nothing
RESULTS = {
    "Conductance": "m**3/s", "Pressure": "Pa", "Saturation pressure": "Pa", "Time": "s",
    "Speed": "m**3/s", "Effective speed": "m**3/s", "Breakdown voltage": "V", "Voltage": "V",
    "Current": "A", "Thickness": "m", "Mean free path": "m", "Force": "N", "Mass": "kg/s",
    "Volume": "m**3", "Gas entering an isolated chamber": "Pa*m**3/s",
    "Blank-off pressure": "Pa", "True pressure": "Pa", "Highest pressure": "Pa",
}  # fmt: skip
"""How a first sentence begins -> the unit that its "in ..." must have the dimension of."""
ARGUMENTS = {
    "pressure": "Pa", "mean_pressure": "Pa", "temperature": "K", "diameter": "m", "length": "m",
    "gap": "m", "current": "A", "voltage": "V", "volume": "m3", "viscosity": "Pa s",
}  # fmt: skip
"""An argument's name -> the unit that the docstring has to give it."""


def formulas():
    for module in pkgutil.walk_packages(physics.__path__, f"{physics.__name__}."):
        short = module.name.rpartition(".")[2]
        if short in HELPERS:
            continue
        for name, what in vars(importlib.import_module(module.name)).items():
            if inspect.isfunction(what) and what.__module__ == module.name and name[0] != "_":
                yield pytest.param(what, id=f"{short}.{name}")


FORMULAS = list(formulas())


def prose(formula):
    """The docstring without its examples, in one line."""
    return " ".join((formula.__doc__ or "").split(">>>")[0].split())


def unit(text):
    """`Pa m3/s` as pint reads it; raises where pint knows no such unit."""
    powers = re.sub(r"(?<=[A-Za-z])(\d)", r"**\1", text)
    return UNITS.parse_units(powers.replace(" ", "*"))


def begins(formula):
    """The longest beginning in `RESULTS` that the docstring has; None where it has none."""
    long_first = sorted(RESULTS, key=len, reverse=True)
    return next((b for b in long_first if prose(formula).startswith(b)), None)


def wanted(formula):
    """The arguments whose units the docstring has to give by itself, with those units."""
    if re.search(
        r"SI units|\bas (?:in )?`|in one unit|with its (?:arguments|range)|inverse of",
        prose(formula),
    ):
        return {}
    names = inspect.signature(formula).parameters
    return {name: ARGUMENTS[name] for name in names if name in ARGUMENTS}


RESULTS_READ = [p for p in FORMULAS if begins(p.values[0])]
ARGUMENTS_READ = [p for p in FORMULAS if wanted(p.values[0])]


def test_most_formulas_are_read():
    """Shares, ratios and notes have no unit; what refers to another formula has that one's."""
    assert len(FORMULAS) > 50
    assert len(RESULTS_READ) > 30
    assert len(ARGUMENTS_READ) > 10


@pytest.mark.parametrize("formula", FORMULAS)
def test_every_formula_names_its_source(formula):
    assert re.search(r"\b[Ss]ource\b", prose(formula)), "write `Source: ...`"


@pytest.mark.parametrize("formula", RESULTS_READ)
def test_the_result_has_a_unit_of_its_dimension(formula):
    begin = begins(formula)
    told = re.match(
        rf"{begin}\b[^.:;]*? in ((?:Pa (?=m3))?[A-Za-z]+\d?(?:/[a-z]+\d?)?)", prose(formula)
    )
    assert told, f"say the unit of the {begin.lower()}"
    assert unit(told[1]).dimensionality == UNITS.parse_units(RESULTS[begin]).dimensionality


@pytest.mark.parametrize("formula", ARGUMENTS_READ)
def test_the_arguments_have_units(formula):
    for name, of in wanted(formula).items():
        assert re.search(rf"(?<!\w){of}(?!\w)", prose(formula)), f"{name} in {of}?"
