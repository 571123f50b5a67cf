"""Bytes of a file as lines of text, or why they are none and how they are made some."""

import io
from dataclasses import dataclass
from pathlib import Path

from troubleshoot.errors import UserError
from troubleshoot.regular_file import PACKED, open_regular
from troubleshoot.sources.records import Records, records_of, with_head

HEAD = 1 << 16
"""Bytes that are looked at to settle how a table is written."""
TAIL = 1 << 12
"""Bytes at its end that are looked at besides."""

_EXPORT = "open it where it was made, save or export it as CSV, and read that"
_SHEET = f"a spreadsheet, not text; {_EXPORT} (one sheet, with its heads)"
_JSON = f"JSON of another shape than one flat object a line; {_EXPORT}, or write it so"
_BEGINS = {
    b"\xd0\xcf\x11\xe0": _SHEET,
    b"%PDF": f"a PDF, not text; {_EXPORT}",
    b"\x89PNG": "a picture, not text; give the numbers behind it as CSV",
    b"\xff\xd8\xff": "a picture, not text; give the numbers behind it as CSV",
    b"GIF8": "a picture, not text; give the numbers behind it as CSV",
    b"\x89HDF": f"a data file, not text; {_EXPORT}",
    b"SQLite format 3": f"a database, not text; {_EXPORT}",
}
_TEXT_BEGINS = {
    "<?xml": f"XML, no table; {_EXPORT}",
    "<html": f"a web page, no table; {_EXPORT}",
    "<!doctype": f"a web page, no table; {_EXPORT}",
    "{": _JSON,
    "[{": _JSON,
    "[[": _JSON,
}


@dataclass(frozen=True)
class Text:
    """The first lines of a file, and some of its last ones.

    Where rows name their own cells (`records`), they are written as a table, with a head.
    """

    encoding: str
    lines: list[str]
    last: list[str]
    records: Records | None = None


def text_of(path: Path) -> Text:
    """How a file is encoded, and its lines. Raises `UserError` for what is no table in text."""
    with open_regular(path) as stream:
        head = stream.read(HEAD)
        stream.seek(max(0, stream.seek(0, 2) - TAIL))
        tail = stream.read()
    if not head.strip():
        raise UserError(f"{path}: the file is empty; give a table of times and pressures.")
    what = _no_text(head)
    if what:
        raise UserError(f"{path}: this is {what}.")
    encoding = _encoding(head)
    if encoding is None:
        raise UserError(f"{path}: this is not text; export the log as a table (CSV) and read that.")
    text = head.decode(encoding, errors="replace")
    odd = sum(ord(c) < 32 and c not in "\t\r\n\f" for c in text)
    if odd > 0.02 * len(text):
        raise UserError(f"{path}: this is not text; export the log as a table (CSV) and read that.")
    lines = _lines(text)
    if len(head) == HEAD and len(lines) > 1:
        lines.pop()
    wide = encoding.startswith("utf-16")
    last = [] if wide else _lines(tail.decode(encoding, errors="replace"))[1:]
    start = "".join(text[:1000].lower().split())
    what = next((what for sign, what in _TEXT_BEGINS.items() if start.startswith(sign)), None)
    records = records_of(lines) if what in (None, _JSON) else None
    if records is not None:
        last = [records.table(line) for line in last]
        return Text(encoding, with_head(lines, records), last, records)
    if what:
        raise UserError(f"{path}: this is {what}.")
    return Text(encoding, lines, last)


def _lines(text: str) -> list[str]:
    return [line.rstrip("\n") for line in io.StringIO(text, newline=None)]


def _no_text(head: bytes) -> str | None:
    """What a file is that is known by its first bytes, and what to do with it."""
    if head.startswith(PACKED):
        sheet = b"[Content_Types].xml" in head or b"opendocument" in head or b"xl/" in head
        return _SHEET if sheet else "packed, not text; unpack it and read what is in it"
    return next((what for sign, what in _BEGINS.items() if head.startswith(sign)), None)


def _encoding(head: bytes) -> str | None:
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    if b"\0" in head:
        # Every other byte of Latin letters is zero.
        for encoding, zeros in (("utf-16-le", head[1::2]), ("utf-16-be", head[::2])):
            if zeros.count(0) > 0.8 * len(zeros):
                return encoding
        return None
    try:
        head.decode("utf-8")
    except UnicodeDecodeError as error:
        if error.start < len(head) - 4:
            return "cp1252"
    return "utf-8-sig"
