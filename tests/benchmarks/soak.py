"""Memory over long use: `python -m tests.benchmarks.soak [--cases N]`.

One process opens case after case in one casebook, of every complaint in turn, as a program that
serves a whole facility would. Every case is opened, answered at random, given the
remedy or check that the plan asks for, closed and kept, entry by entry; its deduction and belief
are worked out after every answer and its plan once. In turn, by the number of the case: every
fourth is told whole, as JSON, report, terminal, sheet, notebook or mail, and kept with the lab's
cases counted into it; every hundredth time the book is listed, searched and counted. Prints the
resident memory and what of it the C library has handed out (the rest is free, or Python's small
things), first with all complaints compiled and all their tables made; at the end, how both grew
over the last four fifths of the cases: from then on they should stay.
"""

import argparse
import ctypes
import gc
import random
import resource
import tempfile
import time
from collections.abc import Iterator
from contextlib import redirect_stdout, suppress
from io import StringIO

import numpy as np

from troubleshoot.advice.page import page_of
from troubleshoot.case import entries
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.entries import Said
from troubleshoot.case.journal import Journal, enter
from troubleshoot.casebook.alike import alike
from troubleshoot.casebook.statistics import statistics
from troubleshoot.casebook.store import Store
from troubleshoot.casebook.tally import tally
from troubleshoot.casebook.wanted import Wanted
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.load import load
from troubleshoot.show import json, mail, markdown, plain
from troubleshoot.show.html import pages

AT = "2026-03-02T09:00:00"
TELL, COUNT = 4, 100
WAYS = (
    json.as_object,
    lambda page: pages.render(page, made_at=AT),
    plain.show,
    lambda page: pages.service_sheet(page, made_at=AT),
    lambda page: markdown.as_markdown(page, made_at=AT),
    mail.as_mail,
)


def resident() -> float:
    """MB that the process has in memory now."""
    with open("/proc/self/statm", encoding="ascii") as file:
        return int(file.read().split()[1]) * resource.getpagesize() / 1e6


class _Mallinfo(ctypes.Structure):
    """`struct mallinfo2` of glibc 2.33 (mallinfo(3)), all of it in bytes or counts."""

    _fields_ = [
        (name, ctypes.c_size_t)
        for name in ("arena", "ordblks", "smblks", "hblks", "hblkhd", "usmblks", "fsmblks",
                     "uordblks", "fordblks", "keepcost")
    ]  # fmt: skip


def handed_out() -> float:
    """MB that malloc has given to somebody and not got back, numpy's arrays among them."""
    libc = ctypes.CDLL(None)
    libc.mallinfo2.restype = _Mallinfo
    told = libc.mallinfo2()
    return (told.uordblks + told.hblkhd) / 1e6


def growth(rows: list[tuple[int, float]]) -> str:
    """kB per 1,000 cases and its standard error, by least squares, over the last four fifths."""
    late = [(number, mb) for number, mb in rows if number >= rows[-1][0] / 5]
    if len(late) < 5:
        return "too few lines to tell"
    (slope, _), spread = np.polyfit(*np.array(late).T, 1, cov=True)
    per, error = 1e6 * slope, 1e6 * np.sqrt(spread[0, 0])
    return f"{per:+.0f} ± {error:.0f} kB per 1,000 cases from case {late[0][0]} on"


class Facility:
    """One rule base, one casebook, one coater, and what was compiled for it."""

    def __init__(self, book: str, seed: int) -> None:
        self.rules, self.chance, self.book = load(), random.Random(seed), Store(book)
        self.bench = Bench(self.rules, Machine(name="ours"))
        self.complaints = list(self.rules.complaints)
        for complaint in self.complaints:
            planner = self.bench.planner(complaint)
            for finding in planner.net.findings:
                planner.answers(finding)

    def play(self, number: int) -> None:
        """One case from its opening to its end, and every so often the book as a whole."""
        bench, complaint = self.bench, self.complaints[number % len(self.complaints)]
        case, journal = self.book.new_case("", AT, bench.machine), ()
        opened = entries.Opened(rules=self.rules.hash, machine=bench.machine.hash)
        journal = self.say(case, journal, opened)
        if number % TELL == 0:
            counted = tally(self.book, bench.machine.name, AT, self.rules.settings)
            journal = self.say(case, journal, entries.Book.of(counted))
        journal = self.say(case, journal, entries.Complaint(complaint=complaint))
        planned = bench.assess(journal).plan.next.action
        for said in self.answers(planned):
            journal = self.say(case, journal, said)
            found = bench.assess(journal)
            belief = found.belief
            whole = sum(belief.shares.values()) + belief.nothing_wrong + belief.unlisted
            assert abs(whole - 1.0) < 1e-9
        cause = max(found.belief.present, key=found.belief.present.get)
        end = entries.Closed(outcome="cured", cause=cause, proved_by="fault seen")
        journal = self.say(case, journal, end)
        if number % TELL == 0:
            page = page_of(bench.assess(journal), journal)
            with redirect_stdout(StringIO()):
                WAYS[number // TELL % len(WAYS)](page)
        if number % COUNT == 0:
            self.book.cases(Wanted(words="slow", limit=50))
            alike(self.book, journal, complaint, bench.machine.name)
            statistics(self.book, None, None)

    def say(self, case: int, journal: Journal, said: Said) -> Journal:
        """The journal with one entry more, which is kept; what cannot stand changes nothing."""
        with suppress(UserError):
            journal = enter(journal, AT, said, self.rules)
            self.book.save(case, journal[-1])
        return journal

    def answers(self, planned: str | None) -> Iterator[Said]:
        """What a planned check shows, something else that was seen, and what was done then."""
        chance, rules = self.chance, self.rules
        action = rules.actions[planned or chance.choice(list(rules.actions))]
        for name in (*action.reveals[:1], chance.choice(list(rules.findings))):
            answer = chance.choice(list(rules.findings[name].answers))
            yield entries.Finding(finding=name, answer=answer)
        remedy = chance.choice([a for a in rules.actions.values() if a.kind == "remedy"])
        yield entries.Action(action=remedy.id, complaint_now=chance.choice(("unchanged", "gone")))


def main() -> None:
    """Play and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=1000)
    parser.add_argument("--seconds", type=float, default=float("inf"), help="of processor time")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        facility = Facility(f"{folder}/book.db", given.seed)
        rows: dict[str, list[tuple[int, float]]] = {"resident": [], "handed out": []}
        print(f"{'cases':>7}{'MB':>8}{'out':>8}{'s':>8}")
        for number in range(given.cases + 1):
            if number:
                facility.play(number)
            done = number == given.cases or time.process_time() > given.seconds
            if number % min(max(given.cases // 20, 1), 100) == 0 or done:
                gc.collect()
                mb = resident(), handed_out()
                told = f"{number:>7}{mb[0]:>8.1f}{mb[1]:>8.1f}{time.process_time():>8.0f}"
                print(told, flush=True)
                for kept, value in zip(rows.values(), mb, strict=True):
                    kept.append((number, value))
            if done:
                break
        for name, kept in rows.items():
            print(f"{name}: {growth(kept)}")
        facility.book.close()


if __name__ == "__main__":
    main()
