"""Break a simulated coater, and see whether the program finds what is broken.

    python -m tests.benchmarks.closed_loop [--each N] [--pairs N] [--play N] [--seed N]

For every cause that the simulator can express, a coater gets it (and no other). The complaint is
what the physics gives rise to; the log of a pump-down with a rise goes through the readers, and
each check of the rules that physics can answer is answered by physics. Nothing is drawn from the
rules. The table says where the hidden cause comes in the ranking, and which causes change the same
parts: those count as one, for no physics tells them apart (a look might).

--play follows the planner step by step instead, which tries remedies too, and counts the minutes;
--pairs does so with two hidden causes. A complaint that is gone ends its case; where another shows
then, that is a case of its own, on the same clock and count of remedies. Service mends what is its
to mend where it is called by the right name, and that counts as a remedy.
"""

import argparse
import tempfile
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, fields, replace
from pathlib import Path

import numpy as np

from troubleshoot.case.diagnose import Bench, Diagnosis
from troubleshoot.case.entries import UNKNOWN, Reading
from troubleshoot.case.journal import Journal, append, enter
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.load import load
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.readings.pressure.pressures import analyse
from troubleshoot.reasoning.planner import ACCEPT, SERVICE
from troubleshoot.sources.log_file import read_log
from troubleshoot.training.answers import ANSWERS
from troubleshoot.training.answers.parts import tracer_where
from troubleshoot.training.practice import FAULTS, Practice, start

AT = "2026-01-05T09:00:00"
MOST_STEPS = 40
OUTCOMES = {"coat_too_thin", "coat_too_thick"}
MACHINE = Machine(
    "the survey's coater",
    facts={"isolation_valve": "yes", "gauge_side": "chamber", "current_set_by": "needle_valve"},
    numbers={"volume": 5e-3, "pump_speed": 1.1e-3},
)


@dataclass
class Found:
    """One coater: where the hidden cause came among the likeliest, and what physics answered."""

    cause: str
    complaint: str | None
    ranking: list[str] = field(default_factory=list)
    answers: dict[str, str] = field(default_factory=dict)

    def rank(self, same: frozenset[str] = frozenset()) -> int | None:
        """Its place; with `same`, that of the first of them, each such group counting as one."""
        places = [self.ranking.index(c) for c in same | {self.cause} if c in self.ranking]
        return min(places) + 1 if places else None


def own(practice: Practice) -> Machine:
    """The profile with what is usual on this coater, as its lab knows it."""
    good = Practice(practice.rules, practice.machine, [], practice.seed, practice.sound)
    numbers = {
        "usual_base": max(good.at.usual_base, 0.2),
        "usual_time": max(good.at.usual_time, 20.0),
        "usual_pressure": good.at.wanted,
        "usual_current": good.at.usual_amps,
    }
    return Machine(MACHINE.name, facts=MACHINE.facts, numbers={**MACHINE.numbers, **numbers})


def read(practice: Practice, machine: Machine, folder: Path) -> Reading | None:
    """What the reader makes of the log of this coater; None if it refuses."""
    path = folder / "log.csv"
    path.write_text(practice.log(), encoding="utf-8")
    try:
        found = analyse(read_log(path), practice.rules.findings, machine).reading
    except UserError:
        return None
    return Reading.of(found, "log.csv", None)


def all_told(practice: Practice, bench: Bench, folder: Path) -> Found:
    """The case with the log and every answer that physics gives, and the ranking that follows."""
    complaint = practice.complaint
    out = Found(practice.causes[0], complaint)
    if complaint is None:
        return out
    rules = practice.rules
    journal = opened(complaint, rules)
    reading = read(practice, bench.machine, folder)
    if reading is not None:
        journal = enter(journal, AT, reading, rules)
    net = bench.planner(complaint).net
    by_log = set(reading.findings) if reading is not None else set()
    for name, made in ANSWERS.items():
        asked = name in net.findings and rules.is_in_world(name, complaint)
        answer = made(practice.at) if asked else None
        if answer is None:
            continue
        out.answers[name] = answer
        if name not in by_log:
            journal = append(journal, AT, "finding", rules, finding=name, answer=answer)
    case = bench.assess(journal)
    assert isinstance(case, Diagnosis)
    odds = case.belief.shares
    # "Too thin" and "too thick" name the dose, which is what the others change.
    out.ranking = sorted(set(odds) - OUTCOMES, key=odds.__getitem__, reverse=True)
    return out


