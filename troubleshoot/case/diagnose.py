"""What is believed of a case and what to do next, computed only when it is asked for.

`Bench` keeps what was compiled for one rule base and machine; a `Diagnosis` is a case that has a
complaint. Belief and plan are worked out at their first use and then kept.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cached_property

from troubleshoot.case.deduce import Deduction, deduce
from troubleshoot.case.journal import Journal
from troubleshoot.case.known import Done, Known, active
from troubleshoot.case.relevance import no_sense, other_trouble
from troubleshoot.coater.fields import FACTS
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import RECHECK, RuleBase
from troubleshoot.reasoning.belief import (
    Epoch,
    Evidence,
    Network,
    Observation,
    Posterior,
    Treatment,
    capped_odds,
    posterior,
)
from troubleshoot.reasoning.learned import Tally, with_cases
from troubleshoot.reasoning.planner import Plan, Planner, Situation

AGAIN_AFTER = ("better", "unchanged")  # what may follow a first try that was not thorough enough
FURTHER_AFTER = ("better",)  # and one that set a control, which may have been set further


@dataclass(frozen=True)
class Diagnosis(Deduction):
    """A case that has a complaint: what was observed, what is believed, what to do next."""

    complaint: str
    planner: Planner
    evidence: Evidence
    situation: Situation

    @cached_property
    def belief(self) -> Posterior:
        """The posterior over sets of causes."""
        return posterior(self.planner.net, self.evidence)

    @cached_property
    def plan(self) -> Plan:
        """The next step and why."""
        return self.planner.plan(self.belief, self.situation)

    @cached_property
    def other_trouble(self) -> str | None:
        """The complaint that what stands fits rather than this one, if there is such."""
        told = _standing(self, _answered(self))
        return other_trouble(self.rules, self.complaint, told, active(self.known))


class Bench:
    """One rule base and one machine, with what was compiled for them kept.

    That is one planner for each complaint, and the last that counted the lab's cases in: every case
    may hold other counts, and in a long use they would be kept without bound.
    """

    def __init__(self, rules: RuleBase, machine: Machine) -> None:
        self.rules, self.machine = rules, machine
        self._planners: dict[tuple[str, str], Planner] = {}

    def planner(self, complaint: str, book: Tally | None = None) -> Planner:
        """The compiled planner (and, as `.net`, network) of a complaint, with the lab's cases.

        Raises `UserError` where nothing on this machine can raise it.
        """
        key = complaint, book.hash if book else ""
        if key not in self._planners:
            nothing = nothing_raises(self.rules, self.machine, complaint)
            if nothing:
                raise UserError(nothing)
            rules = self.rules
            if book:
                rules = with_cases(rules, self.machine, complaint, book)
                self._planners = {kept: p for kept, p in self._planners.items() if not kept[1]}
            self._planners[key] = Planner(Network(rules, self.machine, complaint), self.machine)
        return self._planners[key]

    def deduce(self, journal: Journal) -> Deduction:
        """What is known and what follows by rules alone."""
        return deduce(journal, self.rules, self.machine)

    def assess(self, journal: Journal) -> Deduction:
        """Where the case stands: a `Diagnosis` as soon as it has a complaint."""
        base = self.deduce(journal)
        return base if base.known.complaint is None else self.diagnose(base)

    def diagnose(self, base: Deduction) -> Diagnosis:
        """The diagnosis of a case that has a complaint. Raises ValueError where it has none."""
        complaint = base.known.complaint
        if complaint is None:
            raise ValueError("a case without a complaint has no diagnosis")
        planner = self.planner(complaint, base.known.book)
        return Diagnosis(
            **{f.name: getattr(base, f.name) for f in fields(Deduction)},
            complaint=complaint,
            planner=planner,
            evidence=evidence_of(base, planner),
            situation=situation_of(base),
        )


def nothing_raises(rules: RuleBase, machine: Machine, complaint: str) -> str:
    """Why nothing on this machine can raise the complaint, and the remedy; empty where it can."""
    found = rules.complaints[complaint]
    causes = [c.machine for c in rules.causes.values() if complaint in c.complaints]
    if machine.allows(found.machine) and (not causes or any(map(machine.allows, causes))):
        return ""
    told = {
        f"{FACTS[key].label}: {machine.facts[key]}"
        for where in (found.machine, *causes)
        for key, wanted in where.items()
        if not machine.allows({key: wanted})
    }
    return (
        f"Nothing on {machine.name!r} can be behind {found.name!r}, for its "
        f"profile says {'; '.join(sorted(told))!r}: correct that or choose another complaint."
    )


def evidence_of(base: Deduction, planner: Planner) -> Evidence:
    known = base.known
    answered = {s.finding for s in base.seen}
    odds = capped_odds(
        base.rules,
        [
            in_doubt(c.odds, base.rules.settings.fairly_sure) if c.id in known.fairly else c.odds
            for c in (base.rules.circumstances[name] for name in active(known))
            if not answered.intersection(c.said_by)
        ]
        + [base.rules.signs[name].odds for name in known.signs],
    )
    epochs = []
    for number in range(known.epoch + 1):
        observations = tuple(
            Observation(s.finding, s.likelihood)
            for s in base.seen
            if s.epoch == number and s.finding in planner.net.findings
        )
        done = known.treatments[number] if number < known.epoch else None
        treatment = treatment_of(planner.rules, done) if number < known.epoch else None
        epochs.append(Epoch(observations, treatment))
    assert known.complaint is not None
    return Evidence(known.complaint, odds, tuple(epochs))


def in_doubt(odds: Mapping[str, float], sure: float) -> dict[str, float]:
    """The factors on the odds of causes by a circumstance that holds with probability `sure`.

    P(cause) = sure P(cause | it holds) + (1 - sure) P(cause | it does not). Causes are rare, so
    that odds are as good as probabilities, and without the circumstance the factor is 1: what is
    left of a factor f is sure f + (1 - sure).
    """
    return {cause: sure * factor + (1.0 - sure) for cause, factor in odds.items()}


def situation_of(base: Deduction) -> Situation:
    """What the planner must know of a case beside the probabilities."""
    known = base.known
    now = known.epoch
    closed = {a for e, a in known.checked if e == now}
    tried = {d.action: d.complaint_now for d in known.treatments if d is not None}
    again = {
        a
        for a, now in tried.items()
        if now in (FURTHER_AFTER if base.rules.actions[a].only_sets else AGAIN_AFTER)
        and known.tries(a) == 1
    }
    closed |= tried.keys() - again
    closed |= set(known.cannot) | {a for e, a in known.later if e == now}
    closed |= set(base.refused) | known.go_on
    answered = _answered(base)
    assert known.complaint is not None
    told, held = _standing(base, answered), active(known)
    answered |= no_sense(base.rules, known.complaint, told, held).keys()
    touched = {tag for name in held for tag in base.rules.circumstances[name].touched}
    return Situation(
        state=known.state,
        role=known.role,
        answered=frozenset(answered),
        closed=frozenset(closed),
        tried=frozenset(again),
        still_there=known.last_outcome in ("better", "worse"),
        touched=frozenset(touched),
        leave=frozenset(
            name
            for name, why in base.refused.items()
            if why.kind == "specimen" and name in base.rules.actions and not known.tries(name)
        ).difference(known.cannot),
    )


def _answered(base: Deduction) -> set[str]:
    """Findings that stand as they were answered, "don't know" included."""
    known = base.known
    last = {(s.finding, s.epoch) for s in base.seen} | {(f, e) for e, f in known.unknown}
    return {
        name
        for name, epoch in dict(sorted(last)).items()
        if not _reopened(base.rules, known, epoch, name)
    }


def _reopened(rules: RuleBase, known: Known, epoch: int, finding: str) -> bool:
    """Whether something done since may have changed what this finding shows."""
    for done in known.treatments[epoch:]:
        if done is None:
            return True
        if done.complaint_now == "unchanged":
            continue
        action = rules.actions[done.action]
        if any((c, finding) in rules.rows for c in (*action.cures, *action.may_cause)):
            return True
    return False


def _standing(base: Deduction, answered: set[str]) -> list[tuple[str, str]]:
    """(finding, answer) of what still stands and is settled; a later "don't know" takes it back."""
    unknown = set(base.known.unknown)
    last = {s.finding: s for s in base.seen}  # in the order of epochs
    return [
        (name, s.answer)
        for name, s in last.items()
        if name in answered
        and not s.others
        and not any(f == name and e > s.epoch for e, f in unknown)
    ]


def treatment_of(rules: RuleBase, done: Done | None) -> Treatment:
    """What an action may have cured, and what was seen of the complaint; nothing for a new look."""
    if done is None:
        return Treatment({}, {}, None)
    action = rules.actions[done.action]
    recheck = None
    if done.complaint_now in RECHECK:
        vector = [1.0 if a == done.complaint_now else 0.0 for a in RECHECK]
        recheck = (vector[0], vector[1], vector[2], vector[3])
    return Treatment(action.cures, action.may_cause, recheck)
