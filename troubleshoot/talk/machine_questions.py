"""Once per machine: its normal in a few facts and numbers, all of which can be skipped.

What matters most comes first; sizes and the gauge are a second part that can be left out whole. For
a size that is not known a default is offered, and kept apart from what was told.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from troubleshoot import units
from troubleshoot.coater.consequences import notes
from troubleshoot.coater.fields import FACTS, FIELDS, NUMBERS, Fact, Field, Number, Text
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.plausible import odd_number, together
from troubleshoot.coater.profile import as_shown, machine_from, typed_value, unit_of
from troubleshoot.errors import UserError
from troubleshoot.talk.dialogue import NONE, Asker, Choice, Teller

SKIP, BACK = "/skip", "/back"
HAS = {key: row.ask for key, row in FIELDS.items() if row.part == "equipment"}
EQUIPMENT = Text(key="/equipment", label="", ask="Which of these are there?")
MORE = Fact(
    key="/more",
    label="",
    ask="Tell more about gauge, head, sizes, cylinder and room? (two minutes, with the handbook or "
    "a ruler)",
    choices={"yes": "Yes, go on"},
)
"""Two questions that stand for no key: equipment is one list, and the second part is offered."""


def _questions() -> Iterator[Field]:
    """The rows in their order, but for the name, which is asked before all of them."""
    rows = (row for row in FIELDS.values() if row.key != "name" and row.part != "untold")
    for part, group in groupby(rows, key=lambda row: row.part):
        if part == "equipment":
            yield EQUIPMENT
            continue
        if part == "more":
            yield MORE
        yield from group


QUESTIONS = tuple(_questions())


@dataclass
class Answers:
    """What was answered so far: told, and defaults that were taken instead."""

    told: dict[str, str] = field(default_factory=dict)
    defaults: dict[str, str] = field(default_factory=dict)

    def forget(self, *keys: str) -> None:
        """Undo the answers to these keys."""
        for key in keys:
            self.told.pop(key, None)
            self.defaults.pop(key, None)

    def machine(self) -> Machine:
        """The profile they make."""
        told = {k: v for k, v in self.told.items() if not k.startswith("/")}
        return machine_from({**told, "defaults": self.defaults}, "the machine")


def _makes_sense(question: Field, told: Mapping[str, str]) -> bool:
    """Whether to ask, after what was told so far."""
    if question.part == "more" and told.get(MORE.key) != "yes":
        return False
    return all(
        key in told if wanted is None else told.get(key, FIELDS[key].default) == wanted
        for key, wanted in question.needs.items()
    )


def ask_machine(asker: Asker, teller: Teller, kept: Mapping[str, Machine]) -> Machine:
    """Offer to ask for the machine's normal. What is skipped stays unknown: wide defaults hold."""
    go = asker.choose(
        "What is usual on this coater is not known yet. Tell it once? (two minutes; all can be "
        "skipped)",
        [Choice("yes", "Yes"), Choice(SKIP, "Skip: use wide defaults")],
    )
    if go == SKIP:
        teller.small("No reference: wide defaults are used.")
        return Machine()
    machine = ask_profile(asker, teller, kept)
    for sentence in notes(machine):
        teller.line(sentence)
    return machine


def ask_profile(asker: Asker, teller: Teller, kept: Mapping[str, Machine]) -> Machine:
    """Ask for a coater's profile. A name of `kept` (by name) is never taken over silently."""
    teller.small(
        "Everything can be skipped, a number by an empty line. Where one is asked for, `?` says "
        "where to find it and `back` goes back a question."
    )
    answers = Answers()
    found = _ask_name(asker, teller, kept, answers)
    if found is not None:
        return found
    behind: list[Field] = []
    ahead = list(QUESTIONS)
    while ahead:
        question = ahead.pop(0)
        if not _makes_sense(question, answers.told):
            continue
        if _put(question, asker, teller, answers) != BACK:
            behind.append(question)
            continue
        ahead.insert(0, question)
        if behind:
            last = behind.pop()
            # What lies between was not asked; it may be after another answer.
            ahead = list(QUESTIONS[QUESTIONS.index(last) :])
            answers.forget(last.key, *(HAS if last is EQUIPMENT else ()))
        else:
            teller.small("This is the first question.")
    _look_over(asker, teller, answers)
    return answers.machine()


def _ask_name(
    asker: Asker, teller: Teller, kept: Mapping[str, Machine], answers: Answers
) -> Machine | None:
    """Take a name into the answers; or the profile that is kept under it, to leave it so."""
    while True:
        name = asker.text(FIELDS["name"].ask).strip() or Machine().name
        if name in kept:
            teller.line(f"There is one called {name} already:")
            teller.steps(profile_lines(kept[name])[1:])
            answer = asker.choose(
                "What now?",
                [
                    Choice("leave", "Leave it as it is (`troubleshoot machine set` changes one)"),
                    Choice("anew", "Answer everything anew: this takes its place"),
                    Choice("other", "Give another name"),
                ],
            )
            if answer == "leave":
                return kept[name]
            if answer == "other":
                continue
        answers.told["name"] = name
        return None


