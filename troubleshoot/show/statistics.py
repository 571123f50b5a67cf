"""What the casebook says of the lab, in a prep room's words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from troubleshoot.advice.phrases import lower_first
from troubleshoot.casebook.statistics import Statistics
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.show.cases import name_of, names_of
from troubleshoot.show.terminal import TerminalTeller

MOST = 10
WIDE = 24
IN_VAIN = 2
"""So often a remedy must have been tried without a cure before it is named."""


@dataclass(frozen=True)
class Rightness:
    """How the tool did on closed, proved cases: seen again with the book that each had pinned.

    `given`: the mean probability of what it was, before the last remedy; `first`: how often that
    came first.
    """

    cases: int
    first: int
    given: float


def show(
    found: Statistics,
    rules: RuleBase,
    due: Mapping[str, Sequence[str]],
    right: Rightness,
    out: TerminalTeller,
) -> None:
    """Print it. `due`: by coater, what care is due."""
    names = names_of(rules)
    cases = sum(n for _, n in found.complaints)
    out.title(f"{cases} cases" if cases != 1 else "One case")
    for coater in found.coaters:
        between = coater.days_between
        every = f", one in {between:.0f} days" if between is not None else ""
        out.line(f"  {coater.name}: {coater.cases} cases{every}, {coater.minutes:.0f} min spent")
    if found.downtime:
        out.line(f"  Coaters stood still for {found.downtime:.0f} h, as far as it was told.")
    for head, rows in (
        ("What is complained of", [(name_of(q, names), n) for q, n in found.complaints]),
        ("What it was", [(name_of(c, names), n) for c, n in found.causes]),
        ("What it cost in minutes", [(name_of(c, names), n) for c, n in found.minutes]),
    ):
        _bars(out, head, rows[:MOST])
    _bars(out, "By month", list(found.months[-12:]))
    vain = [r for r in found.remedies if r.tried - r.cured >= IN_VAIN]
    if vain:
        out.title("Remedies that were tried in vain")
        for remedy in sorted(vain, key=lambda r: r.cured - r.tried)[:MOST]:
            action = rules.actions.get(remedy.action)
            name = action.name if action else remedy.action
            out.line(f"  {name}: {remedy.tried - remedy.cured} of {remedy.tried} times")
    _spares(out, found, rules)
    if right.cases:
        out.title("Was the tool right?")
        out.line(
            f"  In {right.first} of {right.cases} closed and proved cases what it was came first; "
            f"it was given {100 * right.given:.0f} % in the mean, before the last remedy."
        )
    if any(due.values()):
        out.title("Care that is due (date and initials)")
        for name, items in due.items():
            for item in items:
                out.line(f"  {name}: {item}  ____________")


def _bars(out: TerminalTeller, head: str, rows: Sequence[tuple[str, float]]) -> None:
    if not rows:
        return
    out.title(head)
    most = max(n for _, n in rows) or 1
    for name, n in rows:
        out.line(f"  {'█' * max(1, round(WIDE * n / most)):<{WIDE}} {n:>5.0f}  {lower_first(name)}")


def _spares(out: TerminalTeller, found: Statistics, rules: RuleBase) -> None:
    """Parts that were used, and causes of this lab whose remedies want a part."""
    wanted = [
        (rules.causes[c].name, n)
        for c, n in found.causes
        if c in rules.causes
        and any(rules.actions[a].parts in ("spare", "consumable") for a in rules.causes[c].remedies)
    ]
    if not found.parts and not wanted:
        return
    out.title("What to keep as spares")
    for part, n in found.parts[:MOST]:
        out.line(f"  {part}: used {n} times" if n > 1 else f"  {part}: used once")
    for name, n in wanted[:MOST]:
        out.line(f"  What mends “{lower_first(name)}”: it came {n} times")
