"""What specimens and coats name must exist: materials, targets, cautions; slips thin to thick."""

from collections.abc import Iterator, Mapping

from troubleshoot.coater.fields import FACTS
from troubleshoot.errors import UserError, nearest
from troubleshoot.knowledge import model
from troubleshoot.knowledge.overlay import Key, Place
from troubleshoot.physics.materials import material_named


def coat_problems(rules: model.RuleBase, places: Mapping[Key, Place]) -> Iterator[str]:
    """Every problem as a sentence with its place."""
    entries: list[tuple[str, model.Specimen | model.Coat]] = [
        *(("specimens", s) for s in rules.specimens.values()),
        *(("coats", c) for c in rules.coats.values()),
    ]
    for kind, entry in entries:
        for target in entry.hazards:
            if target not in rules.cautions:
                place = places[kind, entry.id].key("hazards")
                yield f"{place}: {target!r} does not exist{nearest(target, rules.cautions)}."
    for specimen in rules.specimens.values():
        try:
            material_named(specimen.material)
        except UserError as error:
            yield f"{places['specimens', specimen.id].key('material')}: {error}"
    targets = FACTS["target"].choices
    for coat in rules.coats.values():
        if coat.id not in targets:
            place = places["coats", coat.id].key()
            yield f"{place}: {coat.id!r} is no target of a coater{nearest(coat.id, targets)}."
        rising = [look.above for look in coat.witness]
        if not rising or rising[0] != 0 or rising != sorted(set(rising)):
            place = places["coats", coat.id].key("witness")
            yield f"{place}: rising thicknesses in nm, the first of them 0."
