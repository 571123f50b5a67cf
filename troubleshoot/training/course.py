"""The pages of `troubleshoot learn`, in their order; each of them names the next.

Terminal and handbook render the same blocks. What is taught stands in the rules (`lessons`,
`routine`); the cautions of a test and of a step come from `advice.instruction`.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from troubleshoot.advice.instruction import Box, Site, boxes
from troubleshoot.advice.phrases import lower_first
from troubleshoot.advice.verdict import commonest_first
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import Complaint, Figure, Lesson, RuleBase, Step

INDEX = "start"
PARTS = {
    "start_up": ("routine_start_up", "The routine: before the first run"),
    "run": ("routine_run", "The routine of a run"),
    "shut_down": ("routine_shut_down", "The routine: before you go"),
}
MOST_CAUSES = 4
PRACTICE = "troubleshoot drill"
"""The command that follows the last page."""


@dataclass(frozen=True)
class Heading:
    """The head of a part of a page."""

    text: str


@dataclass(frozen=True)
class Line:
    """A paragraph, with what it is about before it (empty: nothing)."""

    text: str
    label: str = ""


@dataclass(frozen=True)
class Entry:
    """An entry of the rules that may be looked up: its kind, ID and name, and words after it."""

    kind: str
    id: str
    name: str
    words: str = ""


@dataclass(frozen=True)
class Go:
    """Another page of the course, or a command to type (`page` empty), and what it is."""

    page: str
    text: str
    words: str = ""


@dataclass(frozen=True)
class Cautions:
    """The cautions of what was just said."""

    boxes: tuple[Box, ...]


@dataclass(frozen=True)
class Drawn:
    """Something that is drawn there."""

    figure: Figure


Block = Heading | Line | Entry | Go | Cautions | Drawn


@dataclass(frozen=True)
class Page:
    """One page. `next`: the ID and the title of the page after it; None on the last."""

    id: str
    title: str
    blocks: tuple[Block, ...]
    next: tuple[str, str] | None


def course(rules: RuleBase) -> tuple[Page, ...]:
    """All pages in their order."""
    drafts = list(_drafts(rules))
    following: Sequence[tuple[str, str] | None] = [*((i, t) for i, t, _ in drafts[1:]), None]
    return tuple(
        Page(id, title, tuple(blocks), after)
        for (id, title, blocks), after in zip(drafts, following, strict=True)
    )


def lessons(rules: RuleBase) -> list[Lesson]:
    """The lessons in their order."""
    return sorted(rules.lessons.values(), key=lambda lesson: lesson.place)


def steps(rules: RuleBase, part: str) -> list[Step]:
    """The steps of a part of the routine in their order."""
    return sorted((s for s in rules.routine.values() if s.part == part), key=lambda s: s.place)


def _drafts(rules: RuleBase) -> Iterator[tuple[str, str, list[Block]]]:
    """ID, title and blocks of every page; a part that the rules do not have is left out."""
    yield INDEX, "A first afternoon", list(_afternoon(rules))
    for part, (id, title) in PARTS.items():
        if steps(rules, part):
            yield id, title, list(_routine(rules, part))
    for lesson in lessons(rules):
        yield lesson.id, lesson.name, list(_lesson(rules, lesson))
    yield "complaints", "What people complain of", list(_complaints(rules))
    if rules.words:
        yield "words", "Words of the trade", list(_words(rules))


def _afternoon(rules: RuleBase) -> Iterator[Block]:
    many = len(rules.lessons)
    yield Line(
        "What takes a year at the bench can be seen in an afternoon. In this order; the person in "
        "charge shows you the coater itself, its handbook and what is local before you touch it."
    )
    if rules.routine:
        first = next(id for part, (id, _) in PARTS.items() if steps(rules, part))
        yield Go(first, "The routine of a run", "20 minutes: each step, why it is there")
    if many:
        yield Go(lessons(rules)[0].id, f"{many} lessons", "an hour: see, wrong guess, test")
    yield Go("complaints", "What people complain of", "10 minutes: and what is mostly behind it")
    if rules.words:
        yield Go("words", "Words of the trade", "to look into: what a base or a virtual leak is")
    yield Go("", PRACTICE, "an hour: five troubles on a coater that can be broken safely")
    yield Line(
        "at the coater, with the person in charge: an empty pump-down with a watch, a rise with "
        "the pump shut off, and three slips of 5, 10 and 20 nm side by side.",
        "Then",
    )
    yield Heading("What stops everything")
    for name in dict.fromkeys(sign.caution for sign in rules.signs.values()):
        yield Entry("cautions", name, rules.cautions[name].name)


def _routine(rules: RuleBase, part: str) -> Iterator[Block]:
    site = Site(rules)
    yield Line(
        "The order of the machine's own handbook comes first where it differs. What stands under "
        '"left out" is where many a complaint begins.'
    )
    for step in steps(rules, part):
        yield Heading(step.name)
        if step.hazards:
            yield Cautions(boxes(site, step.hazards))
        yield Line(step.do, "Do")
        yield Line(step.why, "Why")
        yield Line(step.left_out, "Left out")
        for cause in step.causes:
            yield Entry("causes", cause, rules.causes[cause].name)
        yield Line(f"{step.source}.", "Source")


def _lesson(rules: RuleBase, lesson: Lesson) -> Iterator[Block]:
    yield Line(lesson.see, "You see")
    yield Line(lesson.tempting, "It is tempting to think")
    yield Line(lesson.really, "What it is")
    if lesson.figure:
        yield Drawn(lesson.figure)
    hazards = dict.fromkeys(h for check in lesson.checks for h in rules.actions[check].hazards)
    if hazards:
        yield Cautions(boxes(Site(rules), hazards))
    yield Line(lesson.test, "Five minutes tell")
    yield Heading("How that is done, step by step")
    for check in lesson.checks:
        yield Entry("actions", check, rules.actions[check].name)
    if lesson.causes:
        yield Heading("What it is")
        for cause in lesson.causes:
            yield Entry("causes", cause, rules.causes[cause].name)
    if lesson.taken_for:
        yield Heading("What it is taken for")
        for cause in lesson.taken_for:
            yield Entry("causes", cause, rules.causes[cause].name)
    yield Heading("Complaints that bring it up")
    for complaint in lesson.complaints:
        yield Entry("complaints", complaint, rules.complaints[complaint].name)
    yield Line(f"{lesson.source}.", "Source")


def _words(rules: RuleBase) -> Iterator[Block]:
    yield Line("By standard vocabulary where there is one, in words of our own.")
    for term in sorted(rules.words.values(), key=lambda t: t.name.lower()):
        also = f" Also: {', '.join(term.also)}." if term.also else ""
        yield Line(f"{term.means}{also}", term.name)


def _complaints(rules: RuleBase) -> Iterator[Block]:
    yield Line("The commonest first, each with what is mostly behind it.")
    for complaint in commonest_first(rules, Machine()):
        words = "; ".join(map(lower_first, _commonest(rules, complaint)))
        yield Entry("complaints", complaint.id, complaint.name, words)


def _commonest(rules: RuleBase, complaint: Complaint) -> list[str]:
    """The names of its commonest causes."""
    causes = [c for c in rules.causes.values() if complaint.id in c.complaints]
    causes.sort(key=lambda c: (-c.share * c.complaints[complaint.id], c.id))
    return [c.name for c in causes[:MOST_CAUSES]]
