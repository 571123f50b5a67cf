"""How long one step takes: beside general Bayesian-network libraries, and how it grows."""

import random
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from tests.benchmarks.sessions import AT, draw_truth, opened
from troubleshoot.advice.step import next_step
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.diagnose import Bench, Diagnosis
from troubleshoot.case.journal import Journal, append
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import Action, Cause, Finding, RuleBase
from troubleshoot.reasoning.belief import Epoch, Evidence, Network, Observation, posterior
from troubleshoot.reasoning.decision import Problem, one_step, two_steps
from troubleshoot.reasoning.planner import Plan, Planner, Situation


def milliseconds(run: Callable[[], object], repeats: int) -> float:
    """Median time of `run`, after one run that does not count."""
    run()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        run()
        times.append(time.perf_counter() - start)
    return 1000 * statistics.median(times)


# --- one step of a case ---------------------------------------------------------------------------


def answered(bench: Bench, complaint: str, findings: int, rng: random.Random) -> Journal:
    """A journal in which the planner's own checks have been answered, up to `findings` of them."""
    truth = draw_truth(bench, complaint, rng)
    net = bench.planner(complaint).net
    member = np.array([[net.index[truth] if truth is not None else len(net.causes)]])
    journal = opened(bench, complaint)
    count = 0
    while count < findings:
        case = bench.assess(journal)
        options = [o for o in case.plan.options if o.kind == "check"]
        if not options:
            return journal
        for finding in bench.rules.actions[options[0].action or ""].reveals:
            if finding not in net.findings or finding in case.situation.answered:
                continue
            p = net.table(finding).probabilities(member)[0]
            answer = rng.choices(list(bench.rules.findings[finding].answers), p.tolist())[0]
            journal = append(
                journal, AT, "finding", bench.rules, finding=finding, answer=answer, sure="certain"
            )
            count += 1
            if count == findings:
                return journal
        journal = append(journal, AT, "action", bench.rules, action=options[0].action)
    return journal


@dataclass(frozen=True)
class StepTimes:
    """Milliseconds of one posterior, of ranking every next action, and of the whole step."""

    posterior: float
    ranking: float
    whole: float


def plan_of(case: Deduction) -> Plan:
    """The plan of a case, which is worked out when it is first asked for."""
    assert isinstance(case, Diagnosis)
    return case.plan


def step(bench: Bench, complaint: str, seed: int, repeats: int) -> StepTimes:
    """One step with ten findings answered, or with all that are worth asking."""
    journal = answered(bench, complaint, 10, random.Random(seed))
    case = bench.assess(journal)
    planner = bench.planner(complaint)
    evidence, belief, situation = case.evidence, case.belief, case.situation
    return StepTimes(
        milliseconds(lambda: posterior(planner.net, evidence), repeats),
        milliseconds(lambda: planner.plan(belief, situation), repeats),
        milliseconds(lambda: plan_of(bench.assess(journal)), repeats),
    )


def large(
    seed: int, hypotheses: int = 100, remedies: int = 100, checks: int = 60
) -> tuple[Problem, np.ndarray]:
    """A made-up decision as large as the whole rule base, 25 joint outcomes a check, and weights.

    Each remedy is for one hypothesis and may help a second; a few hypotheses hold most weight.
    """
    rng = np.random.default_rng(seed)
    fixes = np.zeros((remedies, hypotheses))
    fixes[np.arange(remedies), np.arange(remedies) % hypotheses] = rng.uniform(0.6, 0.95, remedies)
    fixes[np.arange(remedies), rng.integers(0, hypotheses, remedies)] = 0.4
    states = 3
    problem = Problem(
        fixes=fixes,
        remedy_cost=rng.uniform(8, 90, (states, remedies)),
        remedy_leaves=np.zeros((states, remedies), dtype=np.intp),
        checks=tuple(rng.dirichlet(np.full(25, 0.2), hypotheses).T for _ in range(checks)),
        check_cost=rng.uniform(1, 25, (states, checks)),
        check_leaves=rng.integers(0, states, (states, checks)),
        price=90.0,
    )
    return problem, rng.dirichlet(np.full(hypotheses, 0.2))


def deciding(seed: int, repeats: int) -> dict[str, float]:
    """Milliseconds of each policy on `large`."""
    problem, w = large(seed)
    checks = range(len(problem.checks))
    return {
        "one move, then repairs": milliseconds(lambda: problem.moves(w, 0, checks), repeats),
        "one step": milliseconds(lambda: one_step(problem, w, 0, checks), repeats),
        "two steps": milliseconds(lambda: two_steps(problem, w, 0, checks), 3),
    }


# --- whole conversations, in processor time -------------------------------------------------------


