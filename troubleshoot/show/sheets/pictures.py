"""Which picture is yours: made micrographs side by side, and what each of them points to."""

from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.show.handbook.content import Shelf
from troubleshoot.show.sheets.paper import PAPERS, Image, Sheet, wrap

TITLE, NAME, BODY, FOOT = 24.0, 11.0, 8.5, 8.5
EDGE, GAP, ACROSS = 10.0, 5.0, 4
MOST_CAUSES = 2
SHAPE = 1.5
"""Width over height of a made picture."""


def picture_sheet(rules: RuleBase, paper: str) -> Sheet:
    """Every made picture that an answer shows, with the answer.

    Raises `UserError` where the rules hold none.
    """
    shelf = Shelf(rules)
    shown = {
        file: (finding.answers[answer], shelf.points(finding.id, answer)[:MOST_CAUSES])
        for finding in rules.findings.values()
        for answer, file in finding.drawings.items()
        if file.endswith(".png")
    }
    if not shown:
        raise UserError(
            "The rules hold no picture (PNG) of any answer, so there is nothing to show: name some "
            "under `drawings` of a finding."
        )
    page = Sheet("Which picture is yours?", *PAPERS[paper])
    wide = (page.width - 2 * EDGE - (ACROSS - 1) * GAP) / ACROSS
    y = page.lines(EDGE, EDGE, ["Which picture is yours?"], TITLE, bold=True) + 2
    below = y
    for n, (file, (answer, causes)) in enumerate(sorted(shown.items())):
        column = n % ACROSS
        if column == 0:
            y = below
        x = EDGE + column * (wide + GAP)
        page.items.append(Image(x, y, wide, wide / SHAPE, file))
        page.box(x, y, wide, wide / SHAPE)
        end = page.lines(
            x, y + wide / SHAPE + 1, wrap(answer, NAME, wide, bold=True), NAME, bold=True
        )
        words = "; ".join(cause.name for cause in causes)
        end = page.lines(x, end, wrap(words, BODY, wide), BODY)
        below = max(below, end + 4)
    foot = (
        f"Made pictures, from the rules {rules.hash}: one scene, one thing wrong in each. A still "
        "picture has lost time: watch one field for twenty seconds before you decide."
    )
    page.lines(EDGE, page.height - EDGE - 6, wrap(foot, FOOT, page.width - 2 * EDGE), FOOT)
    return page
