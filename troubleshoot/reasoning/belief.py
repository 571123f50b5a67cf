"""How likely is every set of faults, given everything observed and done, exactly.

Words used here
    set         a set of causes that are present together; the empty set means nothing is wrong
    unlisted    one more hypothesis: a cause that is not in this rule base
    epoch       the time between two actions that may have cured something
    path        the set present in each epoch, one after the other
    treatment   an action that may have cured causes, ends an epoch and starts the next one

The weight of a path is prior x P(complaint | first set) x, for each epoch, P(its observations |
the set present) x, for each treatment, P(what it left | what was there) x P(what was then seen of
the complaint). All are kept as logarithms; the posterior is their normalised sum. Sets hold at most
`max_faults` causes at the start (2 by default: the same probabilities as with 3 to within 0.003
on average on this kind of network).
"""

import itertools
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import overload

import numpy as np

from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import RECHECK, RuleBase
from troubleshoot.reasoning.findings import Floats, Ints, Likelihoods, compile_table, over
from troubleshoot.reasoning.trail import Trail

NEGLIGIBLE = 46.0  # paths lighter than the heaviest by e^46 (a factor 1e20) are dropped
MOST_PATHS = 20_000  # of more paths than this the lightest are dropped; what that costs is measured
SPOKEN = 24
"""So many findings are kept spelled out over all sets, about as many as one case has."""
Names = tuple[str, ...]


@dataclass(frozen=True)
class Observation:
    """What was seen of a finding: P(what was reported | each answer), in the answers' order."""

    finding: str
    likelihood: tuple[float, ...]


@dataclass(frozen=True)
class Treatment:
    """What an action may have cured or caused, and P(report of the complaint | each of RECHECK)."""

    cures: Mapping[str, float]
    may_cause: Mapping[str, float]
    recheck: tuple[float, float, float, float] | None


@dataclass(frozen=True)
class Epoch:
    """The observations of one epoch and the treatment that ended it (None in the last one)."""

    observations: tuple[Observation, ...] = ()
    treatment: Treatment | None = None


@dataclass(frozen=True)
class Evidence:
    """Everything that belief needs to know of a case. `odds` are factors from circumstances."""

    complaint: str
    odds: Mapping[str, float] = field(default_factory=dict)
    epochs: tuple[Epoch, ...] = (Epoch(),)


@dataclass(frozen=True)
class Posterior:
    """The answer: probability of every path, summed up in several ways.

    `present` and `present_at_start`: P(cause is there now / was there when the case began).
    `shares`: the probability of each set shared out to those of its causes that bear on the
    complaint, so that these, `nothing_wrong` and `unlisted` sum to 1.
    `sets`: P(exactly this set is there now), likeliest first. `nothing_wrong`: P(no cause is there
    that bears on the complaint); `unlisted` is a hypothesis of its own. `log_evidence` is
    ln P(everything observed | complaint).
    """

    present: Mapping[str, float]
    present_at_start: Mapping[str, float]
    shares: Mapping[str, float]
    sets: Sequence[tuple[Names, float]]
    nothing_wrong: float
    unlisted: float
    log_evidence: float


class _Sets(Sequence[tuple[Names, float]]):
    """Sets with their probabilities, spelled out only where they are looked at."""

    def __init__(self, causes: Names, members: Ints, mass: Floats) -> None:
        self._causes, self._members, self._mass = causes, members, mass

    def __len__(self) -> int:
        return len(self._mass)

    def __iter__(self) -> Iterator[tuple[Names, float]]:
        n, causes = len(self._causes), self._causes
        for row, mass in zip(self._members.tolist(), self._mass.tolist(), strict=True):
            yield tuple([causes[i] for i in row if i < n]), mass

    @overload
    def __getitem__(self, at: int) -> tuple[Names, float]: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[tuple[Names, float]]: ...
    def __getitem__(self, at: int | slice) -> tuple[Names, float] | Sequence[tuple[Names, float]]:
        if isinstance(at, slice):
            return _Sets(self._causes, self._members[at], self._mass[at])
        n = len(self._causes)
        return tuple(self._causes[i] for i in self._members[at] if i < n), float(self._mass[at])


