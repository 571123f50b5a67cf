"""How firm a verdict is: does it survive if the rule base's numbers are somewhat wrong?

Many copies of the rule base are made whose priors, links and background rates carry random noise on
the log-odds scale; the share of copies in which the same hypothesis leads is the firmness. Noise of
this kind is how belief networks' sensitivity is usually probed (Pradhan, Henrion, Provan, Del
Favero and Huang 1996, "The sensitivity of belief networks to imprecise probabilities", AIJ 85).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from troubleshoot.reasoning.belief import Evidence, Network, case_odds, log_likelihood, paths
from troubleshoot.reasoning.findings import Floats, Ints, combine, split

COPIES = 500
SIGMA = 0.25 * np.log(10.0)  # a quarter of a decade on the odds: a factor of 1.8
KEPT = 120
FIRM = 0.7  # below this share a verdict is called provisional


@dataclass(frozen=True)
class Firmness:
    """The share of perturbed copies in which `leader` still leads, and who leads in the others."""

    leader: str
    share: float
    others: tuple[tuple[str, float], ...]


def firmness(
    net: Network, evidence: Evidence, copies: int = COPIES, sigma: float = SIGMA, seed: int = 1
) -> Firmness:
    """How often the leading hypothesis leads on `copies` perturbed rule bases.

    Hypotheses are single causes (present now), "nothing_wrong" and "unlisted". Only the `KEPT`
    likeliest paths are re-weighed; the rest keep their exact weights and are left out of the race.
    """
    found = paths(net, evidence)
    top = np.argsort(-found.log_weight, kind="stable")[:KEPT]
    epochs = found.trail.all(top)
    rng = np.random.default_rng(seed)
    change = _prior_change(net, evidence, epochs[0], copies, sigma, rng)
    noisy = _noisy(net, np.unique(np.hstack(epochs)), copies, sigma, rng)
    change = change + log_likelihood(net, evidence, epochs, noisy)
    change = change - log_likelihood(net, evidence, epochs, net.probabilities)
    highest = found.log_weight[top].max()
    exact = np.exp(found.log_weight[top] - highest)
    unlisted = float(np.exp(found.unlisted - highest))
    return _leaders(net, epochs[-1], exact * np.exp(change), unlisted, exact)


def _prior_change(
    net: Network,
    evidence: Evidence,
    members: Ints,
    copies: int,
    sigma: float,
    rng: np.random.Generator,
) -> Floats:
    """ln of the change of each path's prior, complaint included: (copies, paths)."""
    n = len(net.causes)
    noise = rng.normal(0.0, sigma, (copies, n + 1))
    noise[:, n] = 0.0
    s = np.clip(net.strength, 1e-12, 1.0 - 1e-12)
    logit = np.log(s) - np.log1p(-s) + rng.normal(0.0, sigma, (copies, n + 1))
    strength = np.where(net.strength > 0, 1.0 / (1.0 + np.exp(-logit)), 0.0)
    quiet = np.prod(1.0 - strength[:, members], axis=-1)
    raised = 1.0 - (1.0 - net.false_alarm) * quiet
    base = net.prior(members, case_odds(net, evidence)) / np.prod(
        case_odds(net, evidence)[members], axis=1
    )
    return np.asarray(noise[:, members].sum(axis=-1) + np.log(raised) - np.log(base))


def _noisy(
    net: Network, live: Ints, copies: int, sigma: float, rng: np.random.Generator
) -> Callable[[str, Ints], Floats]:
    """P(answer | set) of the perturbed copies, shape (copies, sets, answers).

    A finding is perturbed once; a cure test keeps its numbers. Sets hold only the causes `live`.
    """
    kept: dict[str, tuple[Ints, Floats, Floats, Floats]] = {}

    def probabilities(finding: str, members: Ints) -> Floats:
        table = net.table(finding)
        if table.kind == "cure_test":
            p = table.probabilities(members)
            return np.broadcast_to(p, (copies, *p.shape))
        if finding not in kept:
            b = _tilt(table.background, _noise(sigma, (copies, len(table.background)), rng))
            noise = _noise(sigma, (copies, *table.rows.shape), rng)
            says = live[table.says[live]]
            rows = _tilt(table.rows[says], noise[:, says])
            # The place after the last of them stands for every cause without a say.
            place = np.full(len(table.says), len(says))
            place[says] = np.arange(len(says))
            kept[finding] = (place, b, *split(np.concatenate([rows, b[:, None, :]], axis=1), b))
        place, b, loud, imposed = kept[finding]
        heard = table.bearing(members)
        out = np.repeat(b[:, None, :], len(members), axis=1)
        out[:, heard] = combine(table.kind, b, loud, imposed, place[members[heard]])
        return out

    return probabilities


def _noise(sigma: float, shape: tuple[int, ...], rng: np.random.Generator) -> Floats:
    """Noise for the logarithm of each answer."""
    # Two answers with independent noise s/sqrt(2) each have noise s on their log-odds.
    return rng.normal(0.0, sigma / np.sqrt(2.0), shape)


def _tilt(p: Floats, noise: Floats) -> Floats:
    """Distributions with noise on the logarithm of each answer, normalised again."""
    tilted = p * np.exp(noise)
    return np.asarray(tilted / tilted.sum(axis=-1, keepdims=True))


def _leaders(
    net: Network, members: Ints, weight: Floats, unlisted: float, exact: Floats
) -> Firmness:
    n = len(net.causes)
    names = [*net.causes, "nothing_wrong", "unlisted"]
    belongs = np.zeros((len(members), n + 2))
    for column in range(members.shape[1]):
        belongs[np.arange(len(members)), members[:, column]] = 1.0
    nothing = ~np.any(net.strength[members] > 0, axis=1)
    belongs[:, n] = nothing
    scores = weight @ belongs
    scores[:, n + 1] = unlisted
    base = exact @ belongs
    base[n + 1] = unlisted
    leader = int(np.argmax(base))
    first = np.bincount(np.argmax(scores, axis=1), minlength=n + 2) / len(scores)
    order = [i for i in np.argsort(-first, kind="stable") if i != leader and first[i] > 0][:3]
    return Firmness(
        names[leader], float(first[leader]), tuple((names[i], float(first[i])) for i in order)
    )
