"""Where metal lands: over the stage, on tilted faces, in grooves; how it gets through the gas."""

from typing import TYPE_CHECKING

import click

from troubleshoot.cli.calc.answers import (
    Answer,
    command,
    digits,
    in_,
    metal_option,
    option,
    percent,
)
from troubleshoot.cli.measures import LENGTH, PRESSURE, Degrees

if TYPE_CHECKING:
    from troubleshoot.units import Quantity

SOURCES = ("disc", "ring", "face", "point")


@command("uniformity")
@option("--target-radius", LENGTH, "Radius of the target, or of its worn ring.", default="28.5mm")
@option("--distance", LENGTH, "From the target to the specimen's top.")
@option("--offset", LENGTH, "How far off the axis.")
@option("--source", click.Choice(SOURCES), "What throws the metal.", default="disc")
def uniformity(
    target_radius: "Quantity", distance: "Quantity", offset: "Quantity", source: str
) -> Answer:
    """Thickness off the axis over that on it, by line of sight.

    disc: a plain target. ring: the worn ring of a magnetron. face, point: a small source, such as
    carbon.
    """
    from troubleshoot.physics import uniformity as law

    size, far, aside = target_radius.si, distance.si, offset.si
    found = {
        "disc": lambda: law.disc_thickness(size, far, aside),
        "ring": lambda: law.ring_thickness(size, far, aside),
        "face": lambda: law.small_face_thickness(far, aside),
        "point": lambda: law.point_thickness(far, aside),
    }[source]()
    return Answer(
        {"relative_thickness": found},
        f"{offset.shown()} off the axis and {distance.shown()} away a specimen gets "
        f"{percent(found)} of what one on the axis gets.",
        ("By line of sight; gas scatters the metal and evens it out.",),
    )


@command("shaded")
@option("--target-radius", LENGTH, "Radius of the target.", default="28.5mm")
@option("--distance", LENGTH, "From the target to the specimen's top.", default="50mm")
@option("--tilt", Degrees(90), "Tilt of the face.", default=None)
@option("--width", LENGTH, "Width of a groove.", default=None)
@option("--depth", LENGTH, "Its depth.", default=None)
def shaded(
    target_radius: "Quantity",
    distance: "Quantity",
    tilt: float | None,
    width: "Quantity | None",
    depth: "Quantity | None",
) -> Answer:
    """Share of the flat thickness on a tilted face, a wall, or the floor of a groove.

    Without --tilt or --width and --depth: an upright wall.
    """
    from troubleshoot.errors import UserError
    from troubleshoot.physics import uniformity as law

    if (width is None) != (depth is None) or (tilt is not None and width is not None):
        raise UserError("Give either --tilt, or --width with --depth, or none of them for a wall.")
    size, far = target_radius.si, distance.si
    if width is not None and depth is not None:
        seen, scattered = law.groove_floor(width.si, depth.si, size, far)
        low, high = sorted((seen, scattered))
        return Answer(
            {"relative_low": low, "relative_high": high},
            f"The floor of the groove gets {percent(low)} to {percent(high)} of a flat face's "
            "coat: between metal that comes from all round and metal straight from the target.",
        )
    share = law.wall_share(size, far) if tilt is None else law.tilted_share(tilt)
    face = "An upright wall" if tilt is None else f"A face tilted by {digits(tilt)} degrees"
    return Answer(
        {"relative_low": share, "relative_high": 1.0},
        f"{face} gets {percent(share)} of a flat face's coat by line of sight; metal that the gas "
        "scatters adds to it.",
        ("Turn and tilt it, or coat it again from the side.",),
    )


@command("arrival")
@metal_option
@option("--pressure", PRESSURE, "True pressure of argon.")
@option("--distance", LENGTH, "From the target to the specimen's top.", default="50mm")
def arrival(metal: str, pressure: "Quantity", distance: "Quantity") -> Answer:
    """Whether metal flies straight to the specimen or drifts through the gas."""
    from troubleshoot.physics import scattering
    from troubleshoot.physics.metals import metal_named

    kind = metal_named(metal)
    path = scattering.atom_path(kind, pressure.si)
    how = scattering.arrival(kind, pressure.si, distance.si)
    means = {
        "straight": "fly straight, and throw sharp shadows",
        "scattered": "are scattered on the way, so shadows are soft",
        "drifting": "are slowed down and drift in from all round, so sides get metal too",
    }[how]
    return Answer(
        {
            "free_path_m": path,
            "paths": distance.si / path,
            "paths_to_slow": scattering.collisions_to_slow(kind),
            "arrival": how,
        },
        f"Most atoms of {kind.name} {means}: their free path is {in_(path, 'mm', 'length')}, of "
        f"which {digits(distance.si / path)} lie between target and specimen (within 30 %).",
    )
