"""What a check looks at (a page, a loaded rule base) and what it yields (a remark, its place)."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from troubleshoot.knowledge import model
from troubleshoot.knowledge.build import DERIVATIONS, KINDS, SETTINGS
from troubleshoot.knowledge.derivation import Derivation
from troubleshoot.knowledge.load import Loaded
from troubleshoot.strict_yaml import Document, Where


@dataclass(frozen=True, order=True)
class Spot:
    """Where a remark belongs; `line` is 1-based, 0 when no line can be named."""

    file: str
    line: int
    key: str = ""

    def __str__(self) -> str:
        line = f", line {self.line}" if self.line else ""
        return self.file + line + (f", key {self.key}" if self.key else "")


@dataclass(frozen=True, order=True)
class Found:
    """What a check yields: where, what is wrong, and what to do about it."""

    place: Spot
    message: str
    remedy: str


@dataclass(frozen=True, order=True)
class Remark:
    """One thing worth mending: the layer and name of the check, and what it found."""

    layer: str
    name: str
    place: Spot
    message: str
    remedy: str


@dataclass(frozen=True)
class Page:
    """One file of rules, as text and as what it says."""

    text: str
    document: Document

    def at(self, line: int) -> Spot:
        """A whole line of the file."""
        return Spot(self.document.path, line)

    def key(self, *where: str | int) -> Spot:
        """A key of the file."""
        return _spot(self.document, where)


Mention = model.RuleEntry | Derivation
StyleCheck = Callable[[Page], Iterator[Found]]


@dataclass(frozen=True)
class RulesSeen:
    """A loaded rule base and where its entries stand."""

    loaded: Loaded

    @property
    def rules(self) -> model.RuleBase:
        """The rule base."""
        return self.loaded.rules

    def at(self, entry: Mention, *key: str | int) -> Spot:
        """The place of an entry, or of a key in it."""
        place = self.loaded.places[_kind(entry), entry.id].of(*key)
        return _spot(place.document, (*place.where, *key))

    def derived(self, kind: str) -> set[str]:
        """The names that some derivation concludes of `kind`."""
        return {c.name for d in self.rules.derivations.values() for c in d.then if c.kind == kind}

    def revealed(self, finding: str) -> bool:
        """Whether anything can ever answer this finding."""
        return bool(self.rules.revealed_by[finding]) or finding in self.derived("finding")


Check = Callable[[RulesSeen], Iterator[Found]]


def _spot(document: Document, where: Where) -> Spot:
    return Spot(document.path, document.line(where), ".".join(str(part) for part in where))


def _kind(entry: Mention) -> str:
    if isinstance(entry, model.Action):
        return "checks" if entry.kind == "check" else "remedies"
    if isinstance(entry, Derivation):
        return DERIVATIONS
    if isinstance(entry, model.Settings):
        return SETTINGS
    return next(kind for kind, cls in KINDS.items() if isinstance(entry, cls))
