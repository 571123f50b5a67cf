"""Which tables of docs/benchmarks.md were made with other rules than the shipped ones.

    python -m tests.benchmarks.rules_named

Prints a warning for each and is never a failure: tables are made anew now and then, not with
every change of a rule.
"""

import re
from pathlib import Path

from troubleshoot.knowledge.load import load

PAGE = Path(__file__).parents[2] / "docs" / "benchmarks.md"
NONE = "No rule base."


def named(text: str) -> dict[str, str | None]:
    """Section that holds a table -> the rule base it names; None where none bears on it.

    Raises ValueError for a section with a table that says neither.
    """
    out: dict[str, str | None] = {}
    for section in text.split("\n## ")[1:]:
        if not re.search(r"^\|", section, flags=re.M):
            continue
        title = section.partition("\n")[0]
        said = re.search(r"^Rule base ([0-9a-f]{12})\.", section, flags=re.M)
        if said is None and NONE not in section:
            raise ValueError(f"{title}: say 'Rule base <hash>.' or '{NONE}'")
        out[title] = said and said[1]
    return out


def warnings(text: str, shipped: str) -> list[str]:
    """A line for each section whose rule base is not the shipped one."""
    return [
        f"Warning: docs/benchmarks.md, {title!r}: made with rules {rules}, shipped are {shipped}."
        for title, rules in named(text).items()
        if rules not in (None, shipped)
    ]


if __name__ == "__main__":
    lines = warnings(PAGE.read_text(encoding="utf-8"), load().hash)
    print("\n".join(lines) or "Every table of docs/benchmarks.md was made with the shipped rules.")
