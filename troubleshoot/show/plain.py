"""A case on the terminal, without questions: one screen, what to do next last; or all of it."""

from troubleshoot.advice.page import CasePage, Cure, Found
from troubleshoot.advice.phrases import lower_first
from troubleshoot.advice.why import Grounds
from troubleshoot.show.html.words import book_words
from troubleshoot.show.teller import TerminalTeller
from troubleshoot.talk.telling import minutes_of, tell, tell_cautions

LINES = 40
"""So many lines at most, where what has to be said at all allows it."""
WAYS = 3


def show(page: CasePage, *, full: bool = False) -> None:
    """Print where the case stands: on one screen, or, with `full`, everything there is to say."""
    out = TerminalTeller()
    if full:
        with out.paged():
            _whole(out, page)
        return
    long = len(_screen(out, page, steps=True).splitlines()) > LINES
    # A stop is nothing but its steps: they stand there however long they are.
    steps = page.step.kind == "stop" or not long
    out.raw(_screen(out, page, steps=steps))


def _screen(out: TerminalTeller, page: CasePage, *, steps: bool) -> str:
    """The verdict, today, the cautions, and last what to do next."""
    with out.captured() as text:
        told = set[str]()
        _verdict(out, page)
        _beside(out, page, told)
        out.small("All of it (causes, evidence, whole cautions): add --full.")
        _next(out, page, told, steps=steps, full=False)
    return text()


def _whole(out: TerminalTeller, page: CasePage) -> None:
    """The screen with the whole cautions, the causes, the remedy and the evidence between."""
    found, told = page.found, set[str]()
    _verdict(out, page)
    if found:
        if found.change:
            out.line(f"What would change it: {found.change}")
        if not found.view.before and not page.dangers:
            out.small(found.firm.detail)
        if page.case.known.book is not None:
            out.small(f"Reckoned with {book_words(page.case.known.book)}.")
        _causes(out, found, danger=bool(page.dangers))
        if found.grounds and found.grounds.rows:
            _evidence(out, found.grounds)
    _beside(out, page, told, whole=True)
    if found and found.remedy and not found.remedy.above and not found.view.before:
        _remedy(out, found.remedy, found.verdict.name, told)
    _next(out, page, told, steps=True, full=True)


def _verdict(out: TerminalTeller, page: CasePage) -> None:
    """What it looks like, how sure that is, and whether one can coat today."""
    if page.found is None or page.today is None:
        return
    found, today = page.found, page.today
    out.title(found.verdict.sentence)
    if not page.dangers and not found.view.before:
        out.line(found.firm.sentence)
    if found.clash and not page.dangers:
        out.line(found.clash)
    for one in found.mended:
        out.line(one.sentence)
    out.line(f"Today: {lower_first(today.head)}. {today.note}")
    for way in page.ways[:WAYS]:
        out.line(f"  A way round: {lower_first(way.name)}.")


def _beside(out: TerminalTeller, page: CasePage, told: set[str], *, whole: bool = False) -> None:
    """The cautions in force that are not the next step's own, and what does not fit together."""
    others = (box for box in page.cautions if box.id not in page.step.hazards)
    tell_cautions(out, others, told, whole=whole)
    for text in page.case.contradictions:
        out.caution("These do not fit together", text, False)


def _next(out: TerminalTeller, page: CasePage, told: set[str], *, steps: bool, full: bool) -> None:
    """What to do next, why, and how: its cautions, its steps, its minutes."""
    step = page.step
    stopped = step.do is not None and any(box.stop for box in step.do.cautions)
    out.title("Next: make it safe." if stopped else f"Next: {step.say}")
    if step.why and not stopped:  # the box below says why
        out.small(f"Why now: {step.why}")
    for one in page.found.outcomes if page.found else ():
        out.small(f"  {one.sentence}")
    if step.do is None:
        return
    tell(out, step.do, told, steps=steps, whole=full)
    if not steps:
        out.small(f"The {len(step.do.steps)} steps: --full shows them.")
    if step.kind != "stop":
        out.small(f"It takes {minutes_of(step.do)}.")


def _causes(out: TerminalTeller, found: Found, *, danger: bool) -> None:
    head = "Apart from the danger: how likely" if danger else "How likely"
    head += " before the last remedy" if found.view.before else ""
    out.title(f"{head} (judgement, as far as the evidence has come)")
    out.bars([(bar.name, bar.part) for bar in found.bars])
    out.small("Two causes may be present together.")


def _remedy(out: TerminalTeller, remedy: Cure, name: str, told: set[str]) -> None:
    """What puts the verdict right."""
    do = remedy.do
    out.title(f"Remedy for “{lower_first(name)}”: {do.say}")
    out.small(f"By {do.who}; {minutes_of(do)}")
    tell(out, do, told, whole=True)
    if do.proof:
        out.line(f"Proof: {do.proof}")
    if do.tell_owner:
        out.line(f"For the specimen's owner: {do.tell_owner}")


def _evidence(out: TerminalTeller, grounds: Grounds) -> None:
    out.title(f"What each answer says about “{lower_first(grounds.cause)}”")
    for row in grounds.rows:
        derived = {"derived": " (follows from the others)", "reading": f" ({row.whose})"}.get(
            row.seen.origin, f" ({row.yardstick})" if row.yardstick else ""
        )
        out.line(f"  {row.name}: {row.quantity or row.answer}{derived} — {row.words}")
