"""A case inside an HTML page: written as data that no browser runs, and read back.

The page holds one script element of the type application/json. In it no `<`, `>` or `&` stands, so
that nothing can end the element early (HTML Living Standard, section 4.12.1.3, "Restrictions for
contents of script elements").
"""

import json
from collections.abc import Mapping
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, NoReturn

from troubleshoot.case.casefile import CaseFile
from troubleshoot.case.entries import Opened
from troubleshoot.case.journal import Journal, as_records, check_all, from_records
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.regular_file import bytes_of, refuse_packed

ID = "case"
FORMAT = 1
MOST = 50_000_000
"""Bytes of the largest page that is read: a hundred logs with their drawings."""
SUFFIXES = (".html", ".htm")
# Line and paragraph separator: line ends in older scripts, letters in JSON.
_ESCAPED = str.maketrans({letter: f"\\u{ord(letter):04x}" for letter in "<>&\u2028\u2029"})


def as_data(journal: Journal, machine: Machine) -> str:
    """The case as the text of the script element."""
    case = {"format": FORMAT, "machine": machine.as_dict(), "journal": as_records(journal)}
    text = json.dumps(case, ensure_ascii=True, allow_nan=False, sort_keys=True)
    return text.translate(_ESCAPED)


class _Finder(HTMLParser):
    """Finds the text of the element that holds the case; `closed` once it has ended."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=False)
        self.found: list[str] = []
        self.closed = False
        self._inside = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "script" and dict(attrs).get("id") == ID:
            self._inside = True
            self.found.append("")
            self.closed = False

    def handle_endtag(self, tag: str) -> None:
        if tag == "script" and self._inside:
            self._inside, self.closed = False, True

    def handle_data(self, data: str) -> None:
        if self._inside:
            self.found[-1] += data


def read_page(path: Path, rules: RuleBase, machine: Machine | None = None) -> CaseFile:
    """The case that a report holds; `machine` overrides. Raises `UserError` for any other page."""

    def refused(why: str) -> NoReturn:
        raise UserError(f"{path}: {why}; write the report anew with `troubleshoot diagnose`.")

    finder = _Finder()
    raw = bytes_of(path, MOST)
    refuse_packed(path, raw)
    finder.feed(raw.decode("utf-8", "replace"))
    if not finder.found:
        refused("this page holds no case")
    if len(finder.found) > 1:
        refused("this page holds more than one case")
    if not finder.closed:
        refused("the case in this page is cut off")
    try:
        case = json.loads(finder.found[0], parse_constant=_no_number)
    except (ValueError, RecursionError):
        refused("the case in this page is damaged")
    if not isinstance(case, Mapping) or case.keys() != {"format", "machine", "journal"}:
        refused("what this page holds is no case")
    if case["format"] != FORMAT:
        refused("the case in this page was written by another version of this program")
    try:
        journal, told = from_records(case["journal"]), _machine(case["machine"])
        check_all(journal, rules)
    except UserError as error:
        raise UserError(f"{path}: {error}") from None
    if not journal:
        refused("the case in this page is empty")
    said = journal[0].said
    name = said.name if isinstance(said, Opened) and said.name else path.stem
    return CaseFile(name, journal, machine or told, None)


def _machine(kept: Any) -> Machine:
    if not isinstance(kept, Mapping):
        raise UserError("the machine of the case is no machine.")
    return machine_from(kept, "the machine")


def _no_number(name: str) -> NoReturn:
    raise ValueError(name)
