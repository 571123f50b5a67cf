"""Cases as a person reads them: the list, one as a page, one as a line for the paper book."""

import shutil
import sys
from collections.abc import Mapping, Sequence

from troubleshoot.advice.instruction import ROLE_NAMES
from troubleshoot.advice.page import CasePage
from troubleshoot.advice.phrases import answer_of, lower_first
from troubleshoot.case import entries
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.journal import Journal, standing
from troubleshoot.casebook.alike import Alike, ended_as
from troubleshoot.casebook.attachments import size_in_words
from troubleshoot.casebook.record import CLOSED, PARKED, UNREADABLE, CaseRow
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.printable import one_line
from troubleshoot.show.html import content, front
from troubleshoot.show.html.words import OUTCOME_WORDS, moment, plain
from troubleshoot.show.terminal import TerminalTeller

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


def widths(width: int) -> dict[str, int]:
    """The columns that fit in so many letters, with their widths; the number is always there."""
    out = dict(WIDTHS)

    def over() -> int:
        return sum(out.values()) + BETWEEN * (len(out) - 1) - width

    for name in GOES_FIRST:
        if over() > WIDTHS["How it stands"] - LEAST:
            del out[name]
    for name in ("How it stands", "Complaint"):
        out[name] = max(LEAST, out[name] - max(over(), 0))
    return out


def list_cases(rows: Sequence[CaseRow], names: Mapping[str, str]) -> None:
    """Print one line a case under a header, cut to the width of the terminal."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    width = shutil.get_terminal_size().columns if sys.stdout.isatty() else WIDE
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


def line(row: CaseRow, done: str, names: Mapping[str, str]) -> str:
    """One line for the paper book, to copy. `done` is what put it right."""
    parts = [
        row.opened_at[:10], row.coater or "", name_of(row.complaint, names), stands(row, names),
        f"by: {lower_first(done)}" if done else "",
        f"{row.minutes:.0f} min" if row.minutes else "", f"case {row.id}",
    ]  # fmt: skip
    return " | ".join(part for part in parts if part)


def last_remedy(case: Deduction) -> str:
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


# --- one case ----------------------------------------------------------------------------------


def show_case(page: CasePage, row: CaseRow, out: TerminalTeller) -> None:
    """Print one case as a page: what was reported, found, done and proved, and what is left."""
    case = page.case
    names = names_of(case.rules)
    out.title(f"Case {row.id}: {row.called or lower_first(name_of(row.complaint, names))}")
    out.line(
        f"{row.coater or 'no coater told'}, opened {moment(row.opened_at)}, {stands(row, names)}."
    )
    for head, lines in (
        ("What was reported", _reported(case)),
        ("What was found", _found(case, page.journal)),
        ("What was done", _done(case, page.journal)),
        ("How it ended, and how that is known", _ended(case, row)),
        ("What is left", _left(page, row)),
        ("Kept with it", _beside(page.journal)),
        ("Corrected", _corrected(page.journal)),
    ):
        if lines:
            out.title(head)
            for text in lines:
                out.line(f"  {text}")


def _reported(case: Deduction) -> list[str]:
    known, rules = case.known, case.rules
    out = [f"Danger sign: {rules.signs[s].name}" for s in known.signs]
    if known.complaint:
        out.append(rules.complaints[known.complaint].name + ".")
    if known.words:
        out.append(f"In own words: “{known.words}”")
    if known.since:
        out.append(f"Since: {known.since}")
    holds = [
        rules.circumstances[n].name for n, said in known.circumstances.items() if said == "yes"
    ]
    if holds:
        out.append(f"Beforehand: {'; '.join(holds)}.")
    if known.irreplaceable:
        out.append("The specimen could not be replaced.")
    return out


def _found(case: Deduction, journal: Journal) -> list[str]:
    rules, out = case.rules, []
    for seen in case.seen:
        if seen.origin == "derived":
            continue
        doubt = " (fairly sure)" if seen.sure == "fairly" else ""
        later = " (after a remedy)" if seen.epoch else ""
        name, answer = rules.findings[seen.finding].name, seen.quantity or answer_of(case, seen)
        out.append(f"{name}: {answer}{doubt}{later}")
    out += [f"{curve.source}: {curve.sentence}" for curve in content.curves(journal)]
    unknown = [rules.findings[name].name for _, name in case.known.unknown]
    if unknown:
        out.append(f"Not known: {'; '.join(dict.fromkeys(unknown))}.")
    return out


def _done(case: Deduction, journal: Journal) -> list[str]:
    deeds = [
        f"{deed.at}  {deed.what}" + (f": {deed.afterwards}" if deed.afterwards else "")
        for deed in content.deeds(case, journal)
    ]
    return [*deeds, *(f"Could not be done: {what} ({why})" for what, why in content.refused(case))]


def _ended(case: Deduction, row: CaseRow) -> list[str]:
    closed = case.known.closed
    if closed is None:
        return []
    out = [f"{label}: {text}" for label, text in front.outcome(case)]
    if closed.causes and not closed.is_proved:
        out.append("It is not proved.")
    for label, value, unit in (
        ("Minutes spent", row.minutes, ""), ("Coater stood still", closed.downtime, " h"),
        ("Part used", closed.part, ""), ("Cost", closed.cost, ""),
    ):  # fmt: skip
        if value is not None:
            out.append(
                f"{label}: {value:g}{unit}" if isinstance(value, float) else f"{label}: {value}"
            )
    return out


def _left(page: CasePage, row: CaseRow) -> list[str]:
    case = page.case
    left = [f"Danger, not recorded as repaired: {box.name}" for box in page.dangers]
    closed = case.known.closed
    if closed is not None:
        rest = {
            "workaround": "The cause is still there: it was only got round.",
            "service": "Service has it.",
            "comes_and_goes": "To be looked at again when it shows.",
            "unsolved": "Nobody knows what it was.",
        }
        return [*left, *([rest[closed.outcome]] if closed.outcome in rest else [])]
    if row.status == PARKED:
        left.append(f"It waits until {moment(row.parked_until or '')}.")
    if page.found is not None:
        left.append(page.found.verdict.sentence)
    left.append(f"Next: {page.step.say}")
    left.append(f"Go on with: troubleshoot diagnose --resume --case {row.id}")
    return left


def _beside(journal: Journal) -> list[str]:
    out = []
    for entry in standing(journal):
        match entry.said:
            case entries.Note(text=text):
                out.append(f"{moment(entry.at)}  {text}")
            case entries.Attached(name=name, size=size, note=note):
                shows = f": {note}" if note else ""
                out.append(f"{moment(entry.at)}  {name} ({size_in_words(size)}){shows}")
    return out


def _corrected(journal: Journal) -> list[str]:
    out = []
    for entry in journal:
        said = entry.said
        if isinstance(said, entries.Corrected | entries.Retract) and said.why:
            by = f" by {ROLE_NAMES[said.by]}" if said.by else ""
            first = journal[said.entry]
            was = ", ".join(f"{k} {v}" for k, v in first.data.items())
            out.append(
                f"{moment(entry.at)}  entry {said.entry} ({first.kind}: {was}){by}: {said.why}"
            )
    return out


def show_journal(journal: Journal) -> None:
    """Print every entry as it is kept, a line each, however long."""
    for entry in journal:
        said = ", ".join(f"{k} {v}" for k, v in entry.data.items() if k != "plot")
        print(f"{entry.number:>4}  {entry.at.replace('T', ' ')}  {entry.kind:<13} {one_line(said)}")
