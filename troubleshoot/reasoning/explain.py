"""Why: what each observation did, and what single answer would change the verdict.

Weight of evidence in decibans, W = 10 log10 (odds with the observation / odds before it), step by
step in the order of the journal (I. J. Good, 1950, "Probability and the Weighing of Evidence"; one
deciban is about the smallest change of belief a person notices).
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from troubleshoot.reasoning.belief import (
    Course,
    Evidence,
    Network,
    Observation,
    Paths,
    Posterior,
    kept,
    summary,
)
from troubleshoot.reasoning.planner import Planner

TINY = 1e-15
LITTLE = 1.0  # decibans below which an observation is said to say little


@dataclass(frozen=True)
class Weight:
    """What the observation of `finding` in epoch number `epoch` did to the odds of a cause."""

    epoch: int
    finding: str
    decibans: float


@dataclass(frozen=True)
class Overturn:
    """The likeliest single answer that would put another hypothesis (`then`) first."""

    finding: str
    answer: str
    chance: float
    then: str


def weights(net: Network, evidence: Evidence, cause: str) -> list[Weight]:
    """The weight of each observation for `cause`, one after the other in the journal's order.

    Each is what that observation added to the log-odds given all before it, so within an epoch
    they sum to the whole change; a repeat of what was known already adds little. An observation
    that a computed contrast replaces has no weight of its own and is left out.
    """
    out = []
    course, number = Course(net, evidence), net.index[cause]
    for e, epoch in enumerate(evidence.epochs):
        speaking = kept(net, epoch)
        before = _log_odds(course.seen(()), number)
        for o, seen in enumerate(speaking, start=1):
            after = _log_odds(course.seen(speaking[:o]), number)
            out.append(Weight(e, seen.finding, 10.0 / math.log(10.0) * (after - before)))
            before = after
        if epoch.treatment is not None:
            course.go_on(epoch)
    return out


def _log_odds(found: Paths, cause: int) -> float:
    """ln odds that the cause of this number is there now."""
    p = min(max(found.present(cause), TINY), 1.0 - TINY)
    return math.log(p) - math.log1p(-p)


def in_words(decibans: float) -> str:
    """A weight of evidence in words: 3 dB doubles the odds, 10 dB multiplies them by ten."""
    size = abs(decibans)
    if size < LITTLE:
        return "says little"
    strength = "speaks slightly" if size < 3 else "speaks" if size < 7 else "speaks strongly"
    return f"{strength} {'for' if decibans > 0 else 'against'}"


def overturn(
    planner: Planner,
    belief: Posterior,
    evidence: Evidence,
    answered: frozenset[str],
    alike: frozenset[str] = frozenset(),
) -> Overturn | None:
    """The likeliest single answer, among findings not yet answered, that would change the lead.

    Going over to a cause in `alike` or to "unlisted" changes nothing that matters; going over to
    "nothing_wrong" does. Candidates are found in the planner's picture (single causes, findings one
    by one). Each is then added to the `evidence` in earnest, the likeliest first, and the
    first that does change the lead is returned.
    """
    names = ("nothing_wrong", "unlisted", *planner.net.causes)
    w = planner.weights(belief)
    lead = names[int(np.argmax(w))]

    def matters(new: str) -> bool:
        return new not in (lead, "unlisted") and new not in alike

    candidates = []
    for finding in planner.net.findings:
        if finding in answered or not planner.rules.revealed_by[finding]:
            continue
        joint = planner.answers(finding) * w
        for row, answer in enumerate(planner.rules.findings[finding].answers):
            new = names[int(np.argmax(joint[row]))]
            if matters(new):
                candidates.append(Overturn(finding, answer, float(joint[row].sum() / w.sum()), new))
    *before, last = evidence.epochs
    course = Course.through(planner.net, evidence, before)
    for found in sorted(candidates, key=lambda c: -c.chance):
        seen = (*last.observations, sure(planner, found.finding, found.answer))
        after = summary(planner.net, course.seen(seen))
        new = names[int(np.argmax(planner.weights(after)))]
        if matters(new):
            return replace(found, then=new)
    return None


def sure(planner: Planner, finding: str, answer: str) -> Observation:
    """The observation of this answer, for sure."""
    answers = planner.rules.findings[finding].answers
    return Observation(finding, tuple(float(a == answer) for a in answers))


@dataclass(frozen=True)
class Conflict:
    """How badly the observations of an epoch fit together, and the pair that clashes most.

    `bits` = log2(prod P(e_i) / P(all)), above 0 when they are likelier apart than together (Jensen,
    Chamberlain, Nordahl and Jensen 1990, "Analysis in HUGIN of data conflict").
    """

    bits: float
    pair: tuple[str, str] | None
    pair_bits: float


def conflict(net: Network, evidence: Evidence) -> Conflict:
    """The conflict among the observations of the last epoch in which two or more speak."""
    speaking = [kept(net, epoch) for epoch in evidence.epochs]
    number = max((n for n, spoke in enumerate(speaking) if len(spoke) > 1), default=None)
    if number is None:
        return Conflict(0.0, None, 0.0)
    seen = tuple(speaking[number])
    course = Course.through(net, evidence, evidence.epochs[:number])

    def log_p(observations: tuple[Observation, ...]) -> float:
        return course.seen(observations).log_evidence

    ground = log_p(())
    single = [log_p((s,)) - ground for s in seen]
    whole = (sum(single) - (log_p(seen) - ground)) / math.log(2.0)
    if whole <= 0:
        return Conflict(whole, None, 0.0)
    worst, clash = max(
        (
            (single[i] + single[j] - (log_p((seen[i], seen[j])) - ground), (i, j))
            for i in range(len(seen))
            for j in range(i)
        ),
    )
    pair = (seen[clash[1]].finding, seen[clash[0]].finding)
    return Conflict(whole, pair, worst / math.log(2.0))
