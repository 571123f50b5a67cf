"""Forward chaining by durable-rules: derivations as its own condition language, facts as messages.

What the library (2.0.28) does, and how it is used here for that reason:

* A `Host` starts two timer threads that never end and may run a rule while a caller waits for
  it. Only its `Ruleset` is used, which has none: everything happens in the calling thread.
* A fact may meet two conditions of one rule only if the rule says `dist: 0`.
* It raises when a fact is asserted twice, so each enters once; and when no rule asks for a fact,
  which only says that nothing can follow from it. It swallows what goes wrong in a rule's action
  and leaves a note in the state, so the note is looked for.
* It reads text byte by byte and refuses half a surrogate pair, so text goes in as ASCII escapes.
* It knows a message by a 32-bit hash of its `id`. The default id depends on the content, so two
  different facts can pass for one; here ids are counted (0, 1, 2 ...), whose hashes differ for
  the first half million.
* Its tables have fixed sizes: more than 64 conditions that wait for one fact can raise, 256 can
  end the process, 512 names of one kind make it hang. The rules are dealt out to as many
  rulesets as it takes, and a fact goes to each that asks for its kind and name.
* Only `delete_state` frees what it keeps of a run; but called before any rule has fired in that
  run it frees what was never allocated, and the process ends. So each run is opened with a
  message of its own, which fires a rule that does nothing.
* It never frees a ruleset, so that is done when ours is no longer in use.
"""

import signal
import threading
import weakref
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from functools import lru_cache
from itertools import count
from pathlib import Path
from typing import Any

from troubleshoot.knowledge.derivation import Condition, Derivation, Fact, Match

_MOST_CONDITIONS_ON_ONE_NAME = 60
_MOST_NAMES = 500
_OPENING = {"id": "opening", "opening": "yes"}
_run_numbers = count()

Name = tuple[str, str]  # kind and name


def label() -> str:
    """The engine's name and version. Raises ImportError where the library does not load."""
    import durable.engine

    # From the name of the folder that pip put beside it: importlib.metadata takes longer to load
    # than a case takes to run.
    beside = Path(durable.engine.__file__).parents[1]
    found = next(beside.glob("durable_rules-*.dist-info"), None)
    return f"durable-rules {found.stem.partition('-')[2]}" if found else "durable-rules"


def all_matches(derivations: Sequence[Derivation], facts: Iterable[Fact]) -> set[Match]:
    """Every (rule, matched facts) that holds once nothing new can be derived from `facts`.

    The same as `plain_matcher.all_matches`, worked out by durable-rules. Raises ImportError where
    the library does not load.
    """
    with _unbroken():
        return _program(tuple(derivations)).run(facts)


@contextmanager
def _unbroken() -> Iterator[None]:
    """Ctrl-C waits for the end of a run: the library would take it for a rule that went wrong."""
    ours = threading.current_thread() is threading.main_thread()
    if not ours or signal.getsignal(signal.SIGINT) is not signal.default_int_handler:
        yield  # nothing would be raised in here
        return
    pressed = False

    def note(*_: Any) -> None:
        nonlocal pressed
        pressed = True

    signal.signal(signal.SIGINT, note)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    if pressed:
        raise KeyboardInterrupt


@lru_cache(maxsize=8)
def _program(derivations: tuple[Derivation, ...]) -> "_Program":
    """The translated rules; kept, because translating takes longer than a run."""
    return _Program(derivations)


