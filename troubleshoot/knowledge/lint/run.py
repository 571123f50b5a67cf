"""Run the checks of the layers that are asked for over a folder of rules, or one upon another."""

import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from troubleshoot.errors import UserError
from troubleshoot.knowledge.lint.charging import CHARGING
from troubleshoot.knowledge.lint.reachability import REACHABILITY
from troubleshoot.knowledge.lint.remarks import Check, Found, Page, Remark, RulesSeen, Spot
from troubleshoot.knowledge.lint.safety import SAFETY
from troubleshoot.knowledge.lint.sense import SENSE
from troubleshoot.knowledge.lint.style import STYLE, unwanted_word
from troubleshoot.knowledge.lint.teaching import TEACHING
from troubleshoot.knowledge.load import load_with_places, yaml_files
from troubleshoot.regular_file import bytes_of
from troubleshoot.strict_yaml import MAX_BYTES, read

LAYERS = ("style", "schema", "references", "reachability", "sense")

VIEWED: Mapping[str, tuple[Check, ...]] = {
    "reachability": REACHABILITY,
    "sense": (*SENSE, *SAFETY, *TEACHING, *CHARGING),
}
PLACED = re.compile(r"(?P<file>.+?), line (?P<line>\d+)(?:, key (?P<key>[^:]+))?: (?P<message>.*)")
BROKEN = {
    "schema": "give the entry the keys and values that its kind has",
    "references": "name what exists, or add the entry that is missing",
}


def check(
    folders: Sequence[Path], layers: Iterable[str] = LAYERS, words: Iterable[str] = ()
) -> list[Remark]:
    """The remarks on the last of `folders`, loaded on top of the ones before it.

    Remarks that the ones before it have by themselves are left out. Rules that do not load give
    remarks of the layers schema and references, also when only a later layer was asked for.
    Raises `UserError` when a folder or a file cannot be read at all.
    """
    asked, unwanted = tuple(layers), tuple(words)
    found = _remarks(folders, asked, unwanted)
    if len(folders) > 1:
        known = set(_remarks(folders[:-1], asked, unwanted))
        found = [remark for remark in found if remark not in known]
    return sorted(found)


def _remarks(
    folders: Sequence[Path], layers: tuple[str, ...], words: tuple[str, ...]
) -> list[Remark]:
    pages = [page for folder in folders for page in _pages(folder)]
    out = []
    if "style" in layers:
        out += [_remark("style", c.__name__, f) for c in STYLE for p in pages for f in c(p)]
        out += [
            _remark("style", unwanted_word.__name__, f)
            for page in pages
            for f in unwanted_word(page, words)
        ]
    if not set(layers) - {"style"}:
        return out
    try:
        view = RulesSeen(load_with_places(folders))
    except UserError as error:
        return out + _load_problems(str(error), str(folders[-1]), layers)
    return out + [
        _remark(layer, c.__name__, found)
        for layer, checks in VIEWED.items()
        if layer in layers
        for c in checks
        for found in c(view)
    ]


def _remark(layer: str, name: str, found: Found) -> Remark:
    return Remark(layer, name, found.place, found.message, found.remedy)


def _pages(folder: Path) -> list[Page]:
    """Every file of `folder`. Raises `UserError` for what is no folder or no readable YAML."""
    files = yaml_files(folder)
    if not files:
        raise UserError(f"{folder} holds no rules: it needs at least one .yaml file.")
    pages = []
    for path in files:
        document = read(path)
        pages.append(Page(bytes_of(path, MAX_BYTES).decode("utf-8-sig"), document))
    return pages


def _load_problems(text: str, folder: str, layers: tuple[str, ...]) -> list[Remark]:
    """What loading complained of, one remark a line, if it stands in the way of a layer asked."""
    reach = max(LAYERS.index(layer) for layer in layers)
    out = []
    for line in text.splitlines():
        hit = PLACED.fullmatch(line)
        place = Spot(hit["file"], int(hit["line"]), hit["key"] or "") if hit else Spot(folder, 0)
        message = (hit["message"] if hit else line).rstrip(".")
        layer = "references" if "does not exist" in message else "schema"
        if LAYERS.index(layer) <= reach:
            name = "unknown_name" if layer == "references" else "does_not_fit"
            out.append(Remark(layer, name, place, message, BROKEN[layer]))
    return out
