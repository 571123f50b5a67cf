"""What a command of `calc` was not given, taken from the kept profile of the coater.

With `--machine` the profile goes before the defaults too. Without it, only what a command cannot do
without is looked up, where one coater is kept. What was taken is told with the answer.
"""

from collections.abc import Callable, Mapping
from typing import Any

import click
from click.core import ParameterSource

KEYS = {
    "--volume": "volume", "--speed": "pump_speed", "--distance": "distance", "--metal": "target",
    "--target-radius": "target_radius", "--room": "room", "--cylinder": "cylinder",
    "--fill-pressure": "fill_pressure",
}  # fmt: skip
"""Option -> the key of a profile that is the same thing."""
_NAME, _TOLD, _TAKEN = (f"troubleshoot.calc.{word}" for word in ("machine", "profile", "taken"))


class FromProfile(click.Option):
    """An option that the coater's profile may answer."""

    def consume_value(self, ctx: click.Context, opts: Mapping[str, Any]) -> Any:
        """As `click.Option`; where nothing was typed, what the profile says, if it says it."""
        value, source = super().consume_value(ctx, opts)
        if source is ParameterSource.COMMANDLINE or not (self.required or _NAME in ctx.meta):
            return value, source
        told = _profile(ctx)[1]
        key = KEYS[self.opts[0]]
        if key not in told:
            return value, source
        ctx.meta.setdefault(_TAKEN, {})[self.opts[0].lstrip("-").replace("-", " ")] = told[key]
        return told[key], ParameterSource.DEFAULT_MAP


def machine_option(function: Callable[..., Any]) -> Callable[..., Any]:
    """`--machine`, for a command of which the profile may answer an option."""

    def keep(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
        if value is not None:
            ctx.meta[_NAME] = value

    return click.option(
        "--machine", is_eager=True, expose_value=False, callback=keep,
        help="Take what is not given from this coater's profile: its name, or a YAML file.",
    )(function)  # fmt: skip


def taken() -> str:
    """What was taken from the profile in this call, as a sentence; empty where nothing was."""
    ctx = click.get_current_context()
    if _TAKEN not in ctx.meta:
        return ""
    parts = ", ".join(f"{what} {value}" for what, value in ctx.meta[_TAKEN].items())
    return f"Taken from the profile of {_profile(ctx)[0]}: {parts.replace('_', ' ')}."


def _profile(ctx: click.Context) -> tuple[str, Mapping[str, str]]:
    """The name of the coater and what is told of it, as text; empty where none is kept."""
    if _TOLD not in ctx.meta:
        from troubleshoot.cli.setup import casebook_kept, machine_named, stored_machine

        named = ctx.meta.get(_NAME)
        machine = machine_named(named)
        if machine is None and casebook_kept():
            machine = stored_machine(None)
        told: dict[str, str] = {}
        if machine is not None:
            told |= machine.shown
            target = machine.facts.get("target", "other")
            told |= {} if target == "other" else {"target": target}
        ctx.meta[_TOLD] = (machine.name if machine else "", told)
    out: tuple[str, Mapping[str, str]] = ctx.meta[_TOLD]
    return out
