"""The report, the service sheet and the paper forms, each one self-contained HTML file.

Nothing is fetched from anywhere: the style sheet is inlined and the Content-Security-Policy
allows that one style sheet, images that stand in the page itself, and nothing else. All text is
escaped by the template engine.
Pure functions: no clock is read and no file but the package's own templates.
"""

import base64
import hashlib
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from troubleshoot.advice import advice, instruction
from troubleshoot.case.journal import Journal
from troubleshoot.case.state import Assessment, Bench
from troubleshoot.coater.profile import notes
from troubleshoot.reasoning.engine import engine_name
from troubleshoot.show.html import content, paper, svg, words

STYLE = "sheet.css"


def render(case: Assessment, bench: Bench, journal: Journal, *, made_at: str) -> str:
    """The report of a case. `made_at` is printed as given."""
    step = advice.next_step(case)
    page: dict[str, object] = {
        "step": step,
        "do": step.do,
        "boxes": content.cautions(case, step),
        "deeds": content.deeds(case, journal),
        "curves": content.curves(journal),
        "fired": content.fired(case),
        "unseen": content.unseen(case, bench),
        "coater": content.coater(case),
        "coater_notes": notes(case.machine),
        "told": content.circumstances(case),
        "origin": content.origin(case, journal),
        "engine": engine_name(),
        "sources": content.sources(case, step, []),
        "sign_off": content.sign_off(case),
        "outcome": content.outcome(case),
        "said": None,
        "clash": None,
    }
    if case.belief is not None:
        said, today = advice.verdict(case), advice.today_of(case)
        site = instruction.site_of(case)
        seen = content.view(case, bench)
        is_cause = said.hypothesis in case.rules.causes
        page |= {
            "said": said,
            "today": today,
            "ways": [instruction.for_way(site, case.rules.workarounds[w]) for w in today.ways],
            # For "nothing is wrong" the single answer that swaps two unlikely causes is no news.
            "change": advice.would_change(case, bench) if is_cause else None,
            "cause": case.rules.causes.get(said.hypothesis),
            "cure": content.cure(case, said, step),
            "firm": advice.how_firm(case, bench).sentence,
            "clash": advice.clash(case, bench),
            "before": seen.before,
            "bars": content.leading(case, seen),
            "bystanders": content.bystanders(case, seen),
            "evidence": content.grounds(case, bench, journal, seen),
            "sources": content.sources(case, step, [c for c, _ in content.ranked(case, seen)]),
        }
    return _page("report.html.j2", case, made_at=made_at, **page)


def service_sheet(case: Assessment, bench: Bench, journal: Journal, *, made_at: str) -> str:
    """One A4 page of what a service engineer asks for, with blanks for what is not known."""
    return _page(
        "service_sheet.html.j2",
        case,
        made_at=made_at,
        dangers=content.dangers(case),
        coater=content.coater(case),
        readings=paper.readings(case),
        deeds=content.deeds(case, journal),
        cannot=content.refused(case),
        suspects=paper.suspects(case, bench),
        shows=paper.when_it_shows(case),
    )


def forms(case: Assessment, bench: Bench) -> str:
    """A blank one-page form for each of the best checks still to do, for the bench."""
    return _page("forms.html.j2", case, forms=paper.forms(case, bench), stop=content.stop_box(case))


def _page(template: str, case: Assessment, **values: object) -> str:
    text = (
        _templates()
        .get_template(template)
        .render(
            case=case,
            known=case.known,
            rules=case.rules,
            complaint=case.rules.complaints.get(case.known.complaint or ""),
            style=Markup(_style()),  # our own file, not escaped: its hash must match
            policy=Markup(_policy()),
            **values,
        )
    )
    return text if text.endswith("\n") else text + "\n"


@cache
def _templates() -> Environment:
    env = Environment(
        loader=PackageLoader("troubleshoot.show.html"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.globals |= {"share_bar": svg.share, "balance_bar": svg.balance, "picture": svg.picture}
    env.globals |= {"roles": instruction.ROLE_NAMES}
    env.filters |= {"minutes": words.minutes, "chance": advice.chance}
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
