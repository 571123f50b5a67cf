"""A log, a picture, or numbers off the gauge, taken into a case while it is led by questions."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial

from troubleshoot import units
from troubleshoot.case.entries import Reading
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings.door import QUESTIONS, read_any, read_pressures
from troubleshoot.readings.pressure.typed import FEWEST_TYPED, Point, typed_log, typed_point
from troubleshoot.sources.log_file import Told
from troubleshoot.sources.times import NeedsTelling
from troubleshoot.talk.dialogue import Asker, Choice, Teller
from troubleshoot.talk.picture_questions import ask_picture
from troubleshoot.talk.typed_path import path_of

FILE, PICTURE, PAPER, NOW, NONE = "file", "picture", "paper", "now", "/none"
ENOUGH = 6
"""So many typed readings make a curve; fewer leave it wide open."""
Clock = Callable[[], float]
Points = Sequence[tuple[float, float]]


def ask_reading(
    asker: Asker,
    teller: Teller,
    findings: Mapping[str, Finding],
    machine: Machine,
    clock: Clock,
    earlier: Points = (),
) -> Reading | None:
    """What was read, or None if the operator has nothing to give after all.

    `clock` gives seconds; with it readings can be typed as they are seen. `earlier` runs are drawn
    under a log of pressure.
    """
    how = asker.choose(
        "What do you have?",
        [
            Choice(FILE, "A log in a file (of pressure, or of the current)"),
            Choice(PICTURE, "A micrograph in a file, or two of one field"),
            Choice(PAPER, "Times and pressures on paper"),
            Choice(NOW, "The gauge before me: I type what it reads, the tool takes the time"),
            Choice(NONE, "Nothing: go back", aside=True),
        ],
    )
    if how == NONE:
        return None
    if how == PICTURE:
        kept = ask_picture(asker, teller, findings)
    elif how == FILE:
        kept = _from_file(asker, teller, findings, machine, _ask_empty(asker), earlier)
    else:
        empty = _ask_empty(asker)
        beside = clock if how == NOW else None
        kept = _typed(asker, teller, findings, machine, empty, beside, earlier)
    if kept is None:
        return None
    teller.line(kept.sentence)
    keep = asker.choose(
        "Is that what the picture shows?"
        if how == PICTURE
        else "Does that describe what was logged?",
        [
            Choice("yes", "Yes: use it in this case"),
            Choice("no", "No: leave it out", aside=True),
        ],
    )
    return kept if keep == "yes" else None


def ask_valve(asker: Asker) -> str | None:
    """ "open" or "shut", or None if the operator turns back."""
    valve = asker.choose(
        "During these readings, was the pump open to the chamber?",
        [
            Choice("open", "Yes: pumping"),
            Choice("shut", "No: shut off from the pump"),
            Choice(NONE, "Nothing: go back", aside=True),
        ],
    )
    return None if valve == NONE else valve


def ask_points(
    asker: Asker,
    teller: Teller,
    unit: str | None,
    clock: Clock | None = None,
    time_unit: str = "s",
) -> str:
    """Readings one by one, up to an empty line, as the text of a typed log ("" if none).

    Every line is looked at as it comes, so that a slip costs that line and nothing else. With
    `clock` only pressures are typed, each at the moment it is read. The unit of the first pressure
    holds for the rest.
    """
    teller.small(
        "Type a pressure at the moment the gauge shows it; the first one starts the clock."
        if clock
        else "A time and a pressure a line, such as: 30 s 2 mbar."
    )
    teller.small(f"{ENOUGH} or more make a curve; an empty line ends it, `undo` drops the last.")
    points: list[Point] = []
    lines: list[str] = []
    start = 0.0
    while True:
        typed = asker.text(f"Reading {len(points) + 1}:").strip()
        if not typed:
            if not points or len(points) >= FEWEST_TYPED:
                return "; ".join(lines)
            teller.line(f"{len(points)} are too few for a curve: at least {FEWEST_TYPED}.")
            if _give_up(asker):
                return ""
            continue
        if typed.lower() == "undo":
            points, lines = points[:-1], lines[:-1]
            continue
        if unit and typed[-1] in "0123456789.,":
            typed = f"{typed} {unit}"
        try:
            if clock is not None:
                units.parse(typed, "pressure")
                now = clock()
                start = start if points else now
                seconds = round(now - start, 1)
                typed = f"{seconds:g} s {typed}"
                teller.small(f"at {seconds:g} s")
            after = points[-1].seconds if points else float("-inf")
            point = typed_point(typed, time_unit=time_unit, after=after)
        except UserError as error:
            teller.line(_capital(str(error)))
            continue
        points.append(point)
        lines.append(typed)
        unit = unit or point.unit


def _typed(
    asker: Asker,
    teller: Teller,
    findings: Mapping[str, Finding],
    machine: Machine,
    empty: bool,
    clock: Clock | None,
    earlier: Points,
) -> Reading | None:
    valve = ask_valve(asker)
    if valve is None:
        return None
    points = ask_points(asker, teller, machine.told_unit, clock)
    if not points:
        return None
    try:
        found, plot = read_pressures(
            typed_log(points),
            findings,
            machine,
            empty=empty,
            shut=valve == "shut",
            earlier=earlier,
        )
    except UserError as error:
        teller.line(str(error))
        return None
    return Reading.of(found, "typed", plot, points)


def _from_file(
    asker: Asker,
    teller: Teller,
    findings: Mapping[str, Finding],
    machine: Machine,
    empty: bool,
    earlier: Points,
) -> Reading | None:
    """Ask for a file until one can be read, and for what it leaves open."""
    while True:
        typed = asker.path("Which file? (its path; nothing to go back)")
        path = path_of(typed)
        if path is None:
            return None
        try:
            found, plot = read_any(
                path,
                findings,
                machine,
                Told(),
                empty=empty,
                ask=partial(_ask_left_open, asker),
                earlier=earlier,
            )
        except UserError as error:
            teller.line(str(error))
            continue
        teller.small(found.taken)
        return Reading.of(found, path.name, plot)


def _ask_left_open(asker: Asker, open_: NeedsTelling) -> str:
    """What a log leaves open: one of its columns, or a unit."""
    question = QUESTIONS[open_.what]
    if open_.choices:
        return asker.choose(question, [Choice(name, name) for name in open_.choices])
    return asker.text(question).strip()


def _ask_empty(asker: Asker) -> bool:
    return (
        asker.choose(
            "Was anything in the chamber during these readings?",
            [
                Choice("loaded", "Yes, specimens or a load"),
                Choice("empty", "No, it was empty"),
                Choice("/unknown", "Don't know", aside=True),
            ],
        )
        == "empty"
    )


def _give_up(asker: Asker) -> bool:
    choices = [Choice("more", "Go on typing"), Choice("/none", "Give up", aside=True)]
    return asker.choose("Go on?", choices) == "/none"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
