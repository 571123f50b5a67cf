"""`troubleshoot explain`: any entry of the rule base as a page for a newcomer."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from troubleshoot.advice.instruction import Instruction
    from troubleshoot.knowledge.model import RuleBase
    from troubleshoot.show.teller import TerminalTeller


MOST = 9
"""So many entries are shown that may be meant."""


@click.command()
@click.argument("words", nargs=-1, metavar="[ID or WORDS]")
def explain(words: tuple[str, ...]) -> None:
    """Look something up: a complaint, cause, check, remedy, finding, caution, way round or word.

    By its ID, or by words as people say them; without either it lists the complaints.

    For instance: troubleshoot explain seal_dirty, or troubleshoot explain glow goes out
    """
    from troubleshoot.cli.setup import load_rules
    from troubleshoot.show.teller import TerminalTeller
    from troubleshoot.talk.telling import tell_pictures

    rules, teller = load_rules(()), TerminalTeller()
    name = " ".join(words)
    if not name:
        _complaints(rules, teller)
        return
    found = name if name in _pages(rules) else _meant(name, rules, teller)
    if found is None:
        return
    entry, page = _pages(rules)[found]
    with teller.paged():
        teller.title(entry.name)
        page(entry, rules, teller)
        teller.small(f"\nSource: {entry.source}")
    for name in [found] if found in rules.findings else getattr(entry, "reveals", ()):
        tell_pictures(teller, rules, rules.findings[name])


def _pages(rules: "RuleBase") -> dict[str, tuple[Any, Callable[..., None]]]:
    """Every entry that has a page, and what prints it, by ID."""
    pools: list[tuple[Mapping[str, Any], Callable[..., None]]] = [
        (rules.words, _word),
        (rules.complaints, _complaint),
        (rules.causes, _cause),
        (rules.actions, _action),
        (rules.findings, _finding),
        (rules.cautions, _caution),
        (rules.workarounds, _workaround),
        (rules.mechanisms, _mechanism),
        (rules.specimens, _specimen),
        (rules.coats, _coat),
    ]
    return {name: (entry, page) for pool, page in pools for name, entry in pool.items()}


def _meant(words: str, rules: "RuleBase", teller: "TerminalTeller") -> str | None:
    """The entry that these words mean: the only one, or the one chosen; else all are listed."""
    from troubleshoot.cli.setup import interactive
    from troubleshoot.errors import UserError, nearest
    from troubleshoot.show.terminal import TerminalAsker
    from troubleshoot.talk.dialogue import Choice
    from troubleshoot.talk.wording import meant

    pages = _pages(rules)
    named = _named(words, pages)
    spoken = [m.id for m in meant(rules, words) if m.id in pages]
    found = list(dict.fromkeys([*named, *spoken]))[:MOST]
    if not found:
        raise UserError(f"Nothing in the rule base is called {words!r}{nearest(words, pages)}.")
    if len(found) == 1:
        return found[0]
    if interactive():
        none = Choice("/none", "None of these", aside=True)
        choices = [Choice(name, pages[name][0].name) for name in found]
        chosen = TerminalAsker().choose("Which of these?", [*choices, none])
        return None if chosen == none.value else chosen
    teller.line("Which of these?")
    for name in found:
        teller.line(f"  {name:<28} {pages[name][0].name}")
    return None


def _named(words: str, pages: Mapping[str, tuple[Any, Any]]) -> list[str]:
    """The entries in whose name every one of the words begins a word."""
    from troubleshoot.talk.vocabulary import words_of

    asked = words_of(words)
    return [
        name
        for name, (entry, _) in pages.items()
        if asked and all(any(w.startswith(a) for w in words_of(entry.name)) for a in asked)
    ]


def _complaints(rules: "RuleBase", teller: "TerminalTeller") -> None:
    from troubleshoot.advice.verdict import commonest_first
    from troubleshoot.coater.machine import Machine

    teller.line("The complaints, the commonest first:")
    for complaint in commonest_first(rules, Machine()):
        teller.line(f"  {complaint.id:<24} {complaint.name}")
    teller.line(
        "\n`troubleshoot explain ID` shows one with its causes, `troubleshoot explain WORDS` finds "
        "a cause, check, remedy, finding or caution by what people call it."
    )


def _word(entry: Any, rules: "RuleBase", tell: "TerminalTeller") -> None:
    tell.line(entry.means)
    if entry.also:
        tell.line(f"Also: {', '.join(entry.also)}.")


def _complaint(entry: Any, rules: "RuleBase", tell: "TerminalTeller") -> None:
    tell.line(f"It counts when: {entry.counts_when}")
    tell.line("People say: " + "; ".join(entry.says) + ".")
    tell.line(f"\nIf nothing is wrong: {entry.normal}")
    tell.line("\nThe commonest causes (share of faults times how often they cause this):")
    raised = [
        (c.share * c.complaints[entry.id], c)
        for c in rules.causes.values()
        if entry.id in c.complaints
    ]
    for _, cause in sorted(raised, key=lambda item: -item[0])[:10]:
        tell.line(f"  {cause.id:<26} {cause.name}")


def _do(do: "Instruction", out: "TerminalTeller", told: set[str]) -> None:
    """How something is done, with its cautions."""
    from troubleshoot.talk.telling import minutes_of, tell

    by = f"By {do.who}; " if do.who else ""
    out.small(f"{by}{minutes_of(do)}")
    tell(out, do, told, whole=True)


def _cause(entry: Any, rules: "RuleBase", tell: "TerminalTeller") -> None:
    from troubleshoot.advice.instruction import Site, for_action
    from troubleshoot.advice.phrases import NATURES

    tell.small(f"Part: {entry.subsystem.replace('_', ' ')}. {NATURES[entry.nature]}")
    tell.line(entry.what)
    if entry.lesson:
        tell.line(f"\nRemember: {entry.lesson}")
    tell.line("\nIt shows in:")
    for (cause, name), row in rules.rows.items():
        finding = rules.findings[name]
        top = max(row, key=lambda a: row[a] / finding.background[a])
        if cause == entry.id and row[top] >= 0.3 and row[top] > finding.background[top] + 0.1:
            tell.line(f"  {finding.name}: {finding.answers[top]}")
    told: set[str] = set()
    for name in entry.remedies:
        tell.line(f"\nRemedy ({name}): {rules.actions[name].say}")
        _do(for_action(Site(rules), rules.actions[name]), tell, told)
    tell.line(f"Today: {entry.today.note}")


def _action(entry: Any, rules: "RuleBase", tell: "TerminalTeller") -> None:
    from troubleshoot.advice.instruction import Site, for_action

    tell.line(entry.say)
    _do(for_action(Site(rules), entry), tell, set())
    for name in entry.reveals:
        finding = rules.findings[name]
        tell.line(f"\n{finding.ask}")
        for answer, text in finding.answers.items():
            look = finding.looks.get(answer)
            tell.line(f"  - {text}" + (f" ({look})" if look else ""))
    if entry.cures:
        names = ", ".join(rules.causes[c].name.lower() for c in entry.cures)
        tell.line(f"\nIt may cure: {names}.")


def _finding(entry: Any, rules: "RuleBase", tell: "TerminalTeller") -> None:
    tell.line(entry.ask)
    for answer, text in entry.answers.items():
        look = entry.looks.get(answer)
        tell.line(f"  - {text}" + (f" ({look})" if look else ""))
    tell.line("\nSeen by: " + ", ".join(rules.actions[a].name for a in rules.revealed_by[entry.id]))


def _caution(entry: Any, rules: "RuleBase", tell: "TerminalTeller") -> None:
    from troubleshoot.advice.instruction import Site, for_danger
    from troubleshoot.talk.telling import tell as tell_all

    tell.line(entry.hazard)
    tell_all(tell, for_danger(Site(rules), entry.id), set())


def _workaround(entry: Any, rules: "RuleBase", tell: "TerminalTeller") -> None:
    from troubleshoot.advice.instruction import Site, for_way

    _do(for_way(Site(rules), entry), tell, set())


def _specimen(entry: Any, rules: "RuleBase", tell: "TerminalTeller") -> None:
    for line in (*entry.advice, *entry.lost):
        tell.line(line)
    tell.line(f"\nHow to coat it: troubleshoot coat-plan --specimen {entry.id}")


def _coat(entry: Any, rules: "RuleBase", tell: "TerminalTeller") -> None:
    tell.line("A glass slip on white paper, by nanometres on it:")
    for look in entry.witness:
        tell.line(f"  from {look.above:g} nm: {look.looks}")
    tell.line(f"\nIts X-ray lines cover {entry.covers}.")
    if entry.remark:
        tell.line(entry.remark)


def _mechanism(entry: Any, rules: "RuleBase", tell: "TerminalTeller") -> None:
    tell.line(entry.what)
    acting = [c.name for c in rules.causes.values() if entry.id in c.mechanisms]
    tell.line("\nCauses that act this way: " + ", ".join(acting) + ".")
