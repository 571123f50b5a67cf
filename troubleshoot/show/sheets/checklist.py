"""The routine as a checklist to hang at the coater: a box a step, cautions where they belong."""

from troubleshoot.advice.instruction import Box, Site, boxes
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.show.sheets.paper import PAPERS, POINT, Sheet, wrap
from troubleshoot.training.course import steps

TITLES = {
    "start_up": "Before the first run",
    "run": "Every run",
    "shut_down": "Before you go",
}
SIZES = (
    (20.0, 16.0),
    (18.0, 14.0),
    (16.0, 13.0),
    (15.0, 12.0),
    (13.0, 11.0),
    (12.0, 10.0),
    (11.0, 9.0),
)
"""Points of the name of a step and of the rest, tried from the largest on."""
TITLE, FOOT = 24.0, 8.5
SIGN = 0.95
"""Size of a warning triangle over that of the letters beside it."""
EDGE, TICK = 10.0, 6.0
FOOT_ROOM = 8.0
COLUMNS, GAP = 2, 4.0


def checklist(part: str, rules: RuleBase, machine: Machine, paper: str) -> Sheet:
    """The steps of a part of the routine, as large as they find room on the page."""
    for name, body in SIZES:
        page, y = _laid_out(part, rules, machine, paper, name, body)
        if y <= page.height - EDGE - FOOT_ROOM:
            break
    foot = (
        f"From the rules {rules.hash}. The machine's own handbook, local codes and licensed "
        "practice come first."
    )
    page.lines(EDGE, page.height - EDGE - 2, wrap(foot, FOOT, page.width - 2 * EDGE), FOOT)
    return page


def _laid_out(
    part: str, rules: RuleBase, machine: Machine, paper: str, name: float, body: float
) -> tuple[Sheet, float]:
    page = Sheet(TITLES[part], *PAPERS[paper])
    wide, site = page.width - 2 * EDGE, Site(rules, machine)
    inside = wide - TICK - 4
    y = page.lines(EDGE, EDGE, wrap(TITLES[part], TITLE, wide, bold=True), TITLE, bold=True) + 1
    named: dict[str, Box] = {}
    for step in steps(rules, part):
        if not machine.allows(step.machine):
            continue
        page.box(EDGE, y + 0.5, TICK, TICK, thick=0.6)
        x = EDGE + TICK + 4
        y = page.lines(x, y, wrap(step.name, name, inside, bold=True), name, bold=True)
        found = boxes(site, step.hazards)
        named |= {box.id: box for box in found}
        if found:
            sign = SIGN * body * POINT
            page.triangle(x, y + 0.9 * sign, sign)
            text = "; ".join(box.name for box in found)
            lines = wrap(text, body, inside - sign - 2, bold=True)
            y = page.lines(x + sign + 2, y, lines, body, bold=True)
        y = page.lines(x, y, wrap(step.do, body, inside), body) + 1.6
    return page, _precautions(page, list(named.values()), y + 1, wide, body)


def _precautions(page: Sheet, named: list[Box], y: float, wide: float, size: float) -> float:
    """What to do about each caution, in two columns; the y below them."""
    half = (wide - GAP) / COLUMNS
    small = size - 1.5
    texts = [wrap(f"{box.name}: {box.first}", small, half - 4) for box in named]
    lines, told, top, x = sum(map(len, texts)), 0, y + 1.2, EDGE + 2
    y, ends = top, [top]
    for text in texts:
        if told * 2 >= lines and x < EDGE + half:
            ends.append(y)
            x, y = EDGE + half + GAP, top
        y = page.lines(x, y, text, small)
        told += len(text)
    bottom = max(*ends, y) + 0.8
    if texts:
        page.box(EDGE, top - 1.2, wide, bottom - top + 1.2, line=0.35)
    return bottom
