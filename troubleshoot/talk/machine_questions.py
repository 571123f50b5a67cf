"""Once per machine: its normal in a few facts and numbers, all of which can be skipped.

What matters most comes first; sizes and the gauge are a second part that can be left out whole. For
a size that is not known a default is offered, and kept apart from what was told.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from troubleshoot.coater.machine import FACTS, NUMBERS, Machine
from troubleshoot.coater.profile import (
    as_shown,
    machine_from,
    notes,
    odd_number,
    together,
    typed_value,
)
from troubleshoot.errors import UserError
from troubleshoot.talk.dialogue import Asker, Choice, Teller

SKIP, BACK, MORE, EQUIPMENT = "/skip", "/back", "/more", "/equipment"
UNITS = ("mbar", "Torr", "Pa")
WORDS = {
    "needle_valve": "the needle valve (fixed voltage)",
    "controller": "a controller (the current is set)",
    "gauge": "the gauge",
    "switch": "a vacuum switch",
    "lid": "a lid switch",
    "manual": "by hand",
    "programmed": "by a program",
    "chamber": "the chamber side",
    "pump": "the pump side",
    "diode": "a plain disc (diode)",
    "magnetron": "a disc with magnets behind it (magnetron)",
    "heat_loss": "heat loss (a hot wire: Pirani or thermocouple)",
    "capacitance": "capacitance (a membrane; reads every gas alike)",
    "gold_palladium": "gold-palladium",
    "platinum_palladium": "platinum-palladium",
    "other": "another",
}
HAS = {
    "rotation": "a turning stage",
    "shutter": "a shutter before the target",
    "voltmeter": "a meter for the voltage of the discharge",
    "trap": "a trap in the line to the pump",
    "spare_gauge": "a second gauge that could be borrowed",
    "thickness_monitor": "a thickness monitor",
    "xray_detector": "an X-ray detector at the microscope",
}


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


@dataclass(frozen=True)
class Question:
    """One step: a choice, a number or a word, by its key in the profile.

    `where` tells where a number is found; `default` is taken where nothing is answered; `when`
    says whether it makes sense after what was told so far.
    """

    key: str
    ask: str
    example: str = ""
    where: str = ""
    default: str = ""
    when: Callable[[Mapping[str, str]], bool] = lambda told: True


def _if(**wanted: str) -> Callable[[Mapping[str, str]], bool]:
    return lambda told: all(told.get(k) == v for k, v in wanted.items())


def _more(**wanted: str) -> Callable[[Mapping[str, str]], bool]:
    return lambda told: told.get(MORE) == "yes" and _if(**wanted)(told)


QUESTIONS = (
    Question("isolation_valve", "Is there a valve between the chamber and the pump?"),
    Question(
        "gauge_side",
        "On which side of that valve does the gauge sit?",
        when=_if(isolation_valve="yes"),
    ),
    Question("gauge_unit", "In which unit does the gauge read?"),
    Question("current_set_by", "What sets the discharge current?"),
    Question("hv_permit", "What permits the high voltage?"),
    Question("venting", "How is the chamber vented?"),
    Question(EQUIPMENT, "Which of these are there?"),
    Question(
        "usual_time",
        "The usual time from starting the pump until you can coat?",
        "6 min",
        "From the log book, or what an ordinary day takes.",
    ),
    Question(
        "usual_base",
        "The usual base pressure, empty, argon shut?",
        "0.03 mbar",
        "The reading after ten minutes of pumping on a good day. A log of one tells it too: "
        "`troubleshoot machine good-day LOG.csv`.",
    ),
    Question(
        "usual_pressure",
        "The usual coating pressure, as the gauge shows it?",
        "0.1 mbar",
        "From the recipe on the wall, or the gauge's reading while you coat.",
    ),
    Question(
        "usual_current",
        "The usual discharge current?",
        "12 mA",
        "From the recipe, or the meter's reading while you coat.",
    ),
    Question(
        MORE,
        "Tell more? Gauge, head, sizes, cylinder and room: two minutes, with the handbook or a "
        "ruler",
    ),
    Question("gauge_kind", "What kind of gauge is it?", default="heat_loss", when=_more()),
    Question(
        "gauge_gas",
        "For which gas is the gauge's scale right?",
        where="air or nitrogen if nobody ever set it to argon",
        default="air",
        when=lambda told: _more()(told) and told.get("gauge_kind", "heat_loss") == "heat_loss",
    ),
    Question("process_gas", "In which gas do you coat?", default="argon", when=_more()),
    Question("target", "Which metal is the target?", when=_more()),
    Question("head", "What is the head like?", when=_more()),
    Question("chamber", "What is the chamber made of?", when=_more()),
    Question(
        "volume",
        "The chamber's volume?",
        "5 L",
        "Handbook; or 3.14 x radius x radius x height in cm, divided by 1000. A bell 15 cm across "
        "and 15 cm high holds 2.7 L.",
        "3 L",
        _more(),
    ),
    Question(
        "pump_speed",
        "The pump's speed?",
        "4 m3/h",
        "On the pump's plate, in m3/h, L/min or L/s.",
        "1.1 L/s",
        _more(),
    ),
    Question(
        "hose_diameter",
        "The bore of the hose to the pump?",
        "20 mm",
        "The inside, at an open end or at the flange.",
        "20 mm",
        _more(),
    ),
    Question(
        "hose_length",
        "The length of that hose?",
        "1 m",
        "Along the hose.",
        "1 m",
        _more(),
    ),
    Question(
        "target_radius",
        "The target's radius?",
        "25 mm",
        "Half of its diameter. Handbook, or a spare target: no ruler into the head.",
        "25 mm",
        _more(),
    ),
    Question(
        "distance",
        "The distance from target to specimen?",
        "50 mm",
        "From the target's face to the top of a stub, lid on; most people work at about 50 mm.",
        "50 mm",
        _more(),
    ),
    Question(
        "usual_voltage",
        "The usual voltage of the discharge?",
        "800 V",
        "The panel's meter while you coat; never with a meter of your own. Leave the minus out.",
        when=_more(voltmeter="yes"),
    ),
    Question(
        "usual_rise",
        "Empty, valve to the pump shut: how far does it rise in one minute?",
        "0.1 mbar",
        "On a good day, after ten minutes of pumping.",
        when=_more(isolation_valve="yes", gauge_side="chamber"),
    ),
    Question(
        "cylinder",
        "The argon cylinder's volume?",
        "10 L",
        "The water volume, stamped on its shoulder. With the room it says what a full leak would "
        "do.",
        when=lambda told: _more()(told) and told.get("process_gas") != "air",
    ),
    Question(
        "fill_pressure",
        "Its pressure when full?",
        "200 bar",
        "On its label.",
        "200 bar",
        when=lambda told: "cylinder" in told,
    ),
    Question(
        "room",
        "The room's volume?",
        "40 m3",
        "Length x width x height, in metres.",
        when=lambda told: "cylinder" in told,
    ),
)


def ask_machine(asker: Asker, teller: Teller, kept: Mapping[str, Machine]) -> Machine:
    """Offer to ask for the machine's normal. What is skipped stays unknown: wide defaults hold."""
    go = asker.choose(
        "This coater's normal is not known yet. Tell it once? (two minutes; all can be skipped)",
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
    behind: list[Question] = []
    ahead = list(QUESTIONS)
    while ahead:
        question = ahead.pop(0)
        if not question.when(answers.told):
            continue
        if _put(question, asker, teller, answers) != BACK:
            behind.append(question)
            continue
        ahead.insert(0, question)
        if behind:
            last = behind.pop()
            # What lies between was not asked; it may be after another answer.
            ahead = list(QUESTIONS[QUESTIONS.index(last) :])
            answers.forget(last.key, *(HAS if last.key == EQUIPMENT else ()))
        else:
            teller.small("This is the first question.")
    _look_over(asker, teller, answers)
    return answers.machine()


def _ask_name(
    asker: Asker, teller: Teller, kept: Mapping[str, Machine], answers: Answers
) -> Machine | None:
    """Take a name into the answers; or the profile that is kept under it, to leave it so."""
    while True:
        name = asker.text("What is this coater called?").strip() or Machine().name
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
    """A profile as lines of `key: value`, defaults marked."""
    told = [f"name: {machine.name}", f"gauge_unit: {machine.gauge_unit}"]
    shown = [(key, as_shown(machine, key)) for key in (*FACTS, *NUMBERS)]
    return told + [f"{key}: {value}" for key, value in shown if value is not None]


def _put(question: Question, asker: Asker, teller: Teller, answers: Answers) -> str | None:
    """Put one question into the answers; `BACK` if that was said."""
    if question.key == EQUIPMENT:
        return _put_equipment(question, asker, answers)
    if question.key in NUMBERS:
        return _put_number(question, asker, teller, answers)
    options = {MORE: ("yes",), "gauge_unit": UNITS}.get(question.key) or FACTS[question.key]
    named = "Yes, go on" if question.key == MORE else None
    if question.default:
        skip = f"Not sure ({question.default.replace('_', ' ')} is taken, as a default)"
    else:
        skip = "No, that is all" if question.key == MORE else "Skip"
    hint = f" ({question.where})" if question.where else ""
    answer = asker.choose(
        question.ask + hint,
        [
            *(Choice(v, named or WORDS.get(v, v)) for v in options),
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


def _put_equipment(question: Question, asker: Asker, answers: Answers) -> str | None:
    """A list to mark. What is not marked is there only if nobody knows."""
    there = asker.several(question.ask, [Choice(key, words) for key, words in HAS.items()])
    rest = "no"
    if len(there) < len(HAS):
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


def _put_number(question: Question, asker: Asker, teller: Teller, answers: Answers) -> str | None:
    """A number with its unit, asked again until it can be read; an odd one is asked about."""
    key = question.key
    empty = f"{question.default}, as a default" if question.default else "skip"
    while True:
        typed = asker.text(f"{question.ask} (such as {question.example}; empty: {empty})").strip()
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


def _sure(asker: Asker, odd: str) -> bool:
    choices = [Choice("no", "No, I type it again"), Choice("yes", "Yes, it is right")]
    return asker.choose(odd, choices) == "yes"


def _look_over(asker: Asker, teller: Teller, answers: Answers) -> None:
    """What does not fit together is told, and every number can be changed before it is kept."""
    by_key = {q.key: q for q in QUESTIONS}
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
        if _put_number(by_key[answer], asker, teller, answers) == BACK:
            answers.told |= before
