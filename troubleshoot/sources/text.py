"""Bytes of a file as lines of text, or why they are none."""

import io
from pathlib import Path

from troubleshoot.errors import UserError
from troubleshoot.regular_file import open_regular

HEAD = 1 << 16
"""Bytes that are looked at to settle how a table is written."""


def first_lines(path: Path) -> tuple[str, list[str]]:
    with open_regular(path) as stream:
        head = stream.read(HEAD)
    if not head.strip():
        raise UserError(f"{path}: the file is empty; give a table of times and pressures.")
    encoding = "utf-8-sig"
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encoding = "utf-16"
    elif b"\0" in head:
        raise UserError(f"{path}: this is not text; export the log as a table (CSV) and read that.")
    else:
        try:
            head.decode("utf-8")
        except UnicodeDecodeError as error:
            if error.start < len(head) - 4:
                encoding = "cp1252"
    text = head.decode(encoding, errors="replace")
    odd = sum(ord(c) < 32 and c not in "\t\r\n\f" for c in text)
    if odd > 0.02 * len(text):
        raise UserError(f"{path}: this is not text; export the log as a table (CSV) and read that.")
    lines = [line.rstrip("\n") for line in io.StringIO(text, newline=None)]
    if len(head) == HEAD and len(lines) > 1:
        lines.pop()
    return encoding, lines
