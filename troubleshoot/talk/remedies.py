"""A remedy: parked where it waits long, done, and the complaint looked at again."""

from datetime import datetime, timedelta

from troubleshoot.advice.phrases import at_hour, lasting, lower_first
from troubleshoot.advice.step import NextStep
from troubleshoot.case import entries
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.case.entries import UNKNOWN
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import Complaint
from troubleshoot.readings.quantity import in_gauge_unit
from troubleshoot.talk.checks import echo
from troubleshoot.talk.dialogue import About, Choice
from troubleshoot.talk.talk import CANNOT, LATER, Talk
from troubleshoot.talk.telling import show


def park(talk: Talk, case: Diagnosis, step: NextStep) -> bool:
    """Offer to park the case over a long wait; True when it is parked."""
    answer = talk.ask(
        case, step, f"This waits about {lasting(step.wait)}.",
        [
            Choice("park", "Start it and park the case until then"),
            Choice("now", "It is done already, or I will stand by"),
            Choice(CANNOT, "Can't do that here"),
        ],
        About("wait", step.id),
    )  # fmt: skip
    if answer == CANNOT:
        talk.add(entries.Cannot(action=step.id))
        return False
    if answer == "park":
        now = talk.now()
        until = datetime.fromisoformat(now) + timedelta(minutes=step.hands + step.wait)
        due = until.isoformat(timespec="minutes")
        talk.add(entries.Parked(action=step.id, until=due))
        hour = at_hour(due, now)
        talk.teller.line(f"Parked until {hour}: {step.name}. Start the tool again then.")
        return True
    return False


def remedy(talk: Talk, case: Diagnosis, step: NextStep) -> None:
    """Wait for a remedy to be done, then have the complaint looked at again."""
    if step.id in talk.case().known.cannot:
        return
    theirs = talk.rules.actions[step.id].role == "service"
    answer = talk.ask(
        case, step, f"Tell me when it is done. ({step.name})",
        [
            # Whoever called them has done nothing yet that the complaint could be looked at for.
            Choice("done", "They have been, and it is done" if theirs else "Done"),
            Choice(LATER, "They are called: something else until then" if theirs
                   else "Not now: something else first"),
            Choice(CANNOT, "Can't do that here"),
        ],
        About("action", step.id),
    )  # fmt: skip
    if answer == CANNOT:
        talk.add(entries.Cannot(action=step.id))
        return
    if answer == LATER:
        talk.add(entries.Later(action=step.id))
        return
    recheck(talk, step.id)


def recheck(talk: Talk, name: str) -> None:
    """Ask what became of the complaint, and keep that the action `name` was done before it."""
    complaint = talk.rules.complaints[talk.case().known.complaint or ""]
    action = talk.rules.actions[name]
    now = talk.asker.choose(
        complaint.still_there,
        [
            Choice("cured", "As on a good day", words=("gone", "cured", "right", "normal")),
            Choice("better", "Better, but not as on a good day", words=("partly",)),
            Choice("unchanged", "As before", words=("unchanged", "same", "still")),
            Choice("worse", "Worse than before"),
            Choice(UNKNOWN, "Can't tell yet"),
        ],
        About("complaint_now", name),
    )
    value = _how_much(talk, complaint) if now in ("better", "worse") else ""
    talk.add(entries.Action(action=name, complaint_now=now, value=value or None))
    if value and complaint.measured_by:
        talk.add(entries.Finding(finding=complaint.measured_by, quantity=value))
    if now == "better" and action.if_partly:
        talk.teller.line(f"For what is left: {lower_first(action.if_partly)}")
    if now in ("unchanged", "worse") and action.if_not:
        talk.teller.line(f"As it did not help: {lower_first(action.if_not)}")


def _how_much(talk: Talk, complaint: Complaint) -> str:
    """How far it is better or worse; empty where nobody says.

    Where a finding measures the complaint it is a number, a range or a bound that can be read.
    """
    question = f"{complaint.how_much} (enter alone skips)"
    finding = talk.rules.findings.get(complaint.measured_by)
    while complaint.how_much:
        typed = talk.asker.text(question).strip()
        if finding is None or not typed:
            return typed
        try:
            kept = in_gauge_unit(finding, typed, talk.bench.machine.told_unit)
        except UserError as error:
            talk.teller.line(str(error))
            continue
        talk.teller.line(echo(kept, finding, talk.bench.machine))
        return kept
    return ""


def service(talk: Talk, case: Diagnosis, step: NextStep) -> str | None:
    """Offer to hand the case to service; "closed", or "stopped" where it is left open."""
    show(talk.teller, case, step, talk.shown)
    answer = talk.ask(
        case, step, "Close this case as handed to service?",
        [Choice("yes", "Yes, hand it over"), Choice("leave", "Leave it open")],
        About("service"),
    )  # fmt: skip
    if answer == "leave":
        return "stopped"
    talk.add(entries.Closed(outcome="service"))
    return "closed"
