"""What one entry of a journal says, in a line, and the answer that a finding was given."""

from troubleshoot.advice.instruction import ROLE_NAMES
from troubleshoot.advice.phrases import lower_first
from troubleshoot.case import entries
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.entries import UNKNOWN, Said
from troubleshoot.case.known import Seen
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.readings.quantity import answer_text

AFTERWARDS = {
    "cured": "gone",
    "better": "better, but not right",
    "unchanged": "unchanged",
    "worse": "worse",
    UNKNOWN: "not looked at",
}
"""What was seen of the complaint after a remedy."""
MAYBE = {"yes": "yes", "no": "no", UNKNOWN: "not known"}


def line_of(said: Said, rules: RuleBase, machine: Machine) -> str | None:
    """The line, or None for what only the program keeps (that a case was opened, marks)."""
    match said:
        case entries.Role():
            return f"Who asks: {ROLE_NAMES[said.role]}"
        case entries.Specimen():
            kind = f" ({lower_first(rules.specimens[said.what].name)})" if said.what else ""
            there = "yes" if said.irreplaceable else "no"
            return f"A specimen that cannot be replaced: {there}{kind}"
        case entries.State():
            return f"State of the coater: {lower_first(rules.states[said.state].name)}"
        case entries.Sign():
            there = "" if said.present else ", not seen"
            return f"Danger sign: {lower_first(rules.signs[said.sign].name)}{there}"
        case entries.Complaint():
            return f"Complaint: {lower_first(rules.complaints[said.complaint].name)}"
        case entries.Circumstance():
            name = rules.circumstances[said.circumstance].name
            return f"{name[:1].upper()}{name[1:]}: {MAYBE[said.answer]}"
        case entries.Since():
            return f"Since when: {lower_first(said.text)}"
        case entries.Finding():
            return f"{rules.findings[said.finding].name}: {_seen(said, rules, machine)}"
        case entries.Reading():
            return f"Read off {said.source}: {said.sentence}"
        case entries.Action(complaint_now=str(now)):
            return f"Done: {rules.actions[said.action].name}. The complaint: {AFTERWARDS[now]}"
        case entries.Cannot():
            return f"Cannot be done here: {rules.actions[said.action].name}"
        case entries.Later():
            return f"Not now: {rules.actions[said.action].name}"
        case entries.Epoch():
            return f"Looked at afresh: {said.why}"
        case entries.Parked():
            return f"Parked until {said.until.replace('T', ' ')}: {rules.actions[said.action].name}"
        case entries.Workaround():
            return f"Way round: {rules.workarounds[said.workaround].name}"
        case entries.MadeSafe():
            return f"Made safe: {rules.cautions[said.caution].name}"
        case entries.Repaired():
            by = ROLE_NAMES[said.role]
            return f"Repaired and proved: {rules.cautions[said.caution].name} (says {by})"
        case entries.Note():
            return f"Note: {said.text}"
    return None


def _seen(said: entries.Finding, rules: RuleBase, machine: Machine) -> str:
    if said.quantity is not None:
        return said.quantity
    if said.answer == UNKNOWN:
        return "don't know"
    finding = rules.findings[said.finding]
    words = [lower_first(answer_text(finding, a, machine)) for a in said.answers]
    return " or ".join(words) + (" (fairly sure)" if said.sure == "fairly" else "")


def answer_of(case: Deduction, seen: Seen) -> str:
    """The answer that was given, for this coater; of a wavering operator: `Silent or humming`."""
    finding = case.rules.findings[seen.finding]
    first, *others = (answer_text(finding, a, case.machine) for a in (seen.answer, *seen.others))
    return " or ".join((first, *(lower_first(text) for text in others)))
