"""A case as plain text to send to service: what they ask for first, and nothing but text."""

import textwrap
from collections.abc import Iterable

from troubleshoot.advice.page import CasePage
from troubleshoot.advice.phrases import chance, lower_first
from troubleshoot.printable import one_line
from troubleshoot.show.html import content, paper

WIDTH = 72
"""Letters in a line, as mail is usually broken."""


def as_mail(page: CasePage) -> str:
    """The mail: the complaint in own words, danger, the coater, readings, what was done."""
    case, known = page.case, page.case.known
    complaint = case.rules.complaints.get(known.complaint or "")
    name = complaint.name if complaint else "Complaint not given yet"
    readings = paper.readings(case)
    when = paper.when_it_shows(case)
    told = [
        f"In our words: {known.words}" if known.words else "",
        f"Complaint: {name}",
        f"Since: {known.since}" if known.since else "",
        f"It shows: {lower_first(when)}" if when else "",
        *(f"Danger sign: {case.rules.signs[s].name}" for s in known.signs),
    ]
    dangers = [f"{b.name}. {b.hazard} The coater is out of use." for b in page.dangers]
    coater = [f"{x.label}: {x.value}" for x in content.coater(case)[1:] if not x.default]
    read = [
        f"{x.label}: {x.now or 'not read'}" + (f" (usual {x.usual})" if x.usual else "")
        for x in readings
        if x.now or (x.usual and not x.why)
    ]
    read += [f"{why}: {labels}" for why, labels in paper.unread(readings)]
    done = [f"{d.at}: {d.what}" + (f" ({d.afterwards})" if d.afterwards else "")
            for d in content.deeds(case, page.journal)]  # fmt: skip
    done += [one.sentence for one in (page.found.mended if page.found else ())]
    done += [f"Could not be done: {what} ({why})" for what, why in content.refused(case)]
    suspects = [f"{b.name} ({chance(b.part)})" for b in paper.suspects(page)]
    parts = (
        ("", told), ("DANGER", dangers), ("The coater", coater), ("What it shows", read),
        ("What we did", done), ("What we suspect", suspects),
        ("Please tell us", ["when you can come or ring", "what to have ready, and what to leave"]),
        ("Fill in", ["Make, model, serial number:", "Last oil change, which oil:", "Hours run:",
                     "Coated here, fixed, toxic or infectious material:",
                     "We can be reached (name, telephone, hours):"]),
    )  # fmt: skip
    subject = f"Subject: {one_line(f'{name}, {case.machine.name}')}"
    return (
        "\n".join([subject, *(line for head, body in parts for line in _part(head, body))]) + "\n"
    )


def _part(head: str, body: Iterable[str]) -> list[str]:
    """A head over its lines, each broken between words; nothing over nothing."""
    lines = [
        line
        for text in body
        if text
        for line in textwrap.wrap(
            one_line(text), WIDTH, initial_indent="  " if head else "",
            subsequent_indent="    " if head else "  ", break_long_words=False,
            break_on_hyphens=False,
        )
    ]  # fmt: skip
    return ["", *([f"{head}:"] if head else []), *lines] if lines else []
