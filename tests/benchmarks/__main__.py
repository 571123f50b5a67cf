"""`python -m tests.benchmarks`: ratios side by side in one run. Nothing is asserted in seconds.

Prints Markdown; docs/benchmarks.md holds one such run.
"""

import argparse
import datetime
import os
import platform
import random
import sys
import warnings
from collections.abc import Iterable, Sequence

import numpy as np

from tests.benchmarks import (
    calibration,
    policies,
    random_problems,
    scores,
    sessions,
    speed,
    start_up,
)
from troubleshoot.case.diagnose import Bench
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.load import load
from troubleshoot.reasoning.decision import exact

PARTS = ("random", "sessions", "speed", "start", "answers", "growth", "calibration")


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """A Markdown table, then an empty line."""
    print("| " + " | ".join(head) + " |")
    print("|" + "---|" * len(head))
    for row in rows:
        print("| " + " | ".join(map(str, row)) + " |")
    print(flush=True)


def random_part(number: int, seed: int) -> None:
    print(f"## Random problems solved exactly ({number} of each kind, seed {seed})\n")
    print(
        f"{random_problems.CAUSES} causes, {random_problems.CHECKS} checks with noisy answers, a "
        "remedy for each cause that may fail and one that helps two. Expected cost of following "
        "the policy to the end, over the least possible.\n"
    )
    for clusters, name in ((False, "one machine state"), (True, "three machine states")):
        ratios = random_problems.ratios(number, seed, clusters)
        table(
            (name, "mean", "p95", "p99", "max"),
            (
                (policy, *(f"{x:.4f}" for x in (r.mean(), *np.percentile(r, (95, 99)), r.max())))
                for policy, r in ratios.items()
            ),
        )
    rng = np.random.default_rng(seed)
    problem, w = random_problems.draw(rng, True)
    checks = range(random_problems.CHECKS)
    time = speed.milliseconds(lambda: exact(problem, w, 0, checks), 9)
    print(f"One exact solution: {problem.nodes(w, checks):,} nodes, {time:.1f} ms.\n")


def sessions_part(bench: Bench, number: int, seed: int) -> None:
    total = number * len(policies.FIRST_FOUR)
    print(f"## Simulated cases on the whole rule base ({total} for each policy, seed {seed})\n")
    print(
        f"{number} for each of {len(policies.FIRST_FOUR)} complaints, the same faults for every "
        "policy, drawn from the rule base itself: this compares orders of questions, it does not "
        "say whether the rule base is true. Weighted minutes to the proven cure; a case that is "
        "given up, or wrongly accepted as well, pays for service. Last column: the probability "
        "that all is well, where that was accepted, and how often it was so.\n"
    )
    played = {
        name: [
            sessions.simulate(
                bench,
                complaint,
                sessions.draw_truth(bench, complaint, _rng(seed, complaint, n, "truth")),
                policy,
                _rng(seed, complaint, n, "answers"),
            )
            for complaint in policies.FIRST_FOUR
            for n in range(number)
        ]
        for name, policy in policies.POLICIES.items()
    }
    ours = np.array([s.minutes for s in played["our planner"]])
    rows = []
    for name, runs in played.items():
        minutes = np.array([s.minutes for s in runs])
        more = minutes - ours
        rows.append(
            (
                name,
                _plus_minus(minutes),
                f"{np.median(minutes):.0f}",
                "" if name == "our planner" else _plus_minus(more),
                f"{minutes.mean() / ours.mean():.2f}",
                f"{np.mean([s.steps for s in runs]):.1f}",
                f"{np.mean([s.answers for s in runs]):.1f}",
                *(
                    sum(s.end == end for s in runs)
                    for end in ("cured", "accepted", "service", "wrongly accepted")
                ),
                _said(runs),
            )
        )
    head = ("policy", "mean minutes", "median", "more than ours", "ratio", "steps", "answers")
    ends = ("cured", "nothing was wrong", "service", "wrongly accepted", "all well: said, true")
    table((*head, *ends), rows)
    print("Means with their standard errors; differences are of the same cases.\n")
    names = [name for name in played if name != "our planner"]
    print("Mean minutes by complaint, ours and the others':\n")
    table(
        ("complaint", "our planner", *names),
        (
            (
                complaint,
                *(
                    f"{np.mean([s.minutes for s in runs if s.complaint == complaint]):.0f}"
                    for runs in (played["our planner"], *(played[n] for n in names))
                ),
            )
            for complaint in policies.FIRST_FOUR
        ),
    )
    print("Bits that must be learned (entropy when the complaint comes in):\n")
    table(
        ("complaint", "to tell the causes apart", "to tell the best remedies apart"),
        (
            (complaint, *(f"{x:.1f}" for x in policies.entropies(bench, complaint)))
            for complaint in policies.FIRST_FOUR
        ),
    )
    print(
        "Fewer yes/no answers than bits cannot tell them apart on average; a graded answer tells "
        "up to log2 of its number of answers, and a remedy tried is an answer too.\n"
    )


