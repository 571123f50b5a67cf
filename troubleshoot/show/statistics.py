"""What the casebook says of the lab, in a prep room's words."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from troubleshoot.advice.phrases import counted, lower_first
from troubleshoot.casebook.statistics import Coater, Remedy, Statistics
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.show.cases import name_of, names_of
from troubleshoot.show.teller import TerminalTeller

MOST = 10
WIDE = 24
JUDGED = 5
"""Of fewer cases nothing is said of whether it was as sure as it was right."""
IN_VAIN = 2
"""So often a remedy must have been tried without a cure before it is named."""


@dataclass(frozen=True)
class Rightness:
    """How the tool did on closed, proved cases: seen again with the book that each had pinned.

    Of each case, before the last remedy: what probability it gave to what it was, what to the cause
    that came first, and whether that was it.
    """

    cases: tuple[tuple[float, float, bool], ...]

    def sentences(self) -> Iterator[str]:
        """How often it was right, and whether it was as sure as it was right."""
        n = len(self.cases)
        if not n:
            return
        right = sum(was_it for *_, was_it in self.cases)
        given = sum(p for p, *_ in self.cases) / n
        yield (
            f"In {right} of {n} closed and proved cases what it was came first; it was "
            f"given {100 * given:.0f} % in the mean, before the last remedy."
        )
        if n < JUDGED:
            return
        sure = [lead for _, lead, _ in self.cases]
        expected, spread = sum(sure), math.sqrt(sum(p * (1.0 - p) for p in sure))
        off = right - expected
        verdict = (
            "that fits"
            if abs(off) <= 2.0 * spread
            else "it is surer than it is right"
            if off < 0.0
            else "it is right more often than it says"
        )
        yield (
            f"By its own probabilities what came first should have been right in {expected:.1f} of "
            f"them (within {2.0 * spread:.1f}, by chance): {verdict}."
        )


@dataclass(frozen=True)
class Section:
    """A heading with bars (a name and a number each), or with lines."""

    head: str
    bars: tuple[tuple[str, float], ...] = ()
    lines: tuple[str, ...] = ()


def sections(
    found: Statistics, rules: RuleBase, due: Mapping[str, Sequence[str]], right: Rightness
) -> list[Section]:
    """What the lab sees, section by section. `due`: by coater, what care is due."""
    names = names_of(rules)
    cases = sum(n for _, n in found.complaints)
    lines = [_coater(c, names) for c in found.coaters]
    if found.downtime:
        lines.append(f"Coaters stood still for {found.downtime:.0f} h, as far as it was told.")
    out = [Section(counted(cases, "case"), lines=tuple(lines))]
    for head, rows in (
        ("What is complained of", _named(found.complaints, names)),
        ("What it was", _named(found.causes, names)),
        ("What it cost in minutes", _named([m for m in found.minutes if m[1]], names)),
        ("By month", list(found.months[-12:])),
    ):
        out.append(Section(head, tuple((lower_first(name), float(n)) for name, n in rows)))
    vain = sorted((r for r in found.remedies if r.tried - r.cured >= IN_VAIN), key=_in_vain)
    told = [
        f"{rules.actions[r.action].name if r.action in rules.actions else r.action}: "
        f"{r.tried - r.cured} of {r.tried} times"
        for r in vain[:MOST]
    ]
    out.append(Section("Remedies that were tried in vain", lines=tuple(told)))
    out.append(Section("What to keep as spares", lines=tuple(_spares(found, rules))))
    out.append(Section("Was the tool right?", lines=tuple(right.sentences())))
    care = [f"{name}: {item}  ____________" for name, items in due.items() for item in items]
    out.append(Section("Care that is due (date and initials)", lines=tuple(care)))
    return [one for one in out if one.bars or one.lines]


def show(found: Sequence[Section], out: TerminalTeller) -> None:
    """Print it."""
    for section in found:
        out.title(section.head)
        most = max((n for _, n in section.bars), default=0) or 1
        for name, n in section.bars:
            out.line(f"  {'█' * max(1, round(WIDE * n / most)):<{WIDE}} {n:>5.0f}  {name}")
        for line in section.lines:
            out.line(f"  {line}")


def _named(
    rows: Sequence[tuple[str, float]], names: Mapping[str, str]
) -> Sequence[tuple[str, float]]:
    """The first rows, with names in place of IDs."""
    return [(name_of(one, names), n) for one, n in rows[:MOST]]


def _coater(coater: Coater, names: Mapping[str, str]) -> str:
    days = round(coater.days_between or 0)  # less than a day between them says nothing
    every = f", one in {days} days" if days > 1 else ", one a day" if days else ""
    spent = f", {coater.minutes:.0f} min spent" if coater.minutes else ""
    often = f"; most often {lower_first(name_of(coater.most, names))}" if coater.most else ""
    return f"{coater.name}: {counted(coater.cases, 'case')}{every}{spent}{often}"


def _in_vain(remedy: Remedy) -> int:
    return remedy.cured - remedy.tried


def _spares(found: Statistics, rules: RuleBase) -> list[str]:
    """Parts that were used, and causes of this lab whose remedies want a part."""
    wanted = [
        (rules.causes[c].name, n)
        for c, n in found.causes
        if c in rules.causes
        and any(rules.actions[a].parts in ("spare", "consumable") for a in rules.causes[c].remedies)
    ]
    used = [f"{part}: used {_times(n)}" for part, n in found.parts[:MOST]]
    return used + [f"What mends “{lower_first(c)}”: it came {_times(n)}" for c, n in wanted[:MOST]]


def _times(n: int) -> str:
    return "once" if n == 1 else f"{n} times"
