"""The report, the service sheet and the paper forms, each one self-contained HTML file.

Nothing is fetched from anywhere: the style sheet is inlined and the Content-Security-Policy
allows that one style sheet, images that stand in the page itself, and nothing else. All text is
escaped by the template engine.
Pure functions: no clock is read and no file but the package's own templates.
"""

import base64
import hashlib
from collections.abc import Sequence
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from troubleshoot.advice.instruction import ROLE_NAMES
from troubleshoot.advice.page import CasePage
from troubleshoot.advice.phrases import chance, lower_first
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.embedded import as_data
from troubleshoot.coater.consequences import notes
from troubleshoot.reasoning.engine import engine_name
from troubleshoot.show.html import content, front, paper, svg, words
from troubleshoot.show.html.corrected import corrected
from troubleshoot.show.statistics import Section

STYLE = "sheet.css"


def render(page: CasePage, *, made_at: str, print_all: bool = False) -> str:
    """The report of a case: one page, and the rest folded behind it.

    `made_at` is printed as given; with `print_all` everything is unfolded, and so printed too.
    """
    case, journal = page.case, page.journal
    found = page.found
    return _page(
        "report.html.j2",
        case,
        made_at=made_at,
        page=page,
        found=found,
        front=front,
        print_all=print_all,
        # Escaped for its element by `as_data`, which the template engine would break.
        embedded=Markup(as_data(journal, case.machine)),
        times={entry.number: words.moment(entry.at) for entry in journal},
        deeds=content.deeds(case, journal),
        called=content.called(case, journal),
        files=content.files(journal),
        corrected=corrected(case.rules, journal),
        curves=content.curves(journal),
        fired=content.fired(case),
        unseen=content.unseen(page),
        coater=content.coater(case),
        coater_notes=notes(case.machine),
        told=content.circumstances(case),
        untold=content.untold(case),
        origin=content.origin(case, journal),
        engine=engine_name(),
        sources=content.sources(page),
        sign_off=front.sign_off(case),
        bases=front.bases(case),
        outcome=front.outcome(case),
    )


def service_sheet(page: CasePage, *, made_at: str) -> str:
    """One A4 page of what a service engineer asks for, with blanks for what is not known."""
    case = page.case
    lines = paper.readings(case)
    return _page(
        "service_sheet.html.j2",
        case,
        made_at=made_at,
        dangers=page.dangers,
        coater=content.coater(case),
        readings=[line for line in lines if not line.why],
        unread=paper.unread(lines),
        deeds=content.deeds(case, page.journal),
        most_deeds=paper.MOST_DEEDS,
        cannot=content.refused(case),
        suspects=paper.suspects(page),
        shows=paper.when_it_shows(case),
    )


def forms(page: CasePage) -> str:
    """A blank one-page form for each of the best checks still to do, for the bench."""
    stop = next((box for box in page.dangers if box.stop), None)
    return _page("forms.html.j2", page.case, forms=paper.forms(page), stop=stop)


def picture_sheet(of: str, shown: Sequence[tuple[str, str, str]]) -> str:
    """A page of pictures: each with its words, its file name and what the rules keep of it."""
    return _rendered("pictures.html.j2", of=of, shown=shown)


def index(reports: Sequence[tuple[str, CasePage]]) -> str:
    """A page that lists reports: the file of each, and the case that it is of."""
    return _rendered("index.html.j2", reports=reports)


def statistics(told: Sequence[Section], coater: str, *, made_at: str) -> str:
    """What the casebook says of the lab (or of one coater), as a page to print or hang up."""
    return _rendered("statistics.html.j2", told=told, coater=coater, made_at=made_at)


def _page(template: str, case: Deduction, **values: object) -> str:
    return _rendered(
        template,
        case=case,
        known=case.known,
        rules=case.rules,
        complaint=case.rules.complaints.get(case.known.complaint or ""),
        **values,
    )


def _rendered(template: str, **values: object) -> str:
    # Our own style sheet is not escaped: its hash must match.
    style, policy = Markup(_style()), Markup(_policy())
    text = _templates().get_template(template).render(style=style, policy=policy, **values)
    return text if text.endswith("\n") else text + "\n"


@cache
def _templates() -> Environment:
    env = Environment(
        loader=PackageLoader("troubleshoot.show.html"),
        autoescape=True,
        finalize=words.fit,
        undefined=StrictUndefined,
        extensions=["jinja2.ext.do"],
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.globals |= {"share_bar": svg.share, "balance_bar": svg.balance, "drawing": svg.drawing}
    env.globals |= {"roles": ROLE_NAMES}
    env.filters |= {"minutes": words.minutes, "chance": chance, "lower_first": lower_first}
    return env


@cache
def _style() -> str:
    env = _templates()
    assert env.loader is not None
    return env.loader.get_source(env, STYLE)[0]


def _policy() -> str:
    """A policy under which a browser makes no request at all and runs no script."""
    digest = base64.b64encode(hashlib.sha256(_style().encode()).digest()).decode()
    return (
        f"default-src 'none'; style-src 'sha256-{digest}'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
