"""The group of the commands on cases, and what several of them need."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

import click

from troubleshoot.cli.echo import echo
from troubleshoot.cli.groups import Whole

if TYPE_CHECKING:
    from troubleshoot.case.diagnose import Bench
    from troubleshoot.case.entries import Said
    from troubleshoot.case.journal import Entry, Journal
    from troubleshoot.casebook.store import Store
    from troubleshoot.casebook.wanted import Wanted
    from troubleshoot.knowledge.model import RuleBase

F = TypeVar("F", bound=Callable[..., Any])
MOST = 4
"""So many entries are offered that may be meant."""
ROLES = ("student", "experienced", "in_charge", "service")
number = click.argument("number", type=int, metavar="NUMBER")
as_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
by = click.option("--by", type=click.Choice(ROLES), help="Who says so, by role.")


@click.group(cls=Whole)
def cases() -> None:
    """The lab's cases: find, read, add to, correct, close, share."""


FILTERS = (
    click.option("--coater", help="Only of this coater."),
    click.option("--complaint", help="Only with this complaint: its ID, or words of its name."),
    click.option("--cause", help="Only with this cause: its ID, or words of its name."),
    click.option("--since", metavar="DATE", help="Only opened on this day or later (2026-03-02)."),
    click.option("--until", metavar="DATE", help="Only opened on this day or earlier."),
    click.option(
        "--status", "statuses", multiple=True, type=click.Choice(("open", "parked", "closed")),
        help="Only those that stand so; again for a second.",
    ),
    click.option("--words", help="Only with all these words, anywhere in the case."),
)  # fmt: skip


def filters(command: F) -> F:
    """The options that choose cases."""
    for option in reversed(FILTERS):
        command = option(command)
    return command


def wanted(rules: "RuleBase", given: Mapping[str, Any], **more: Any) -> "Wanted":
    """The cases that the options of `filters` choose. Raises `UserError`."""
    from troubleshoot.casebook.wanted import Wanted

    complaint, cause, words = given["complaint"], given["cause"], given["words"]
    return Wanted(
        status=tuple(given["statuses"]),
        coater=given["coater"],
        complaint=complaint and named(complaint, rules.complaints, "complaint", rules),
        cause=cause and named(cause, {**rules.causes, "unlisted": None}, "cause", rules),
        since=day(given["since"]),
        until=day(given["until"]),
        words=words,
        named=ids_with(words or "", rules),
        **more,
    )


def day(text: str | None) -> str | None:
    """A day as the casebook keeps it. Raises `UserError`."""
    from datetime import date

    from troubleshoot.errors import UserError

    if text is None:
        return None
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise UserError(f"{text!r} is not a day; write it like 2026-03-02.") from None


def ids_with(words: str, rules: "RuleBase") -> tuple[str, ...]:
    """The entries of the rule base whose names hold all these words, by ID."""
    pools: tuple[Mapping[str, Any], ...] = (
        rules.complaints, rules.causes, rules.findings, rules.actions,
    )  # fmt: skip
    return tuple(e.id for pool in pools for e in pool.values() if words and _holds(e.name, words))


def _holds(name: str, words: str) -> bool:
    from troubleshoot.casebook.words import plain

    there = plain(name)
    return all(any(w.startswith(asked) for w in there) for asked in plain(words))


def named(text: str, pool: Mapping[str, Any], what: str, rules: "RuleBase") -> str:
    """The ID that is meant: itself, or words of one name only. Raises `UserError`."""
    from troubleshoot.errors import UserError, nearest

    if text in pool:
        return text
    found = [e for e in pool.values() if e is not None and _holds(e.name, text)]
    exact = [e for e in found if e.name.casefold() == text.casefold()]
    if len(exact or found) == 1:
        entry = (exact or found)[0]
        echo(f"Taken for the {what} {entry.id}: {entry.name}", err=True)
        return str(entry.id)
    if found:
        some = "; ".join(f"{e.id} ({e.name})" for e in found[:MOST])
        raise UserError(f"{text!r} may be several: {some}. Name one by its ID.")
    misspelt = nearest(text, pool)
    perhaps = "" if misspelt else _perhaps(text, pool, rules)
    offered = f"; perhaps {perhaps}. Name one by its ID" if perhaps else misspelt
    raise UserError(f"There is no {what} {text!r}{offered}.")


def _perhaps(text: str, pool: Mapping[str, Any], rules: "RuleBase") -> str:
    """What may be meant, by what people say for it, or by some of the words of a name."""
    from troubleshoot.talk.wording import holding, meant

    said = [match.id for match in meant(rules, text, among=set(pool)) if match.id in pool]
    return "; ".join(f"{i} ({pool[i].name})" for i in (said or holding(text, pool))[:MOST])


class Kept:
    """One case out of the casebook, with the rules: to look at, and to write in."""

    def __init__(self, number: int) -> None:
        from troubleshoot.cli.setup import load_rules, open_casebook

        self.number = number
        self.store: Store = open_casebook()
        self.rules: RuleBase = load_rules(())
        self.journal: Journal = self.store.journal(number)

    @property
    def bench(self) -> "Bench":
        """The bench of its rules and machine."""
        from troubleshoot.case.diagnose import Bench

        return Bench(self.rules, self.store.machine_of(self.number))

    def checked(self) -> "Kept":
        """Itself. Raises `UserError` when its journal does not fit the rules."""
        from troubleshoot.case.journal import check_all
        from troubleshoot.errors import UserError

        try:
            check_all(self.journal, self.rules)
        except UserError as error:
            raise UserError(
                f"{error} `troubleshoot cases show {self.number} --journal` prints it as it is."
            ) from None
        return self

    def add(self, said: "Said", save: "Callable[[Entry], None] | None" = None) -> None:
        """Enter something and keep it. Raises `UserError`."""
        from troubleshoot.case.journal import enter
        from troubleshoot.cli.setup import now

        self.journal = enter(self.journal, now(), said, self.rules)
        keep = save or (lambda entry: self.store.save(self.number, entry))
        keep(self.journal[-1])
