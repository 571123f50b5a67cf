"""One case as a person reads it: as a page, or entry by entry."""

from troubleshoot.advice.page import CasePage
from troubleshoot.advice.phrases import lower_first
from troubleshoot.advice.said import answer_of
from troubleshoot.case import entries
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.journal import Journal, standing
from troubleshoot.casebook.attachments import size_in_words
from troubleshoot.casebook.record import PARKED, CaseRow
from troubleshoot.printable import one_line
from troubleshoot.show.cases import name_of, names_of, stands
from troubleshoot.show.html import content, front
from troubleshoot.show.html.corrected import corrected
from troubleshoot.show.html.words import clock_words, moment
from troubleshoot.show.teller import TerminalTeller


def show_case(page: CasePage, row: CaseRow, out: TerminalTeller) -> None:
    """Print one case as a page: what was reported, found, done and proved, and what is left."""
    case = page.case
    names = names_of(case.rules)
    out.title(f"Case {row.id}: {row.called or lower_first(name_of(row.complaint, names))}")
    out.line(
        f"{row.coater or 'no coater told'}, opened {moment(row.opened_at)}, {stands(row, names)}."
    )
    if said := clock_words(page.journal):
        out.line(said)
    for head, lines in (
        ("What was reported", _reported(case)),
        ("What was found", _found(case, page.journal)),
        ("What was done", _done(case, page.journal)),
        ("How it ended, and how that is known", _ended(case, row)),
        ("What is left", _left(page, row)),
        ("Kept with it", _beside(page.journal)),
        ("Corrected", [f"{at}  {what}" for at, what in corrected(case.rules, page.journal)]),
    ):
        if lines:
            out.title(head)
            for text in lines:
                out.line(f"  {text}")


def _reported(case: Deduction) -> list[str]:
    known, rules = case.known, case.rules
    out = [f"Danger sign: {rules.signs[s].name}" for s in known.signs]
    if known.complaint:
        out.append(rules.complaints[known.complaint].name + ".")
    if known.words:
        out.append(f"In own words: “{known.words}”")
    if known.since:
        out.append(f"Since: {known.since}")
    holds = [
        rules.circumstances[n].name for n, said in known.circumstances.items() if said == "yes"
    ]
    if holds:
        out.append(f"Beforehand: {'; '.join(holds)}.")
    if known.specimen:
        out.append(f"Kind of specimen: {rules.specimens[known.specimen].name}.")
    if known.irreplaceable:
        out.append("The specimen could not be replaced.")
    return out


def _found(case: Deduction, journal: Journal) -> list[str]:
    rules, out = case.rules, []
    for seen in case.seen:
        if seen.origin == "derived":
            continue
        doubt = " (fairly sure)" if seen.sure == "fairly" else ""
        later = " (after a remedy)" if seen.epoch else ""
        name, answer = rules.findings[seen.finding].name, seen.quantity or answer_of(case, seen)
        out.append(f"{name}: {answer}{doubt}{later}")
    out += [f"{curve.source}: {curve.sentence}" for curve in content.curves(journal)]
    unknown = [rules.findings[name].name for _, name in case.known.unknown]
    if unknown:
        out.append(f"Not known: {'; '.join(dict.fromkeys(unknown))}.")
    return out


def _done(case: Deduction, journal: Journal) -> list[str]:
    deeds = [
        f"{deed.at}  {deed.what}" + (f": {deed.afterwards}" if deed.afterwards else "")
        for deed in content.deeds(case, journal)
    ]
    return [*deeds, *(f"Could not be done: {what} ({why})" for what, why in content.refused(case))]


def _ended(case: Deduction, row: CaseRow) -> list[str]:
    closed = case.known.closed
    if closed is None:
        return []
    out = [f"{label}: {text}" for label, text in front.outcome(case)]
    if closed.causes and not closed.is_proved:
        out.append("It is not proved.")
    if closed.minutes is None and row.minutes is not None:
        out.append(f"Minutes between its entries: {row.minutes:.0f}")
    return out


def _left(page: CasePage, row: CaseRow) -> list[str]:
    case = page.case
    left = [f"Danger, not recorded as repaired: {box.name}" for box in page.dangers]
    closed = case.known.closed
    if closed is not None:
        rest = {
            "workaround": "The cause is still there: it was only got round.",
            "service": "Service has it.",
            "comes_and_goes": "To be looked at again when it shows.",
            "unsolved": "Nobody knows what it was.",
        }
        return [*left, *([rest[closed.outcome]] if closed.outcome in rest else [])]
    if row.status == PARKED:
        left.append(f"It waits until {moment(row.parked_until or '')}.")
    if page.found is not None:
        left.append(page.found.verdict.sentence)
    left.append(f"Next: {page.step.say}")
    left.append(f"Go on with: troubleshoot diagnose --resume --case {row.id}")
    return left


def _beside(journal: Journal) -> list[str]:
    out = []
    for entry in standing(journal):
        match entry.said:
            case entries.Note(text=text):
                out.append(f"{moment(entry.at)}  {text}")
            case entries.Attached(name=name, size=size, note=note):
                shows = f": {note}" if note else ""
                out.append(f"{moment(entry.at)}  {name} ({size_in_words(size)}){shows}")
    return out


def show_journal(journal: Journal) -> None:
    """Print every entry as it is kept, a line each, however long."""
    for entry in journal:
        said = ", ".join(f"{k} {v}" for k, v in entry.data.items() if k != "plot")
        print(f"{entry.number:>4}  {entry.at.replace('T', ' ')}  {entry.kind:<13} {one_line(said)}")
