"""How the files are written: order of keys, spaces, length, unwanted words."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields
from pathlib import Path

from troubleshoot.errors import UserError
from troubleshoot.knowledge import model
from troubleshoot.knowledge.build import KINDS, SETTINGS
from troubleshoot.knowledge.derivation import Derivation
from troubleshoot.knowledge.lint.remarks import Found, Page, Spot, StyleCheck
from troubleshoot.knowledge.overlay import EXTENDS
from troubleshoot.regular_file import bytes_of
from troubleshoot.strict_yaml import MAX_BYTES, Where

MAX_LINE = 200  # characters
MAX_FILE = 400  # lines
MAX_ID = 50  # characters

PARTS: Mapping[str, type[model.Record]] = {
    "quantity": model.Bands,
    "minutes": model.Minutes,
    "today": model.Today,
}


def _keys(cls: type[model.RuleEntry] | type[model.Record] | type[Derivation]) -> list[str]:
    return [f.name for f in fields(cls)]


def _written(page: Page) -> Iterator[tuple[Where, dict[str, object], list[str]]]:
    """Place and content of everything written as keys with values, and the keys it may have."""
    data = page.document.data if isinstance(page.document.data, dict) else {}
    for kind, members in data.items():
        named: dict[str, object] = members if isinstance(members, dict) else {}
        if kind == SETTINGS:
            yield (kind,), named, [EXTENDS, *_keys(model.Settings)]
            continue
        keys = _keys(Derivation)
        if kind in KINDS:
            keys = _keys(KINDS[kind])
        for name, entry in named.items():
            if not isinstance(entry, dict):
                continue
            yield (kind, name), entry, [EXTENDS, *keys]
            for part, cls in PARTS.items():
                if isinstance(entry.get(part), dict):
                    yield (kind, name, part), entry[part], _keys(cls)


def key_order(page: Page) -> Iterator[Found]:
    """Keys in one fixed order are found at once, whoever wrote the file."""
    for where, entry, keys in _written(page):
        here = [key for key in entry if key in keys]
        wanted = sorted(here, key=keys.index)
        wrong = [key for key, right in zip(here, wanted, strict=True) if key != right]
        if wrong:
            yield Found(
                page.key(*where, wrong[0]),
                f"the key {wrong[0]!r} stands out of order",
                f"use the order {', '.join(wanted)}",
            )


def plain_id(page: Page) -> Iterator[Found]:
    """An ID is typed, read aloud and printed in narrow columns."""
    for where, _, _ in _written(page):
        name = str(where[-1])
        if len(where) == 2 and (
            len(name) > MAX_ID or not re.fullmatch(r"[a-z][a-z0-9]*(_[a-z0-9]+)*", name)
        ):
            yield Found(
                page.key(*where),
                f"the ID {name!r} is long or odd",
                f"use small letters and digits joined by single underscores, {MAX_ID} at most",
            )


def _lines(page: Page) -> Iterator[tuple[Spot, str]]:
    for number, line in enumerate(page.text.split("\n"), start=1):
        yield page.at(number), line


def trailing_space(page: Page) -> Iterator[Found]:
    """Invisible, and every editor shows it as a change (carriage returns are meant too)."""
    for spot, line in _lines(page):
        if line != line.rstrip():
            yield Found(spot, "spaces at the end of the line", "remove them")


def tab(page: Page) -> Iterator[Found]:
    """YAML cannot be indented by tabs, and nobody sees the difference."""
    for spot, line in _lines(page):
        if "\t" in line:
            yield Found(spot, "a tab", "use spaces")


def long_line(page: Page) -> Iterator[Found]:
    """What does not fit a screen is not read."""
    for spot, line in _lines(page):
        if len(line) > MAX_LINE:
            yield Found(spot, f"{len(line)} characters in a line", f"break it at {MAX_LINE}")


def long_file(page: Page) -> Iterator[Found]:
    """A file should be one subject."""
    count = page.text.count("\n")
    if count > MAX_FILE:
        yield Found(page.at(count), f"{count} lines in a file", f"split it at {MAX_FILE} or less")


def last_newline(page: Page) -> Iterator[Found]:
    """Without it the last line and whatever is added later run together in listings."""
    if not page.text.endswith("\n") or page.text.endswith("\n\n"):
        yield Found(page.at(page.text.count("\n") + 1), "the file's end", "end with one newline")


STYLE: tuple[StyleCheck, ...] = (
    key_order,
    plain_id,
    trailing_space,
    tab,
    long_line,
    long_file,
    last_newline,
)


def unwanted_word(page: Page, words: Iterable[str]) -> Iterator[Found]:
    """Any of `words` as a whole word, in text, IDs or comments, also across a line break."""
    for word in words:
        pattern = r"\s+".join(map(re.escape, word.split()))
        for hit in re.finditer(rf"(?<![^\W_]){pattern}(?![^\W_])", page.text, re.IGNORECASE):
            line = page.text.count("\n", 0, hit.start()) + 1
            yield Found(page.at(line), f"the word {word!r}", "say it in other words")


def read_words(path: Path) -> tuple[str, ...]:
    """Words or phrases, one a line; empty lines and lines from # on are skipped.

    Raises `UserError` when the file cannot be read or holds no word.
    """
    try:
        text = bytes_of(path, MAX_BYTES).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise UserError(
            f"{path} cannot be read as UTF-8 text: name a file with one word a line."
        ) from None
    words = tuple(line.strip() for line in text.splitlines() if line.strip()[:1] not in ("", "#"))
    if not words:
        raise UserError(f"{path} holds no word: write one a line.")
    return words