class Network:
    """The rule base as it bears on one complaint on one machine, compiled.

    Sets hold at most `max_faults` causes when the case begins. What does not depend on a case is
    kept, so one network should serve all cases of its complaint and machine.
    """

    def __init__(
        self, rules: RuleBase, machine: Machine, complaint: str, max_faults: int = 2
    ) -> None:
        self.rules = rules
        self.max_faults = max_faults
        self.complaint = complaint
        self.causes: Names = tuple(c.id for c in rules.causes.values() if machine.allows(c.machine))
        self.index = {name: n for n, name in enumerate(self.causes)}
        self.findings: Names = tuple(
            f.id for f in rules.findings.values() if machine.allows(f.machine)
        )
        strength = [rules.causes[c].complaints.get(complaint, 0.0) for c in self.causes]
        self.strength: Floats = np.array([*strength, 0.0])
        causes = [rules.causes[c] for c in self.causes]
        rate = np.array([c.share * machine.chance(c.machine) for c in causes])
        rate = rate * rules.settings.presence_per_share
        self.prior_odds: Floats = np.array([*(rate / (1.0 - rate)), 1.0])
        self.intermittent = np.array(
            [*(rules.causes[c].intermittent for c in self.causes), True], dtype=bool
        )
        self.group_of = {f: g.id for g in rules.groups.values() for f in g.findings}
        self._tables: dict[str, Likelihoods] = {}
        self._population: dict[str, Floats] = {}
        self._spoken: dict[str, tuple[Ints, Floats]] = {}

    def table(self, finding: str) -> Likelihoods:
        """The compiled finding."""
        if finding not in self._tables:
            self._tables[finding] = compile_table(
                self.rules.findings[finding], self.causes, self.rules.rows
            )
        return self._tables[finding]

    @cached_property
    def starts(self) -> Ints:
        """All sets of at most `max_faults` causes, one a row, padded with the index n."""
        n = len(self.causes)
        width = max(1, min(self.max_faults, n))
        parts = []
        for size in range(min(self.max_faults, n) + 1):
            chosen = itertools.chain.from_iterable(itertools.combinations(range(n), size))
            sets = np.fromiter(chosen, dtype=np.intp).reshape(math.comb(n, size), size)
            parts.append(_padded(sets, width, n))
        return np.concatenate(parts)

    def complaint_given(self, members: Ints) -> Floats:
        """P(a present cause raises the complaint | set), false alarms left out."""
        return np.asarray(1.0 - over(np.multiply, 1.0 - self.strength, members))

    @cached_property
    def false_alarm(self) -> float:
        """P(complaint | nothing wrong) that makes `normal_share` of such complaints empty."""
        share = self.rules.complaints[self.complaint].normal_share
        members = self.starts
        weight = over(np.multiply, self.prior_odds, members)
        raised = self.complaint_given(members)
        a, b = float(weight @ raised), float(weight @ (1.0 - raised))
        if a <= 0.0:  # no cause here raises it: a false alarm, or unlisted
            return 0.5
        return min(0.5, share * a / max(1e-9, 1.0 - share * b))

    def prior(self, members: Ints, odds: Floats) -> Floats:
        """Joint weight of each set with the complaint having been raised (not normalised)."""
        raised = self._raised if members is self.starts else self._raised_by(members)
        return np.asarray(over(np.multiply, odds, members) * raised)

    def _raised_by(self, members: Ints) -> Floats:
        """P(complaint | set), false alarms included."""
        return 1.0 - (1.0 - self.false_alarm) * (1.0 - self.complaint_given(members))

    @cached_property
    def _raised(self) -> Floats:
        return self._raised_by(self.starts)

    @cached_property
    def unlisted_weight(self) -> float:
        """The weight of "not in this rule base" on the scale of `prior` without circumstances."""
        share = self.rules.complaints[self.complaint].unlisted_share
        total = float(self.prior(self.starts, self.prior_odds).sum())
        return total * share / (1.0 - share)

    def population(self, finding: str) -> Floats:
        """Mean P(answer) over all hypotheses as they stand when the complaint comes in."""
        if finding not in self._population:
            table, weight = self.table(finding), self._start_shares
            rows = table.bearing(self.starts)
            spoken = weight[rows] @ table.spoken(self.starts[rows])
            silent = 1.0 - weight[rows].sum()
            self._population[finding] = silent * table.background + spoken
        return self._population[finding]

    @cached_property
    def _start_shares(self) -> Floats:
        """How likely each of `starts` is when the complaint comes in."""
        weight = self.prior(self.starts, self.prior_odds)
        return weight / weight.sum()

    def probabilities(self, finding: str, members: Ints) -> Floats:
        """P(answer | set), shape (sets, answers), of any sets; those of `starts` are kept."""
        if members is self.starts:
            return self.seen(finding)
        return self.table(finding).probabilities(members)

    def seen(self, finding: str) -> Floats:
        """P(answer | set) over `starts`, shape (sets, answers).

        Kept are only the sets that do not show the background: a few in a hundred of all.
        """
        table = self.table(finding)
        if finding not in self._spoken:
            rows = table.bearing(self.starts)
            if len(self._spoken) >= SPOKEN:  # some 50 kB each
                del self._spoken[next(iter(self._spoken))]
            self._spoken[finding] = rows.astype(np.int32), table.spoken(self.starts[rows])
        return table.spread(*self._spoken[finding], len(self.starts))


