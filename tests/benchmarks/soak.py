"""Memory over long use: `python -m tests.benchmarks.soak [--cases N]`.

One process opens case after case, of every complaint in turn, answers what is asked at random until
ten answers are given, and makes the page of each, as a program that serves a whole facility would.
Prints the resident memory every tenth of the way; from the second line on it should stay.
"""

import argparse
import gc
import random
import resource

from troubleshoot.advice.page import page_of
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.entries import Action, Complaint, Finding, Opened
from troubleshoot.case.journal import enter
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.load import load
from troubleshoot.show.json import as_object

AT = "2026-03-02T09:00:00"
ANSWERS = 10


def resident() -> float:
    """MB that the process has in memory now."""
    with open("/proc/self/statm", encoding="ascii") as file:
        return int(file.read().split()[1]) * resource.getpagesize() / 1e6


def play(rules, complaint: str, machine: Machine, chance: random.Random) -> None:
    """One case from its opening to its page."""
    bench = Bench(rules, machine)
    journal = enter((), AT, Opened(rules=rules.hash, machine=machine.hash), rules)
    journal = enter(journal, AT, Complaint(complaint=complaint), rules)
    for _ in range(ANSWERS):
        case = bench.assess(journal)
        step = page_of(case, journal).step
        action = rules.actions.get(step.id or "")
        if action is None:
            break
        try:
            for name in action.reveals[:2]:
                answer = chance.choice(list(rules.findings[name].answers))
                if rules.findings[name].quantity is None:
                    journal = enter(journal, AT, Finding(finding=name, answer=answer), rules)
            now = chance.choice(("unchanged", "better")) if action.kind == "remedy" else None
            journal = enter(journal, AT, Action(action=action.id, complaint_now=now), rules)
        except UserError:  # answered before
            break
    as_object(page_of(bench.assess(journal), journal))


def main() -> None:
    """Play and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    rules, chance = load(), random.Random(given.seed)
    machines = [Machine(), *(Machine(facts={"turbo": x}) for x in ("yes", "no"))]
    complaints = list(rules.complaints)
    print(f"{'cases':>7}{'MB':>8}")
    for n in range(1, given.cases + 1):
        play(rules, complaints[n % len(complaints)], chance.choice(machines), chance)
        if n % max(given.cases // 10, 1) == 0 or n == len(complaints):
            gc.collect()
            print(f"{n:>7}{resident():>8.0f}", flush=True)


if __name__ == "__main__":
    main()
