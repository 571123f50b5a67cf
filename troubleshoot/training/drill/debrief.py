"""What is said after a drill: the planner's path on the same coater, and what should have told."""

import math
from dataclasses import dataclass

import numpy as np

from troubleshoot.advice.look_alikes import LookAlikes
from troubleshoot.advice.verdict import same_to_the_user
from troubleshoot.knowledge.model import Cause, RuleBase
from troubleshoot.reasoning.planner import ACCEPT, SERVICE
from troubleshoot.training.drill.room import WORKS, Room

NOTHING = "nothing_wrong"
MOST_STEPS = 30
TELLS = 3.0
"""So many times as likely makes an answer worth pointing at."""
STANDS_OUT = 0.5
"""How far (total variation) a look must tell a cause from a sound coater to find it alone."""


@dataclass(frozen=True)
class Path:
    """What was done, in order, and the minutes by the clock."""

    done: tuple[str, ...]
    minutes: float
    found: bool


@dataclass(frozen=True)
class Debrief:
    """All that is said afterwards. `guessed`: it was named without a look at anything, which does
    not count as right. `turning`: what should have changed their mind, as a sentence; `page` of the
    course that teaches it, empty for none."""

    right: bool
    guessed: bool
    truth: tuple[str, ...]
    said: tuple[str, ...]
    mine: Path
    planner: Path
    best: Path
    turning: str
    tempting: str
    lesson: str
    page: str


def is_right(rules: RuleBase, truth: tuple[str, ...], said: tuple[str, ...]) -> bool:
    """Every hidden cause was named, or one that is treated the same, and no other."""
    if not truth:
        return said == (NOTHING,)
    causes = [rules.causes[s] for s in said if s != NOTHING]

    def same(one: Cause, other: Cause) -> bool:
        return one.id == other.id or same_to_the_user(one, other)

    named = all(any(same(rules.causes[t], c) for c in causes) for t in truth)
    return named and all(any(same(rules.causes[t], c) for t in truth) for c in causes)


def debrief(room: Room, done: list[str], said: tuple[str, ...]) -> Debrief:
    """What is said of a drill that ended with the diagnosis `said`."""
    rules, truth = room.rules, room.trouble.causes
    named = is_right(rules, truth, said)
    right = named and bool(done)
    tempting, lesson, page = _taught(room, truth)
    planner, best = by_planner(room.twin()), at_best(room.twin())
    mine = Path(tuple(done), room.minutes, right)
    best = min((p for p in (best, planner, mine) if p.found), key=lambda p: p.minutes)
    return Debrief(
        right=right,
        guessed=named and not done,
        truth=truth,
        said=said,
        mine=mine,
        planner=planner,
        best=best,
        turning=_turning(room, said),
        tempting=tempting,
        lesson=lesson,
        page=page,
    )


def by_planner(room: Room) -> Path:
    """The planner on the same coater, until the complaint is gone or it says that nothing is wrong.

    Before each step it is told what the trainee would have been told.
    """
    steps: list[str] = []
    for _ in range(MOST_STEPS):
        case = room.case
        if case.stop is not None:
            room.settle_danger()
            steps.append(f"stop: {room.rules.cautions[case.dangers[0]].name}")
            return Path(tuple(steps), room.minutes, True)
        step = case.plan.next
        if step.kind in (ACCEPT, SERVICE):
            steps.append("nothing is wrong" if step.kind == ACCEPT else "call service")
            left_alone = step.kind == ACCEPT and not room.left
            theirs = step.kind == SERVICE and _is_for_service(room)
            waits = room.rules.settings.service_minutes if step.kind == SERVICE else 0.0
            return Path(tuple(steps), room.minutes + waits, left_alone or theirs)
        action = room.rules.actions[step.action or ""]
        steps.append(action.name)
        if step.kind == "check":
            room.look(action)
        elif room.attempt(action):
            return Path(tuple(steps), room.minutes, True)
    return Path(tuple(steps), room.minutes, False)


