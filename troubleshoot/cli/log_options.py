"""What can be said beside a log: options that several commands share."""

from collections.abc import Callable

import click

_OPTIONS = (
    click.option("--unit", help="Unit of the pressures, if the file does not say it or is wrong."),
    click.option("--time-unit", help="Unit of the times: s, min, h, ms, hh:mm or mm:ss."),
    click.option(
        "--column", help="The pressure column, if several fit: part of its name, or its number."
    ),
    click.option("--every", help="Time from row to row of a table without times."),
    click.option(
        "--gauge-scale",
        help="What a gauge's volts mean: '0 V 1e-3 mbar; 5 V 1 mbar; 10 V 1000 mbar' or '1e-3 mbar "
        "at 0 V, 0.6 decades/V'.",
    ),
)


def log_options(command: Callable[..., None]) -> Callable[..., None]:
    """A command with these options."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command
