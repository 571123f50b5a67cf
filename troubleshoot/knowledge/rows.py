"""From what a cause lists to a whole row of probabilities, mechanisms inherited.

The answers that a row leaves out share what is left of the probability:

* choice and two-sided findings: in proportion to the background;
* graded findings: to the neighbours of what is listed, falling by a factor 2 a step towards the
  worse side and 4 a step towards the healthy side, so that a worse form of a fault than the usual
  one keeps a sensible share and healthy readings do not;
* yes/no and cure tests: there is only one way to complete them, or the background's proportions.

No answer gets less than `FLOOR`, so no single answer can rule a cause out for good.
"""

from typing import TYPE_CHECKING

from troubleshoot.knowledge.model import Finding, Row

if TYPE_CHECKING:
    from troubleshoot.knowledge.model import RuleBase

FLOOR = 0.004
WORSE_STEP = 0.5
BETTER_STEP = 0.25


def complete(finding: Finding, row: Row) -> dict[str, float]:
    """The whole row of `finding`: every answer, summing to 1, none below `FLOOR`."""
    answers = list(finding.answers)
    listed = {"yes": row} if isinstance(row, float) else dict(row)
    left = max(0.0, 1.0 - sum(listed.values()))
    rest = [a for a in answers if a not in listed]
    weight = {a: _weight(finding, answers, listed, a) for a in rest}
    total = sum(weight.values())
    out = {a: listed.get(a, 0.0) or left * weight[a] / total for a in answers}
    floored = {a: max(p, FLOOR) for a, p in out.items()}
    norm = sum(floored.values())
    return {a: p / norm for a, p in floored.items()}


def _weight(finding: Finding, answers: list[str], listed: dict[str, float], answer: str) -> float:
    if finding.kind != "graded":
        return finding.background[answer]
    here = answers.index(answer)
    weight = 0.0
    for name, p in listed.items():
        step = here - answers.index(name)
        weight += p * (WORSE_STEP**step if step > 0 else BETTER_STEP**-step)
    return weight


def resolve(rules: "RuleBase") -> dict[tuple[str, str], dict[str, float]]:
    """All rows of all causes: the mechanisms' first, refined by the cause's own.

    What they show of findings that these rules do not hold (a part of the whole) is left out.
    """
    out = {}
    for cause in rules.causes.values():
        rows: dict[str, Row] = {}
        for mechanism in cause.mechanisms:
            for name in _lineage(rules, mechanism):
                rows.update(rules.mechanisms[name].shows)
        rows.update(cause.shows)
        for finding, row in rows.items():
            if finding in rules.findings:
                out[cause.id, finding] = complete(rules.findings[finding], row)
    return out


def _lineage(rules: "RuleBase", mechanism: str) -> list[str]:
    names: list[str] = []
    current: str | None = mechanism
    while current is not None and current not in names:
        names.append(current)
        current = rules.mechanisms[current].like
    return names[::-1]