def _is_for_service(room: Room) -> bool:
    """Whether what is left is nothing for anybody here."""
    firsts = [room.rules.causes[c].remedies[:1] for c in room.left]
    actions = [room.rules.actions[name] for names in firsts for name in names]
    return bool(actions) and all(a.role == "service" for a in actions)


def at_best(room: Room) -> Path:
    """The best possible: for each cause the quickest look that finds it, the quickest remedy."""
    steps: list[str] = []
    for cause in room.trouble.causes:
        look = _quickest_look(room, cause)
        if look is not None:
            room.look(room.rules.actions[look])
            steps.append(room.rules.actions[look].name)
        cures = [
            room.rules.actions[r] for r in room.rules.causes[cause].remedies if room.case.may(r)
        ]
        working = [a for a in cures if a.cures.get(cause, 0.0) >= WORKS]
        if working:
            quickest = min(working, key=lambda a: (a.minutes.hands + a.minutes.wait, a.id))
            steps.append(quickest.name)
            room.attempt(quickest)
    return Path(tuple(steps) or ("say that nothing is wrong",), room.minutes, True)


def _quickest_look(room: Room, cause: str) -> str | None:
    rules, found = room.rules, []
    for action in room.checks():
        for name in action.reveals:
            row, sound = rules.rows.get((cause, name)), rules.findings[name].background
            if row and sum(abs(row[a] - sound[a]) for a in sound) / 2 >= STANDS_OUT:
                move = room.case.planner.move(room.case.known.state, action.state)
                cost = move + action.minutes.hands + action.minutes.wait
                found.append((cost, action.id))
    return min(found)[1] if found else None


def _turning(room: Room, said: tuple[str, ...]) -> str:
    """The answer that speaks most for the truth against what was said, or that told most."""
    net, planner, rules = room.case.planner.net, room.case.planner, room.rules

    def column(names: tuple[str, ...]) -> list[int]:
        known = [net.index[n] + 2 for n in names if n in net.index]
        return known or [0]

    truth, others = column(room.trouble.causes), column(said)
    if set(truth) == set(others):
        others = [0] if truth != [0] else list(range(2, len(net.causes) + 2))
    best: tuple[float, str] = (0.0, "")
    for seen in room.case.seen:
        if seen.finding not in net.findings:
            continue
        answers = list(rules.findings[seen.finding].answers)
        p = planner.answers(seen.finding)[answers.index(seen.answer)]
        ratio = math.log(max(float(np.max(p[truth])), 1e-6) / max(float(np.mean(p[others])), 1e-6))
        best = max(best, (ratio, seen.finding + "\0" + seen.answer))
    times = math.exp(best[0])
    if times < TELLS:
        return "Nothing that you looked at could have told: look further before you say what it is."
    name, answer = best[1].split("\0")
    finding = rules.findings[name]
    return (
        f"{finding.name}: {finding.answers[answer]}. That is about {min(times, 100):.0f} times as "
        "likely with what it was as without."
    )


def _taught(room: Room, truth: tuple[str, ...]) -> tuple[str, str, str]:
    """The tempting wrong conclusion, what to remember, and the page of the course."""
    rules = room.rules
    lessons = sorted(rules.lessons.values(), key=lambda lesson: lesson.place)
    for lesson in lessons:
        normal = not truth and not lesson.causes
        here = room.trouble.complaint in lesson.complaints
        if set(lesson.causes) & set(truth) or (normal and here):
            return lesson.tempting, _remember(rules, truth) or lesson.really, lesson.id
    if not truth:
        carry_on = rules.complaints[room.trouble.complaint].normal
        return "Something must be broken, since somebody complains.", carry_on, ""
    near = LookAlikes(rules).nearest(truth[0], 1)
    tempting = f"It is taken for this: {rules.causes[near[0].other].name}." if near else ""
    return tempting, _remember(rules, truth) or rules.causes[truth[0]].what, ""


def _remember(rules: RuleBase, truth: tuple[str, ...]) -> str:
    return " ".join(rules.causes[c].lesson for c in truth if rules.causes[c].lesson)
