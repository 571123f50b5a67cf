"""What holds of a casebook whatever is done with its cases, in any order.

Cases are opened, answered, gone back in, corrected, closed, reopened, deleted, sent to another lab
and taken up by another program; the lab's cases are counted into a case, and that is undone; drills
are kept beside them. A model keeps nothing but the journals and the drills.
"""

import json

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    consumes,
    invariant,
    multiple,
    rule,
    run_state_machine_as_test,
)  # fmt: skip

from tests import strategies
from troubleshoot.advice.page import page_of
from troubleshoot.case import entries
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import check_all, enter, standing
from troubleshoot.casebook import drills, share
from troubleshoot.casebook.record import CLOSED, listed
from troubleshoot.casebook.store import EVERY, Store
from troubleshoot.casebook.tally import tally
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.show.json import as_object

AT = "2026-03-02T09:{:02}:00"


def books(rules, folder):
    """The machine that does things with a casebook in `folder`."""

    class Books(RuleBasedStateMachine):
        cases = Bundle("cases")
        number = 0

        def __init__(self):
            super().__init__()
            Books.number += 1
            self.path = folder / f"{Books.number}.db"
            self.book = Store(str(self.path))
            self.model = {}
            self.drills = []

        def teardown(self):
            self.book.close()

        def say(self, case, said):
            """Enter something, in the model and in the book; what cannot stand is in neither."""
            before = self.model[case]
            try:
                after = enter(before, AT.format(len(before) % 60), said, rules)
            except UserError:
                return
            self.book.save(case, after[-1])
            self.model[case] = after

        @rule(target=cases, complaint=strategies.one_of(rules.complaints))
        def open(self, complaint):
            case = self.book.new_case("case", AT.format(0), Machine())
            self.model[case] = ()
            self.say(case, entries.Opened(rules=rules.hash, machine=Machine().hash))
            self.say(case, entries.Complaint(complaint=complaint))
            return case

        @rule(case=cases, said=strategies.sayings(rules))
        def answer(self, case, said):
            self.say(case, said)

        @rule(case=cases, data=st.data())
        def contradict(self, case, data):
            found = [e for e in standing(self.model[case]) if isinstance(e.said, entries.Finding)]
            if found:
                old = data.draw(st.sampled_from(found))
                answers = sorted(rules.findings[old.said.finding].answers)
                answer = data.draw(st.sampled_from(answers))
                new = entries.Finding(finding=old.said.finding, answer=answer, replaces=old.number)
                self.say(case, new)

        @rule(case=cases, data=st.data())
        def correct(self, case, data):
            found = [e for e in standing(self.model[case]) if isinstance(e.said, entries.Finding)]
            if found:
                old = data.draw(st.sampled_from(found))
                answer = data.draw(
                    st.sampled_from(sorted(rules.findings[old.said.finding].answers))
                )
                told = {"finding": old.said.finding, "answer": answer}
                self.say(case, entries.Corrected(entry=old.number, to=told, why="misread"))

        @rule(case=cases, data=st.data())
        def back(self, case, data):
            kept = standing(self.model[case])
            if kept:
                entry = data.draw(st.sampled_from(kept))
                self.say(case, entries.Retract(entry=entry.number))

        @rule(case=cases, cause=strategies.one_of(rules.causes))
        def close(self, case, cause):
            self.say(case, entries.Closed(outcome="cured", cause=cause, proved_by="fault seen"))

        @rule(case=cases)
        def reopen(self, case):
            ends = [e for e in standing(self.model[case]) if isinstance(e.said, entries.Closed)]
            if ends:
                self.say(case, entries.Retract(entry=ends[-1].number))

        @rule(case=cases)
        def learn(self, case):
            """Every closed case of which somebody knows what it was counts, but not itself."""
            counted = tally(self.book, Machine().name, AT.format(0), rules.settings, without=case)
            ends = [listed(j, AT.format(0)) for c, j in self.model.items() if c != case]
            assert counted.cases == sum(
                end["status"] == CLOSED and bool(end["cause"] or end["outcome"] == "normal")
                for end in ends
            )
            self.say(case, entries.Book.of(counted))

        @rule(case=cases)
        def undo(self, case):
            """What was counted in and is taken back has never been there."""
            said = standing(self.model[case])
            books = [e for e in said if isinstance(e.said, entries.Book)]
            if books:
                self.say(case, entries.Retract(entry=books[-1].number))
                before = tuple(e for e in said if e != books[-1])
                now, then = (Bench(rules, Machine()).deduce(j) for j in (self.model[case], before))
                assert now.known.book == then.known.book
                assert now.seen == then.seen

        @rule(right=st.booleans(), minutes=st.floats(0, 1e6), seed=st.integers(0, 10**9))
        def drill(self, right, minutes, seed):
            """A drill is kept beside the cases and teaches them nothing."""
            done = drills.Kept(
                AT.format(0), "student", 1, seed, "slow", right, minutes, minutes, 0, 0
            )
            before = tally(self.book, Machine().name, AT.format(0), rules.settings)
            drills.keep(self.book, done)
            self.drills.append(done)
            assert drills.kept(self.book, "student") == self.drills
            assert tally(self.book, Machine().name, AT.format(0), rules.settings) == before

        @rule(case=consumes(cases))
        def delete(self, case):
            self.book.delete(case)
            del self.model[case]

        @rule()
        def resume(self):
            """Another program takes the book up."""
            self.book.close()
            self.book = Store(str(self.path))

        @rule(target=cases)
        def join(self):
            """The book goes to another lab and comes back: nothing is new."""
            lines = list(share.lines(self.book, EVERY, AT.format(0), whole=True))
            other = Store("sqlite://")
            try:
                first = share.take(other, lines)
                assert not first.broken
                assert len(first.new) == len(self.model)
                assert share.take(other, lines).same == len(self.model)
            finally:
                other.close()
            assert not share.take(self.book, lines).new
            return multiple()

        @invariant()
        def what_was_acknowledged_is_there(self):
            assert {row.id for row in self.book.cases()} == set(self.model)
            for case, journal in self.model.items():
                kept = self.book.journal(case)
                assert kept == journal
                check_all(kept, rules)

        @invariant()
        def the_list_is_true(self):
            for row in self.book.cases():
                told = listed(self.model[row.id], AT.format(0))
                assert (row.status, row.outcome) == (told["status"], told["outcome"])
                ended = any(
                    isinstance(e.said, entries.Closed) for e in standing(self.model[row.id])
                )
                assert (row.status == CLOSED) == ended

        @rule(case=cases)
        def read(self, case):
            """A case can be told at any time, and its numbers are probabilities."""
            journal = self.book.journal(case)
            said = as_object(page_of(Bench(rules, Machine()).assess(journal), journal))
            json.dumps(said, allow_nan=False)
            for row in said["ranking"]:
                assert 0 <= row["probability"] <= 1
            total = sum(row["probability"] for row in said["sets"])
            assert total <= 1 + 1e-9

    return Books


@pytest.mark.slow
def test_whatever_is_done_with_it(small_rules, tmp_path):
    run_state_machine_as_test(
        books(small_rules, tmp_path),
        settings=settings(
            max_examples=12,
            stateful_step_count=14,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
