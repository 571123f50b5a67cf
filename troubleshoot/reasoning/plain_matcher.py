"""Forward chaining in plain Python: the matches of all rules at the fixpoint, without an engine.

Each fact enters once. When it does, every condition that admits it is pinned to it and the
rule's other conditions are filled from the facts known so far (semi-naive evaluation: a match is
found when its last fact arrives, so nothing is tried twice for old facts alone).
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence

from troubleshoot.knowledge.derivation import Condition, Derivation, Fact, Match

Slot = tuple[str, str]  # kind and name


def all_matches(derivations: Sequence[Derivation], facts: Iterable[Fact]) -> set[Match]:
    """Every (rule, matched facts) that holds once nothing new can be derived from `facts`.

    `matched` has one fact for each condition, in the conditions' order; one fact may serve
    several conditions.
    """
    wanted: dict[Slot, list[tuple[Derivation, int]]] = defaultdict(list)
    for rule in derivations:
        for position, condition in enumerate(rule.when):
            wanted[condition.kind, condition.name].append((rule, position))

    known: dict[Slot, list[Fact]] = defaultdict(list)
    agenda = list(dict.fromkeys(facts))
    seen = set(agenda)
    matches: set[Match] = set()
    while agenda:
        fact = agenda.pop()
        slot = (fact.kind, fact.name)
        known[slot].append(fact)
        for rule, position in wanted[slot]:
            for matched in _matches_with(rule, position, fact, known):
                matches.add((rule, matched))
                fresh = [new for new in rule.concluded(matched) if new not in seen]
                agenda.extend(fresh)
                seen.update(fresh)
    return matches


def _matches_with(
    rule: Derivation, pinned: int, fact: Fact, known: Mapping[Slot, list[Fact]]
) -> Iterator[tuple[Fact, ...]]:
    """The matches of `rule` whose condition number `pinned` is met by `fact`."""
    if not _admits(rule.when[pinned], fact):
        return
    partial: list[tuple[Fact, ...]] = [()]
    for position, condition in enumerate(rule.when):
        candidates = (
            [fact]
            if position == pinned
            else [
                other
                for other in known[condition.kind, condition.name]
                if _admits(condition, other)
            ]
        )
        partial = [
            (*matched, candidate)
            for matched in partial
            for candidate in candidates
            if _joins(condition, candidate, matched)
        ]
    yield from partial


def _admits(condition: Condition, fact: Fact) -> bool:
    return not condition.values or fact.value in condition.values


def _joins(condition: Condition, fact: Fact, earlier: tuple[Fact, ...]) -> bool:
    epoch_like, value_like = condition.same_epoch_as, condition.same_value_as
    return (epoch_like is None or earlier[epoch_like].epoch == fact.epoch) and (
        value_like is None or earlier[value_like].value == fact.value
    )
