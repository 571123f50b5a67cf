"""Read a folder of rules into a `RuleBase`; every error names file, line, key and remedy.

Any file may hold any kinds; a kind is a top-level key whose value maps IDs to entries. One ID
stands once in a folder. A later folder overrides or extends entries of an earlier one
(`knowledge.overlay`), and overrides drawings by file name.
"""

import hashlib
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from troubleshoot.errors import UserError, nearest
from troubleshoot.knowledge import drawings as pictures
from troubleshoot.knowledge import kept, model
from troubleshoot.knowledge.build import DERIVATIONS, KINDS, SETTINGS, build
from troubleshoot.knowledge.overlay import Entries, Key, Place, lay
from troubleshoot.knowledge.references import check_references
from troubleshoot.regular_file import bytes_of, files_below

if TYPE_CHECKING:
    from troubleshoot.strict_yaml import Document


def shipped() -> Path:
    """The folder of the rules that come with the package (in a checkout: `rules/`)."""
    packed = Path(__file__).parent.parent / "data" / "rules"
    return packed if packed.is_dir() else Path(__file__).parent.parent.parent / "rules"


@dataclass(frozen=True)
class Loaded:
    """The rule base, where each entry and each drawing stands, and what a later folder changed."""

    rules: model.RuleBase
    places: Mapping[Key, Place]
    overridden: tuple[str, ...]
    extended: tuple[str, ...]
    drawings: Mapping[str, Path]


def load(folders: Sequence[Path] | None = None) -> model.RuleBase:
    """The rule base in `folders` (the shipped one by default). Raises `UserError`.

    The shipped rules are read from a copy that was validated before, where there is one.
    """
    if folders is not None:
        return load_with_places(folders).rules
    home = shipped()
    key = kept.key_of([*yaml_files(home), *_pictures(home)])
    rules = kept.read(key)
    if rules is None:
        rules = load_with_places([home]).rules
        kept.write(key, rules)
    return rules


def load_with_places(folders: Sequence[Path]) -> Loaded:
    """As `load`, with the place of every entry and the lists of what was changed."""
    from troubleshoot.strict_yaml import (
        MAX_BYTES,
        read,
    )  # rules that were checked before need none of it

    entries: Entries = {}
    overridden: set[Key] = set()
    extended: set[Key] = set()
    drawn: dict[str, Path] = {}
    digest = hashlib.sha256()
    for folder in folders:
        mine: Entries = {}
        for path in yaml_files(folder):
            digest.update(bytes_of(path, MAX_BYTES))
            for key, entry in _entries(read(path)):
                if key in mine:
                    raise UserError(
                        f"{entry[1].key()}: {key[1]!r} already stands at "
                        f"{mine[key][1].key()}; give one of them another ID."
                    )
                mine[key] = entry
        entries, replaced, changed = lay(mine, entries)
        overridden.update(replaced)
        extended.update(changed)
        for path in _pictures(folder):
            digest.update(bytes_of(path, MAX_BYTES))
            drawn[path.name] = path
    if not entries:
        raise UserError(f"{folders[0]} holds no rules: it needs at least one .yaml file.")
    markup = {name: pictures.read_drawing(path) for name, path in drawn.items()}
    rules = build(entries, markup, digest.hexdigest()[:12])
    places = {key: place for key, (_, place) in entries.items()}
    check_references(rules, places)
    return Loaded(rules, places, _names(overridden), _names(extended), drawn)


def _names(keys: Iterable[Key]) -> tuple[str, ...]:
    return tuple(f"{kind}.{name}" for kind, name in sorted(keys))


def _pictures(folder: Path) -> list[Path]:
    """The files of pictures in `folder`."""
    home = folder / pictures.FOLDER
    return [p for kind in pictures.KINDS for p in _inside(folder, files_below(home, f".{kind}"))]


def yaml_files(folder: Path) -> list[Path]:
    """The files of the rules in `folder`. Raises `UserError` where it is no folder."""
    if not os.path.isdir(folder):
        raise UserError(f"{folder} is not a folder of rules: name one that holds .yaml files.")
    return _inside(folder, files_below(folder, ".yaml"))


def _inside(folder: Path, files: list[Path]) -> list[Path]:
    """The files; none of them may lead out of `folder` (by a symbolic link)."""
    root = _real(folder)
    outside = {p for p in {f.parent for f in files} if not _real(p).is_relative_to(root)}
    for path in files:
        linked = path.is_symlink() and not _real(path).is_relative_to(root)
        if linked or path.parent in outside:
            raise UserError(f"{path} points outside {folder}: rules may not leave their folder.")
    return files


def _real(path: Path) -> Path:
    return Path(os.path.realpath(path))


def _entries(document: "Document") -> Iterable[tuple[tuple[str, str], tuple[Any, Place]]]:
    if not isinstance(document.data, dict):
        raise UserError(f"{document.path}: the top level must be kinds (causes:, findings: ...).")
    kinds = [*KINDS, SETTINGS, DERIVATIONS]
    for kind, members in document.data.items():
        if kind not in kinds:
            raise UserError(f"{document.place((kind,))}: unknown kind{nearest(kind, kinds)}.")
        if kind == SETTINGS:
            yield (SETTINGS, SETTINGS), (members, Place(document, (kind,)))
            continue
        if not isinstance(members, dict):
            raise UserError(f"{document.place((kind,))}: IDs with their entries are needed here.")
        for name, entry in members.items():
            yield (kind, name), (entry, Place(document, (kind, name)))
