"""The forward-chaining rules as data: facts in, conclusions out, no code.

A rule says *when* (conditions that must all match, joined where stated) and *then* (facts it
adds). Both sides are plain text, so any engine reaches the same fixpoint. There is no negation
and nothing is ever taken back: more facts can only give more conclusions.
"""

from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Fact:
    """One thing that holds: `kind` is the room it lives in, `name` the thing, `value` its state.

    `epoch` is the time between two actions that may have cured something, as text ("0", "1" ...),
    or "" for what does not change with time (the machine, circumstances).
    """

    kind: str
    name: str
    value: str
    epoch: str = ""


@dataclass(frozen=True)
class Condition:
    """Matches facts of `kind` and `name` whose value is in `values` (any, when empty).

    `same_epoch_as` and `same_value_as` give the position (0-based) of an earlier condition of the
    same rule whose matched fact must have the same epoch or value.
    """

    kind: str
    name: str
    values: tuple[str, ...] = ()
    same_epoch_as: int | None = None
    same_value_as: int | None = None


@dataclass(frozen=True)
class Conclusion:
    """The fact a rule adds. Its epoch is that of the first matched fact that has one, or ""."""

    kind: str
    name: str
    value: str


@dataclass(frozen=True)
class Derivation:
    """A named rule: all of `when` together give each of `then`; `because` is told to the user."""

    id: str
    when: tuple[Condition, ...]
    then: tuple[Conclusion, ...]
    because: str
    source: str

    def concluded(self, matched: tuple[Fact, ...]) -> tuple[Fact, ...]:
        """The facts this rule adds when `matched` meets its conditions, in the order of `then`.

        `matched` holds one fact for each condition, in the order of `when`.
        """
        epoch = next((fact.epoch for fact in matched if fact.epoch), "")
        return tuple(Fact(added.kind, added.name, added.value, epoch) for added in self.then)


# A rule and the facts that meet its conditions, one for each, in the order of `when`.
Match = tuple[Derivation, tuple[Fact, ...]]