class _Program:
    """Rules ready to run: the library's rulesets, and the matches of the runs under way."""

    def __init__(self, derivations: tuple[Derivation, ...]) -> None:
        from durable import engine

        self._unhandled = engine.MessageNotHandledException
        self._matches: dict[str, list[tuple[Derivation, tuple[int, ...]]]] = {}
        self._rulesets: list[Any] = []
        self._wanted: list[set[Name]] = []
        for batch in _batches(derivations):
            definition = {str(place): self._translated(rule) for place, rule in enumerate(batch)}
            definition["opening"] = {"all": [{"c0": {"opening": "yes"}}], "run": lambda _: None}
            ruleset = engine.Ruleset("derivations", None, definition)
            weakref.finalize(ruleset, engine.durable_rules_engine.delete_ruleset, ruleset._handle)
            self._rulesets.append(ruleset)
            self._wanted.append({name for rule in batch for name in _names(rule)})

    def run(self, facts: Iterable[Fact]) -> set[Match]:
        """All matches at the fixpoint; a fact's number in `known` is its id in the engine."""
        sid = str(next(_run_numbers))
        found = self._matches[sid] = []
        known = list(dict.fromkeys(facts))
        seen = set(known)
        matches: set[Match] = set()
        with ExitStack() as closing:
            closing.callback(self._matches.pop, sid)
            for ruleset in self._rulesets:
                _assert(ruleset, _OPENING | {"sid": sid})
                closing.callback(ruleset.delete_state, sid)
            for number, fact in enumerate(known):  # conclusions are appended on the way
                for ruleset, wanted in zip(self._rulesets, self._wanted, strict=True):
                    if (fact.kind, fact.name) in wanted:
                        with suppress(self._unhandled):  # no rule asks for this value
                            _assert(ruleset, _message(fact, number, sid))
                for rule, numbers in found:
                    matched = tuple(known[n] for n in numbers)
                    matches.add((rule, matched))
                    for new in rule.concluded(matched):
                        if new not in seen:
                            seen.add(new)
                            known.append(new)
                found.clear()
        return matches

    def _translated(self, rule: Derivation) -> dict[str, Any]:
        """The rule in the library's condition language; firing it notes which facts matched."""
        names = [f"c{place}" for place in range(len(rule.when))]

        def note(closure: Any) -> None:
            numbers = tuple(int(getattr(closure, name).id) for name in names)
            self._matches[closure.s.sid].append((rule, numbers))

        return {
            "all": [
                {name: _pattern(condition)}
                for name, condition in zip(names, rule.when, strict=True)
            ],
            "dist": 0,
            "run": note,
        }


def _names(rule: Derivation) -> list[Name]:
    return [(condition.kind, condition.name) for condition in rule.when]


def _batches(derivations: Sequence[Derivation]) -> Iterator[list[Derivation]]:
    """The rules in order, in batches that fit the library's tables."""
    batch: list[Derivation] = []
    asked: Counter[Name] = Counter()
    for rule in derivations:
        together = asked + Counter(_names(rule))
        if batch and (
            len(together) > _MOST_NAMES or max(together.values()) > _MOST_CONDITIONS_ON_ONE_NAME
        ):
            yield batch
            batch, together = [], Counter(_names(rule))
        batch.append(rule)
        asked = together
    if batch:
        yield batch


def _pattern(condition: Condition) -> dict[str, Any]:
    """A condition in the library's language; an earlier condition's fact is called c0, c1 ..."""
    terms: list[dict[str, Any]] = [
        {"kind": _ascii(condition.kind)},
        {"name": _ascii(condition.name)},
    ]
    if condition.same_epoch_as is not None:
        terms.append({"epoch": {f"c{condition.same_epoch_as}": "epoch"}})
    if condition.same_value_as is not None:
        terms.append({"value": {f"c{condition.same_value_as}": "value"}})
    values = [{"value": _ascii(value)} for value in dict.fromkeys(condition.values)]
    terms += [{"$or": values}] if len(values) > 1 else values
    return {"$and": terms}


def _message(fact: Fact, number: int, sid: str) -> dict[str, str]:
    return {
        "sid": sid,
        "id": str(number),
        "kind": _ascii(fact.kind),
        "name": _ascii(fact.name),
        "value": _ascii(fact.value),
        "epoch": _ascii(fact.epoch),
    }


def _ascii(text: str) -> str:
    """`text` with everything but ASCII escaped: different texts stay different."""
    return text.encode("unicode_escape").decode("ascii")


def _assert(ruleset: Any, message: dict[str, str]) -> None:
    """Assert one fact and fire all that follows; the library hands errors to a callback."""
    errors: list[BaseException] = []

    def complete(error: BaseException | None, state: dict[str, Any] | None) -> None:
        if error is not None:
            errors.append(error)
        elif state is not None and "exception" in state:
            errors.append(RuntimeError(state["exception"]))

    ruleset.do_actions(ruleset.assert_fact(message), complete)
    if errors:
        raise errors[0]
