"""A check: its findings asked one by one, in words or as a number, and kept as they come."""

from dataclasses import replace

from troubleshoot.advice import step as steps
from troubleshoot.advice.phrases import lower_first
from troubleshoot.advice.step import NextStep
from troubleshoot.case import entries
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.case.entries import UNKNOWN
from troubleshoot.case.journal import latest_in_epoch
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings.quantity import (
    amounts_to,
    answer_text,
    in_gauge_unit,
    read_quantity,
    yardstick,
)
from troubleshoot.talk.dialogue import MORE, About, Choice
from troubleshoot.talk.talk import (
    ASIDES,
    CANNOT,
    DONT_KNOW,
    FAIRLY,
    LOG,
    LOG_WORDS,
    PICTURE,
    TYPED,
    Talk,
)
from troubleshoot.talk.telling import tell_pictures
from troubleshoot.talk.wording import people_say, sentence

A_NUMBER = Choice("/number", "A number after all")
INSTEAD = (
    *(Choice(DONT_KNOW, "Don't know"), Choice(CANNOT, "Can't do that here"), A_NUMBER),
    *(replace(aside, label=sentence(aside.label), key="") for aside in ASIDES),
)
"""What can be said instead of a number."""


def check(talk: Talk, case: Diagnosis, step: NextStep) -> None:
    """Ask what is still to be seen in a check; it is marked as done when all was asked."""
    if step.id in talk.case().known.cannot:
        return
    readers = {talk.rules.findings[name].read_by for name in step.findings}
    if readers & {"pressure", "current"}:
        talk.once(
            LOG,
            lambda: talk.teller.small(
                "If you log this, or write down six times and readings, the tool can read the "
                f"curve: “{LOG_WORDS}”, or the word log."
            ),
        )
    if "image" in readers:
        talk.once(
            PICTURE,
            lambda: talk.teller.small(
                "If you save the picture, best a slow and a fast frame of one field, the tool can "
                f"look at them: “{LOG_WORDS}”, or the word log."
            ),
        )
    put: list[str] = []
    # Anew each time: one answer may take the sense out of the next question, or give it one.
    while left := [f for f in _unseen(talk, step) if f not in put]:
        number, total = len(put) + 1, len(put) + len(left)
        put.append(left[0])
        if total > 1:
            talk.teller.small(f"{number} of {total}")
        if not _finding(talk, case, step, talk.rules.findings[left[0]], step.id):
            talk.add(entries.Cannot(action=step.id))
            return
        if talk.case().stop is not None:
            break
    talk.add(entries.Action(action=step.id))


def _unseen(talk: Talk, step: NextStep) -> tuple[str, ...]:
    """What is still to be seen in a check."""
    return steps.step_for(talk.case(), step.id, step.why).findings


def _finding(talk: Talk, case: Diagnosis, step: NextStep, finding: Finding, check: str) -> bool:
    """Ask one finding and keep it as part of `check`; False when it cannot be seen here."""
    seen = answer_to(talk, case, step, finding)
    if seen is None:
        return False
    keep(talk, replace(seen, check=check))
    return True


def answer_to(
    talk: Talk, case: Diagnosis, step: NextStep, finding: Finding
) -> entries.Finding | None:
    """What was seen, of a finding in words or as a number; None where it cannot be seen here."""
    if finding.quantity:
        return _quantity(talk, case, step, finding)
    return _words(talk, case, step, finding)


def keep(talk: Talk, seen: entries.Finding) -> None:
    """Keep it, in the place of an answer that was given in this epoch already."""
    earlier = latest_in_epoch(talk.journal, seen.finding)
    talk.add(seen if earlier is None else replace(seen, replaces=earlier.number))


def _words(talk: Talk, case: Diagnosis, step: NextStep, finding: Finding) -> entries.Finding | None:
    answers = [
        Choice(a, t, words=people_say(talk.rules, finding.id, a))
        for a, t in finding.answers.items()
    ]
    extra = [
        Choice(FAIRLY, "I am only fairly sure: …"),
        Choice(DONT_KNOW, "Don't know"),
        Choice(CANNOT, "Can't do that here"),
    ]
    about = About("finding", finding.id)
    talk.once(finding.id, lambda: tell_pictures(talk.teller, talk.rules, finding))
    answer = talk.ask(case, step, finding.ask, [*answers, *extra], about, finding)
    if answer == FAIRLY:
        question = f"{finding.ask} (fairly sure)"
        answer = talk.ask(case, step, question, answers, about, finding)
        return entries.Finding(finding=finding.id, answer=answer, sure="fairly")
    if answer == CANNOT:
        return None
    answer = UNKNOWN if answer == DONT_KNOW else answer
    return entries.Finding(finding=finding.id, answer=answer)


def _quantity(
    talk: Talk, case: Diagnosis, step: NextStep, finding: Finding
) -> entries.Finding | None:
    assert finding.quantity is not None
    talk.teller.small(
        f"A number with its unit, such as {example(finding)}. Or ? why now, < go back, "
        f"! danger, {MORE} more: don't know, can't do that here, a log …"
    )
    while True:
        typed = talk.asker.text(finding.ask, About("finding", finding.id)).strip()
        command = TYPED.get(typed.lower())
        if not typed:
            talk.teller.line(f"Nothing was typed. {MORE} shows what else can be said.")
            continue
        if typed == MORE:
            command = talk.asker.choose(finding.ask, INSTEAD, About("finding", finding.id))
        if command == A_NUMBER.value:
            continue
        if command == CANNOT:
            return None
        if command == DONT_KNOW:
            return entries.Finding(finding=finding.id, answer=UNKNOWN)
        if command is not None:
            talk.take(command, case, step, finding)
            continue
        try:
            kept = in_gauge_unit(finding, typed, talk.bench.machine.told_unit)
        except UserError as error:
            talk.teller.line(str(error))
            continue
        if kept != typed:
            talk.teller.small(f"Taken in {kept[len(typed) + 1 :]}, as the gauge shows it.")
        talk.teller.line(echo(kept, finding, talk.bench.machine))
        return entries.Finding(finding=finding.id, quantity=kept)


def example(finding: Finding) -> str:
    """An example of what can be typed for a quantity: a round number near its first edge."""
    assert finding.quantity is not None
    return f"{float(f'{finding.quantity.edges[0]:.1g}'):g} {finding.quantity.unit}"


def echo(typed: str, finding: Finding, machine: Machine) -> str:
    """What was typed in the other units a lab uses, the answers it amounts to, what was assumed."""
    assert finding.quantity is not None
    stated = read_quantity(finding, typed)
    others = {
        "pressure": ("mbar", "Torr", "Pa"),
        "pressure rate": ("mbar/min", "Torr/min", "Pa/s"),
    }.get(finding.quantity.dimension, (finding.quantity.unit,))
    answers = amounts_to(finding, typed, machine)
    said = " or ".join(lower_first(answer_text(finding, a, machine)) for a in answers)
    shown = (stated.shown(u, finding.quantity.dimension) for u in others)
    line = " = ".join(dict.fromkeys((typed, *shown))) + f": {said}"
    held = yardstick(finding, machine)
    notes = [note.rstrip(".") for note in (*stated.notes, f"{held[:1].upper()}{held[1:]}") if note]
    return ". ".join((line, *notes)) + "." * bool(notes)
