"""Options that are numbers: with a unit, or bare."""

from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from troubleshoot.units import Quantity


class Measure(click.ParamType):
    """An option that is a number with a unit; the command receives a `Quantity`."""

    def __init__(self, dimension: str, default_unit: str | None = None) -> None:
        self.dimension = dimension
        self.default_unit = default_unit
        self.name = dimension

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> "Quantity":
        """Read the text; raises `UserError` naming the option."""
        from troubleshoot.errors import UserError
        from troubleshoot.units import parse

        try:
            return parse(str(value), self.dimension, default_unit=self.default_unit)
        except UserError as error:
            name = f"{param.opts[0]}: " if param else ""
            raise UserError(f"{name}{error}") from None


PRESSURE = Measure("pressure")
VOLUME = Measure("volume")
FLOW = Measure("volume flow")
THROUGHPUT = Measure("throughput")
LENGTH = Measure("length")
TEMPERATURE = Measure("temperature")
CURRENT = Measure("current")
VOLTAGE = Measure("voltage")
AREA = Measure("area")
RISE = Measure("pressure rate")
SECONDS = Measure("time", default_unit="s")
ENERGY = Measure("energy")
MASS = Measure("mass")
RESISTANCE = Measure("resistance", default_unit="ohm")


class Number(click.FloatRange):
    """A bare number above zero."""

    name = "number"

    def __init__(self, highest: float | None = None) -> None:
        super().__init__(0, highest, min_open=True)


class Degrees(click.FloatRange):
    """An angle in degrees."""

    name = "degrees"

    def __init__(self, highest: float) -> None:
        super().__init__(0, highest)


class Count(click.IntRange):
    """How many times."""

    name = "whole number"


SHARE = Number(1)
