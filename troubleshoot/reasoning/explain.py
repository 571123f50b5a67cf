"""Why: what each observation did, and what single answer would change the verdict.

Weight of evidence in decibans, W = 10 log10 (odds with the observation / odds before it), step by
step in the order of the journal (I. J. Good, 1950, "Probability and the Weighing of Evidence"; one
deciban is about the smallest change of belief a person notices).
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from troubleshoot.reasoning.belief import (
    Epoch,
    Evidence,
    Network,
    Observation,
    Posterior,
    kept,
    paths,
    posterior,
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
    for e, epoch in enumerate(evidence.epochs):
        speaking = kept(net, epoch)
        before = _log_odds(net, evidence, e, speaking[:0], cause)
        for o, seen in enumerate(speaking):
            after = _log_odds(net, evidence, e, speaking[: o + 1], cause)
            out.append(Weight(e, seen.finding, 10.0 / math.log(10.0) * (after - before)))
            before = after
    return out


def _log_odds(
    net: Network, evidence: Evidence, number: int, seen: list[Observation], cause: str
) -> float:
    """ln odds of `cause` after the first observations of epoch `number`."""
    upto = (*evidence.epochs[:number], Epoch(tuple(seen)))
    p = posterior(net, replace(evidence, epochs=upto)).present[cause]
    p = min(max(p, TINY), 1.0 - TINY)
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
    for found in sorted(candidates, key=lambda c: -c.chance):
        after = posterior(planner.net, entered(planner, evidence, found.finding, found.answer))
        new = names[int(np.argmax(planner.weights(after)))]
        if matters(new):
            return replace(found, then=new)
    return None


def entered(planner: Planner, evidence: Evidence, finding: str, answer: str) -> Evidence:
    """The evidence with that answer added, for sure, to the last epoch."""
    answers = planner.rules.findings[finding].answers
    seen = Observation(finding, tuple(float(a == answer) for a in answers))
    *before, last = evidence.epochs
    last = replace(last, observations=(*last.observations, seen))
    return replace(evidence, epochs=(*before, last))


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

    def log_p(observations: tuple[Observation, ...]) -> float:
        upto = (*evidence.epochs[:number], Epoch(observations))
        return paths(net, replace(evidence, epochs=upto)).log_evidence

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
