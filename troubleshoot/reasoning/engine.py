"""The one door to the rule engine: facts in, their fixpoint and every firing out.

Two engines give the same answer: durable-rules where it loads, the plain matcher elsewhere. Each
only finds matches; what a match adds and in which order firings are told is settled once, here
and in `Derivation.concluded`.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache

from troubleshoot.errors import UserError
from troubleshoot.knowledge.derivation import Derivation, Fact
from troubleshoot.reasoning import durable_engine, plain_matcher

# durable-rules keeps a match in 16 places and a condition in 32 terms. Both engines refuse more,
# so that a rule base which runs on one machine runs on every machine.
_MOST_CONDITIONS = 16
_MOST_VALUES = 20

PLAIN = "plain matcher"


@dataclass(frozen=True, order=True)
class Firing:
    """One match of one rule: a fact for each of its conditions, and what that match concludes.

    `added` holds all of the rule's conclusions, whether or not something else gave them as well.
    """

    rule: str
    matched: tuple[Fact, ...]
    added: tuple[Fact, ...]


@dataclass(frozen=True)
class Fixpoint:
    """All facts, given and derived, and every firing, sorted by rule and then by its facts."""

    facts: frozenset[Fact]
    firings: tuple[Firing, ...]


def run(derivations: Sequence[Derivation], facts: Iterable[Fact]) -> Fixpoint:
    """Everything that follows from `facts` by `derivations`, and how.

    The result depends neither on the order of facts or rules nor on the engine. Raises UserError
    when two rules share an id or a rule cannot be run (no condition, too many conditions or
    values, a join that does not point to an earlier condition).
    """
    _check(derivations)
    given = frozenset(facts)
    find = durable_engine.all_matches if _durable_name() else plain_matcher.all_matches
    firings = sorted(
        Firing(rule.id, matched, rule.concluded(matched))
        for rule, matched in find(derivations, given)
    )
    derived = (fact for firing in firings for fact in firing.added)
    return Fixpoint(facts=given.union(derived), firings=tuple(firings))


def engine_name() -> str:
    """Which engine `run` uses here: "durable-rules" with its version, or "plain matcher"."""
    return _durable_name() or PLAIN


@cache
def _durable_name() -> str | None:
    """Name and version of durable-rules, or None where it is absent or does not load."""
    try:
        return durable_engine.label()
    except ImportError:
        return None


def _check(derivations: Sequence[Derivation]) -> None:
    """Raise UserError for rules that would run on one engine only, or on none."""
    ids: set[str] = set()
    for rule in derivations:
        if rule.id in ids:
            raise UserError(f"Two derivations are called {rule.id!r}; give one another id.")
        ids.add(rule.id)
        if not 1 <= len(rule.when) <= _MOST_CONDITIONS:
            raise UserError(
                f"Derivation {rule.id!r} has {len(rule.when)} conditions under `when`; "
                f"give it 1 to {_MOST_CONDITIONS}."
            )
        for position, condition in enumerate(rule.when):
            if len(condition.values) > _MOST_VALUES:
                raise UserError(
                    f"Condition {position + 1} of derivation {rule.id!r} lists "
                    f"{len(condition.values)} values; list at most {_MOST_VALUES}, or none for any."
                )
            for join in (condition.same_epoch_as, condition.same_value_as):
                if join is not None and not 0 <= join < position:
                    raise UserError(
                        f"Condition {position + 1} of derivation {rule.id!r} is joined to "
                        f"condition {join + 1}; join it to an earlier one."
                    )
