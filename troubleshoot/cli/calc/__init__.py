"""The formulas of `troubleshoot.physics` at the command line, a module a topic."""

from troubleshoot.cli.calc import convert, discharge, film, flow, gas, leaks, pumping, safety
from troubleshoot.cli.calc.answers import calc

__all__ = ["calc", "convert", "discharge", "film", "flow", "gas", "leaks", "pumping", "safety"]
