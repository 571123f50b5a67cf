"""Lessons whose test tells nothing, steps of the routine without their caution."""

from collections.abc import Iterable, Iterator

from troubleshoot.knowledge import model
from troubleshoot.knowledge.effects import EFFECTS, by_text
from troubleshoot.knowledge.lint.remarks import Check, Found, RulesSeen
from troubleshoot.knowledge.lint.safety import BRINGS, HAZARDS, runs_into
from troubleshoot.knowledge.lint.sense import distance

TELLS = 0.5  # total variation from which a look tells what it is from what it is taken for
MOST_HANDS = 5.0  # minutes at work of a test that is promised to take five


def lesson_test_tells_nothing(view: RulesSeen) -> Iterator[Found]:
    """A lesson promises a test: one of its checks has to tell what it is from the wrong guess."""
    for lesson in view.rules.lessons.values():
        best = max(_contrasts(view.rules, lesson), default=0.0)
        if best < TELLS:
            yield Found(
                view.at(lesson, "checks"),
                f"no check of {lesson.id!r} tells what it is from what it is taken for "
                f"(at best {best:.2f})",
                "name a check that does, or other causes",
            )


def _contrasts(rules: model.RuleBase, lesson: model.Lesson) -> Iterator[float]:
    findings = {f for check in lesson.checks for f in rules.actions[check].reveals}
    for name in findings:
        for one in _rows(rules, name, lesson.causes):
            for other in _rows(rules, name, lesson.taken_for):
                yield distance(one, other)


def _rows(rules: model.RuleBase, finding: str, causes: list[str]) -> list[dict[str, float]]:
    """The row of each cause; where none is named nothing is wrong."""
    sound = rules.findings[finding].background
    return [rules.rows.get((cause, finding), sound) for cause in causes] or [sound]


def lesson_test_too_long(view: RulesSeen) -> Iterator[Found]:
    """Nobody does a test of half an hour to see what a lesson says."""
    for lesson in view.rules.lessons.values():
        hands = min(view.rules.actions[check].minutes.hands for check in lesson.checks)
        if hands > MOST_HANDS:
            yield Found(
                view.at(lesson, "checks"),
                f"the test of {lesson.id!r} takes {hands:g} minutes at work",
                f"name a check of {MOST_HANDS:g} at most",
            )


def same_place(view: RulesSeen) -> Iterator[Found]:
    """Two on one place have no order."""
    pools: Iterable[Iterable[model.Lesson | model.Step]] = (
        view.rules.lessons.values(),
        view.rules.routine.values(),
    )
    for pool in pools:
        taken: dict[float, str] = {}
        for one in pool:
            if one.place in taken:
                yield Found(
                    view.at(one, "place"),
                    f"{one.id!r} has the place of {taken[one.place]!r}",
                    "give it another, fractions will do",
                )
            taken[one.place] = one.id


def step_without_caution(view: RulesSeen) -> Iterator[Found]:
    """What the routine does to the machine brings its hazard with it, as in a check."""
    for step in view.rules.routine.values():
        yield from _unguarded(view, step, "do", step.do, set(step.hazards))


def lesson_without_caution(view: RulesSeen) -> Iterator[Found]:
    """The cautions of a lesson's test are those of its checks."""
    for lesson in view.rules.lessons.values():
        named = {h for check in lesson.checks for h in view.rules.actions[check].hazards}
        yield from _unguarded(view, lesson, "test", lesson.test, named)


def _unguarded(
    view: RulesSeen, entry: model.Lesson | model.Step, key: str, text: str, named: set[str]
) -> Iterator[Found]:
    needed = {EFFECTS[word]: BRINGS[word] for word in by_text([text]) if word in BRINGS}
    needed |= {h.what: h.cautions for h in HAZARDS if runs_into(text, h)}
    for what, cautions in needed.items():
        there = cautions & set(view.rules.cautions)
        if there and not there & named:
            yield Found(
                view.at(entry, key),
                f"{entry.id!r} means: {what}, and no caution stands with it",
                f"one of {', '.join(sorted(there))} is needed",
            )


TEACHING: tuple[Check, ...] = (
    lesson_test_tells_nothing,
    lesson_test_too_long,
    same_place,
    step_without_caution,
    lesson_without_caution,
)
