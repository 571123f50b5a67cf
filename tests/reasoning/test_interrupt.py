"""Ctrl-C while the rule engine runs: it ends the program after the run, and is never lost."""

import signal
import threading

import pytest

from troubleshoot.knowledge.derivation import Fact
from troubleshoot.reasoning import durable_engine

pytest.importorskip("durable", exc_type=ImportError)


@pytest.fixture
def heeded():
    """Ctrl-C as Python has it, whatever started the tests (a job in the background ignores it)."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def test_ctrl_c_that_is_ignored_stays_ignored(rules, heeded):
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    durable_engine.all_matches(tuple(rules.derivations.values()), [])
    assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN


def test_ctrl_c_within_a_rule_is_raised_after_the_run(rules, monkeypatch, heeded):
    derivations = tuple(rules.derivations.values())
    program = durable_engine._program(derivations)
    done = []

    def run(facts):
        signal.raise_signal(signal.SIGINT)  # where the library would swallow it
        done.append(facts)
        return set()

    monkeypatch.setattr(program, "run", run)
    with pytest.raises(KeyboardInterrupt):
        durable_engine.all_matches(derivations, [Fact("finding", "x", "y", "0")])
    assert done
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_another_thread_may_run_the_rules(rules):
    derivations, got = tuple(rules.derivations.values()), []
    thread = threading.Thread(
        target=lambda: got.append(durable_engine.all_matches(derivations, []))
    )
    thread.start()
    thread.join(20)
    assert got == [set()]
