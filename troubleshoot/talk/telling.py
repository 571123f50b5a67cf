"""Telling an instruction through a `Teller`: its cautions first, never steps without them."""

from troubleshoot.advice import instruction
from troubleshoot.advice.instruction import Box, Instruction
from troubleshoot.advice.phrases import lower_first
from troubleshoot.advice.step import NextStep
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.talk.dialogue import Teller


def tell_caution(teller: Teller, box: Box, told: set[str]) -> None:
    """A caution in full the first time, then in a line; one that was put right once, in a line."""
    key = f"{box.id} {box.stop} {box.settled}"
    if box.settled:
        if key not in told:
            teller.small(f"Repaired and proved: {lower_first(box.name)}.")
    elif key in told:
        teller.small(f"Caution, as above: {box.name}. {box.first}")
    else:
        text = f"{box.hazard} {box.text}" if box.stop or box.danger else box.text
        out = "Out of use until repaired and proved. " if box.danger and not box.stop else ""
        teller.caution(box.name, out + text, box.stop)
    told.add(key)


def tell(teller: Teller, do: Instruction, told: set[str], *, steps: bool = True) -> None:
    """The cautions, what comes first and who does it, and the steps (or, without them, no more)."""
    for box in do.cautions:
        tell_caution(teller, box, told)
    for extra in (do.again, do.leave, do.prepare, do.fetch, do.specimen):
        if extra:
            teller.line(extra)
    if steps:
        teller.steps(do.steps)
    if steps and do.expect:
        teller.line(f"Expect this: {do.expect}")


def minutes_of(do: Instruction) -> str:
    """Its minutes in words."""
    parts = [f"{do.hands:g} min hands-on"]
    if do.wait:
        parts.append(f"{do.wait:g} min waiting")
    if do.blocked > do.hands + 1:
        parts.append(f"coater blocked {do.blocked:g} min")
    return ", ".join(parts)


def show(teller: Teller, case: Diagnosis, step: NextStep, told: set[str]) -> None:
    """A step with every caution that is in force; steps of a check only when asked for."""
    assert step.do is not None
    teller.title(step.say)
    teller.small(minutes_of(step.do))
    for box in instruction.boxes(instruction.site_of(case), case.cautions):
        if box.id not in step.hazards:
            tell_caution(teller, box, told)
    if step.do.tools and step.kind == "remedy":
        teller.line(f"Have ready: {', '.join(step.do.tools)}.")
    tell(teller, step.do, told, steps=step.kind == "remedy")