@dataclass
class Played:
    """A case followed step by step: minutes, remedies done, and whether all was well at the end."""

    minutes: float
    remedies: int
    cured: bool


def play(practice: Practice, bench: Bench) -> Played | None:
    """Follow the planner; what the simulator cannot say is said to be unknown."""
    asked = practice.complaint
    if asked is None:
        return None
    rules, remedies = practice.rules, 0
    journal = opened(asked, rules)
    for _ in range(MOST_STEPS):
        case = bench.assess(journal)
        assert isinstance(case, Diagnosis)
        step = case.plan.next
        if step.kind in (ACCEPT, SERVICE) and practice.complaint != asked:
            asked = practice.complaint  # "Rather this", says who is asked whether it is still that
            journal = opened(asked, rules)
            continue
        if step.kind in (ACCEPT, SERVICE):
            practice.minutes += rules.settings.service_minutes
            named = max(case.belief.present, key=case.belief.present.__getitem__)
            if step.kind == ACCEPT or not is_theirs(named, practice):
                return Played(practice.minutes, remedies, False)
            practice = replace(
                practice, causes=[c for c in practice.causes if c != named], _at=None
            )
            if practice.complaint is None:
                return Played(practice.minutes, remedies + 1, True)
            asked, remedies = practice.complaint, remedies + 1
            journal = opened(asked, rules)
            continue
        if step.kind == "check":
            seen = practice.look(step.action)
            told = {**seen.answers, **dict.fromkeys(seen.unsaid, UNKNOWN)}
            for name, answer in told.items():
                if name in case.planner.net.findings and name not in case.situation.answered:
                    journal = append(journal, AT, "finding", rules, finding=name, answer=answer)
            journal = append(journal, AT, "action", rules, action=step.action)
            continue
        now, remedies = practice.do(step.action).now, remedies + 1
        if practice.complaint is None:
            return Played(practice.minutes, remedies, True)
        if now == "cured":  # what shows next is a trouble, and a case, of its own
            asked = practice.complaint
            journal = opened(asked, rules)
        else:
            journal = append(journal, AT, "action", rules, action=step.action, complaint_now=now)
    return Played(practice.minutes, remedies, False)


def is_theirs(named: str, practice: Practice) -> bool:
    """Whether service is called for a hidden cause by its name, and its remedy is for service."""
    rules = practice.rules
    first = rules.causes[named].remedies[:1]
    return named in practice.causes and all(rules.actions[r].role == "service" for r in first)


def opened(complaint: str, rules: RuleBase) -> Journal:
    """A case of which only the complaint is known."""
    return append((), AT, "complaint", rules, complaint=complaint)


def marks(cause: str, rules: RuleBase, *, lamp: bool) -> frozenset[object]:
    """What physics could know a cause by: which parts it changes, where a look or a swap tells.

    Not how much they change: any leak may be large or small. Leaks count by where a tracer finds
    them, narrow places by the part that can be taken out, a pump's insides as one, and what sits on
    the stage as one. `lamp`: and by what is seen on a part under a lamp.
    """
    practice = start(MACHINE, [cause], 1, rules)
    now, good = practice.at.plant, practice.sound
    out: set[object] = set()
    for old, new in ((good.coater, now.coater), (good.coater.pump, now.coater.pump),
                     (good.coater.line, now.coater.line), (good.gauge, now.gauge),
                     (good.head, now.head), (good.recipe, now.recipe)):  # fmt: skip
        for one in fields(new):
            if getattr(old, one.name) != getattr(new, one.name):
                out.add((type(new).__name__, one.name))
    out -= {("Coater", "pump"), ("Coater", "line"), ("Coater", "leaks"), ("Coater", "chokes")}
    if out & INSIDES:
        out = (out - INSIDES) | {"inside the pump"}
    if now.load_gives or ("Coater", "liquid") in out:
        out = {"on the stage"}
    elif out & GIVES:
        out = {"walls"}
    out |= {("leak", tracer_where(practice.at)) for _ in now.coater.leaks}
    out |= {("narrow", tube.place) for tube in now.coater.chokes}
    if lamp:
        out |= set(now.seen.items())
    out |= {("knob", k) for k in ("vent_open", "ballast_open") if getattr(now, k)}
    return frozenset(out)


