"""What is recorded so far, line by line, and any of it corrected."""

from dataclasses import replace

from troubleshoot.advice.said import line_of
from troubleshoot.advice.step import NextStep
from troubleshoot.case import entries
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.case.journal import Entry, latest_in_epoch, standing
from troubleshoot.talk import another, checks
from troubleshoot.talk.back import STAYS
from troubleshoot.talk.dialogue import About, Choice
from troubleshoot.talk.talk import Talk


def correct(talk: Talk, case: Diagnosis, step: NextStep) -> bool:
    """Show what is recorded and correct the line that is chosen; False where all of it is right."""
    told = {
        entry.number: (entry, line)
        for entry in standing(talk.journal)
        if (line := line_of(entry.said, talk.rules, talk.bench.machine)) is not None
    }
    chosen = talk.asker.choose(
        "This is recorded. Is a line of it wrong?",
        [
            Choice("/none", "All of it is right: go on", aside=True),
            *(Choice(str(number), line) for number, (_, line) in told.items()),
        ],
        About("recorded"),
    )
    if chosen == "/none":
        return False
    entry, line = told[int(chosen)]
    if isinstance(entry.said, STAYS):
        talk.teller.line("A danger sign stays: the person in charge records the repair.")
        return False
    if isinstance(entry.said, entries.Complaint):
        another.ask(talk, case, step)
        return True
    return _anew(talk, case, step, entry, line)


def _anew(talk: Talk, case: Diagnosis, step: NextStep, entry: Entry, line: str) -> bool:
    said = entry.said
    ways = [Choice("out", "Take it back"), Choice("/none", "Leave it", aside=True)]
    match said:
        case entries.Finding():
            if latest_in_epoch(talk.journal, said.finding) == entry:
                ways.insert(0, Choice("anew", "Answer it anew"))
        case entries.Circumstance():
            ways[:1] = [Choice(a, f"It is: {a}") for a in ("yes", "no") if a != said.answer]
            ways.insert(-1, Choice(entries.UNKNOWN, "Not known"))
    how = talk.asker.choose(f"{line}. What is right?", ways, About("recorded", entry.kind))
    if how == "/none":
        return False
    if how == "out":
        talk.add(entries.Retract(entry=entry.number))
    elif isinstance(said, entries.Circumstance):
        talk.add(entries.Circumstance(circumstance=said.circumstance, answer=how))
    elif isinstance(said, entries.Finding):
        seen = checks.answer_to(talk, case, step, talk.rules.findings[said.finding])
        if seen is not None:
            checks.keep(talk, replace(seen, check=said.check))
    return True
