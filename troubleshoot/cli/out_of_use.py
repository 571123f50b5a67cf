"""Coaters that stand still for a danger: told at every start, whatever is begun."""

from typing import TYPE_CHECKING

from troubleshoot.cli.echo import echo

if TYPE_CHECKING:
    from troubleshoot.casebook.store import Store
    from troubleshoot.knowledge.model import RuleBase

LOOKED_AT = 200
"""So many open cases are looked through at most, the newest: a lab has a handful."""


def out_of_use(store: "Store", rules: "RuleBase", beside: int | None = None) -> list[str]:
    """A sentence for each open case in which a danger holds, but for the case `beside`."""
    from troubleshoot.case.deduce import deduce
    from troubleshoot.case.journal import check_all
    from troubleshoot.casebook.record import OPEN, PARKED
    from troubleshoot.casebook.wanted import Wanted
    from troubleshoot.cli.setup import going_on
    from troubleshoot.errors import UserError

    out = []
    for case in store.cases(Wanted(status=(OPEN, PARKED), limit=LOOKED_AT)):
        if case.id == beside:
            continue
        try:
            machine, journal = store.machine_of(case.id), store.journal(case.id)
            check_all(journal, rules)
            dangers = deduce(journal, rules, machine).dangers
        except UserError:  # damaged, or written under other rules: `cases show` says so
            continue
        if dangers:
            names = "; ".join(rules.cautions[d].name for d in dangers)
            out.append(
                f"OUT OF USE until repaired and proved: {machine.name} ({names}). The person in "
                f"charge records the repair in case {case.id}: {going_on(case.id)}"
            )
    return out


def tell_out_of_use(store: "Store", rules: "RuleBase", beside: int | None = None) -> None:
    """Print these sentences on standard error, so that no script's output changes."""
    for sentence in out_of_use(store, rules, beside):
        echo(sentence, err=True, bold=True)
