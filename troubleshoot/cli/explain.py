"""`troubleshoot explain ID`: any entry of the rule base as a page for a newcomer."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from troubleshoot.advice.instruction import Instruction
    from troubleshoot.knowledge.model import RuleBase
    from troubleshoot.show.terminal import TerminalTeller


@click.command()
@click.argument("name", metavar="ID")
def explain(name: str) -> None:
    """Print a complaint, cause, check, remedy, finding, caution or way round for a newcomer."""
    from troubleshoot.cli.setup import load_rules
    from troubleshoot.errors import UserError, nearest
    from troubleshoot.show.terminal import TerminalTeller

    rules = load_rules(())
    pools: list[tuple[dict[str, Any], Callable[..., None]]] = [
        (dict(rules.complaints), _complaint),
        (dict(rules.causes), _cause),
        (dict(rules.actions), _action),
        (dict(rules.findings), _finding),
        (dict(rules.cautions), _caution),
        (dict(rules.workarounds), _workaround),
        (dict(rules.mechanisms), _mechanism),
    ]
    teller = TerminalTeller()
    for pool, page in pools:
        if name in pool:
            teller.title(pool[name].name)
            page(pool[name], rules, teller)
            teller.small(f"\nSource: {pool[name].source}")
            return
    every = [entry for pool, _ in pools for entry in pool]
    raise UserError(f"Nothing in the rule base is called {name!r}{nearest(name, every)}.")


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
    tell(out, do, told)


def _cause(entry: Any, rules: "RuleBase", tell: "TerminalTeller") -> None:
    from troubleshoot.advice.instruction import Site, for_action

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
    if entry.drawings:
        count = f"{len(entry.drawings)} of these {len(entry.answers)} answers"
        tell.small(f"\nThe printed form has drawings of {count} (`troubleshoot diagnose --forms`).")
    tell.line("\nSeen by: " + ", ".join(rules.actions[a].name for a in rules.revealed_by[entry.id]))


def _caution(entry: Any, rules: "RuleBase", tell: "TerminalTeller") -> None:
    from troubleshoot.advice.instruction import Site, for_danger
    from troubleshoot.talk.telling import tell as tell_all

    tell.line(entry.hazard)
    tell_all(tell, for_danger(Site(rules), entry.id), set())


def _workaround(entry: Any, rules: "RuleBase", tell: "TerminalTeller") -> None:
    from troubleshoot.advice.instruction import Site, for_way

    _do(for_way(Site(rules), entry), tell, set())


def _mechanism(entry: Any, rules: "RuleBase", tell: "TerminalTeller") -> None:
    tell.line(entry.what)
    acting = [c.name for c in rules.causes.values() if entry.id in c.mechanisms]
    tell.line("\nCauses that act this way: " + ", ".join(acting) + ".")