STEPS = 20  # of a random journal
EVERY_COMPLAINT = """
import resource
from troubleshoot.advice.step import next_step
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.load import load

bench = Bench(load(), Machine())
for name in bench.rules.complaints:
    journal = append((), "2026-01-05T09:00:00", "complaint", bench.rules, complaint=name)
    next_step(bench.assess(journal))
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


@dataclass(frozen=True)
class Answers:
    """From an answer to the next step, ms of processor time, over random journals."""

    complaint: str
    first: float
    median: float
    p95: float
    most: float


def answers(rules: RuleBase, journals: int, repeats: int, seed: int) -> list[Answers]:
    """`first` compiles the complaint; then each answer of some journals, least of `repeats`.

    Answers are drawn at random, without a fault that would explain them: the hardest cases.
    """
    bench = Bench(rules, Machine())
    out = []
    for complaint in rules.complaints:
        first = _answer_time(bench, opened(bench, complaint), 1)
        times = []
        for number in range(journals):
            rng = random.Random(f"{seed} {complaint} {number}")
            for journal in _random_journals(bench, complaint, rng):
                times.append(_answer_time(bench, journal, repeats))
        times.sort()
        out.append(
            Answers(
                complaint,
                first,
                statistics.median(times),
                times[int(0.95 * len(times))],
                times[-1],
            )
        )
    return out


def _answer_time(bench: Bench, journal: Journal, repeats: int) -> float:
    times = []
    for _ in range(repeats):
        start = time.process_time()
        next_step(bench.assess(journal))
        times.append(time.process_time() - start)
    return 1000 * min(times)


def _random_journals(bench: Bench, complaint: str, rng: random.Random) -> Iterator[Journal]:
    """The journal after each of the first `STEPS` steps that the planner wants."""
    rules, journal = bench.rules, opened(bench, complaint)
    for _ in range(STEPS):
        case = bench.assess(journal)
        step = next_step(case)
        if step.id not in rules.actions or not isinstance(case, Diagnosis):
            return
        if step.kind == "remedy":
            now = rng.choice(("better", "unchanged", "worse"))
            journal = append(journal, AT, "action", rules, action=step.id, complaint_now=now)
        else:
            for finding in rules.actions[step.id].reveals:
                if finding in case.planner.net.findings and finding not in case.situation.answered:
                    answer = rng.choice(list(rules.findings[finding].answers))
                    journal = append(
                        journal, AT, "finding", rules,
                        finding=finding, answer=answer, sure="certain",
                    )  # fmt: skip
            journal = append(journal, AT, "action", rules, action=step.id)
        yield journal


def memory() -> float:
    """Most memory of a process that has planned the first step of every complaint, MB."""
    done = subprocess.run(
        [sys.executable, "-c", EVERY_COMPLAINT], cwd=Path(__file__).parents[2],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return float(done.stdout)


# --- beside general libraries ---------------------------------------------------------------------


@dataclass(frozen=True)
class SideBySide:
    """Milliseconds for the same posteriors, and the greatest difference from ours."""

    name: str
    milliseconds: float
    difference: float


def side_by_side(rules: RuleBase, seeds: range, repeats: int) -> list[SideBySide]:
    """Probability of each of ten causes on parts of the shipped rules, medians over `seeds`.

    The parts, and the networks that say the same, are those of tests/published/test_bn_library.py.
    Libraries that are not installed are left out. Compiling (the network in ours, the model in
    theirs) is not counted in any of them.
    """
    if find_spec("pgmpy") is None:
        return []
    from tests.published.test_bn_library import Case

    times: dict[str, list[float]] = {}
    apart: dict[str, float] = {}
    for seed in seeds:
        case = Case(rules, seed)
        observations = tuple(Observation(f, report) for f, report in case.told.items())
        evidence = Evidence(case.complaint, case.odds, (Epoch(observations),))
        net = Network(case.rules, Machine(), case.complaint, max_faults=len(case.causes))
        ours = posterior(net, evidence).present
        runs = {**_ours(net, evidence), **_pgmpy(case), **_pyagrum(case)}
        for name, run in runs.items():
            found = run()
            times.setdefault(name, []).append(milliseconds(run, repeats))
            gap = max(abs(found[c] - ours[c]) for c in case.causes)
            apart[name] = max(apart.get(name, 0.0), gap)
    return [SideBySide(n, statistics.median(ms), apart[n]) for n, ms in times.items()]


def _ours(net: Network, evidence: Evidence) -> dict[str, Callable[[], Mapping[str, float]]]:
    return {f"troubleshoot, numpy {np.__version__}": lambda: posterior(net, evidence).present}


def _pgmpy(case):  # type: ignore[no-untyped-def]
    import logging

    from pgmpy.inference import VariableElimination

    logging.getLogger("pgmpy").setLevel(logging.ERROR)
    net, seen = case.network()
    engine = VariableElimination(net)

    def run() -> dict[str, float]:
        return {
            c: float(engine.query([c], evidence=seen, show_progress=False).values[1])
            for c in case.causes
        }

    return {f"pgmpy {version('pgmpy')}, variable elimination": run}


def _pyagrum(case):  # type: ignore[no-untyped-def]
    if find_spec("pyagrum") is None:
        return {}
    import itertools

    import pyagrum as gum

    net, seen = case.network()
    twin = gum.BayesNet()
    for table in net.get_cpds():
        twin.add(gum.LabelizedVariable(table.variable, "", int(table.cardinality[0])))
    for table in net.get_cpds():
        for parent in table.variables[1:]:
            twin.addArc(parent, table.variable)
    for table in net.get_cpds():
        parents = table.variables[1:]
        for state in itertools.product(*(range(int(k)) for k in table.cardinality[1:])):
            column = table.values[(slice(None), *state)].tolist()
            where = dict(zip(parents, state, strict=True))
            if where:
                twin.cpt(table.variable)[where] = column
            else:
                twin.cpt(table.variable)[:] = column
    engine = gum.LazyPropagation(twin)
    engine.setTargets(set(case.causes))

    def run() -> dict[str, float]:
        engine.eraseAllEvidence()
        engine.setEvidence(seen)
        engine.makeInference()
        return {c: float(engine.posterior(c)[1]) for c in case.causes}

    return {f"pyAgrum {version('pyagrum')}, lazy propagation, targets set": run}


# --- growth ---------------------------------------------------------------------------------------


def synthetic(rules: RuleBase, causes: int, findings: int, rng: random.Random) -> RuleBase:
    """A made-up rule base of one complaint: yes/no findings, each told by five causes.

    A check for every three findings and a remedy for every cause.
    """
    complaint = next(iter(rules.complaints.values()))
    names = [f"cause_{n}" for n in range(causes)]
    shows: dict[str, dict[str, float]] = {c: {} for c in names}
    for n in range(findings):
        for c in rng.sample(names, min(5, causes)):
            shows[c][f"finding_{n}"] = rng.uniform(0.3, 0.95)
    base = {"source": "made up", "name": "made up"}
    act = {**base, "say": "do it", "steps": ["do it"], "state": "any"}
    found = [
        Finding.model_validate(
            {
                **base,
                "id": f"finding_{n}",
                "ask": "?",
                "kind": "yes_no",
                "answers": {"yes": "yes", "no": "no"},
                "background": {"yes": 0.05, "no": 0.95},
            }
        )
        for n in range(findings)
    ]
    faults = [
        Cause.model_validate(
            {
                **base,
                "id": c,
                "what": "made up",
                "subsystem": "any",
                "nature": "fault",
                "share": 100 / causes,
                "complaints": {complaint.id: rng.uniform(0.2, 0.9)},
                "remedies": [],
                "today": {"verdict": "coat", "note": "made up"},
                "shows": shows[c],
            }
        )
        for c in names
    ]
    checks = [
        Action.model_validate(
            {
                **act,
                "id": f"check_{n}",
                "kind": "check",
                "minutes": {"hands": rng.uniform(1, 15)},
                "reveals": [f.id for f in found[n : n + 3]],
            }
        )
        for n in range(0, findings, 3)
    ]
    remedies = [
        Action.model_validate(
            {
                **act,
                "id": f"mend_{c}",
                "kind": "remedy",
                "minutes": {"hands": rng.uniform(5, 60)},
                "cures": {c: 0.9},
            }
        )
        for c in names
    ]
    return rules.model_copy(
        update={
            "complaints": {complaint.id: complaint},
            "findings": {f.id: f for f in found},
            "groups": {},
            "causes": {c.id: c for c in faults},
            "actions": {a.id: a for a in [*checks, *remedies]},
        }
    )


@dataclass(frozen=True)
class Growth:
    """Milliseconds on a made-up rule base of this size; `sets` hypotheses in the posterior."""

    causes: int
    findings: int
    seen: int
    positive: int
    sets: int
    posterior: float
    ranking: float


def growth(
    rules: RuleBase, causes: int, findings: int, seen: int, positive: int, seed: int, repeats: int
) -> Growth:
    """One posterior and one ranking with `seen` findings answered, `positive` of them with yes."""
    made = synthetic(rules, causes, findings, random.Random(seed))
    complaint = next(iter(made.complaints))
    net = Network(made, Machine(), complaint)
    planner = Planner(net, Machine())
    told = tuple(
        Observation(f"finding_{n}", (1.0, 0.0) if n < positive else (0.0, 1.0)) for n in range(seen)
    )
    evidence = Evidence(complaint, {}, (Epoch(told),))
    belief = posterior(net, evidence)
    situation = Situation("pumped", "student", frozenset(o.finding for o in told))
    return Growth(
        causes,
        findings,
        seen,
        positive,
        len(belief.sets) + 1,
        milliseconds(lambda: posterior(net, evidence), repeats),
        milliseconds(lambda: planner.plan(belief, situation), repeats),
    )
