"""`troubleshoot machine rate`: how much metal this coater lays down, from one run."""

import json
from typing import TYPE_CHECKING

import click

from troubleshoot.cli.echo import echo
from troubleshoot.cli.measures import AREA, CURRENT, LENGTH, MASS, RESISTANCE, SECONDS

if TYPE_CHECKING:
    from troubleshoot.physics.metals import Metal
    from troubleshoot.units import Quantity


@click.command("rate")
@click.option("--current", type=CURRENT, required=True, help="Of the discharge.")
@click.option("--time", type=SECONDS, required=True, help="How long.")
@click.option("--step", type=LENGTH, help="Height of the film's edge on a masked slip.")
@click.option("--mass", type=MASS, help="What a foil or slip gained in weight.")
@click.option("--area", type=AREA, help="Coated area of that foil or slip.")
@click.option("--resistance", type=RESISTANCE, help="Of a square of the film on a slip.")
@click.option("--monitor", type=LENGTH, help="What a monitor beside it shows, told this metal.")
@click.option("--metal", help="Metal in the head, if the profile does not say it.")
@click.option("--machine", "name", help="Which coater, if several are kept.")
@click.option("--dry-run", is_flag=True, help="Say what it comes to and keep nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def rate(
    current: "Quantity",
    time: "Quantity",
    step: "Quantity | None",
    mass: "Quantity | None",
    area: "Quantity | None",
    resistance: "Quantity | None",
    monitor: "Quantity | None",
    metal: str | None,
    name: str | None,
    dry_run: bool,
    as_json: bool,
) -> None:
    """Keep this coater's rate of coating, from a slip that was measured after one run."""
    from troubleshoot.cli.machine import one_machine
    from troubleshoot.cli.setup import open_casebook
    from troubleshoot.coater.plausible import queries
    from troubleshoot.coater.profile import machine_from
    from troubleshoot.coater.rate import run_of, target_of
    from troubleshoot.errors import UserError
    from troubleshoot.units import format_in

    given = [way for way in (step, mass, resistance, monitor) if way is not None]
    if len(given) != 1:
        raise UserError("Give one of --step, --mass with --area, --resistance or --monitor.")
    if (mass is None) != (area is None):
        raise UserError("--mass and --area belong together: what it gained, and on which area.")
    store = open_casebook()
    machine = one_machine(store, name)
    head = None if machine is None else target_of(machine)
    kind = _metal(metal, head)
    thickness, how = _thickness(kind, step or monitor, mass, area, resistance)
    found = run_of(thickness, abs(current.si), time.si)
    shown = format_in(found, "nm/mA/min", "coat rate")
    keeps = machine is not None and not dry_run
    record = {"rate_m_per_As": found, "thickness_m": thickness, "metal": kind.name, "kept": keeps}
    text = f"{format_in(thickness, 'nm', 'length')} of {kind.name}{how} are {shown}."
    if keeps:
        assert machine is not None
        target = {"target": kind.name.replace("-", "_")}
        after = machine_from({**machine.as_dict(), **target, "coat_rate": shown}, "the machine")
        for sentence in queries(after):
            if sentence not in queries(machine):
                echo(f"Please check: {sentence}", err=True)
        store.save_machine(after)
        text += f" Kept for {machine.name}."
    elif machine is None:
        text += " No machine is kept yet (`troubleshoot machine new`); give it with --rate."
    echo(json.dumps(record, indent=2) if as_json else text)


def _metal(asked: str | None, head: "Metal | None") -> "Metal":
    """The metal that was coated; it must be the one in the head, for the profile is of that."""
    from troubleshoot.errors import UserError
    from troubleshoot.physics.metals import metal_named

    if asked is None and head is None:
        raise UserError("Which metal is in the head? Add --metal.")
    if asked is not None and head is not None and metal_named(asked) != head:
        raise UserError(
            f"--metal: the profile has {head.name} in the head; change it first with "
            "`troubleshoot machine set target`."
        )
    kind = head if asked is None else metal_named(asked)
    assert kind is not None
    return kind


def _thickness(
    kind: "Metal",
    length: "Quantity | None",
    mass: "Quantity | None",
    area: "Quantity | None",
    resistance: "Quantity | None",
) -> tuple[float, str]:
    """Thickness in m, and how it was come by."""
    from troubleshoot.physics.deposition import weighed_coat
    from troubleshoot.physics.film_resistance import thickness_by_resistance

    if length is not None:
        return length.si, ""
    if mass is not None and area is not None:
        return weighed_coat(kind, mass.si, area.si), " by weight"
    assert resistance is not None
    return (
        thickness_by_resistance(kind, resistance.si),
        " by resistance (a closed film, within a factor of two)",
    )
