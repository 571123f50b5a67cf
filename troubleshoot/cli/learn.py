"""`troubleshoot learn`: the way in for a newcomer, page by page."""

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from troubleshoot.knowledge.model import Figure, RuleBase
    from troubleshoot.show.teller import TerminalTeller
    from troubleshoot.training.course import Page


@click.command()
@click.argument("page", required=False, metavar="[PAGE]")
def learn(page: str | None) -> None:
    """Learn to run a coater and to find what is wrong: one PAGE after the other.

    Without PAGE it begins: an order for a first afternoon. Each page names the next. PAGE is its
    name, or its number.
    """
    from troubleshoot.cli.setup import load_rules
    from troubleshoot.errors import UserError, nearest
    from troubleshoot.show.teller import TerminalTeller
    from troubleshoot.training.course import INDEX, course

    rules = load_rules(())
    pages = {one.id: one for one in course(rules)}
    name = page or INDEX
    if name.isdigit() and 0 < int(name) <= len(pages):
        name = list(pages)[int(name) - 1]
    if name not in pages:
        raise UserError(
            f"There is no page {name!r}{nearest(name, pages)}; `troubleshoot learn` begins at the "
            "beginning."
        )
    place = f"Page {list(pages).index(name) + 1} of {len(pages)}"
    _tell(pages[name], place, rules, TerminalTeller())


def _tell(page: "Page", place: str, rules: "RuleBase", teller: "TerminalTeller") -> None:
    from troubleshoot.talk.telling import tell_cautions
    from troubleshoot.training.course import (
        PRACTICE,
        Cautions,
        Drawn,
        Entry,
        Go,
        Heading,
        Line,
    )

    teller.title(page.title)
    teller.small(place)
    told: set[str] = set()
    for block in page.blocks:
        match block:
            case Heading():
                teller.console.print()
                teller.line(block.text)
            case Line():
                teller.line(f"{block.label}: {block.text}" if block.label else block.text)
            case Entry():
                words = f": {block.words}" if block.words else ""
                teller.line(f"  {block.name}{words}  (troubleshoot explain {block.id})")
            case Go():
                command = f"troubleshoot learn {block.page}" if block.page else block.text
                text = f"{block.text}, {block.words}" if block.page else block.words
                teller.line(f"  {text[0].upper()}{text[1:]}")
                teller.line(f"    {command}")
            case Cautions():
                tell_cautions(teller, block.boxes, told)
            case Drawn():
                for row in _drawn(block.figure, rules):
                    teller.small(row)
    after = f"troubleshoot learn {page.next[0]}" if page.next else PRACTICE
    teller.console.print()
    teller.line(f"Next: {page.next[1] if page.next else 'practise'}  ({after})")


def _drawn(name: "Figure", rules: "RuleBase") -> list[str]:
    """A figure in rows of text; of pictures what they show."""
    from troubleshoot.training.figures import Curves, Table, figure
    from troubleshoot.training.letters import as_text

    found = figure(name, rules)
    if isinstance(found, Curves):
        return [found.title, *as_text(found)]
    if isinstance(found, Table):
        widths = [max(map(len, column)) for column in zip(found.head, *found.rows, strict=True)]
        lines = (found.head, *found.rows)
        return [
            "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True))
            for line in lines
        ]
    words = "; ".join(words for _, words in found.pictures)
    return [f"{found.title}: {words}. The handbook shows the pictures (troubleshoot handbook)."]
