"""The end of a case: all is well, or what it was and how that is known."""

from troubleshoot.advice import step as steps
from troubleshoot.advice import verdict
from troubleshoot.advice.step import NextStep
from troubleshoot.case import entries
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.reasoning.planner import ACCEPT
from troubleshoot.talk.dialogue import NONE, About, Choice
from troubleshoot.talk.talk import Talk
from troubleshoot.talk.wording import holding

MOST = 6
"""So many causes are offered for what was typed."""
GOOD_DAY = "As on a good day"
NO_OTHER, ROUND = "/none", "/round"


def finish(talk: Talk, case: Diagnosis, step: NextStep) -> str | None:
    """Offer to end the case; "closed", or None where it goes on."""
    if step.id == steps.CLOSED:
        return "closed"
    talk.teller.title(step.name)
    talk.teller.line(step.say)
    if step.id == verdict.NOTHING_WRONG:
        left_over = case.situation.still_there
        answer = talk.ask(
            case, step, _look(talk, case) if left_over else "Enter it as nothing wrong?",
            [
                Choice("yes", GOOD_DAY if left_over else "Yes: carry on coating"),
                Choice("no", "Not as on a good day: look further"),
                Choice("later", "It comes and goes: look again when it shows"),
            ],
            About("gone" if left_over else "normal"),
        )  # fmt: skip
        if answer == "no":
            talk.add(entries.GoOn(although=ACCEPT))
            return None
        if answer == "yes" and left_over:  # then a remedy was what cured it
            close(talk, case)
            return "closed"
        how = "normal" if answer == "yes" else "comes_and_goes"
        talk.add(entries.Closed(outcome=how))
        return "closed"
    close(talk, case)
    return "closed"


def _look(talk: Talk, case: Diagnosis) -> str:
    """What to look at once more before the case is closed, and what to say of it."""
    return talk.rules.complaints[case.complaint].still_there


def close(talk: Talk, case: Diagnosis) -> None:
    """Two short questions, a third where several remedies helped, and the case is closed."""
    start = case.belief.present_at_start
    done = [d for d in case.known.treatments if d is not None]
    can_be = {c for d in done for c in talk.rules.actions[d.action].cures} or set(start)
    likely = sorted(can_be & start.keys(), key=lambda c: -start[c])[:4]
    cause = talk.asker.choose(
        "What was it?",
        [
            *(Choice(c, talk.rules.causes[c].name) for c in likely),
            Choice(entries.UNLISTED, "Something else"),
            Choice(ROUND, "We work round it; it is not cured", aside=True),
            Choice("/skip", "Don't know", aside=True),
        ],
        About("outcome"),
    )
    note = None
    if cause == entries.UNLISTED:
        cause, note = _something_else(talk, likely)
    if cause == ROUND:
        talk.add(entries.Closed(outcome="workaround", by=case.known.role))
        return
    more = [c for c in likely if c != cause]
    also = NO_OTHER
    if cause in likely and more and any(d.complaint_now == "better" for d in done):
        also = talk.asker.choose(
            "Was something else wrong too?",
            [Choice(NO_OTHER, "No, only that"),
             *(Choice(c, talk.rules.causes[c].name) for c in more)],
            About("outcome", "also"),
        )  # fmt: skip
    proof = talk.asker.choose(
        "How do you know?",
        [
            Choice("complaint gone after the remedy", "All was as on a good day after the remedy"),
            Choice("fault seen", "I saw the fault itself"),
            Choice("said by service", "Service says so"),
            Choice("not proved", "It is not proved"),
        ],
        About("proof"),
    )
    found = None if cause == "/skip" else cause if also == NO_OTHER else [cause, also]
    closed = entries.Closed(
        outcome="cured", cause=found, proved_by=proof, by=case.known.role, note=note
    )
    talk.add(closed)
    for name in closed.causes:
        if name in talk.rules.causes and talk.rules.causes[name].lesson:
            talk.teller.line(f"Remember: {talk.rules.causes[name].lesson}")


def _something_else(talk: Talk, offered: list[str]) -> tuple[str, str | None]:
    """A cause by words of its name, or something that is in no list, with the words for it."""
    words = talk.asker.text("What, in a few words? (Enter: say no more)", About("outcome", "words"))
    words = words.strip()
    rules, machine = talk.rules, talk.bench.machine
    able = {
        name: cause
        for name, cause in rules.causes.items()
        if name not in offered and machine.allows(cause.machine)
    }
    found = holding(words, able)[:MOST]
    if not found:
        return entries.UNLISTED, words or None
    chosen = talk.asker.choose(
        "Is it one of these?",
        [*(Choice(name, rules.causes[name].name) for name in found), NONE],
        About("outcome", "named"),
    )
    return (entries.UNLISTED, words) if chosen == NONE.value else (chosen, None)