def capped_odds(rules: RuleBase, factors: Sequence[Mapping[str, float]]) -> dict[str, float]:
    """The product of the circumstances' factors for each cause, within the caps."""
    out: dict[str, float] = {}
    for mapping in factors:
        for cause, factor in mapping.items():
            out[cause] = out.get(cause, 1.0) * factor
    up, down = rules.settings.odds_cap_up, rules.settings.odds_cap_down
    return {cause: min(up, max(1.0 / down, factor)) for cause, factor in out.items()}


def posterior(net: Network, evidence: Evidence) -> Posterior:
    """The exact posterior over paths, given `evidence`.

    The unlisted hypothesis answers every finding by the population mean and is never cured.
    """
    return summary(net, paths(net, evidence))


@dataclass(frozen=True)
class Paths:
    """Every path with its weight, and the trail of its sets."""

    trail: Trail
    log_weight: Floats
    unlisted: float
    start_total: float

    @cached_property
    def epochs(self) -> list[Ints]:
        """The members of each path's set in each epoch, row by row."""
        return self.trail.all()

    @cached_property
    def total(self) -> float:
        """ln of the sum of all weights."""
        return float(np.logaddexp(np.logaddexp.reduce(self.log_weight), self.unlisted))

    @property
    def log_evidence(self) -> float:
        """ln P(everything observed | complaint)."""
        return self.total - self.start_total

    def present(self, cause: int) -> float:
        """P(the cause of this number is there now)."""
        there = (self.trail.now == cause).any(axis=1)
        return float(np.exp(self.log_weight[there] - self.total).sum())


def paths(net: Network, evidence: Evidence) -> Paths:
    """All paths and their log weights, not normalised."""
    *before, last = evidence.epochs
    return Course.through(net, evidence, before).seen(last.observations)


