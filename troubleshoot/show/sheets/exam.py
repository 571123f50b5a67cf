"""The sheet of an exam: five drills without help, to be signed by trainee and teacher."""

from collections.abc import Sequence

from troubleshoot.casebook.drills import Kept
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.show.sheets.paper import Sheet, wrap

EDGE, HEAD, BODY = 20.0, 20.0, 11.0
COLUMNS = (0.0, 16.0, 76.0, 96.0, 120.0, 146.0)
TITLES = ("Level", "Complaint", "Right", "Minutes", "Planner", "Spoilt, stopped")
BLANKS = ("Date", "Name of the trainee", "Seen by (the person in charge)")


def lines_of(done: Sequence[Kept], rules: RuleBase) -> list[str]:
    """The result in lines of text."""
    lines = [
        f"Level {d.level}, {rules.complaints[d.complaint].name}: "
        f"{'right' if d.right else 'wrong'}, {d.minutes:.0f} min (the planner {d.by_plan:.0f}), "
        f"{d.spoilt} spoilt, {d.stopped} hazardous choices"
        for d in done
    ]
    right = sum(d.right for d in done)
    return [*lines, f"{right} of {len(done)} right."]


def exam_sheet(done: Sequence[Kept], rules: RuleBase) -> Sheet:
    """One A4 page with a row a drill and blanks for the signatures."""
    page = Sheet("Drills without help")
    y = page.lines(EDGE, EDGE, ["Drills without help"], HEAD, bold=True) + 4
    note = (
        "Played on a simulated coater. It says that somebody found hidden faults there, not that "
        "they may work alone: who may do what is the lab's own rule."
    )
    y = page.lines(EDGE, y, wrap(note, BODY, page.width - 2 * EDGE), BODY) + 6
    y = _row(page, y, TITLES, bold=True)
    for d in done:
        cells = (
            str(d.level), rules.complaints[d.complaint].name, "yes" if d.right else "no",
            f"{d.minutes:.0f}", f"{d.by_plan:.0f}", f"{d.spoilt}, {d.stopped}",
        )  # fmt: skip
        y = _row(page, y, cells)
    y = page.lines(EDGE, y + 4, [lines_of(done, rules)[-1]], BODY, bold=True) + 8
    for blank in BLANKS:
        y += 14
        page.box(EDGE, y, page.width - 2 * EDGE, 0.0)
        y = page.lines(EDGE, y + 1, [blank], 9.0)
    page.lines(EDGE, page.height - EDGE, [f"Rules {rules.hash}"], 8.5)
    return page


def _row(page: Sheet, y: float, cells: Sequence[str], *, bold: bool = False) -> float:
    """A row of the table; the y below it."""
    widths = [b - a for a, b in zip(COLUMNS, (*COLUMNS[1:], 170.0), strict=True)]
    wrapped = [wrap(c, BODY, w - 2, bold=bold) for c, w in zip(cells, widths, strict=True)]
    ends = [
        page.lines(EDGE + x, y, lines, BODY, bold=bold)
        for x, lines in zip(COLUMNS, wrapped, strict=True)
    ]
    page.box(EDGE, max(ends) + 1, 170.0, 0.0, line=0.6)
    return max(ends) + 3
