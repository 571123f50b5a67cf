"""Cases as a person reads them, a line each: in the list, where they wait, for the paper book."""

import shutil
import sys
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from troubleshoot.advice.phrases import lower_first
from troubleshoot.case import entries
from troubleshoot.casebook.alike import Alike, ended_as
from troubleshoot.casebook.record import CLOSED, PARKED, UNREADABLE, CaseRow
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.printable import one_line
from troubleshoot.show.html.words import OUTCOME_WORDS, moment, plain

if TYPE_CHECKING:
    from troubleshoot.case.deduce import Deduction

WIDE = 200
"""Columns of a list that no terminal shows."""


def names_of(rules: RuleBase) -> dict[str, str]:
    """What complaints and causes are called, by ID."""
    complaints = {c.id: c.name for c in rules.complaints.values()}
    causes = {c.id: c.name for c in rules.causes.values()}
    return {**complaints, **causes, entries.UNLISTED: "something not in the rule base"}


WIDTHS = {"No.": 4, "Opened": 10, "Coater": 14, "Complaint": 30, "How it stands": 60, "Min": 4,
          "Role": 11, "Title": 34}  # fmt: skip
"""The columns of the list and how wide they are at most."""
GOES_FIRST = ("Title", "Role", "Min", "Coater")
"""What a narrow terminal does without, in this order: `cases show` has it."""
BETWEEN = 2
LEAST = 17
"""The two columns of words are never narrower than this."""
TELLS = 36
"""How it stands is told in so many letters before anything beside it is shown."""


def widths(width: int) -> dict[str, int]:
    """The columns that fit in so many letters, with their widths; the number is always there."""
    out = dict(WIDTHS)

    def over() -> int:
        return sum(out.values()) + BETWEEN * (len(out) - 1) - width

    for name in GOES_FIRST:
        if over() > WIDTHS["How it stands"] - TELLS:
            del out[name]
    for name in ("How it stands", "Complaint"):
        out[name] = max(LEAST, out[name] - max(over(), 0))
    return out


def list_cases(rows: Sequence[CaseRow], names: Mapping[str, str]) -> None:
    """Print one line a case under a header, cut to the width of the terminal."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    width = max(shutil.get_terminal_size().columns, LEAST) if sys.stdout.isatty() else WIDE
    columns = widths(width)
    table = Table(box=None, pad_edge=False, header_style="bold", padding=(0, BETWEEN, 0, 0))
    for name, wide in columns.items():
        table.add_column(
            name, justify="right" if name in ("No.", "Min") else "left", width=wide, no_wrap=True,
            overflow="ellipsis",
        )  # fmt: skip
    for row in rows:
        cells = (
            str(row.id), row.opened_at[:10], row.coater or "", name_of(row.complaint, names),
            stands(row, names), "" if row.minutes is None else f"{row.minutes:.0f}",
            plain(row.role or ""), row.called,
        )  # fmt: skip
        shown = (cell for head, cell in zip(WIDTHS, cells, strict=True) if head in columns)
        table.add_row(*(Text(one_line(cell, WIDE)) for cell in shown))
    Console(highlight=False, width=width).print(table)


def name_of(name: str | None, names: Mapping[str, str]) -> str:
    """What an entry of the rule base is called; one that is gone from it, by its ID."""
    return names.get(name, plain(name)) if name else "no complaint yet"


def stands(row: CaseRow, names: Mapping[str, str]) -> str:
    """Where a case stands, in a few words."""
    if row.status == UNREADABLE:
        return f"damaged: `troubleshoot cases show {row.id}` says what can be done"
    if row.status == PARKED:
        return f"parked until {moment(row.parked_until or '')}"
    if row.status != CLOSED:
        return "open"
    causes = ", ".join(name_of(c, names) for c in row.causes)
    how = OUTCOME_WORDS.get(row.outcome or "", plain(row.outcome or ""))
    doubt = "" if row.proved or not causes else " (not proved)"
    return f"{causes}{doubt}; {how}" if causes else how


def waiting(case: CaseRow) -> str:
    """A case that waits: its number, complaint, when it was opened, until when it is parked."""
    complaint = (case.complaint or "no complaint yet").replace("_", " ")
    until = f", parked until {case.parked_until.replace('T', ' ')}" if case.parked_until else ""
    return f"case {case.id}: {complaint}, {case.opened_at.replace('T', ' ')[:16]}{until}"


def line(row: CaseRow, done: str, names: Mapping[str, str]) -> str:
    """One line for the paper book, to copy. `done` is what put it right."""
    parts = [
        row.opened_at[:10], row.coater or "", name_of(row.complaint, names), stands(row, names),
        f"by: {lower_first(done)}" if done else "",
        f"{row.minutes:.0f} min" if row.minutes else "", f"case {row.id}",
    ]  # fmt: skip
    return " | ".join(part for part in parts if part)


def last_remedy(case: "Deduction") -> str:
    """What was done last before the complaint was gone, or at all; empty where nothing was."""
    done = [d for d in case.known.treatments if d is not None]
    cured = [d for d in done if d.complaint_now == "cured"] or done
    return case.rules.actions[cured[-1].action].name if cured else ""


def summary(found: Sequence[Alike], names: Mapping[str, str]) -> str:
    """How many earlier cases are like this one, and what they were, in a sentence."""
    if not found:
        return "No earlier closed case is like this one."
    ends = [f"{times} x {lower_first(name_of(c, names))}" for c, times in ended_as(found)[:4]]
    many = "One earlier case is" if len(found) == 1 else f"{len(found)} earlier cases are"
    return f"{many} like this one: {', '.join(ends) or 'nobody knows what it was'}."
