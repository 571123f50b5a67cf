"""What the pages of the handbook say, worked out from the rules: plain records, no markup.

Steps come from `advice.instruction` alone, so that none stands without its cautions.
"""

from dataclasses import dataclass
from functools import cached_property

from troubleshoot.advice.instruction import (
    Box,
    Instruction,
    Site,
    box,
    for_action,
    for_danger,
    for_way,
)
from troubleshoot.advice.look_alikes import LookAlikes
from troubleshoot.advice.phrases import how_often
from troubleshoot.advice.verdict import commonest_first
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append
from troubleshoot.coater.fields import FACTS
from troubleshoot.coater.machine import Machine, listed
from troubleshoot.knowledge.model import Action, Cause, Complaint, Finding, Lesson, RuleBase
from troubleshoot.readings.quantity import answer_text
from troubleshoot.show.curves import as_svg
from troubleshoot.show.html import svg
from troubleshoot.training.course import lessons
from troubleshoot.training.figures import on_the_gauge

MOST_CHECKS = 5
MOST_POINTED = 6
SHOWS = 0.1  # an answer must be this much likelier than on a sound coater to be named
POINTS = 0.3  # ... and seen at least this often with the cause
AT = "2026-01-01T00:00:00"  # of a case that is only opened to see what would be asked


@dataclass(frozen=True)
class Common:
    """A cause of a complaint: `part` of the cases in which something is wrong (0 to 1)."""

    cause: Cause
    part: float


@dataclass(frozen=True)
class Sight:
    """What a cause shows: how often, which answer to which finding, and where that is looked at."""

    often: str
    finding: str
    name: str
    answer: str
    look: str
    picture: str | None
    sound: str
    check: str | None


@dataclass(frozen=True)
class Answer:
    """One answer of a finding: what it looks like, and the causes that it points to."""

    text: str
    look: str
    picture: str | None
    points: tuple[Cause, ...]
    more: int


@dataclass(frozen=True)
class Question:
    """A finding as a question with its answers."""

    id: str
    name: str
    ask: str
    answers: tuple[Answer, ...]


@dataclass(frozen=True)
class Told:
    """A cause that looks alike, and the one look that tells it apart."""

    other: Cause
    name: str
    here: str
    there: str
    finding: str
    check: str | None