INSIDES = {("Pump", "ultimate"), ("Pump", "slips_below"), ("Pump", "oil_water")}
GIVES = {("Coater", "walls"), ("Coater", "seals")}


def groups(causes: Iterable[str], rules: RuleBase, *, lamp: bool) -> dict[str, frozenset[str]]:
    """Causes that the simulator makes by a change of the same parts: physics separates them not."""
    alike = defaultdict(set)
    for cause in causes:
        alike[marks(cause, rules, lamp=lamp)].add(cause)
    return {c: frozenset(same) for same in alike.values() for c in same}


def share(part: int, whole: int) -> str:
    return f"{part} of {whole} ({100 * part / whole:.0f} %)" if whole else "none"


def singles(each: int, seed: int) -> Iterator[str]:
    rules = load()
    found: list[Found] = []
    with tempfile.TemporaryDirectory() as folder:
        for n in range(each):
            machine = own(start(MACHINE, [], seed + n, rules))
            bench = Bench(rules, machine)
            for cause in FAULTS:
                if not machine.allows(rules.causes[cause].machine):
                    continue
                practice = start(MACHINE, [cause], seed + n, rules)
                found.append(all_told(practice, bench, Path(folder)))
    causes = dict.fromkeys(f.cause for f in found)
    same = groups(causes, rules, lamp=True)
    dark = groups(causes, rules, lamp=False)
    lists = {c: rules.causes[c].complaints for c in same}
    shown = [f for f in found if f.complaint in lists[f.cause] and f.rank() is not None]
    yield "| cause | complaint by physics | rank | as a group | ahead | not separated from |"
    yield "|---|---|---|---|---|---|"
    for cause in dict.fromkeys(f.cause for f in found):
        rows = [f for f in found if f.cause == cause]
        complaints = ", ".join(dict.fromkeys(f.complaint or "none" for f in rows))
        alone = ", ".join(str(f.rank() or "-") for f in rows)
        grouped = ", ".join(str(f.rank(same[cause]) or "-") for f in rows)
        ahead = [f.ranking[0] for f in rows if f.ranking and f.ranking[0] not in same[cause]]
        others = ", ".join(sorted(same[cause] - {cause}))
        yield (
            f"| {cause} | {complaints} | {alone} | {grouped} | "
            f"{', '.join(dict.fromkeys(ahead))} | {others} |"
        )
    yield ""
    yield f"- coaters with a complaint that lists the cause: {share(len(shown), len(found))}"
    single = {c: frozenset({c}) for c in same}
    for words, by in (
        ("hidden cause", single),
        ("counting as one what neither physics nor a lamp tells apart", same),
        ("counting as one what physics does not tell apart, a lamp aside", dark),
    ):
        ranks = [f.rank(by[f.cause]) or 99 for f in shown]
        first, three = (sum(r <= n for r in ranks) for n in (1, 3))
        yield f"- {words}: first {share(first, len(ranks))}, in three {share(three, len(ranks))}"


def plays(number: int, together: int, seed: int) -> Iterator[str]:
    rules = load()
    rng = np.random.default_rng(seed)
    done: list[Played] = []
    for n in range(number):
        machine = own(start(MACHINE, [], seed + n, rules))
        may = [c for c in FAULTS if machine.allows(rules.causes[c].machine)]
        causes = [str(c) for c in rng.choice(may, together, replace=False)]
        got = play(start(MACHINE, causes, seed + n, rules), Bench(rules, machine))
        if got is not None:
            done.append(got)
    within = sum(p.cured and p.remedies <= together + 2 for p in done)
    cured = sum(p.cured for p in done)
    minutes = np.mean([p.minutes for p in done])
    yield (
        f"- {together} hidden, played: cured {share(cured, len(done))}, within {together + 2} "
        f"remedies {share(within, len(done))}, {minutes:.0f} min in the mean"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--each", type=int, default=2, help="coaters a cause")
    parser.add_argument("--play", type=int, default=0, help="coaters with one cause, played")
    parser.add_argument("--pairs", type=int, default=0, help="coaters with two causes, played")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    if args.each:
        print("\n".join(singles(args.each, args.seed)))
    for number, together in ((args.play, 1), (args.pairs, 2)):
        if number:
            print("\n".join(plays(number, together, args.seed)))


if __name__ == "__main__":
    main()