def profile_lines(machine: Machine) -> list[str]:
    """A profile, a line a key in its own words and units, defaults marked."""
    shown = {
        "name": machine.name,
        "gauge_unit": machine.told_unit or f"{machine.gauge_unit} (assumed)",
        **{key: as_shown(machine, key) for key in (*FACTS, *NUMBERS)},
    }
    told = {key: value for key, value in shown.items() if value is not None}
    return [f"{FIELDS[key].label}: {_plain(key, value)} [{key}]" for key, value in told.items()]


def _plain(key: str, value: str) -> str:
    """A value as people say it: `rotary two stage` for `rotary_two_stage`."""
    return value.replace("_", " ") if key in FACTS else value


def _put(question: Field, asker: Asker, teller: Teller, answers: Answers) -> str | None:
    """Put one question into the answers; `BACK` if that was said."""
    if question is EQUIPMENT:
        return _put_equipment(asker, answers)
    if isinstance(question, Number):
        return _put_number(question, asker, teller, answers)
    if question.default:
        skip = f"Not sure ({question.default.replace('_', ' ')} is taken, as a default)"
    else:
        skip = "No, that is all" if question is MORE else "Skip"
    hint = f" ({question.where})" if question.where else ""
    answer = asker.choose(
        question.ask + hint,
        [
            *(Choice(value, words) for value, words in question.choices.items()),
            Choice(SKIP, skip, aside=True),
            Choice(BACK, "Go back", aside=True),
        ],
    )
    if answer == BACK:
        return BACK
    if answer != SKIP:
        answers.told[question.key] = answer
    elif question.default:
        answers.defaults[question.key] = question.default
    return None


def _put_equipment(asker: Asker, answers: Answers) -> str | None:
    """A list to mark. What is not marked is there only if nobody knows."""
    lines = [Choice(key, words) for key, words in HAS.items()]
    there = asker.several(EQUIPMENT.ask, [*lines, NONE])
    rest = "no"
    if NONE.value not in there and len(there) < len(HAS):
        rest = asker.choose(
            "And what you did not mark?",
            [
                Choice("no", "It is not there"),
                Choice(SKIP, "Not sure", aside=True),
                Choice(BACK, "Go back", aside=True),
            ],
        )
    if rest == BACK:
        return BACK
    for key in HAS:
        if key in there or rest == "no":
            answers.told[key] = "yes" if key in there else "no"
    return None


def _put_number(question: Number, asker: Asker, teller: Teller, answers: Answers) -> str | None:
    """A number with its unit, asked again until it can be read; an odd one is asked about."""
    key = question.key
    empty = f"{question.default}, as a default" if question.default else "skip"
    example = _example(question, answers.told.get("gauge_unit"))
    while True:
        typed = asker.text(f"{question.ask} (such as {example}; empty: {empty})").strip()
        if typed.lower() == "back":
            return BACK
        if typed == "?":
            teller.small(question.where)
            continue
        if not typed:
            if question.default:
                answers.defaults[key] = question.default
            return None
        try:
            value = typed_value(key, typed, answers.told.get("gauge_unit"))
        except UserError as error:
            teller.line(str(error))
            continue
        unit = {k: v for k, v in answers.told.items() if k == "gauge_unit"}
        odd = odd_number(machine_from({**unit, key: value}, "the machine"), key)
        if odd is not None and not _sure(asker, odd):
            continue
        answers.told[key] = value
        return None


def _example(question: Number, gauge_unit: str | None) -> str:
    """What can be typed for a number: a pressure in the unit of the gauge, once that was told."""
    if question.unit or gauge_unit is None:
        return question.example
    usual = units.parse(typed_value(question.key, question.example, None), question.dimension)
    return units.format_in(usual.si, unit_of(question.key, gauge_unit), question.dimension)


def _sure(asker: Asker, odd: str) -> bool:
    choices = [Choice("no", "No, I type it again"), Choice("yes", "Yes, it is right")]
    return asker.choose(odd, choices) == "yes"


def _look_over(asker: Asker, teller: Teller, answers: Answers) -> None:
    """What does not fit together is told, and every number can be changed before it is kept."""
    while odd := together(answers.machine()):
        for sentence in odd:
            teller.line(f"Please check: {sentence}")
        typed = {k: v for k, v in answers.told.items() if k in NUMBERS}
        words = {k: f"{k.replace('_', ' ')}: {v}" for k, v in typed.items()}
        answer = asker.choose(
            "Change a number?",
            [Choice("no", "No, they are right"), *(Choice(k, w) for k, w in words.items())],
        )
        if answer == "no":
            return
        before: dict[str, Any] = {answer: answers.told.pop(answer)}
        if _put_number(NUMBERS[answer], asker, teller, answers) == BACK:
            answers.told |= before
