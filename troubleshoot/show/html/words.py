"""How things are said: labels and the sentences for answers, facts, minutes and times."""

from troubleshoot.advice.instruction import ROLE_NAMES
from troubleshoot.case.journal import Journal, set_back
from troubleshoot.coater.fields import FIELDS
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.derivation import Fact
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.printable import visible
from troubleshoot.readings.quantity import answer_text
from troubleshoot.reasoning.learned import Tally

OUTCOME_WORDS = {
    "cured": "put right",
    "workaround": "got round, cause still there",
    "service": "handed to service",
    "normal": "nothing was wrong",
    "comes_and_goes": "comes and goes: looked at again when it shows",
    "unsolved": "closed without an answer",
}


MIDNIGHT = "T00:00:00"
"""What stands for the time of day where only the day was told."""


def fit(value: object) -> object:
    """What a template puts in: of a text, whatever a screen or terminal would obey written out."""
    return type(value)(visible(value)) if isinstance(value, str) else value


def minutes(value: float) -> str:
    """Minutes as a person says them: `3 min`, `1.5 h`, `2 days`.

    >>> minutes(3), minutes(90), minutes(2880)
    ('3 min', '1.5 h', '2 days')
    """
    if value < 90:
        return f"{value:.2g} min"
    if value < 48 * 60:
        return f"{round(value / 30) / 2:g} h"
    return f"{round(value / 1440)} days"


def moment(at: str) -> str:
    """The time of an entry to the minute: `2026-01-05 09:00`; of a day that has none, the day."""
    return at[:10] if at[10:] == MIDNIGHT else at[:16].replace("T", " ")


def clock_words(journal: Journal) -> str:
    """That the times of a case are not true, where the clock was set back in it; else empty."""
    if (entry := set_back(journal)) is None:
        return ""
    return (
        f"The clock went back by hours before {moment(entry.at)}: the times of this case are not "
        "to be relied on."
    )


def book_words(book: Tally | None) -> str:
    """Whose rates a diagnosis goes by."""
    if book is None or not book.cases:
        return "the rates of the rule base alone"
    many = "one closed case" if book.cases == 1 else f"{book.cases} closed cases"
    return f"the rates of the rule base and {many} of this lab (book {book.hash})"


def plain(word: str) -> str:
    """An answer's id as words."""
    return word.replace("_", " ")


def fact_text(rules: RuleBase, machine: Machine, fact: Fact) -> str:
    """A fact as a person says it."""
    name, value = fact.name, fact.value
    match fact.kind:
        case "finding":
            finding = rules.findings[name]
            return f"{finding.name}: {answer_text(finding, value, machine)}"
        case "circumstance":
            return rules.circumstances[name].name
        case "sign":
            return rules.signs[name].name
        case "complaint":
            return rules.complaints[name].name
        case "state":
            return f"state: {rules.states[name].name}"
        case "machine":
            return f"{FIELDS[name].label}: {plain(value)}"
        case "role":
            return f"{ROLE_NAMES[name]} is at the coater"
        case "specimen":
            return f"the specimen can{'not' if value == 'yes' else ''} be replaced"
        case "caution":
            return f"Caution: {rules.cautions[name].name}"
        case "out_of_reach":
            return f"Left out: {rules.actions[name].name}"
        case "ask":
            return f"To be asked: {rules.findings[name].name}"
        case _:
            return "Two answers do not go together"