class Course:
    """A case gone through epoch by epoch: all paths before anything is seen in the running one.

    Whoever asks what several observations would say in one epoch goes through those before it once.
    """

    def __init__(self, net: Network, evidence: Evidence) -> None:
        """The beginning of the case; of what was seen and done in it nothing is read."""
        self._net, self._trail = net, Trail(net.starts)
        with np.errstate(divide="ignore"):
            self._log_weight = np.log(net.prior(net.starts, case_odds(net, evidence)))
        self._unlisted = math.log(net.unlisted_weight)
        start = np.logaddexp(np.logaddexp.reduce(self._log_weight), self._unlisted)
        self._start_total, self._number = float(start), 0
        self._last: Last = {}

    @classmethod
    def through(cls, net: Network, evidence: Evidence, epochs: Iterable[Epoch]) -> "Course":
        """The case after these epochs, which are over."""
        course = cls(net, evidence)
        for epoch in epochs:
            course.go_on(epoch)
        return course

    def seen(self, observations: Sequence[Observation]) -> Paths:
        """All paths once this is seen in the running epoch."""
        net, epoch = self._net, Epoch(tuple(observations))
        told = _log_likelihood(
            net, epoch, self._trail.now, self._trail.at, self._last, net.probabilities
        )
        return Paths(
            self._trail,
            self._log_weight + told,
            self._unlisted + _log_likelihood_unlisted(net, epoch, self._last),
            self._start_total,
        )

    def go_on(self, epoch: Epoch) -> None:
        """The running epoch ends as `epoch` has it, with a treatment, and the next one begins."""
        if epoch.treatment is None:
            raise ValueError("an epoch without a treatment is the last one")
        found = self.seen(epoch.observations)
        _remember(self._last, self._number, epoch)
        now, rows, self._log_weight = _treat(
            self._net, epoch.treatment, found.trail.now, found.log_weight
        )
        self._trail, self._number = found.trail.then(now, rows), self._number + 1
        self._unlisted = found.unlisted + _recheck_unlisted(self._net, epoch.treatment)


def case_odds(net: Network, evidence: Evidence) -> Floats:
    """The prior odds of each cause with the circumstances of the case, shape (causes + 1,)."""
    odds = net.prior_odds.copy()
    for cause, factor in evidence.odds.items():
        if cause in net.index:
            odds[net.index[cause]] *= factor
    return odds


def log_likelihood(
    net: Network, evidence: Evidence, epochs: Sequence[Ints], probabilities: "Probabilities"
) -> Floats:
    """ln P(all observations | path) for some paths, shape (..., paths).

    `probabilities(finding, members)` gives P(answer | set), shape (..., sets, answers); with the
    network's own this is what the paths' weights hold of the observations.
    """
    total: Floats = np.zeros(len(epochs[0]))
    last: Last = {}
    for number, epoch in enumerate(evidence.epochs):
        total = total + _log_likelihood(
            net, epoch, epochs[number], epochs.__getitem__, last, probabilities
        )
        _remember(last, number, epoch)
    return total


Last = dict[str, tuple[int, Floats]]
Probabilities = Callable[[str, Ints], Floats]


def _remember(last: Last, number: int, epoch: Epoch) -> None:
    for seen in epoch.observations:
        vector = np.array(seen.likelihood)
        last[seen.finding] = (number, vector / vector.sum())


def kept(net: Network, epoch: Epoch) -> list[Observation]:
    """Observations that speak: known on this machine and not replaced by a computed contrast."""
    replaced = {
        name for seen in epoch.observations for name in net.rules.findings[seen.finding].replaces
    }
    return [s for s in epoch.observations if s.finding not in replaced]


