"""Telling an instruction through a `Teller`: its cautions first, never steps without them."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from troubleshoot.advice import instruction
from troubleshoot.advice.instruction import Box, Instruction
from troubleshoot.advice.phrases import lasting, lower_first
from troubleshoot.knowledge.model import Finding, RuleBase
from troubleshoot.talk.dialogue import Teller

if TYPE_CHECKING:
    from troubleshoot.advice.step import NextStep
    from troubleshoot.case.diagnose import Diagnosis


def tell_cautions(
    teller: Teller, boxes: Iterable[Box], told: set[str], *, whole: bool = False
) -> None:
    """Cautions: what stops or bans in full, any other by its first sentence unless `whole`.

    Those in `told` were told like that before: they are named again in one line.
    """
    again = []
    for box in boxes:
        key = f"{box.id} {box.stop} {box.settled}"
        if f"{key} whole" in told or (key in told and not whole):
            if not box.settled:
                again.append(box.name if not box.stop else f"{box.name} (stop)")
            continue
        told.update((key, f"{key} whole") if whole or box.stop or box.danger else (key,))
        if box.settled:
            teller.small(f"Repaired and proved: {lower_first(box.name)}.")
        elif box.stop:
            teller.caution(f"STOP NOW: {box.name}", f"{box.hazard} {box.text}", True)
        elif box.danger:
            head = f"Out of use until repaired and proved: {lower_first(box.name)}"
            teller.caution(head, f"{box.hazard} {box.text}", True)
        else:
            teller.caution(f"Caution: {box.name}", box.text if whole else box.first, False)
    if again:
        teller.small(f"Cautions, as above: {'; '.join(again)}.")


def tell(
    teller: Teller, do: Instruction, told: set[str], *, steps: bool = True, whole: bool = False
) -> None:
    """The cautions, what comes first and who does it, and the steps (or, without them, no more)."""
    tell_cautions(teller, do.cautions, told, whole=whole)
    for extra in (do.again, do.leave, do.prepare, do.fetch, do.specimen):
        if extra:
            teller.line(extra)
    if steps:
        teller.steps(do.steps)
    if steps and do.expect:
        teller.line(f"Expect this: {do.expect}")


def minutes_of(do: Instruction) -> str:
    """Its minutes in words."""
    parts = [f"{lasting(do.hands)} hands-on"]
    if do.wait:
        parts.append(f"{lasting(do.wait)} waiting")
    if do.blocked > do.hands + 1:
        parts.append(f"coater blocked {lasting(do.blocked)}")
    return ", ".join(parts)


def show(teller: Teller, case: "Diagnosis", step: "NextStep", told: set[str]) -> None:
    """A step with every caution that is in force; steps of a check only when asked for."""
    assert step.do is not None
    in_force = instruction.boxes(instruction.site_of(case), case.cautions)
    tell_cautions(teller, (b for b in in_force if b.id not in step.hazards), told)
    teller.title(step.say)
    if step.do.tools and step.kind == "remedy":
        teller.line(f"Have ready: {', '.join(step.do.tools)}.")
    tell(teller, step.do, told, steps=step.kind == "remedy")
    teller.small(minutes_of(step.do))


def tell_pictures(teller: Teller, rules: RuleBase, finding: Finding) -> None:
    """The pictures of a finding's answers, where it has some."""
    pictures = getattr(teller, "pictures", None)  # a front end that shows none goes without
    if finding.drawings and pictures is not None:
        pictures(
            finding.ask,
            [(finding.answers[a], n, rules.drawings[n]) for a, n in finding.drawings.items()],
        )
