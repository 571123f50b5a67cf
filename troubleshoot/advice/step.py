"""What to do now: the one next step with its reason."""

from dataclasses import dataclass

from troubleshoot.advice import instruction
from troubleshoot.advice.instruction import Instruction
from troubleshoot.advice.phrases import lower_first, rough
from troubleshoot.advice.verdict import CURED, NOTHING_WRONG, is_cured, suspects
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.knowledge.model import Action, Caution
from troubleshoot.reasoning.planner import ACCEPT, SERVICE

LIKELY = 0.25  # a cause this likely has its remedy named although it marks or spends it
CALL_SERVICE, CLOSED, UNNAMED = "call_service", "closed", "no_complaint"


@dataclass(frozen=True)
class NextStep:
    """The next thing to do. `kind` is check, remedy or stop; `do` says how, with its cautions."""

    kind: str
    id: str
    name: str
    say: str
    why: str
    do: Instruction | None = None
    findings: tuple[str, ...] = ()

    @property
    def minutes(self) -> float:
        """Elapsed minutes in all: getting the machine there, hands and waiting."""
        return self.do.minutes if self.do else 0.0

    @property
    def hands(self) -> float:
        """Hands-on minutes."""
        return self.do.hands if self.do else 0.0

    @property
    def wait(self) -> float:
        """Minutes of waiting."""
        return self.do.wait if self.do else 0.0

    @property
    def hazards(self) -> tuple[str, ...]:
        """The cautions that belong to it."""
        return tuple(box.id for box in self.do.cautions) if self.do else ()


def next_step(case: Deduction) -> NextStep:
    """What to do now."""
    rules = case.rules
    if case.stop is not None:
        caution = rules.cautions[case.stop]
        do = instruction.for_danger(instruction.site_of(case), caution.id)
        return NextStep("stop", caution.id, caution.name, caution.precaution, caution.hazard, do)
    if case.known.closed is not None:
        return NextStep("stop", CLOSED, "This case is closed", "Nothing is left to do.", "")
    if not isinstance(case, Diagnosis):
        return NextStep(
            "stop", UNNAMED, "Say what the trouble is", "Name the complaint first.",
            "Without a complaint there is nothing to look for.",
        )  # fmt: skip
    if case.dangers and case.dangers[0] not in case.known.go_on:
        return _danger_step(case, rules.cautions[case.dangers[0]])
    if is_cured(case):
        return NextStep(
            "stop", CURED, "Close the case", "The complaint is gone: close the case.",
            "The last look showed the complaint gone.",
        )  # fmt: skip
    follow = _follow_up(case)
    if follow is not None:
        action, because = follow
        return _step(case, action, because)
    option = case.plan.next
    if option.kind == ACCEPT:
        complaint = rules.complaints[case.complaint]
        if case.situation.still_there:
            return NextStep(
                "stop", NOTHING_WRONG, "Look once more",
                "Look once more whether the trouble is still there, before anybody is called.",
                "A remedy left something, but all that was seen since fits a sound coater.",
            )  # fmt: skip
        return NextStep(
            "stop", NOTHING_WRONG, "Nothing is wrong", complaint.normal,
            "What was seen fits a sound coater better than any fault.",
        )  # fmt: skip
    if option.kind == SERVICE:
        leave = _with_leave(case)
        if leave is not None:
            return leave
        do = instruction.for_service()
        return NextStep(
            "remedy", do.id, do.name, do.say,
            "Nothing left to look at or try here is worth its minutes.", do,
        )  # fmt: skip
    assert option.action is not None
    return _step(case, rules.actions[option.action], _why(case))


def _with_leave(case: Diagnosis) -> NextStep | None:
    """The remedy of the leading cause that only the specimen keeps from being offered.

    With one that cannot be replaced, what marks it or uses it up is named before service, as its
    owner's decision.
    """
    cause, p = suspects(case)[0]
    put_off = {*case.known.cannot, *(a for e, a in case.known.later if e == case.known.epoch)}
    for name in cause.remedies:
        action, why = case.rules.actions[name], case.refused.get(name)
        only_that = why is not None and why.kind == "specimen"
        if p >= LIKELY and only_that and name not in put_off and not case.known.tries(name):
            return _step(case, action, "Nothing gentler is left, and one cause is likely.")
    return None


