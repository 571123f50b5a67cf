"""What the outcomes of the next step would mean: the other half of "why now?"."""

from dataclasses import dataclass, replace

import numpy as np

from troubleshoot.advice.phrases import chance, lower_first
from troubleshoot.advice.step import NextStep
from troubleshoot.case.diagnose import Diagnosis, treatment_of
from troubleshoot.case.entries import UNLISTED
from troubleshoot.case.known import Done
from troubleshoot.readings.quantity import answer_text
from troubleshoot.reasoning.belief import Course, Epoch, Posterior, posterior, summary
from troubleshoot.reasoning.explain import sure

MOST = 3
RARE = 0.03  # an outcome less likely than this is left out: judgement


@dataclass(frozen=True)
class Outcome:
    """What may be seen, and what would then come first, with its chance."""

    seen: str
    means: str

    @property
    def sentence(self) -> str:
        """Both in a line."""
        return f"If {self.seen}: {self.means}."


def outcomes(case: Diagnosis, step: NextStep) -> tuple[Outcome, ...]:
    """What each outcome of a check or a remedy would mean; nothing for any other step."""
    action = case.rules.actions.get(step.id)
    if action is None:
        return ()
    if step.kind == "remedy":
        return _of_remedy(case, step)
    return _of_check(case, step)


def _of_check(case: Diagnosis, step: NextStep) -> tuple[Outcome, ...]:
    """The answers of the finding that tells most, those that mean the same together."""
    known = [f for f in step.findings if f in case.planner.net.findings]
    if not known:
        return ()
    name = max(known, key=lambda f: _told_by(case, f))
    finding = case.rules.findings[name]
    w = case.planner.weights(case.belief)
    share = case.planner.answers(name) @ w / w.sum()
    lead = _leads(case, case.belief)[0]
    groups: dict[str, tuple[float, list[str]]] = {}
    net, (*before, last) = case.planner.net, case.evidence.epochs
    course = Course.through(net, case.evidence, before)
    for answer, p in zip(finding.answers, share, strict=True):
        if p < RARE:
            continue
        seen = (*last.observations, sure(case.planner, name, answer))
        after = summary(net, course.seen(seen))
        means = _first(case, after, lead)
        much, texts = groups.get(means, (0.0, []))
        text = lower_first(answer_text(finding, answer, case.machine))
        groups[means] = (much + p, [*texts, f"“{text}”"])
    kept = sorted(groups.items(), key=lambda item: -item[1][0])[:MOST]
    of_what = f" ({lower_first(finding.name)})" if len(step.findings) > 1 else ""
    return tuple(Outcome(" or ".join(texts) + of_what, means) for means, (_, texts) in kept)


def _told_by(case: Diagnosis, finding: str) -> float:
    """Bits that the answer is expected to tell of the cause."""
    w = case.planner.weights(case.belief)
    joint = case.planner.answers(finding) * (w / w.sum())
    apart = joint.sum(axis=1, keepdims=True) * joint.sum(axis=0, keepdims=True)
    there = joint > 0
    return float((joint[there] * np.log2(joint[there] / apart[there])).sum())


def _of_remedy(case: Diagnosis, step: NextStep) -> tuple[Outcome, ...]:
    *before, last = case.evidence.epochs
    in_vain = treatment_of(case.planner.rules, Done(0, step.id, "unchanged", None))
    epochs = (*before, replace(last, treatment=in_vain), Epoch(()))
    after = posterior(case.planner.net, replace(case.evidence, epochs=epochs))
    return (
        Outcome("the complaint is gone then", "that was it, and the case can be closed"),
        Outcome("nothing changes", _first(case, after, _leads(case, case.belief)[0])),
    )


def _leads(case: Diagnosis, belief: Posterior) -> tuple[str, float]:
    """What comes first in a belief, by its name within a sentence, and its probability."""
    causes = case.rules.causes
    bearing = {c: p for c, p in belief.present.items() if case.complaint in causes[c].complaints}
    all_of_them = bearing | {"": belief.nothing_wrong, UNLISTED: belief.unlisted}
    name = max(sorted(all_of_them), key=lambda n: all_of_them[n])
    said = {"": "“nothing is wrong”", UNLISTED: "a cause that is not in this rule base"}
    return said.get(name) or lower_first(causes[name].name), all_of_them[name]


def _first(case: Diagnosis, after: Posterior, lead: str) -> str:
    """What then comes, or stays, first."""
    name, p = _leads(case, after)
    return f"{name} {'stays' if name == lead else 'comes'} first ({chance(p)})"
