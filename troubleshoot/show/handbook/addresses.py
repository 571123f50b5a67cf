"""Where each entry stands in the handbook, from its root and from one page to another."""

from troubleshoot.knowledge.model import RuleBase

FIXED = {
    "cautions": "cautions.html",
    "workarounds": "ways.html",
    "mechanisms": "mechanisms.html",
    "care": "care.html",
    "words": "words.html",
    "specimens": "specimens.html",
}
"""Kinds that share one page, with a place on it for each entry."""


def address(rules: RuleBase, kind: str, name: str) -> str:
    """The address of an entry from the root of the handbook.

    Raises KeyError for a kind that has no page.
    """
    if kind == "actions":
        kind = "checks" if rules.actions[name].kind == "check" else "remedies"
    if kind in FIXED:
        return f"{FIXED[kind]}#{name}"
    if kind not in ("complaints", "causes", "checks", "remedies"):
        raise KeyError(kind)
    return f"{kind}/{name}.html"


def learn_address(page: str) -> str:
    """The address of a page of the course."""
    return f"learn/{page}.html"


def relative(here: str, there: str) -> str:
    """The way from the page `here` to the address `there`, both from the root.

    >>> relative("causes/seal_dirty.html", "checks/listen.html")
    '../checks/listen.html'
    """
    return "../" * here.count("/") + there