def _danger_step(case: Deduction, danger: Caution) -> NextStep:
    """What to do about a danger that was made safe: its repair, then the record of it."""
    done = case.known.done_since(case.brought[danger.id])
    put_off = {*case.known.cannot, *(a for e, a in case.known.later if e == case.known.epoch)}
    put_off |= {  # a look repairs nothing: done once, it is not asked for again
        a
        for e, a in case.known.checked
        if e == case.known.epoch and case.rules.actions[a].kind == "check"
    }
    repairs = [r for r in danger.repair if case.may(r) and r not in put_off]
    at = instruction.site_of(case)
    if repairs and not done.intersection(danger.repair):
        return _step(case, case.rules.actions[repairs[0]], "The danger comes first.")
    steps: tuple[str, ...]
    if done.intersection(danger.repair):
        steps = (
            "The person in charge, or qualified service, looks at the repair and proves it.",
            "They record it here: repaired and proved.",
        )
        say = "Have the repair proved and recorded; until then it stays out of use."
    else:
        steps = (
            'Leave it off, with its "do not use" tag on.',
            "Fetch the person in charge: they decide on the repair, or call qualified service.",
            "Only they record here that it is repaired and proved.",
        )
        say = "Out of use until this is repaired and proved. Fetch the person in charge."
    do = instruction.for_danger(at, danger.id, steps)
    return NextStep("stop", danger.id, danger.name, say, danger.hazard, do)


def step_for(case: Deduction, action: str, why: str) -> NextStep:
    """The step that a given check or remedy would be now."""
    return _step(case, case.rules.actions[action], why)


def _follow_up(case: Diagnosis) -> tuple[Action, str] | None:
    for finding in case.follow_up:
        if finding in case.situation.answered:
            continue
        for name in case.rules.revealed_by[finding]:
            action = case.rules.actions[name]
            if name not in case.situation.closed:
                because = next(
                    case.rules.derivations[f.rule].because
                    for f in case.firings
                    if any(a.kind == "ask" and a.name == finding for a in f.added)
                )
                return action, because
    return None


def _step(case: Deduction, action: Action, why: str) -> NextStep:
    asked = case.situation.answered if isinstance(case, Diagnosis) else frozenset()
    return NextStep(
        kind=action.kind,
        id=action.id,
        name=action.name,
        say=action.say,
        why=why,
        do=instruction.for_action(instruction.site_of(case), action),
        findings=tuple(
            f
            for f in action.reveals
            if f not in asked and case.machine.allows(case.rules.findings[f].machine)
        ),
    )


def _why(case: Diagnosis) -> str:
    plan, causes = case.plan, case.rules.causes
    if plan.reason == "touched_first":
        return "It looks at what was handled last, before anything that costs money or a visit."
    if plan.reason == "knob_first":
        return "A knob or a lamp costs nothing to look at, before anything that costs money."
    if plan.reason == "short_first":
        return "A short look comes before a long one while it can still change what to do."
    if plan.reason == "look_first":
        return "What comes next puts a hand where this must be looked at first."
    if plan.reason == "far_ahead":
        return "One cause is far ahead, and this puts it right: trying is quicker than asking more."
    if plan.next.kind == "check":
        parts = []
        if plan.saves >= 1:
            parts.append(f"it saves about {rough(plan.saves)} on average")
        if plan.splits:
            a, b = (lower_first(causes[c].name) for c in plan.splits)
            parts.append(f"it tells the two leading causes apart: {a}, and {b}")
        if not parts:
            parts.append("it is the cheapest look that can still change what to do")
        text = "; ".join(parts)
        return text[0].upper() + text[1:] + "."
    action = case.rules.actions[plan.next.action or ""]
    named = [c.name for c, p in suspects(case)[:4] if c.id in action.cures and p >= 0.05]
    if named:
        targets = ", ".join(lower_first(n) for n in named[:3])
        return f"Trying it now is quicker than asking more. It cures: {targets}."
    return "Trying it now is quicker than asking more."


def in_force(case: Deduction, step: NextStep) -> list[str]:
    """Cautions that hold now: from signs and rules first, then those of the next step."""
    return list(dict.fromkeys((*case.cautions, *step.hazards)))
