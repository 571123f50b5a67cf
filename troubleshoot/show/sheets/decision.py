"""A decision chart on one A4 page, to be read from two metres.

The steps are set so that their capitals subtend 7 minutes of arc at two metres, all else that
guides 5: what normal sight (visual acuity 1.0, ISO 8596) just resolves in a letter is 5. A caution
is named where it belongs, to be read from there too; what to do about it stands at the foot, for
who comes nearer.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from troubleshoot.advice.instruction import Box, Site, for_action
from troubleshoot.advice.phrases import lower_first
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.readings.quantity import answer_text
from troubleshoot.show.sheets.paper import PAPERS, Sheet, height, wrap
from troubleshoot.training.chart import Branch, Chart, Line, Look

TITLE, STEP, GUIDE, CARE, NEAR, FOOT = 25.0, 17.0, 12.0, 12.0, 8.0, 8.0
EDGE, GAP, INNER = 9.0, 4.0, 2.6
SIGN = 4.6  # mm of a warning triangle
FOOT_ROOM = 11.0
ROOMY = 120.0  # mm of width from which a remedy stands beside its answers


@dataclass
class _Place:
    """Where the chart is laid out: its words, and the cautions that were named."""

    rules: RuleBase
    machine: Machine
    named: dict[str, Box]

    def cautions(self, actions: Iterable[str]) -> str:
        """The names of the cautions of some actions, those that were named above last."""
        site = Site(self.rules, self.machine)
        doings = (for_action(site, self.rules.actions[name]) for name in actions)
        found = {box.id: box for do in doings for box in do.cautions}
        new = [box.name for box in found.values() if box.id not in self.named]
        old = [box.name for box in found.values() if box.id in self.named]
        self.named |= found
        above = [f"as above: {', '.join(map(lower_first, old))}"] if old else []
        return "; ".join([*new, *above])


def fitted(chart: Chart, rules: RuleBase, machine: Machine, paper: str = "A4") -> Chart:
    """The chart with those of its lines that save most and find room on one page."""
    kept: set[Line] = set()
    for line in chart.lines():
        page, y = _laid_out(chart.only({*kept, line}), rules, machine, paper)
        if y <= page.height - EDGE - FOOT_ROOM:
            kept.add(line)
    return chart.only(kept)


def sheet(chart: Chart, rules: RuleBase, machine: Machine, foot: str, paper: str = "A4") -> Sheet:
    """The page of a chart that fits on it."""
    page, _ = _laid_out(chart, rules, machine, paper)
    _foot(page, foot, page.width - 2 * EDGE)
    return page


def _laid_out(chart: Chart, rules: RuleBase, machine: Machine, paper: str) -> tuple[Sheet, float]:
    """The page without its foot, and the y at which it ends."""
    complaint = rules.complaints[chart.complaint]
    page = Sheet(f"{complaint.name}: what to look at", *PAPERS[paper])
    place = _Place(rules, machine, {})
    wide = page.width - 2 * EDGE
    y = page.lines(EDGE, EDGE, wrap(complaint.name, TITLE, wide, bold=True), TITLE, bold=True)
    y = _danger(page, rules, y + 1, wide)
    if chart.parting is None:
        y = _way(page, place, chart.ways[0].looks, EDGE, y + 3, wide, 1)
    else:
        y = _parting(page, place, chart, y + 3, wide) + 2
        half = (wide - GAP) / 2
        y = max(
            _way(page, place, way.looks, EDGE + n * (half + GAP), y, half, 2)
            for n, way in enumerate(chart.ways)
        )
    return page, _precautions(page, place, y + 3, wide)


def _danger(page: Sheet, rules: RuleBase, y: float, wide: float) -> float:
    """The danger signs, before everything else."""
    signs = "; ".join(sign.name.lower() for sign in rules.signs.values())
    text = f"Danger first. {signs[0].upper()}{signs[1:]}: "
    text += "STOP, make it safe, fetch the person in charge."
    lines = wrap(text, CARE, wide - 2 * INNER - SIGN - 2, bold=True)
    tall = height(len(lines), CARE) + 2 * 1.4
    page.box(EDGE, y, wide, tall, fill=0.9, thick=1.1)
    page.triangle(EDGE + INNER, y + tall / 2 + 0.45 * SIGN, SIGN)
    page.lines(EDGE + INNER + SIGN + 2, y + 1.4, lines, CARE, bold=True)
    return y + tall


def _parting(page: Sheet, place: _Place, chart: Chart, y: float, wide: float) -> float:
    """The look that parts the trouble in two, and the answers above each way."""
    assert chart.parting is not None
    check, finding = chart.parting
    top = y
    action = place.rules.actions[check]
    inside = wide - 2 * INNER
    y = page.lines(
        EDGE + INNER, y + 1.5, wrap(f"1  {action.name}", STEP, inside, bold=True), STEP, bold=True
    )
    y = page.lines(EDGE + INNER, y, wrap(action.say, GUIDE, inside), GUIDE)
    for branch in chart.elsewhere:
        y = _branch(page, place, branch, len(action.reveals) > 1, EDGE + INNER, y + 0.9, inside)
    y = _cautions(page, place.cautions([check]), EDGE + INNER, y + 0.5, inside) + 1.2
    page.box(EDGE, top, wide, y - top, thick=0.8)
    half = (wide - GAP) / 2
    ends = []
    for n, way in enumerate(chart.ways):
        x = EDGE + n * (half + GAP)
        page.down(x + 4, y, 7)
        text = _answers(place, tuple((finding, a) for a in way.answers))
        ends.append(
            page.lines(x + 8, y + 1.2, wrap(text, GUIDE, half - 8, bold=True), GUIDE, bold=True)
        )
    return max(*ends, y + 7)


def _way(
    page: Sheet, place: _Place, looks: tuple[Look, ...], x: float, y: float, wide: float, first: int
) -> float:
    """A list of looks below one another; the y below the last."""
    for number, look in enumerate(looks, start=first):
        y = _look(page, place, look, x, y, wide, number)
        page.down(x + 6, y, 5)
        y += 5.6
    end = "Still there? On with: troubleshoot diagnose"
    return page.lines(x, y, wrap(end, GUIDE, wide, bold=True), GUIDE, bold=True)


def _look(
    page: Sheet, place: _Place, look: Look, x: float, y: float, wide: float, number: int
) -> float:
    """One step in its frame; the y below it."""
    top, inside = y, wide - 2 * INNER
    action = place.rules.actions[look.action]
    what = action.name if look.branches else f"Try: {action.name}"
    lines = wrap(f"{number}  {what}", STEP, inside, bold=True)
    y = page.lines(x + INNER, y + 1.2, lines, STEP, bold=True)
    y = page.lines(x + INNER, y, wrap(action.say, GUIDE, inside), GUIDE)
    told = len(action.reveals) > 1
    for branch in look.branches:
        y = _branch(page, place, branch, told, x + INNER, y + 0.9, inside)
    doings = [look.action, *(b.id for b in look.branches if b.kind == "remedy")]
    y = _cautions(page, place.cautions(doings), x + INNER, y + 0.6, inside) + 1.0
    page.box(x, top, wide, y - top, thick=0.6)
    return y


def _branch(
    page: Sheet, place: _Place, branch: Branch, told: bool, x: float, y: float, wide: float
) -> float:
    """Answers, and the remedy that they lead to: beside them where there is room, else below.

    `told`: what was looked at is named, since the look shows several things.
    """
    text = _answers(place, branch.answers, told)
    if branch.kind == "danger":
        then = f"STOP: {place.rules.cautions[branch.id].name}"
    elif branch.kind == "other":
        then = f"Another trouble: {lower_first(place.rules.complaints[branch.id].name)}"
    else:
        then = place.rules.actions[branch.id].name
    beside = wide > ROOMY
    left = wide * 0.56 if beside else wide
    below = page.lines(x, y, wrap(text, GUIDE, left), GUIDE)
    at, y = (x + left + 1, y) if beside else (x + 1, below)
    page.arrow(at, y + 0.5 * height(1, GUIDE), 6.5)
    room = x + wide - at - 8
    y = page.lines(at + 8, y, wrap(then, GUIDE, room, bold=True), GUIDE, bold=True)
    return max(y, below)


def _answers(place: _Place, answers: tuple[tuple[str, str], ...], told: bool = True) -> str:
    """Answers in words after what was looked at (if `told`), those to one finding together."""
    by: dict[str, list[str]] = {}
    for name, answer in answers:
        finding = place.rules.findings[name]
        by.setdefault(name, []).append(answer_text(finding, answer, place.machine))
    if not told:
        only = " / ".join(map(lower_first, *by.values()))
        return f"{only[:1].upper()}{only[1:]}"
    return "; ".join(
        f"{place.rules.findings[name].name}: {' / '.join(map(lower_first, texts))}"
        for name, texts in by.items()
    )


def _cautions(page: Sheet, text: str, x: float, y: float, wide: float) -> float:
    """The names of cautions after the sign; the y below them."""
    if not text:
        return y
    page.triangle(x, y + 0.85 * SIGN, SIGN)
    lines = wrap(text, CARE, wide - SIGN - 1.5, bold=True)
    return page.lines(x + SIGN + 1.5, y, lines, CARE, bold=True)


def _precautions(page: Sheet, place: _Place, y: float, wide: float) -> float:
    """What to do about each caution that was named, in two columns; the y below them."""
    half, top = (wide - GAP) / 2, y
    texts = [wrap(f"{box.name}: {box.first}", NEAR, half - 4) for box in place.named.values()]
    lines = sum(map(len, texts))
    x, ends = EDGE + 2, []
    y, told = top + 1.2, 0
    for text in texts:
        if told * 2 >= lines and x < EDGE + half:
            ends.append(y)
            x, y = EDGE + half + GAP, top + 1.2
        y = page.lines(x, y, text, NEAR)
        told += len(text)
    bottom = max([*ends, y]) + 0.8
    if texts:
        page.box(EDGE, top, wide, bottom - top, fill=None, line=0.35)
    return bottom


def _foot(page: Sheet, foot: str, wide: float) -> None:
    lines = wrap(foot, FOOT, wide)
    page.lines(EDGE, page.height - EDGE - height(len(lines), FOOT) + 2, lines, FOOT)