class Shelf:
    """Everything that the pages say of one rule base, on a coater of which nothing is known."""

    def __init__(self, rules: RuleBase) -> None:
        self.rules = rules
        self.machine = Machine()
        self._site = Site(rules, self.machine)
        self._alike = LookAlikes(rules)
        self._bench = Bench(rules, self.machine)

    @cached_property
    def complaints(self) -> list[Complaint]:
        """The complaints, the commonest first."""
        return commonest_first(self.rules, self.machine)

    def common(self, complaint: Complaint) -> tuple[Common, ...]:
        """The causes of a complaint, the commonest first."""
        rates = {
            c.id: c.share * c.complaints[complaint.id]
            for c in self.rules.causes.values()
            if complaint.id in c.complaints
        }
        total = sum(rates.values())
        order = sorted(rates, key=lambda name: (-rates[name], name))
        return tuple(Common(self.rules.causes[name], rates[name] / total) for name in order)

    def first_looks(self, complaint: Complaint) -> tuple[Instruction, ...]:
        """The checks that save most minutes when nothing but the complaint is known."""
        journal = append((), AT, "complaint", self.rules, complaint=complaint.id)
        plan = self._bench.diagnose(self._bench.deduce(journal)).plan
        best = [plan.next.action] if plan.next.kind == "check" else []
        best += [o.action for o in plan.options if o.kind == "check"]
        names = [name for name in dict.fromkeys(best) if name is not None]
        return tuple(self.do(self.rules.actions[name]) for name in names[:MOST_CHECKS])

    def do(self, action: Action) -> Instruction:
        """How a check or a remedy is done, with its cautions."""
        return for_action(self._site, action)

    def ways(self, complaint: Complaint | None = None) -> tuple[Instruction, ...]:
        """The ways round, all or those that help with a complaint."""
        return tuple(
            for_way(self._site, way)
            for way in self.rules.workarounds.values()
            if complaint is None or complaint.id in way.complaints
        )

    def caution(self, name: str) -> Box:
        """A caution as it stands beside a step."""
        return box(self._site, name)

    def made_safe(self, name: str) -> tuple[str, ...]:
        """The steps that make a danger safe."""
        do = for_danger(self._site, name)
        return do.steps

    def only_on(self, where: dict[str, str | list[str]]) -> tuple[str, ...]:
        """On which coaters an entry exists: what is asked of the machine, and the answers."""
        return tuple(
            f"{FACTS[key].label}: {' or '.join(FACTS[key].choices[w] for w in listed(wanted))}"
            for key, wanted in where.items()
        )

    def check_for(self, finding: str) -> str | None:
        """The check that shows a finding, the quickest one."""
        ways = [self.rules.actions[a] for a in self.rules.revealed_by[finding]]
        ways.sort(key=lambda a: (a.kind != "check", a.minutes.hands + a.minutes.wait, a.id))
        return ways[0].id if ways else None

    def sights(self, cause: Cause) -> tuple[Sight, ...]:
        """What a cause shows that a sound coater does not, the plainest first."""
        found = []
        for (name, finding), row in self.rules.rows.items():
            if name != cause.id:
                continue
            sound = self.rules.findings[finding].background
            top = max(row, key=lambda a: row[a] / sound[a])
            if row[top] >= POINTS and row[top] > sound[top] + SHOWS:
                found.append((-(row[top] - sound[top]), finding, top, row[top], sound[top]))
        return tuple(
            self._sight(finding, top, p, sound) for _, finding, top, p, sound in sorted(found)
        )

    def _sight(self, name: str, answer: str, p: float, sound: float) -> Sight:
        finding = self.rules.findings[name]
        return Sight(
            often=how_often(p),
            finding=name,
            name=finding.name,
            answer=answer_text(finding, answer, self.machine),
            look=finding.looks.get(answer, ""),
            picture=self._picture(finding, answer),
            sound=how_often(sound),
            check=self.check_for(name),
        )

    def _picture(self, finding: Finding, answer: str) -> str | None:
        """The picture of an answer as an address."""
        name = finding.drawings.get(answer)
        return svg.drawing(name, self.rules.drawings[name]) if name else None

    def curves(self, cause: Cause) -> str | None:
        """How a cause shows on the gauge, as the address of a drawing, where it is simulated."""
        figure = on_the_gauge(cause.id)
        return svg.picture(as_svg(figure).encode()) if figure else None

    def lessons_on(self, one: Cause | Complaint) -> list[Lesson]:
        """The lessons that speak of a cause or a complaint, in their order."""
        return [
            lesson
            for lesson in lessons(self.rules)
            if one.id in (*lesson.causes, *lesson.taken_for, *lesson.complaints)
        ]

    def look_alikes(self, cause: Cause) -> tuple[Told, ...]:
        """The causes that look most like it, and what tells them apart."""
        out = []
        for one in self._alike.nearest(cause.id):
            finding = self.rules.findings[one.finding]
            here, there = (
                answer_text(finding, answer, self.machine) for answer in (one.here, one.there)
            )
            out.append(
                Told(
                    self.rules.causes[one.other],
                    finding.name,
                    here,
                    there,
                    one.finding,
                    self.check_for(one.finding),
                )
            )
        return tuple(out)

    @cached_property
    def _pointed(self) -> dict[tuple[str, str], list[str]]:
        """(finding, answer) -> the causes that it points to, by how much likelier it makes them."""
        found: dict[tuple[str, str], list[tuple[float, str]]] = {}
        for (cause, name), row in self.rules.rows.items():
            sound = self.rules.findings[name].background
            for answer, p in row.items():
                if p >= POINTS and p > sound[answer] + SHOWS:
                    weight = p / sound[answer] * self.rules.causes[cause].share
                    found.setdefault((name, answer), []).append((-weight, cause))
        return {key: [cause for _, cause in sorted(causes)] for key, causes in found.items()}

    def points(self, finding: str, answer: str) -> tuple[Cause, ...]:
        """The causes that an answer points to, the likeliest first."""
        return tuple(self.rules.causes[c] for c in self._pointed.get((finding, answer), ()))

    def questions(self, action: Action) -> tuple[Question, ...]:
        """The findings that an action reveals, with what each answer points to."""
        return tuple(self._question(name) for name in action.reveals)

    def _question(self, name: str) -> Question:
        finding = self.rules.findings[name]
        answers = []
        for answer in finding.answers:
            pointed = self.points(name, answer)
            answers.append(
                Answer(
                    text=answer_text(finding, answer, self.machine),
                    look=finding.looks.get(answer, ""),
                    picture=self._picture(finding, answer),
                    points=pointed[:MOST_POINTED],
                    more=max(0, len(pointed) - MOST_POINTED),
                )
            )
        return Question(name, finding.name, finding.ask, tuple(answers))
