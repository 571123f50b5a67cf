"""How often a cause drawn from the rule base comes first, or among the first three.

A cause is drawn by its prior and by how strongly it raises the complaint, as many for each
complaint; each finding is answered from the cause's own row, or from that row drawn part of the way
to the background. The answers are told as a user tells them ("fairly sure" where the rule base says
so) and the belief ranks the causes that can raise the complaint. This measures how far the rule
base can tell its own causes apart; it does not say whether the rule base is true.

    a minute     what is seen without tools: checks of at most `QUICK` minutes hands-on, no waiting,
                 no tools, no high voltage, and no minutes to bring the machine into another state
    every check  all findings that some check on offer for the complaint reveals

"Alike" counts a cause with the same first remedy as the true one as a hit too. Intervals are 95 %
(Wilson).
"""

import argparse
import datetime
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.field import rank, wilson
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.known import DEFAULT_STATE, told
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.load import load
from troubleshoot.knowledge.model import Action
from troubleshoot.reasoning.belief import Epoch, Evidence, Network, Observation, kept
from troubleshoot.reasoning.findings import Floats, Ints
from troubleshoot.reasoning.moves import move_minutes
from troubleshoot.reasoning.planner import Planner

QUICK = 2.0  # minutes hands-on
NEARER = 0.3  # part of the way from a cause's row to the background
DRAWS = 4000
SEED = 20260301
Told = dict[str, Ints]  # finding -> the number of the answer in each draw


@dataclass(frozen=True)
class Line:
    """One line of the table. `places` and `alike`: the place of the true cause, draw by draw."""

    seen: str
    drawn: str
    findings: float
    places: list[int]
    alike: list[int]


def is_quick(planner: Planner, action: Action) -> bool:
    """Whether the check takes a minute or two, as the machine stands, with bare hands."""
    rules = planner.rules
    start = DEFAULT_STATE[rules.complaints[planner.net.complaint].place]
    return (
        action.minutes.hands <= QUICK
        and action.minutes.wait == 0
        and not action.tools
        and "high_voltage" not in action.hazards
        and move_minutes(rules, planner.machine, start, action.state) == 0
    )


def revealed(planner: Planner, quick: bool) -> list[str]:
    """The findings that the checks on offer reveal (only the quick ones on request), each once."""
    checks = [a for a in planner.actions if a.kind == "check"]
    names = (f for a in checks if not quick or is_quick(planner, a) for f in a.reveals)
    return [f for f in dict.fromkeys(names) if f in planner.net.findings]


def draw(
    net: Network, truths: Ints, findings: Sequence[str], nearer: float, rng: np.random.Generator
) -> Told:
    """An answer to each of `findings` for each true cause, drawn from its row."""
    out = {}
    for name in findings:
        table = net.table(name)
        p = (1.0 - nearer) * table.rows[truths] + nearer * table.background
        below = np.cumsum(p, axis=1)[:, :-1]
        out[name] = (rng.random(len(truths))[:, None] > below).sum(axis=1)
    return out


def vectors(net: Network, finding: str) -> Floats:
    """P(what is told | answer), one row for each answer that may be told."""
    entry = net.rules.findings[finding]
    sure = "fairly" if entry.fairly else "certain"
    return np.array([told(net.rules, finding, a, sure) for a in entry.answers])


def present(net: Network, answers: Told) -> Floats:
    """P(cause is there | complaint, answers), shape (draws, causes), for all draws at once.

    The same as `belief.posterior` of each draw: there one case may have epochs and treatments, here
    all draws share their findings, so one array holds P(told | set) of a finding for all of them.
    """
    asked = Epoch(tuple(Observation(f, (1.0,)) for f in answers))
    spoken = [o.finding for o in kept(net, asked)]
    draws = len(next(iter(answers.values()), np.zeros(1)))
    n = len(net.causes)
    log_p = np.repeat(np.log(net.prior(net.starts, net.prior_odds))[:, None], draws, axis=1)
    log_unlisted = np.full(draws, np.log(net.unlisted_weight))
    groups: dict[str, tuple[Floats, Floats]] = {}
    for name in spoken:
        heard = vectors(net, name)
        fresh = (net.seen(name) @ heard.T)[:, answers[name]]
        mean = (heard @ net.population(name))[answers[name]]
        log_unlisted += np.log(mean)
        group = net.group_of.get(name)
        if group is None:
            log_p += np.log(fresh)
        elif group in groups:
            right, wrong = groups[group]
            groups[group] = (right * fresh, wrong * mean)
        else:
            groups[group] = (fresh, mean)
    for group, (right, wrong) in groups.items():
        k = net.rules.groups[group].chance
        log_p += np.log((1.0 - k) * right + k * wrong)
    top = np.maximum(log_p.max(axis=0), log_unlisted)
    p = np.exp(log_p - top)
    p /= p.sum(axis=0) + np.exp(log_unlisted - top)
    holds = np.zeros((len(net.starts), n + 1))
    np.put_along_axis(holds, net.starts, 1.0, axis=1)
    return np.asarray(p.T @ holds[:, :n])


