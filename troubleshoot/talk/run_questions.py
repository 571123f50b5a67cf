"""A run, or the weekly look: what is asked of it, one number after the other."""

import dataclasses

from troubleshoot import units
from troubleshoot.coater.machine import ASSUMED_UNIT, Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.talk.dialogue import NONE, Asker, Choice, Teller
from troubleshoot.upkeep.run import QUANTITIES, Run, doubts

# name, question, example
RUN = (
    ("time", "Time from starting the pump until you could coat?", "6 min"),
    ("base", "Base pressure before the argon?", "0.05"),
    ("pressure", "Pressure while coating?", "0.1"),
    ("current", "Current while coating?", "12 mA"),
    ("seconds", "How long did you coat?", "60 s"),
)
CHECK_UP = (
    ("time", "Chamber empty: time from starting the pump to your coating pressure?", "5 min"),
    ("base", "Still pumping, argon shut: the reading after ten minutes?", "0.03"),
    ("rise", "Valve to the pump shut: how far does it rise in one minute?", "0.1"),
    ("pressure", "Argon in, high voltage on: the pressure at which you read the current?", "0.1"),
    ("current", "And the current there?", "12 mA"),
)
CHECK_UP_STEPS = (
    "Empty the chamber, put one clean glass slip in, shut the argon, and start the pump.",
    "Note the time to your coating pressure, and the reading after ten minutes.",
    "If there is a valve to the pump, and the gauge is on the chamber's side of it: shut it for "
    "one minute, note how far the reading rises, and open it again.",
    "Let argon in to the usual pressure and coat the slip with the usual recipe; note the current.",
    "Vent, and hold the slip beside a good one: same colour, same density?",
)
QUESTIONS = {"run": RUN, "check_up": CHECK_UP}
DEFAULT_UNITS = {"time": "min", "current": "mA", "seconds": "s"}


def ask(entry: Run, machine: Machine, asker: Asker, teller: Teller, rules: RuleBase) -> Run:
    """The entry with what was answered; every question can be skipped with an empty line."""
    if entry.kind == "check_up":
        teller.title("The weekly look")
        teller.steps(CHECK_UP_STEPS)
        hazards = "High voltage only with the lid shut and the guard on. Never touch the head."
        teller.small(hazards)
    teller.small("An empty line skips a question.")
    no_valve = machine.facts.get("isolation_valve") == "no"
    blind = no_valve or machine.facts.get("gauge_side") == "pump"
    asked = [q for q in QUESTIONS[entry.kind] if not (q[0] == "rise" and blind)]
    while True:
        values = {}
        for name, question, example in asked:
            value = _number(name, question, example, machine, asker, teller)
            if value is not None:
                values[name] = value
        entry = dataclasses.replace(entry, values=values)
        if not (problems := doubts(entry)):
            break
        for problem in problems:
            teller.line(problem)
    metal = "" if entry.kind == "check_up" else asker.text("Which metal?").strip()
    slip = asker.choose(
        "The test slip?",
        [Choice("good", "good"), Choice("bad", "not good"), Choice("/skip", "Skip", aside=True)],
    )
    done = asker.several(
        "Care that was done today?", [*(Choice(c.id, c.name) for c in rules.care.values()), NONE]
    )
    return dataclasses.replace(
        entry,
        metal=metal or None,
        slip=None if slip == "/skip" else slip,
        did=tuple(c for c in done if c in rules.care),
    )


def _number(
    name: str, question: str, example: str, machine: Machine, asker: Asker, teller: Teller
) -> float | None:
    unit = unit_shown(machine, name)
    bare = f" {unit}" if example[-1].isdigit() else ""
    while True:
        typed = asker.text(f"{question} (such as {example}{bare})").strip()
        if not typed:
            return None
        try:
            value = units.parse(typed, QUANTITIES[name], default_unit=unit).si
        except UserError as error:
            teller.line(str(error))
            continue
        if bare and typed[-1].isdigit() and machine.told_unit is None:
            teller.small(
                f"Taken as {typed} {unit}: in which unit the gauge reads was never told "
                f"(`troubleshoot machine set gauge_unit {ASSUMED_UNIT}`)."
            )
        return value


def unit_shown(machine: Machine, name: str) -> str:
    """The unit in which a number of a run is asked for and told."""
    pressure = f"{machine.gauge_unit}/min" if name == "rise" else machine.gauge_unit
    return DEFAULT_UNITS.get(name.removesuffix("_empty")) or pressure
