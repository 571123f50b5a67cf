"""The question loop: from a complaint to the cause, the remedy and the proof.

Each turn assesses the journal, tells the one thing to do next, and appends what came back.
"""

from troubleshoot.advice import step as steps
from troubleshoot.advice.phrases import at_hour
from troubleshoot.advice.step import NextStep
from troubleshoot.case import entries
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.case.journal import standing
from troubleshoot.knowledge.model import Finding
from troubleshoot.talk import another, asides, checks, danger, ending, remedies
from troubleshoot.talk.back import go_back
from troubleshoot.talk.circumstances import ask_before_remedy
from troubleshoot.talk.opening import open_case
from troubleshoot.talk.talk import Again, Back, Stopped, Talk
from troubleshoot.talk.telling import show

LONG_WAIT = 15.0


class Conversation(Talk):
    """Leads a case through its questions."""

    def run(self) -> str:
        """Lead the case until it is closed, parked or stopped; says which."""
        try:
            while True:
                try:
                    open_case(self)
                    ended = _turn(self)
                except Again:
                    continue
                except Back:
                    go_back(self)
                    continue
                if ended:
                    return ended
        except Stopped:
            return "stopped"

    def take(self, said: str, case: Diagnosis, step: NextStep, finding: Finding | None) -> bool:
        """As `asides.take`."""
        return asides.take(self, said, case, step, finding)


def _turn(talk: Talk) -> str | None:
    danger.stop_now_first(talk)
    case = talk.case()
    for text in case.contradictions:
        talk.once(text, lambda t=text: talk.teller.caution("These do not fit", t, False))  # type: ignore[misc]
    parked, begun = case.known.parked, _begun(talk, case)
    if begun is not None and case.may(begun):
        rest = steps.step_for(case, begun, "It is half done: this is the rest.")
        show(talk.teller, case, rest, talk.shown)
        checks.check(talk, case, rest)
        return None
    step = steps.next_step(case)
    if case.dangers and step.id == case.dangers[0]:
        danger.lead_danger(talk, case, step)
        return None
    if another.ask_if_due(talk, case, step):
        return None
    if step.kind == "stop":
        return ending.finish(talk, case, step)
    waits = parked is not None and parked.action in talk.rules.actions
    if parked is not None and waits and case.may(parked.action):
        until = parked.until
        due = "is due now" if until <= talk.now() else f"waits until {at_hour(until, talk.now())}"
        step = steps.step_for(case, parked.action, f"It was parked and {due}.")
    asks_first = step.kind == "remedy" and parked is None and not case.dangers
    if asks_first and ask_before_remedy(talk, case):
        return None
    if step.id == steps.CALL_SERVICE:
        return remedies.service(talk, case, step)
    show(talk.teller, case, step, talk.shown)
    action = talk.rules.actions[step.id]
    if step.wait >= LONG_WAIT and parked is None and remedies.park(talk, case, step):
        return "parked"
    if step.kind == "check" and not action.cures:
        checks.check(talk, case, step)
    else:
        remedies.remedy(talk, case, step)
    return None


def _begun(talk: Talk, case: Diagnosis) -> str | None:
    """The check that was left between two of its questions, if the case stands there."""
    beside = entries.BESIDE | entries.Workaround | entries.Reading
    said = [e.said for e in standing(talk.journal) if not isinstance(e.said, beside)]
    last = said[-1] if said else None
    if not isinstance(last, entries.Finding) or last.check in case.known.cannot:
        return None
    return last.check
