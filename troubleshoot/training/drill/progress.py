"""How somebody gets on: which level comes next, and it in a sentence."""

from collections.abc import Sequence

from troubleshoot.casebook.drills import Kept
from troubleshoot.training.drill.play import Played
from troubleshoot.training.drill.trouble import LEVELS

LAST = 3
"""So many right answers in a row at a level lead to the next one."""


def kept_of(played: Played, at: str, role: str, *, exam: bool = False) -> Kept:
    """What is kept of a drill that was played to its end."""
    room, found = played.room, played.debrief
    assert found is not None
    return Kept(
        at=at,
        role=role,
        level=room.trouble.level,
        seed=room.trouble.seed,
        complaint=room.trouble.complaint,
        right=found.right,
        minutes=room.minutes,
        by_plan=found.planner.minutes,
        spoilt=room.spoilt,
        stopped=sum(s.hazard for s in room.stopped),
        exam=exam,
    )


def next_level(before: Sequence[Kept]) -> int:
    """The lowest level at which the last three drills were not all right."""
    for level in LEVELS:
        last = [d for d in before if d.level == level][-LAST:]
        if len(last) < LAST or not all(d.right for d in last):
            return level
    return max(LEVELS)


def summary(before: Sequence[Kept], *, told: bool = False) -> str:
    """The drills so far in a sentence, and the level that comes next unless one was `told`."""
    if not before:
        return (
            "Your first drill. Everything is allowed; what is hazardous is stopped and explained."
        )
    right = sum(d.right for d in before)
    many = "One drill" if len(before) == 1 else f"{len(before)} drills"
    so_far = (
        f"{many} so far, {right} right; specimens spoilt: {sum(d.spoilt for d in before)}, "
        f"hazardous choices stopped: {sum(d.stopped for d in before)}."
    )
    level = next_level(before)
    return so_far if told else f"{so_far} Next: level {level}, {LEVELS[level]}."