def _said(runs: Sequence[sessions.Session]) -> str:
    """Mean probability stated where "all is well" was accepted, and the share in which it was."""
    said = [(s.said, s.end != "wrongly accepted") for s in runs if s.said is not None]
    if not said:
        return ""
    return f"{np.mean([p for p, _ in said]):.2f}, {np.mean([right for _, right in said]):.2f}"


def _rng(*key: object) -> random.Random:
    return random.Random(" ".join(map(str, key)))


def _plus_minus(x: np.ndarray) -> str:
    return f"{x.mean():.0f} ± {x.std(ddof=1) / np.sqrt(len(x)):.0f}"


def speed_part(bench: Bench, seed: int, repeats: int) -> None:
    print(f"## One step, ten findings answered (medians of {repeats}, seed {seed})\n")
    rows = []
    for complaint in policies.FIRST_FOUR:
        t = speed.step(bench, complaint, seed, repeats)
        rows.append((complaint, *(f"{x:.0f}" for x in (t.posterior, t.ranking, t.whole))))
    head = ("complaint", "posterior, ms", "ranking all next actions, ms", "answer to question, ms")
    table(head, rows)
    print("A made-up decision with 100 causes, 100 remedies, 60 checks and 1,500 outcomes:\n")
    times = speed.deciding(seed, repeats)
    table(("policy", "ms"), ((name, f"{ms:.0f}") for name, ms in times.items()))
    print("The same ten posteriors on parts of the rules with ten causes (medians of 5 parts):\n")
    rows = [
        (r.name, f"{r.milliseconds:.2f}", f"{r.difference:.0e}")
        for r in speed.side_by_side(bench.rules, range(0, 40, 8), max(3, repeats // 3))
    ]
    table(("engine", "ms", "greatest difference from ours"), rows)


def start_part(repeats: int) -> None:
    print(f"## Processor time of commands (least of {repeats})\n")
    table(
        ("command", "s", "ratio"),
        ((c.name, f"{c.seconds:.2f}", f"{c.ratio:.1f}") for c in start_up.commands(repeats)),
    )


def answers_part(bench: Bench, journals: int, seed: int) -> None:
    print(f"## Processor time of answers (seed {seed})\n")
    print(f"From an answer to the next step, ms, in {journals} random journals each:\n")
    table(
        ("complaint", "first, compiled too", "median", "p95", "most"),
        (
            (a.complaint, *(f"{ms:.0f}" for ms in (a.first, a.median, a.p95, a.most)))
            for a in speed.answers(bench.rules, journals, 2, seed)
        ),
    )
    print(f"Memory with every complaint compiled: {speed.memory():.0f} MB.\n")


def growth_part(bench: Bench, seed: int, repeats: int) -> None:
    print(f"## Growth on made-up rule bases (medians of {repeats}, seed {seed})\n")
    sizes = [(n, 60, 10, 5) for n in (20, 40, 80, 160, 320, 640)]
    sizes += [(80, n, 10, 5) for n in (30, 120, 240)]
    sizes += [(80, 60, 20, n) for n in (0, 5, 10, 20)]
    rows = []
    for size in sizes:
        g = speed.growth(bench.rules, *size, seed, repeats)
        rows.append((*size, f"{g.sets:,}", f"{g.posterior:.1f}", f"{g.ranking:.1f}"))
    head = ("causes", "findings", "answered", "with yes", "hypotheses")
    table((*head, "posterior, ms", "ranking, ms"), rows)


def calibration_part(bench: Bench, number: int, seed: int) -> None:
    print(f"## Calibration ({number} simulated cases for each row, ten answers, seed {seed})\n")
    print(
        "Cases come from worlds in which the odds of every cause and the weight of every answer "
        "are moved by a factor exp(sigma z), z standard normal; the belief does not know.\n"
    )
    results = [
        calibration.calibrate(bench, list(policies.FIRST_FOUR), number, 10, sigma, seed)
        for sigma in (0.0, 0.5, 1.0)
    ]
    head = ("sigma", "Brier, sets (0 to 2)", "log score, nats", "Brier, a cause is there")
    table(
        (*head, "likeliest set true", "probability it was given", "calibration error"),
        (
            (
                r.sigma,
                f"{r.brier_sets:.3f}",
                f"{r.log_sets:.2f}",
                f"{r.brier_present:.4f}",
                f"{r.first:.3f}",
                f"{r.said:.3f}",
                f"{scores.calibration_error(r.table):.3f}",
            )
            for r in results
        ),
    )
    table(
        ("sigma", "likeliest sets said", "came true", "cases"),
        (
            (r.sigma, f"{b.forecast:.2f}", f"{b.came_true:.2f}", b.count)
            for r in results
            for b in r.table
        ),
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the parts asked for and print their tables."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("parts", nargs="*", default=[], help=f"of {', '.join(PARTS)} (all)")
    parser.add_argument("--seed", type=int, default=20260301)
    parser.add_argument("--problems", type=int, default=500, help="random problems of each kind")
    parser.add_argument("--sessions", type=int, default=6, help="simulated cases a complaint")
    parser.add_argument("--journals", type=int, default=2, help="random journals a complaint")
    parser.add_argument("--cases", type=int, default=200, help="cases for calibration")
    parser.add_argument("--repeats", type=int, default=9, help="runs that a median is taken of")
    given = parser.parse_args(arguments)
    if unknown := set(given.parts) - set(PARTS):
        parser.error(f"no such part: {', '.join(sorted(unknown))}; choose from {', '.join(PARTS)}")
    parts = given.parts or PARTS
    warnings.filterwarnings("ignore", category=FutureWarning)
    rules = load()
    bench = Bench(rules, Machine())
    actions = rules.actions.values()
    print(f"{datetime.date.today()}, {os.cpu_count()} cores, {platform.machine()}, ", end="")
    print(
        f"{platform.system()}, Python {platform.python_version()}, numpy {np.__version__}, ", end=""
    )
    threads = os.environ.get("OPENBLAS_NUM_THREADS", "not set")
    print(f"OPENBLAS_NUM_THREADS {threads}; ", end="")
    print(f"rule base {rules.hash[:12]}: {len(rules.causes)} causes, ", end="")
    print(
        f"{len(rules.findings)} findings, {sum(a.kind == 'check' for a in actions)} checks, ",
        end="",
    )
    print(f"{sum(a.kind != 'check' for a in actions)} remedies\n")
    if "random" in parts:
        random_part(given.problems, given.seed)
    if "sessions" in parts:
        sessions_part(bench, given.sessions, given.seed)
    if "speed" in parts:
        speed_part(bench, given.seed, given.repeats)
    if "start" in parts:
        start_part(given.repeats)
    if "answers" in parts:
        answers_part(bench, given.journals, given.seed)
    if "growth" in parts:
        growth_part(bench, given.seed, given.repeats)
    if "calibration" in parts:
        calibration_part(bench, given.cases, given.seed)


if __name__ == "__main__":
    sys.exit(main())
