"""Whether it is another trouble after all than the one that was chosen at first.

Little that is seen can tell, since what is asked belongs to the chosen trouble: the rules name
under `rather` the answers that do. Otherwise questions that nobody can answer, or an end at which
nothing was found, are a reason to look at the list again.
"""

from collections.abc import Sequence

from troubleshoot.advice import step as steps
from troubleshoot.advice import verdict
from troubleshoot.advice.phrases import lower_first
from troubleshoot.advice.step import NextStep
from troubleshoot.case import entries
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.case.entries import UNKNOWN
from troubleshoot.case.journal import Entry, standing
from troubleshoot.talk.dialogue import About, Choice
from troubleshoot.talk.talk import Talk
from troubleshoot.talk.wording import people_say

LATELY, UNANSWERED = 7, 5
"""Of so many answers so many were "don't know" or "can't do that here": they do not fit."""
IN_VAIN = 2  # remedies one after the other that changed nothing


def ask_if_due(talk: Talk, case: Diagnosis, step: NextStep) -> bool:
    """Ask once in a case: where another trouble fits better, or these questions do not fit,
    nothing helped or nothing was found."""
    said = standing(talk.journal)
    if case.dangers or sum(isinstance(e.said, entries.Complaint) for e in said) > 1:
        return False
    nothing_found = step.id == steps.CALL_SERVICE or (
        step.id == verdict.NOTHING_WRONG and not case.situation.still_there
    )
    done = [d.complaint_now for d in case.known.treatments if d is not None]
    in_vain = len(done) >= IN_VAIN and set(done[-IN_VAIN:]) == {"unchanged"}
    if not (case.other_trouble or nothing_found or in_vain or _do_not_fit(said)):
        return False
    if case.other_trouble:
        other = lower_first(talk.rules.complaints[case.other_trouble].name)
        talk.teller.line(f"What was seen fits another trouble better: {other}.")
    elif in_vain:
        talk.teller.line("What was done changed nothing.")
    elif not nothing_found:
        talk.teller.line("Many of these questions could not be answered here.")
    ask(talk, case, step)
    return True


def ask(talk: Talk, case: Diagnosis, step: NextStep) -> None:
    """Show the list of troubles once more and keep what is chosen; what was seen stays."""
    now = talk.rules.complaints[case.complaint]
    present, causes = case.belief.present, talk.rules.causes

    def raised(other: str) -> float:
        """How far what is suspected would raise that trouble too."""
        return sum(p * causes[c].complaints.get(other, 0.0) for c, p in present.items())

    able = verdict.commonest_first(talk.rules, talk.bench.machine)
    others = sorted(
        (c for c in able if c.id != now.id),
        key=lambda c: (c.id != case.other_trouble, -raised(c.id)),
    )
    found = talk.ask(
        case, step, f"Is it still this: {lower_first(now.name)}?",
        [
            Choice(now.id, "Yes, that is the trouble"),
            *(
                Choice(c.id, f"Rather: {lower_first(c.name)}",
                       words=(*c.says, *people_say(talk.rules, c.id)))
                for c in others
            ),
        ],
        About("opening", "meant"),
    )  # fmt: skip
    talk.add(entries.Complaint(complaint=found))


def _do_not_fit(said: Sequence[Entry]) -> bool:
    answers = [e.said for e in said if isinstance(e.said, entries.Finding | entries.Cannot)]
    lately = answers[-LATELY:]
    open_ = sum(isinstance(s, entries.Cannot) or s.answer == UNKNOWN for s in lately)
    return open_ >= UNANSWERED
