"""The formulas of `troubleshoot.physics` at the command line, a module a topic."""

from troubleshoot.cli.calc import (
    beam,
    coats,
    convert,
    deposition,
    discharge,
    film,
    flow,
    gas,
    landing,
    leaks,
    pumping,
    safety,
)
from troubleshoot.cli.calc.answers import calc

__all__ = [
    "beam",
    "calc",
    "coats",
    "convert",
    "deposition",
    "discharge",
    "film",
    "flow",
    "gas",
    "landing",
    "leaks",
    "pumping",
    "safety",
]
