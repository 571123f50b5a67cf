"""The handbook as a folder of pages: path -> text.

Nothing is fetched from anywhere: style and script stand in each page, and its policy allows these
two alone. Pure: no clock is read, so that the same rules give the same bytes.
"""

import base64
import hashlib
from collections.abc import Iterable, Iterator, Mapping
from functools import cache, partial
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from troubleshoot.advice.phrases import NATURES, chance, how_often
from troubleshoot.advice.today import HEADS
from troubleshoot.knowledge.effects import EFFECTS
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.show.curves import as_svg
from troubleshoot.show.handbook.addresses import address, learn_address, relative
from troubleshoot.show.handbook.content import Shelf
from troubleshoot.show.handbook.search import Index
from troubleshoot.show.html.svg import drawing, picture
from troubleshoot.show.html.words import fit, minutes
from troubleshoot.training.course import PRACTICE, Drawn, Page, course
from troubleshoot.training.figures import Curves, Pictures, Table, figure

STYLE, SCRIPT = "handbook.css", "search.js"
CONTENTS = (
    ("index.html", "Complaints"),
    ("causes.html", "Causes"),
    ("checks.html", "Checks"),
    ("remedies.html", "Remedies"),
    ("cautions.html", "Dangers and cautions"),
    ("learn/start.html", "Learn"),
    ("words.html", "Words"),
    ("search.html", "Find"),
)


def site(rules: RuleBase, changed: Iterable[str] = ()) -> dict[str, str]:
    """Every page of the handbook of `rules`, by its path. `changed`: what a lab's own rules did."""
    return dict(_pages(rules, tuple(changed)))


def _pages(rules: RuleBase, changed: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    shelf = Shelf(rules)
    own = f", of which this lab’s own rules changed: {', '.join(changed)}" if changed else ""
    page = partial(_page, shelf, own)
    yield "index.html", page("index.html", "index.html.j2")
    for complaint in rules.complaints.values():
        yield _of("complaints", complaint.id, page, "complaint.html.j2", one=complaint)
    for cause in rules.causes.values():
        yield _of("causes", cause.id, page, "cause.html.j2", one=cause)
    for action in rules.actions.values():
        folder = "checks" if action.kind == "check" else "remedies"
        yield _of(folder, action.id, page, "action.html.j2", one=action)
    for path, values in _lists(rules):
        yield path, page(path, "list.html.j2", **values)
    dangers = sorted(rules.cautions.values(), key=lambda c: (not c.stop_now, not c.bans))
    yield "cautions.html", page("cautions.html", "cautions.html.j2", ordered=dangers)
    terms = sorted(rules.words.values(), key=lambda t: t.name.lower())
    yield "words.html", page("words.html", "words.html.j2", ordered=terms)
    for path in ("ways.html", "mechanisms.html", "care.html", "specimens.html"):
        yield path, page(path, f"{path}.j2")
    for lesson_page in course(rules):
        path = learn_address(lesson_page.id)
        yield (
            path,
            page(path, "learn.html.j2", one=lesson_page, figures=_figures(rules, lesson_page)),
        )
    index = Index(shelf)
    yield (
        "search.html",
        page(
            "search.html",
            "search.html.j2",
            index=Markup(index.as_json),
            letters=index.letters,
            script=Markup(_own(SCRIPT)),
        ),
    )


def _of(folder: str, name: str, page: Any, template: str, **values: Any) -> tuple[str, str]:
    path = f"{folder}/{name}.html"
    return path, page(path, template, **values)


def _figures(rules: RuleBase, page: Page) -> list[dict[str, Any]]:
    """What is drawn on a page: its title and its pictures with their words, or a table."""
    out: list[dict[str, Any]] = []
    for block in page.blocks:
        if not isinstance(block, Drawn):
            continue
        found = figure(block.figure, rules)
        shown: dict[str, Any] = {"title": found.title, "pictures": [], "table": None}
        match found:
            case Curves():
                words = "; ".join(c.name for c in found.curves)
                shown["pictures"] = [(picture(as_svg(found).encode()), words)]
            case Table():
                shown["table"] = found
            case Pictures():
                shown["pictures"] = [
                    (drawing(name, rules.drawings[name]), words)
                    for name, words in found.pictures
                    if name in rules.drawings
                ]
        out.append(shown)
    return out


def _lists(rules: RuleBase) -> Iterator[tuple[str, dict[str, Any]]]:
    """The lists of causes, checks and remedies, in groups."""
    parts: dict[str, list[Any]] = {}
    for cause in rules.causes.values():
        parts.setdefault(cause.subsystem, []).append(cause)
    yield (
        "causes.html",
        {
            "kind": "causes",
            "heading": "Causes",
            "about": "Everything that can be behind a complaint, by the part it lies in.",
            "groups": _grouped(parts),
        },
    )
    for kind, path, heading, about in (
        (
            "check",
            "checks.html",
            "Checks",
            "Everything one can look at, by the state of the coater.",
        ),
        (
            "remedy",
            "remedies.html",
            "Remedies",
            "Everything one can do, by the state of the coater.",
        ),
    ):
        states: dict[str, list[Any]] = {}
        for action in rules.actions.values():
            if action.kind == kind:
                states.setdefault(rules.states[action.state].name, []).append(action)
        yield (
            path,
            {
                "kind": "actions",
                "heading": heading,
                "about": about,
                "groups": _grouped(states),
            },
        )


def _grouped(groups: Mapping[str, list[Any]]) -> list[tuple[str, list[Any]]]:
    return [
        (name[:1].upper() + name[1:], sorted(items, key=lambda one: one.name.lower()))
        for name, items in sorted(groups.items())
    ]


def _page(shelf: Shelf, own: str, here: str, template: str, **values: Any) -> str:
    rules = shelf.rules
    text = (
        _templates()
        .get_template(template)
        .render(
            shelf=shelf,
            rules=rules,
            own=own,
            here=here,
            to=partial(relative, here),
            address=partial(address, rules),
            learn=learn_address,
            practice=PRACTICE,
            style=Markup(_own(STYLE)),  # our own file, not escaped: its hash must match
            policy=Markup(_policy(here)),
            **values,
        )
    )
    return text.rstrip() + "\n"


def percent(part: float) -> str:
    """A share in whole per cent: judgement knows no decimals.

    >>> percent(0.126), percent(0.004)
    ('13 %', 'below 1 %')
    """
    return f"{round(100 * part)} %" if part >= 0.005 else "below 1 %"


@cache
def _templates() -> Environment:
    env = Environment(
        loader=PackageLoader("troubleshoot.show.handbook"),
        autoescape=True,
        finalize=fit,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.globals |= {"contents": CONTENTS, "effects": EFFECTS, "natures": NATURES, "todays": HEADS}
    env.filters |= {"minutes": minutes, "chance": chance, "often": how_often, "percent": percent}
    return env


@cache
def _own(name: str) -> str:
    env = _templates()
    assert env.loader is not None
    return env.loader.get_source(env, name)[0]


def _policy(here: str) -> str:
    """A policy under which a browser makes no request at all and runs no script but the search."""
    script = f" script-src 'sha256-{_digest(_own(SCRIPT))}';" if here == "search.html" else ""
    return (
        f"default-src 'none'; style-src 'sha256-{_digest(_own(STYLE))}';{script} img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