def _log_likelihood(
    net: Network,
    epoch: Epoch,
    now: Ints,
    sets_at: Callable[[int], Ints],
    last: Last,
    probabilities: Probabilities,
) -> Floats:
    total: Floats = np.zeros(len(now))
    groups: dict[str, list[tuple[Floats, float]]] = {}
    for seen in kept(net, epoch):
        vector = np.array(seen.likelihood)
        fresh = probabilities(seen.finding, now) @ vector
        mean = float(net.population(seen.finding) @ vector)
        if seen.finding in last:
            before, repeated = last[seen.finding]
            sticky = net.rules.settings.sticky
            stuck = sticky * float(repeated @ vector) + (1.0 - sticky) * fresh
            fresh = np.where(_unchanged(net, seen.finding, sets_at(before), now), stuck, fresh)
            mean = sticky * float(repeated @ vector) + (1.0 - sticky) * mean
        group = net.group_of.get(seen.finding)
        if group is None:
            total = total + np.log(fresh)
        else:
            groups.setdefault(group, []).append((fresh, mean))
    for group, members in groups.items():
        k = net.rules.groups[group].chance
        right = np.prod([p for p, _ in members], axis=0)
        wrong = math.prod(m for _, m in members)
        total = total + np.log((1.0 - k) * right + k * wrong)
    return total


def _log_likelihood_unlisted(net: Network, epoch: Epoch, last: Last) -> float:
    total = 0.0
    for seen in kept(net, epoch):
        vector = np.array(seen.likelihood)
        mean = float(net.population(seen.finding) @ vector)
        if seen.finding in last:
            sticky = net.rules.settings.sticky
            mean = sticky * float(last[seen.finding][1] @ vector) + (1.0 - sticky) * mean
        total += math.log(mean)
    return total


def _unchanged(net: Network, finding: str, before: Ints, now: Ints) -> Floats:
    """Where the causes that bear on `finding` are the same in both epochs."""
    says = net.table(finding).says
    n = len(net.causes)

    def bearing(members: Ints) -> Ints:
        return np.sort(np.where(says[members], members, n), axis=1)

    a, b = bearing(before), bearing(now)
    width = max(a.shape[1], b.shape[1])
    return np.all(_padded(a, width, n) == _padded(b, width, n), axis=1)


def _padded(members: Ints, width: int, n: int) -> Ints:
    short = width - members.shape[1]
    return np.pad(members, ((0, 0), (0, short)), constant_values=n) if short else members


def _treat(
    net: Network, treatment: Treatment, before: Ints, log_weight: Floats
) -> tuple[Ints, Ints, Floats]:
    """Split every path by what the treatment may have cured or caused, then look again.

    The new sets, the row that each came from, and the weights. Of more than `MOST_PATHS` the
    lightest are dropped.
    """
    n = len(net.causes)
    cure = np.zeros(n + 1)
    for cause, p in treatment.cures.items():
        if cause in net.index:
            cure[net.index[cause]] = p
    rows = np.arange(len(log_weight))
    now, weight = before, log_weight
    for column in range(now.shape[1]):
        hit = np.flatnonzero(cure[now[:, column]] > 0)
        if not len(hit):
            continue
        p = cure[now[hit, column]]
        cured = now[hit].copy()
        cured[:, column] = n
        left = weight.copy()
        left[hit] += np.log1p(-p)
        now = np.concatenate([now, cured])
        rows = np.concatenate([rows, rows[hit]])
        weight = np.concatenate([left, weight[hit] + np.log(p)])
    for cause, p in treatment.may_cause.items():
        if cause not in net.index:
            continue
        new = net.index[cause]
        # No set grows beyond `max_faults`: else every remedy would double the number of paths.
        room = (now < n).sum(axis=1) < net.max_faults
        free = np.flatnonzero(room & ~np.any(now == new, axis=1))
        added = np.concatenate([now[free], np.full((len(free), 1), new)], axis=1)
        left = weight.copy()
        left[free] += math.log1p(-p)
        now = np.concatenate([_padded(now, added.shape[1], n), added])
        rows = np.concatenate([rows, rows[free]])
        weight = np.concatenate([left, weight[free] + math.log(p)])
    if treatment.recheck is not None:
        weight = weight + np.log(_recheck(net, before[rows], now, treatment.recheck))
    kept = np.flatnonzero(weight > weight.max() - NEGLIGIBLE)
    if len(kept) > MOST_PATHS:
        kept = np.sort(kept[np.argpartition(-weight[kept], MOST_PATHS)[:MOST_PATHS]])
    return _narrow(now[kept], n), rows[kept], weight[kept]


