"""Text from elsewhere made fit to print.

A name from a file, a casebook or a command line can hold terminal escape codes, letters that turn
the line round, or a hundred thousand characters. Here they become visible, or are cut.
"""

import re

LONGEST_QUOTE = 60
"""Characters of a quoted word that an error repeats."""

# C0 but tab and newline, DEL, C1, and the marks that change the direction of what follows
# (Unicode 16, section 23.2; UAX #9): none of them is a letter, and a terminal obeys them.
_OBEYED = re.compile(
    r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff]"
)
_QUOTED = re.compile(r"""(?<!\w)'[^'\n]*'|(?<!\w)"[^"\n]*\"""")
_ENDLESS = re.compile(r"\S{400,}")


def visible(text: str) -> str:
    """`text` with every character that a terminal would obey written out (`\\u001b`).

    Line breaks and tabs stay. The spelling is that of JSON, so JSON stays what it says.
    """
    return _OBEYED.sub(lambda found: f"\\u{ord(found.group()):04x}", text)


def one_line(text: str, most: int | None = None) -> str:
    """`text` visible and on one line, cut to `most` characters."""
    line = " ".join(visible(text).split())
    return line if most is None or len(line) <= most else f"{line[: most - 1]}…"


def sentence(text: str) -> str:
    """An error's sentence: visible, what it quotes at most `LONGEST_QUOTE` characters long."""
    text = _QUOTED.sub(_short, visible(text))
    return _ENDLESS.sub(lambda found: f"{found.group()[:LONGEST_QUOTE]}…", text)


def _short(found: re.Match[str]) -> str:
    quoted = found.group()
    if len(quoted) <= LONGEST_QUOTE + 2:
        return quoted
    return f"{quoted[:LONGEST_QUOTE]}…{quoted[0]}"
