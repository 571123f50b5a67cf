"""Networks of causes and findings with exactly the numbers that a test wants.

No cause raises the complaint, so that coming in with it says nothing and the priors are those
given; "not in this rule base" gets next to nothing and is left out of what `listed` returns. Rows
are taken as they are, without the floor that real rows get.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from fractions import Fraction

from tests.reasoning.small import cause, complaint, finding, rule_base
from troubleshoot.coater.machine import Machine
from troubleshoot.reasoning.belief import Epoch, Evidence, Network, Observation, posterior

TINY = 1e-12  # stands for impossible: the model holds no zeros
UNLISTED = 1e-9

Number = float | Fraction
Row = Mapping[str, Number]


def causes_and_findings(
    priors: Mapping[str, Number],
    findings: Mapping[str, tuple[str, Row, Mapping[str, Row]]],
    most: int | None = None,
    unlisted: float = UNLISTED,
) -> Network:
    """Independent causes, any number (or `most`) at once; a finding is (kind, background, rows)."""
    rules = rule_base(
        [cause(name, float(p), None) for name, p in priors.items()],
        [finding(f, kind, _floats(b)) for f, (kind, b, _) in findings.items()],
        complaints=[complaint(unlisted_share=unlisted)],
        presence_per_share=1.0,
    )
    rules.__dict__["rows"] = {
        (name, f): _floats(row)
        for f, (_, _, rows) in findings.items()
        for name, row in rows.items()
    }
    return Network(rules, Machine(), "trouble", len(priors) if most is None else most)


def one_of(
    states: Mapping[str, Number], findings: Mapping[str, Callable[[str], Row | Number]]
) -> Network:
    """Just one of `states` holds (given with their weights); the first is "nothing is wrong".

    A finding tells its row, or P(yes), in each state. Any Bayesian network fits in this way once
    its hidden nodes are merged into one, given which its findings are independent.
    """
    (first, weight), *others = states.items()
    tables = {}
    for f, tells in findings.items():
        rows = {s: _row(tells(s)) for s in states}
        kind = "yes_no" if set(rows[first]) == {"yes", "no"} else "choice"
        tables[f] = kind, rows.pop(first), rows
    return causes_and_findings({s: w / (w + weight) for s, w in others}, tables, most=1)


def _row(tells: Row | Number) -> Row:
    row = tells if isinstance(tells, Mapping) else {"yes": tells, "no": 1 - tells}
    lifted = {a: max(p, TINY) for a, p in row.items()}
    return {a: p / sum(lifted.values()) for a, p in lifted.items()}


def _floats(row: Row) -> dict[str, float]:
    return {a: float(p) for a, p in row.items()}


def observation(net: Network, name: str, answer: str) -> Observation:
    """The answer, for sure."""
    return Observation(name, tuple(float(a == answer) for a in net.rules.findings[name].answers))


def observed(net: Network, answers: Mapping[str, str] | Iterable[tuple[str, str]] = ()) -> Evidence:
    """These answers, for sure, in this order."""
    pairs = answers.items() if isinstance(answers, Mapping) else answers
    return Evidence("trouble", {}, (Epoch(tuple(observation(net, f, a) for f, a in pairs)),))


def listed(net: Network, evidence: Evidence) -> tuple[float, dict[frozenset[str], float]]:
    """P(evidence) and P(set | evidence), both given that the cause is in the rule base."""
    got = posterior(net, evidence)
    share = net.rules.complaints["trouble"].unlisted_share
    known = 1.0 - got.unlisted
    p = math.exp(got.log_evidence) * known / (1.0 - share)
    return p, {frozenset(names): x / known for names, x in got.sets}