def _narrow(members: Ints, n: int) -> Ints:
    """The same sets without columns that hold padding only: each cause that a remedy may bring
    adds a column, and a long case would grow as wide as it is long."""
    ordered = np.sort(members, axis=1)
    return ordered[:, : max(1, int((ordered < n).any(axis=0).sum()))]


def _recheck(net: Network, before: Ints, now: Ints, report: Sequence[float]) -> Floats:
    """P(what was seen of the complaint | set before, set now), shape (paths,).

    The complaint was raised by the set before; with fewer causes it persists with the ratio of
    the two sets' strengths (the same chances that raised it, coupled). It may hide at one look when
    every cause that bears on it is intermittent.
    """
    told = {
        k: sum(v[a] * p for a, p in zip(RECHECK, report, strict=True))
        for k, v in net.rules.settings.recheck.items()
    }
    had, has = net.complaint_given(before), net.complaint_given(now)
    persists = np.clip(has / np.where(had > 0, had, 1.0), 0.0, 1.0)
    fewer = persists * told["fewer"] + (1.0 - persists) * told["gone"]
    may_hide = over(np.logical_and, net.intermittent | (net.strength <= 0), now)
    hides = net.rules.settings.intermittent_passes * may_hide
    same = hides * told["gone"] + (1.0 - hides) * told["same"]
    out = np.where(has < had - 1e-12, fewer, same)
    out = np.where(has > had + 1e-12, told["more"], out)
    return np.where((had <= 0) & (has <= 0), told["never_was"], out)


def _recheck_unlisted(net: Network, treatment: Treatment) -> float:
    if treatment.recheck is None:
        return 0.0
    same = net.rules.settings.recheck["same"]
    return math.log(sum(same[a] * p for a, p in zip(RECHECK, treatment.recheck, strict=True)))


def summary(net: Network, found: Paths) -> Posterior:
    """The posterior from weighted paths."""
    first, now = found.trail.at(0), found.trail.now
    p = np.exp(found.log_weight - found.total)
    n = len(net.causes)
    merged, mass = now, p
    if now is not first:  # only what was done can bring two paths to the same set
        ordered = np.sort(now, axis=1)
        # One number a set, in the order of the sets: a set is few causes.
        number = np.ravel_multi_index(tuple(ordered.T), (n + 1,) * ordered.shape[1])
        _, kept, which = np.unique(number, return_index=True, return_inverse=True)
        merged = ordered[kept]
        mass = np.bincount(which, weights=p, minlength=len(merged)).astype(float)
    order = np.argsort(-mass, kind="stable")
    bears = net.strength[merged] > 0
    share = mass / np.maximum(bears.sum(axis=1), 1)
    shares = np.zeros(n + 1)
    for column in range(merged.shape[1]):
        weights = np.where(bears[:, column], share, 0.0)
        shares += np.bincount(merged[:, column], weights=weights, minlength=n + 1)
    present = _marginals(net, now, p)
    return Posterior(
        present=present,
        present_at_start=present if now is first else _marginals(net, first, p),
        sets=_Sets(net.causes, merged[order], mass[order]),
        shares=dict(zip(net.causes, shares.tolist(), strict=False)),
        nothing_wrong=float(p[~over(np.logical_or, net.strength > 0, now)].sum()),
        unlisted=math.exp(found.unlisted - found.total),
        log_evidence=found.log_evidence,
    )


def _marginals(net: Network, members: Ints, p: Floats) -> dict[str, float]:
    out = np.zeros(len(net.causes) + 1)
    for column in range(members.shape[1]):
        out += np.bincount(members[:, column], weights=p, minlength=len(out))
    return {name: float(out[i]) for i, name in enumerate(net.causes)}
