"""Danger comes first: the signs, the stop that they call for, and who may lift it."""

from troubleshoot.advice import instruction
from troubleshoot.advice import step as steps
from troubleshoot.advice.step import NextStep
from troubleshoot.case import entries
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.case.entries import UNKNOWN
from troubleshoot.case.permitted import LIFTS_A_BAN
from troubleshoot.talk import signs
from troubleshoot.talk.dialogue import About, Choice
from troubleshoot.talk.remedies import recheck
from troubleshoot.talk.talk import STOP, Stopped, Talk
from troubleshoot.talk.telling import tell
from troubleshoot.talk.wording import sentence

SEEN = (entries.Finding, entries.Reading, entries.Action, entries.Epoch)
"""Entries that belong to the epoch in which they stand."""


def ask_signs(talk: Talk) -> None:
    """The danger signs, each kept as soon as all of them are marked."""
    for sign in signs.marked(talk.asker, talk.rules):
        talk.add(entries.Sign(sign=sign, present=True))


def stop_now_first(talk: Talk) -> None:
    """Nothing else is asked before the steps of every stop were done."""
    while True:
        case = talk.facts()
        if case.stop is None:
            return
        step = steps.next_step(case)
        assert step.do is not None
        tell(talk.teller, step.do, talk.shown)
        answer = talk.asker.choose(
            "Has this been done, and the person in charge told?",
            [
                Choice("done", "Yes, done and told: type the word done", typed="done"),
                Choice(STOP, "Stop here (nothing is lost)", aside=True),
            ],
            About("stop", case.stop),
        )
        if answer == STOP:
            raise Stopped
        talk.add(entries.MadeSafe(caution=case.stop))


def lead_danger(talk: Talk, case: Diagnosis, step: NextStep) -> None:
    """A danger that was made safe: nothing more until the right person speaks."""
    assert step.do is not None
    talk.teller.title(f"The danger comes first: {step.name}")
    talk.teller.line(step.say)
    tell(talk.teller, step.do, talk.shown)
    says = [
        Choice(
            f"repaired:{role}",
            f"{sentence(instruction.ROLE_NAMES[role])} says: it is repaired and proved",
        )
        for role in LIFTS_A_BAN
    ]
    here = Choice("in_charge", "The person in charge is here and answers from now on")
    answer = talk.asker.choose(
        "What now?",
        [
            *([] if case.known.role in LIFTS_A_BAN else [here]),
            *says,
            Choice("go_on", "Meanwhile go on with what does not touch it"),
            Choice(STOP, "Stop here (nothing is lost)", aside=True),
        ],
        About("danger", step.id),
    )
    if answer == STOP:
        raise Stopped
    if answer == here.value:
        talk.add(entries.Role(role="in_charge"))
    elif answer == "go_on":
        talk.add(entries.GoOn(although=step.id))
    else:
        role = answer.removeprefix("repaired:")
        talk.add(entries.Repaired(caution=step.id, role=role))
        _look_again(talk, step.id)


def _look_again(talk: Talk, danger: str) -> None:
    """A repair may have cured the complaint: ask, unless that was seen already."""
    actions = talk.rules.actions
    repairs = [a for a in talk.rules.cautions[danger].repair if actions[a].kind == "remedy"]
    done = [d for d in talk.case().known.treatments if d is not None and d.action in repairs]
    if not repairs or any(d.complaint_now != UNKNOWN for d in done):
        return
    if done and not any(isinstance(e.said, SEEN) for e in talk.journal[done[-1].number + 1 :]):
        talk.add(entries.Retract(entry=done[-1].number))  # "can't tell yet" gives way
    recheck(talk, done[-1].action if done else repairs[0])
