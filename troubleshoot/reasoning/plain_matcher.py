"""Forward chaining in plain Python: the matches of all rules at the fixpoint, without an engine.

Each fact enters once. When it does, every condition that admits it is pinned to it and the
rule's other conditions are filled from the facts known so far (semi-naive evaluation: a match is
found when its last fact arrives, so nothing is tried twice for old facts alone).
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

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
                for new in rule.concluded(matched):
                    if new not in seen:
                        seen.add(new)
                        agenda.append(new)
    return matches


def _matches_with(
    rule: Derivation, pinned: int, fact: Fact, known: Mapping[Slot, list[Fact]]
) -> list[tuple[Fact, ...]]:
    """The matches of `rule` in which `fact` meets condition number `pinned`."""
    partial: list[tuple[Fact, ...]] = [()]
    for position, condition in enumerate(rule.when):
        candidates = [fact] if position == pinned else known[condition.kind, condition.name]
        partial = [
            (*earlier, candidate)
            for candidate in candidates
            if not condition.values or candidate.value in condition.values
            for earlier in partial
            if _joins(condition, candidate, earlier)
        ]
    return partial


def _joins(condition: Condition, fact: Fact, earlier: tuple[Fact, ...]) -> bool:
    """Whether `fact` shares the epoch and value that `condition` wants it to share."""
    epoch_like, value_like = condition.same_epoch_as, condition.same_value_as
    return (epoch_like is None or earlier[epoch_like].epoch == fact.epoch) and (
        value_like is None or earlier[value_like].value == fact.value
    )
