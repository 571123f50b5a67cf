"""What every command of `calc` shares: its options, and an answer in words or as JSON."""

import functools
import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import click

from troubleshoot.cli.calc.profile import KEYS, FromProfile, machine_option, taken
from troubleshoot.cli.echo import echo
from troubleshoot.cli.groups import Whole
from troubleshoot.cli.measures import TEMPERATURE

if TYPE_CHECKING:
    from troubleshoot.units import Quantity

Values = dict[str, float | str | bool | None]


@dataclass(frozen=True)
class Answer:
    """What a command has to say: numbers in SI with the unit in the key, and a sentence."""

    values: Values
    sentence: str
    notes: tuple[str, ...] = ()


Command = Callable[..., Answer]


class _OneSentence(Whole):
    """Refuses a wrong option in one sentence, like every number that cannot be used."""

    def invoke(self, ctx: click.Context) -> Any:
        from troubleshoot.errors import UserError

        try:
            return super().invoke(ctx)
        except click.UsageError as error:
            words = " ".join(error.format_message().split()).rstrip(".?")
            where = error.ctx.command_path if error.ctx else ctx.command_path
            raise UserError(f"{words}: see {where} --help.") from None


@click.group(
    cls=_OneSentence,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.pass_context
def calc(context: click.Context) -> None:
    """Work out one number: pump-down, leaks, purging, breakdown, safety, coats, charging.

    Write units with the numbers: 5L, 0.2Torr, 3m3/h, 20degC, 1:30 (minutes:seconds). Without a
    command it lists what one may want to know, with an example each.
    """
    if context.invoked_subcommand is None:
        from troubleshoot.cli.calc.needs import NEEDS

        for topic, needs in NEEDS.items():
            echo(f"{topic}:")
            for need, line in needs.items():
                echo(f"  {need}\n    troubleshoot calc {line}")


def option(
    flag: str, kind: click.ParamType, text: str, **more: Any
) -> Callable[[Command], Command]:
    """A required option, unless a default or `required=False` is given."""
    more.setdefault("required", "default" not in more)
    if more.get("default") is not None:
        more["show_default"] = True
    if flag in KEYS:
        more["cls"] = FromProfile
    return click.option(flag, *more.pop("names", ()), type=kind, help=text, **more)


def gas_option(default: str) -> Callable[[Command], Command]:
    """`--gas`."""
    return click.option(
        "--gas", default=default, show_default=True, help="Name or symbol of the gas."
    )


def metal_option(command: Command) -> Command:
    """`--metal`, of the coat."""
    return click.option(
        "--metal", cls=FromProfile, required=True, help="Name or symbol of the metal, or an alloy."
    )(command)


def temperature_option(command: Command) -> Command:
    """`--temperature`, of the gas."""
    return option("--temperature", TEMPERATURE, "Gas temperature.", default="20degC")(command)


def command(name: str, **settings: Any) -> Callable[[Command], click.Command]:
    """Register a function that returns an `Answer` as a command with `--json`.

    `settings` of its context: `ignore_unknown_options` lets a number begin with a minus.
    """

    def register(function: Command) -> click.Command:
        @functools.wraps(function)
        def run(as_json: bool, **given: Any) -> None:
            from troubleshoot.errors import UserError

            try:
                answer = function(**given)
                notes = [*answer.notes, *filter(None, [taken()])]
                record = {**answer.values, "notes": notes}
                text = json.dumps(record, indent=2, allow_nan=False)
            except (ArithmeticError, ValueError):
                raise UserError(
                    f"These numbers are too far from any real coater for {name}: check the units "
                    "and exponents."
                ) from None
            if as_json:
                echo(text)
            else:
                echo(" ".join([answer.sentence, *notes]))

        flag = click.option("--json", "as_json", is_flag=True, help="Numbers in SI, as JSON.")
        made = calc.command(name, context_settings=settings)(flag(run))
        if any(isinstance(param, FromProfile) for param in made.params):
            machine_option(made)
        return made

    return register


def digits(value: float) -> str:
    """A number to the digits that are worth reading."""
    from troubleshoot.units import format_number

    return format_number(value)


def lasting(seconds: float) -> str:
    """A time in seconds, minutes, hours or days."""
    if seconds < 100:
        return f"{digits(seconds)} s"
    if seconds < 6000:
        return f"{digits(seconds / 60)} min"
    if seconds < 360_000:
        return f"{digits(seconds / 3600)} h"
    return f"{digits(seconds / 86_400)} d"


def electronvolt(energy: "Quantity") -> float:
    """An energy in eV."""
    from troubleshoot.units import from_si

    return from_si(energy.si, "eV", "energy")


def between(low: float, high: float, unit: str, dimension: str) -> str:
    """Two numbers in SI, shown in `unit` once: `4 to 25 nm`."""
    from troubleshoot.units import format_number, from_si

    return f"{format_number(from_si(low, unit, dimension))} to {in_(high, unit, dimension)}"


def percent(share: float) -> str:
    """A share in per cent."""
    return f"{digits(100 * share)} %"


def in_(si: float, unit: str, dimension: str) -> str:
    """A number in SI, shown in `unit`."""
    from troubleshoot.units import format_in

    return format_in(si, unit, dimension)
