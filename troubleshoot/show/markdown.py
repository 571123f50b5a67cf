"""A case as Markdown, for an electronic notebook (CommonMark with tables)."""

import re
from collections.abc import Iterable

from troubleshoot.advice.page import CasePage
from troubleshoot.advice.phrases import chance, lower_first
from troubleshoot.printable import one_line
from troubleshoot.show.html import content, front
from troubleshoot.show.html.words import minutes, moment
from troubleshoot.talk.telling import minutes_of

# What would begin markup, a link or a tag; a full stop after a number would begin a list.
_MARKUP = re.compile(r"([\\`*_\[\]<>|#~])")


def plain(text: str) -> str:
    """`text` on one line, with nothing in it that Markdown would obey."""
    return _MARKUP.sub(r"\\\1", one_line(text))


def as_markdown(page: CasePage, *, made_at: str) -> str:
    """The case: what it looks like, what to do next, evidence, what was done, how it ended."""
    case = page.case
    complaint = case.rules.complaints.get(case.known.complaint or "")
    over = case.known.closed is not None and not page.dangers
    lines = [f"# {plain(complaint.name if complaint else 'No complaint given yet')}", ""]
    lines += [f"*{plain(case.machine.name)}; made {plain(made_at)}*", ""]
    if case.known.words:
        lines += [f"> {plain(case.known.words)}", ""]
    for box in page.cautions:
        if box.stop or box.danger:
            head = "STOP NOW" if box.stop else "OUT OF USE"
            lines += [f"**{head}: {plain(box.name)}.** {plain(box.hazard)} {plain(box.text)}", ""]
    lines += _ended(page) if over else _stands(page)
    lines += _evidence(page) + _done(page)
    lines += [f"{label}: {plain(text) or '____'}  " for label, text in front.sign_off(case)]
    return "\n".join(lines).rstrip() + "\n"


def _section(head: str, body: Iterable[str]) -> list[str]:
    """A heading over what it heads, and nothing at all over nothing."""
    lines = list(body)
    return [f"## {head}", "", *lines, ""] if lines else []


def _ended(page: CasePage) -> list[str]:
    found, done = front.found_then(page), front.done_then(page.case)
    rows = [("Found", "; ".join(found)), ("Done", "; ".join(done)), *front.outcome(page.case)]
    body = [f"**{plain(front.ended(page))}**", ""]
    return _section("How it ended", body + [f"- {k}: {plain(v)}" for k, v in rows if v])


def _stands(page: CasePage) -> list[str]:
    """Verdict, next step with its cautions before its steps, today, proof."""
    found, step = page.found, page.step
    out: list[str] = []
    if found:
        firm = found.firm.sentence if not (page.dangers or found.view.before) else ""
        said = [f"**{plain(found.verdict.sentence)}** {plain(firm)}".rstrip()]
        bars = [f"- {plain(b.name)}: {chance(b.part)}" for b in found.bars]
        gone = [plain(one.sentence) for one in found.mended]
        out += _section("What it looks like", [*said, *gone, "", *bars])
    do, body = step.do, [f"**{plain(step.say)}**", ""]
    careful = [b for b in page.cautions if not (b.stop or b.danger or b.settled)]
    body += [f"- {plain(b.name)}: {plain(b.text)}" for b in careful]
    if do:
        extras = (do.again, do.leave, do.prepare, do.fetch, do.specimen)
        body += [f"- {plain(extra)}" for extra in extras if extra]
        body += ["", *(f"{n}. {plain(text)}" for n, text in enumerate(do.steps, 1)), ""]
        if step.kind != "stop":
            body += [f"It takes {minutes_of(do)}.", ""]
    body += [f"- {plain(one.sentence)}" for one in (found.outcomes if found else ())]
    out += _section("Do this next", body)
    if page.today:
        ways = [f"- A way round: {plain(w.name)} ({minutes(w.minutes)})" for w in page.ways]
        today = f"{page.today.head}. {page.today.note}"
        out += _section("Can I still coat today?", [plain(today), *ways])
    proof = front.proof(page)
    return out + _section("How it is proved", [plain(proof)] if proof else [])


def _evidence(page: CasePage) -> list[str]:
    grounds = page.found.grounds if page.found else None
    rows = grounds.telling if grounds else ()
    if grounds is None or not rows:
        return []
    head = [f"For or against {plain(lower_first(grounds.cause))}:", "", "| Seen | Says |"]
    body = [f"| {plain(f'{r.name}: {r.quantity or r.answer}')} | {r.words} |" for r in rows]
    return _section("What was seen", [*head, "|---|---|", *body])


def _done(page: CasePage) -> list[str]:
    deeds = content.deeds(page.case, page.journal)
    body = [
        f"- {moment(d.at)}: {plain(d.what)}" + (f" ({plain(d.afterwards)})" if d.afterwards else "")
        for d in deeds
    ]
    body += [f"- Note: {plain(note)}" for note in page.case.known.notes]
    return _section("What was done", body)
