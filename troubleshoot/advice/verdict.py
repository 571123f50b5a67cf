"""What it looks like: the causes in order, and the likeliest explanation in a sentence."""

from dataclasses import dataclass

from troubleshoot.advice.phrases import UNLIKELY, chance, how_sure, in_brackets, lower_first
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.diagnose import Diagnosis, nothing_raises
from troubleshoot.case.entries import UNLISTED
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import Action, Cause, Complaint, RuleBase
from troubleshoot.reasoning.belief import Posterior

NOTHING_WRONG, CURED, DANGER = "nothing_wrong", "cured", "danger"
HELPED = ("better", "cured")
MATTERS = 0.2  # a cause this likely is taken into account: judgement


@dataclass(frozen=True)
class Verdict:
    """The likeliest explanation in words, after a danger sign the danger."""

    hypothesis: str
    name: str
    probability: float
    sentence: str
    settled: bool


def ranking(case: Diagnosis) -> list[tuple[Cause, float]]:
    """Every cause with its probability of being present now, falling."""
    pairs = [(case.rules.causes[c], p) for c, p in case.belief.present.items()]
    return sorted(pairs, key=lambda item: (-item[1], item[0].id))


def commonness(rules: RuleBase, machine: Machine) -> dict[str, float]:
    """How often each complaint comes up that this machine can raise: shares times strengths."""
    often = {c: 0.0 for c in rules.complaints if not nothing_raises(rules, machine, c)}
    for cause in rules.causes.values():
        if machine.allows(cause.machine):
            here = cause.share * machine.chance(cause.machine)
            for name in often.keys() & cause.complaints.keys():
                often[name] += here * cause.complaints[name]
    return often


def commonest_first(rules: RuleBase, machine: Machine) -> list[Complaint]:
    """The complaints that this machine can raise, the commonest first."""
    often = commonness(rules, machine)
    return [rules.complaints[name] for name in sorted(often, key=lambda c: (-often[c], c))]


def suspects(case: Diagnosis) -> list[tuple[Cause, float]]:
    """As `ranking`, without bystanders: only causes that can raise the complaint."""
    return [(c, p) for c, p in ranking(case) if case.complaint in c.complaints]


@dataclass(frozen=True)
class Mended:
    """A cause that was there when the case began with `probability`, and what took it away."""

    cause: Cause
    remedy: Action
    probability: float

    @property
    def sentence(self) -> str:
        """Said beside the causes that are weighed now."""
        by, what = lower_first(self.remedy.name), lower_first(self.cause.name)
        if self.probability >= 0.5:
            return f"Was there, cured by “{by}”: {what}."
        return f"May have been there, and cured by “{by}”: {what} ({chance(self.probability)})."


def mended(case: Diagnosis, belief: Posterior) -> tuple[Mended, ...]:
    """The causes that mattered when the case began, and are gone by `belief`; likeliest first.

    Only what a remedy can have done that was followed by "better" or "cured".
    """
    actions = case.rules.actions
    helped = [
        actions[d.action]
        for d in case.known.treatments
        if d is not None and d.complaint_now in HELPED
    ]
    out = []
    for name, p in sorted(belief.present_at_start.items(), key=lambda item: (-item[1], item[0])):
        cures = [a for a in helped if a.cures.get(name)]
        if cures and p >= MATTERS and belief.present[name] <= UNLIKELY:
            out.append(Mended(case.rules.causes[name], cures[-1], p))
    return tuple(out)


def remedies_of(case: Deduction, cause: Cause) -> list[Action]:
    """The remedies of `cause` that may be done: on this machine, now, to this specimen."""
    return [case.rules.actions[name] for name in cause.remedies if case.may(name)]


def verdict(case: Diagnosis) -> Verdict:
    """The verdict of a case that has a complaint."""
    belief = case.belief
    if case.dangers:
        return _danger_verdict(case)
    if is_cured(case):
        return Verdict(
            CURED, "the complaint is gone", belief.nothing_wrong,
            "The complaint is gone after the last remedy.", True,
        )  # fmt: skip
    first = suspects(case)
    cause, p = first[0]
    if belief.nothing_wrong >= max(p, belief.unlisted):
        if case.situation.still_there:
            return Verdict(
                NOTHING_WRONG, "something is left", belief.nothing_wrong,
                "Something is left of the trouble, and nothing that was seen since says what.",
                False,
            )  # fmt: skip
        sure, settled = how_sure(belief.nothing_wrong), belief.nothing_wrong >= 0.5
        return Verdict(
            NOTHING_WRONG, "nothing is wrong", belief.nothing_wrong,
            f"{sure}: nothing is wrong{in_brackets(belief.nothing_wrong)}.", settled,
        )  # fmt: skip
    if belief.unlisted > p:
        return Verdict(
            UNLISTED, "a cause that is not in this rule base", belief.unlisted,
            f"Nothing that is listed here explains this well ({chance(belief.unlisted)} that the "
            "cause is none of it).", False,
        )  # fmt: skip
    if len(first) == 1:
        sentence = f"{how_sure(p)}: {lower_first(cause.name)}{in_brackets(p)}."
        return Verdict(cause.id, cause.name, p, sentence, p >= 0.5)
    second, q = first[1]
    if q >= MATTERS and same_to_the_user(cause, second):
        p = sum(w for names, w in belief.sets if cause.id in names or second.id in names)
        sentence = (
            f"{how_sure(p)} one of two that are treated the same: {lower_first(cause.name)}, or "
            f"{lower_first(second.name)}{in_brackets(p)}."
        )
    else:
        sentence = f"{how_sure(p)}: {lower_first(cause.name)}{in_brackets(p)}."
        if q >= MATTERS and p + q > 1.1:
            sentence += f" It may well be together with: {lower_first(second.name)}."
        elif q >= MATTERS:
            sentence += f" Next in line: {lower_first(second.name)} ({chance(q)})."
    return Verdict(cause.id, cause.name, p, sentence, p >= 0.5)


def _danger_verdict(case: Deduction) -> Verdict:
    """After a danger sign the case is about the danger, whatever else may be wrong."""
    first, *others = (case.rules.cautions[name] for name in case.dangers)
    sentence = f"The danger comes first: {lower_first(first.name)}."
    if others:
        sentence += f" Also: {'; '.join(lower_first(c.name) for c in others)}."
    sentence += " The coater stays out of use until that is repaired and proved."
    return Verdict(DANGER, first.name, 1.0, sentence, True)


def same_to_the_user(one: Cause, other: Cause) -> bool:
    """Two causes that need not be told apart: declared alike, or with the same first remedy."""
    same_remedy = one.remedies[:1] == other.remedies[:1]
    return one.id in other.alike or other.id in one.alike or same_remedy


def is_cured(case: Deduction) -> bool:
    """The last remedy was followed by "cured" and nothing was reported since."""
    known = case.known
    fresh = any(s.epoch == known.epoch for s in case.seen)
    return known.last_outcome == "cured" and known.treatments[-1] is not None and not fresh