def order(net: Network, chances: Floats) -> list[str]:
    """The causes that can raise the complaint, likeliest first."""
    return [net.causes[i] for i in np.argsort(-chances, kind="stable") if net.strength[i] > 0]


def evidence(net: Network, answers: Told, at: int) -> Evidence:
    """What one draw told, as a case tells it."""
    seen = (Observation(f, tuple(vectors(net, f)[a[at]])) for f, a in answers.items())
    return Evidence(net.complaint, {}, (Epoch(tuple(seen)),))


def play(bench: Bench, draws: int, seed: int) -> list[Line]:
    """All lines of the table, the same true causes in each."""
    rules = bench.rules
    nearer_words = f"{100 * NEARER:.0f} % nearer to background"
    kinds: list[tuple[str, str, bool | None, float]] = [
        ("the complaint alone", "", None, 0.0),
        ("a minute, no tools", "own rows", True, 0.0),
        ("a minute, no tools", nearer_words, True, NEARER),
        ("every check", "own rows", False, 0.0),
        ("every check", nearer_words, False, NEARER),
    ]
    places: list[tuple[list[int], list[int], list[int]]] = [([], [], []) for _ in kinds]
    for number, complaint in enumerate(rules.complaints):
        planner = bench.planner(complaint)
        net, rng = planner.net, np.random.default_rng([seed, number])
        odds = net.prior_odds[:-1] * net.strength[:-1]
        mine = draws // len(rules.complaints) + (number < draws % len(rules.complaints))
        truths = rng.choice(len(net.causes), mine, p=odds / odds.sum())
        for (_, _, quick, nearer), (exact, alike, count) in zip(kinds, places, strict=True):
            names = [] if quick is None else revealed(planner, quick)
            chances = present(net, draw(net, truths, names, nearer, rng))
            for at, truth in enumerate(truths):
                ranked = order(net, chances[at if names else 0])
                exact.append(rank(ranked, [net.causes[truth]], rules, alike=False))
                alike.append(rank(ranked, [net.causes[truth]], rules, alike=True))
                count.append(len(names))
    return [
        Line(seen, drawn, float(np.mean(count)), exact, alike)
        for (seen, drawn, _, _), (exact, alike, count) in zip(kinds, places, strict=True)
    ]


def share(ranks: Sequence[int], within: int) -> str:
    """The share of `ranks` that are `within` the first so many, with its interval, in per cent."""
    hits = sum(r <= within for r in ranks)
    low, high = wilson(hits, len(ranks))
    return f"{100 * hits / len(ranks):.1f} ({100 * low:.1f}-{100 * high:.1f})"


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table as Markdown."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.hits")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--draws", type=int, default=DRAWS, help="over all complaints")
    given = parser.parse_args(arguments)
    rules = load()
    lines = play(Bench(rules, Machine()), given.draws, given.seed)
    print(f"{datetime.date.today()}, seed {given.seed}, rule base {rules.hash}: ", end="")
    print(f"{given.draws:,} causes drawn over {len(rules.complaints)} complaints.\n")
    head = ("seen", "answers drawn from", "findings", "first, %", "first three, %")
    print("| " + " | ".join((*head, "first, alike, %", "first three, alike, %")) + " |")
    print("|---" * 7 + "|")
    for line in lines:
        cells = (share(r, k) for r in (line.places, line.alike) for k in (1, 3))
        print("| " + " | ".join((line.seen, line.drawn, f"{line.findings:.0f}", *cells)) + " |")


if __name__ == "__main__":
    main()
