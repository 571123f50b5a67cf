"""A case on the terminal, without questions."""

from troubleshoot.advice.page import CasePage, Cure, Found
from troubleshoot.advice.phrases import lower_first
from troubleshoot.advice.why import Grounds
from troubleshoot.show.html.words import book_words
from troubleshoot.show.terminal import TerminalTeller
from troubleshoot.talk.telling import minutes_of, tell, tell_caution


def show(page: CasePage) -> None:
    """Print where the case stands."""
    out, told, step = TerminalTeller(), set[str](), page.step
    for box in page.cautions:
        if box.id not in step.hazards:
            tell_caution(out, box, told)
    for text in page.case.contradictions:
        out.caution("These do not fit together", text, False)
    out.title(f"Next: {step.say}")
    if step.do is not None:
        if step.kind != "stop":
            out.small(minutes_of(step.do))
        tell(out, step.do, told)
    if step.why:
        out.small(f"Why now: {step.why}")
    if page.found is None or page.today is None:
        return
    found, today = page.found, page.today
    out.title(found.verdict.sentence)
    if page.case.known.book is not None:
        out.small(f"Reckoned with {book_words(page.case.known.book)}.")
    if not page.dangers:
        if not found.view.before:
            out.line(found.firm.sentence)
        if found.clash:
            out.line(found.clash)
    if found.change:
        out.line(f"What would change it: {found.change}")
    out.line(f"Today: {lower_first(today.head)}. {today.note}")
    for way in page.ways[:3]:
        out.line(f"  A way round: {lower_first(way.name)}.")
    _causes(out, found, danger=bool(page.dangers))
    if found.remedy and not found.remedy.above and not found.view.before:
        _remedy(out, found.remedy, found.verdict.name, told)
    if found.grounds and found.grounds.rows:
        _evidence(out, found.grounds)


def _causes(out: TerminalTeller, found: Found, *, danger: bool) -> None:
    head = "Apart from the danger: how likely" if danger else "How likely"
    head += " before the last remedy" if found.view.before else ""
    out.title(f"{head} (judgement, as far as the evidence has come)")
    out.bars([(bar.name, bar.part) for bar in found.bars])
    out.small("Two causes may be present together, so these can sum to more than 100 %.")


def _remedy(out: TerminalTeller, remedy: Cure, name: str, told: set[str]) -> None:
    """What puts the verdict right."""
    do = remedy.do
    out.title(f"Remedy for “{lower_first(name)}”: {do.say}")
    out.small(f"By {do.who}; {minutes_of(do)}")
    tell(out, do, told)
    if do.proof:
        out.line(f"Proof: {do.proof}")
    if do.tell_owner:
        out.line(f"For the specimen's owner: {do.tell_owner}")


def _evidence(out: TerminalTeller, grounds: Grounds) -> None:
    out.title(f"What each answer says about “{lower_first(grounds.cause)}”")
    for row in grounds.rows:
        derived = {"derived": " (follows from the others)", "reading": " (read off a log)"}.get(
            row.seen.origin, ""
        )
        out.line(f"  {row.name}: {row.quantity or row.answer}{derived} — {row.words}")
