"""One folder of rules upon another: entries are added, overridden whole, or extended.

An entry with `extends: true` keeps what the entry of the same ID beneath it says. Of its own keys a
mapping (such as `shows`, `cures`, `odds`, `complaints`, `answers`) is merged into that of the entry
beneath, name by name and each value whole (a row, say); anything else takes the place of what stood
there.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from troubleshoot.errors import UserError, nearest

if TYPE_CHECKING:
    from troubleshoot.strict_yaml import Document, Where

EXTENDS = "extends"
NO_SOURCE = "changed by a lab's own rules, which name no source"
MERGED = 2
"""Keys and the names in a merged mapping come from either entry; what is deeper goes with them."""

Key = tuple[str, str]
"""Kind and ID."""


@dataclass(frozen=True)
class Place:
    """Where an entry stands, for messages; `beneath` is the place of the entry that it extends."""

    document: "Document"
    where: "Where"
    beneath: "Place | None" = None

    def key(self, *more: str | int) -> str:
        """`file, line n, key a.b.c` of a key of the entry."""
        place = self.of(*more)
        return place.document.place((*place.where, *more))

    def of(self, *more: str | int) -> "Place":
        """The place of the entry that says this key: its own, or one that it extends."""
        for depth in range(min(len(more), MERGED), 0, -1):
            place: Place | None = self
            while place is not None:
                if (*place.where, *more[:depth]) in place.document.lines:
                    return place
                place = place.beneath
        return self


Entries = dict[Key, tuple[Any, Place]]


def lay(upper: Entries, lower: Entries) -> tuple[Entries, list[Key], list[Key]]:
    """Both folders in one, and which entries of `lower` were overridden and which extended.

    Raises `UserError` for an entry that extends nothing.
    """
    out = dict(lower)
    overridden: list[Key] = []
    extended: list[Key] = []
    for key, (entry, place) in upper.items():
        if isinstance(entry, dict) and EXTENDS in entry:
            out[key] = _extend(key, entry, place, lower)
            extended.append(key)
            continue
        if key in lower:
            overridden.append(key)
        out[key] = (entry, place)
    return out, overridden, extended


def _extend(key: Key, entry: Mapping[str, Any], place: Place, lower: Entries) -> tuple[Any, Place]:
    kind, name = key
    if entry[EXTENDS] is not True:
        raise UserError(f"{place.key(EXTENDS)}: write `{EXTENDS}: true`, or leave it out.")
    if key not in lower:
        near = nearest(name, [other for k, other in lower if k == kind])
        instead = near or f"; write the whole entry without `{EXTENDS}`"
        raise UserError(
            f"{place.key(EXTENDS)}: {name!r} does not exist in the rules beneath{instead}."
        )
    base, beneath = lower[key]
    if not isinstance(base, dict):
        return base, beneath  # what is wrong there is told when the entries are built
    own = {k: v for k, v in entry.items() if k != EXTENDS}
    if "source" in base:
        own.setdefault("source", f"{base['source']}; {NO_SOURCE}")
    merged = {k: _merge(base.get(k), value) for k, value in own.items()}
    return {**base, **merged}, Place(place.document, place.where, beneath)


def _merge(old: Any, new: Any) -> Any:
    return {**old, **new} if isinstance(old, dict) and isinstance(new, dict) else new
