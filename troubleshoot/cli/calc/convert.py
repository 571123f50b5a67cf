"""From one unit to another."""

import click

from troubleshoot.cli.calc.answers import Answer, command


@command("convert", ignore_unknown_options=True)
@click.argument("quantity", nargs=-1, required=True)
@click.argument("unit")
def convert(quantity: tuple[str, ...], unit: str) -> Answer:
    """Change the unit: convert 0.2Torr Pa."""
    from troubleshoot.units import dimension_of, parse, si_unit

    text = " ".join(quantity)
    dimension = _shared_dimension(text, unit) or dimension_of(unit)
    given = parse(text, dimension)
    value = given.to(unit)
    return Answer(
        {"value": value, "unit": unit, "si": given.si, "si_unit": si_unit(dimension)},
        f"{given.shown()} is {value:.6g} {unit}.",
    )


def _shared_dimension(text: str, unit: str) -> str | None:
    """What both measure; a micron is a pressure or a length, so one side alone may not tell."""
    from troubleshoot.errors import UserError
    from troubleshoot.units import dimensions, parse

    for dimension in dimensions():
        try:
            parse(text, dimension).to(unit)
        except UserError:
            continue
        return dimension
    return None
