"""Every formula shows a runnable example and says where it comes from."""

import doctest
import importlib
import inspect

import pytest

FORMULAS = [
    importlib.import_module(f"troubleshoot.physics.{name}")
    for name in (
        "gas_kinetics",
        "conductance",
        "pumping",
        "leaks",
        "rise",
        "gauges",
        "discharge",
        "purging",
        "vapour",
        "safety",
        "metals",
        "elements",
        "sputtering",
        "scattering",
        "uniformity",
        "deposition",
        "film_growth",
        "film_resistance",
        "coat_heat",
        "materials",
        "electron_range",
        "charging",
        "charge_controls",
        "quartz",
    )
]
FUNCTIONS = [
    function
    for module in FORMULAS
    for name, function in vars(module).items()
    if inspect.isfunction(function)
    and function.__module__ == module.__name__
    and not name.startswith("_")
]
ORIGIN = ("source", "definition", "balance", "integral of", "inverse of")


@pytest.mark.parametrize("module", FORMULAS, ids=lambda module: module.__name__)
def test_examples_run(module):
    result = doctest.testmod(module)
    assert result.attempted > 0
    assert result.failed == 0


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda function: function.__name__)
def test_every_formula_has_an_example_and_an_origin(function):
    text = inspect.getdoc(function) or ""
    assert ">>>" in text
    assert any(word in text.lower() for word in ORIGIN)


def test_units_examples_run():
    from troubleshoot import units
    from troubleshoot.physics import gases

    for module in (gases, units):
        result = doctest.testmod(module)
        assert result.attempted > 0
        assert result.failed == 0
