"""What a lab's own closed cases add to the rates of the rule base: counting, nothing more.

For one complaint on one coater the ends of a case (each cause, "nothing is wrong", "not in this
rule base") have a Dirichlet distribution, in three steps from the general to the particular, and
each closed case counts in one of them only:

    of other complaints    the rate of each cause is multiplied by (a + n) / (a + e): n cases of it
                           were closed where the rule base expects e, and a is `learn_causes` times
                           its share of those expected (mean of a Gamma-Poisson posterior)
    of other coaters       p' = (w p + n) / (w + N) for each end, N cases in all, w `learn_lab`;
                           whether anything was wrong first, then what
    of this coater         the same with w `learn_coater`

The weights are in cases and stand in the settings of the rules. How often a remedy cures a cause is
a Beta distribution of mean p and weight `learn_remedies`: (w p + cured) / (w + tried). How findings
show a cause is not learnt: they are asked selectively, so that their counts would be biased.
Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), sections 2.6 and 3.4.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from functools import cached_property
from typing import Any

from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import RuleBase

NOTHING_WRONG, UNLISTED = "nothing_wrong", "unlisted"
MOST_SHARE = 90.0
"""No cause is taken for more than this of 100 faults, nor "nothing is wrong" of 100 complaints."""

Ends = Mapping[str, float]
"""How many cases ended so: a cause, `NOTHING_WRONG` or `UNLISTED`; parts where it is not proved."""


@dataclass(frozen=True)
class Tally:
    """Closed cases, counted: by complaint and end, on this coater (`here`) and on others (`lab`).

    `cures`: by remedy and cause, how often it was tried and how often it cured. `cases`: how many
    cases stand behind it, however little each of them counts.
    """

    here: Mapping[str, Ends] = field(default_factory=dict)
    lab: Mapping[str, Ends] = field(default_factory=dict)
    cures: Mapping[str, Mapping[str, tuple[float, float]]] = field(default_factory=dict)
    cases: int = 0

    @cached_property
    def hash(self) -> str:
        """Twelve hex digits that change with any count."""
        text = json.dumps(asdict(self), sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:12]

    @classmethod
    def of(cls, kept: Any) -> "Tally":
        """The tally that a journal pinned: anything with the same fields."""
        cures = {
            action: {cause: (float(tried), float(cured)) for cause, (tried, cured) in row.items()}
            for action, row in kept.cures.items()
        }
        return cls(kept.here, kept.lab, cures, kept.cases)


def ends_by_rules(rules: RuleBase, machine: Machine, complaint: str) -> dict[str, float]:
    """P(end | complaint) by the rule base alone, one cause a case.

    Of a machine that may have what a cause needs, or not, the cause is that much less likely. Where
    no cause on this machine can raise the complaint, nothing is wrong or it is unlisted.
    """
    entry = rules.complaints[complaint]
    weight = {
        c.id: c.share * machine.chance(c.machine) * c.complaints[complaint]
        for c in rules.causes.values()
        if complaint in c.complaints and machine.allows(c.machine)
    }
    total, listed = sum(weight.values()), 1.0 - entry.unlisted_share
    normal = min(MOST_SHARE / 100.0, entry.normal_share * _beside(rules, machine, complaint))
    faulty = listed * (1.0 - normal) if total > 0.0 else 0.0
    ends = {c: faulty * w / total for c, w in weight.items()}
    return ends | {NOTHING_WRONG: listed - faulty, UNLISTED: entry.unlisted_share}


def _beside(rules: RuleBase, machine: Machine, complaint: str) -> float:
    """How much likelier nothing is wrong that raises the complaint than nothing at all.

    By causes that do not raise it and are there all the same, two at most: `normal_share` is that
    no cause is there (`belief.Network.false_alarm`), while a case ends as "nothing is wrong" where
    none is that bears on the complaint (`Posterior.nothing_wrong`).
    """
    rates = (
        c.share * machine.chance(c.machine) * rules.settings.presence_per_share
        for c in rules.causes.values()
        if not c.complaints.get(complaint) and machine.allows(c.machine)
    )
    odds = [rate / (1.0 - rate) for rate in rates]
    one = sum(odds)
    return 1.0 + one + (one**2 - sum(o**2 for o in odds)) / 2.0


def ends_learned(
    rules: RuleBase, machine: Machine, complaint: str, tally: Tally
) -> dict[str, float]:
    """P(end | complaint) with the closed cases."""
    settings = rules.settings
    ends = ends_by_rules(rules, machine, complaint)
    ends = _with_other_complaints(rules, machine, complaint, ends, tally)
    for place, weight in ((tally.lab, settings.learn_lab), (tally.here, settings.learn_coater)):
        ends = _counted(ends, place.get(complaint, {}), weight, settings.learn_unproved)
    return ends


def _counted(
    ends: dict[str, float], seen: Ends, weight: float, unproved: float
) -> dict[str, float]:
    """Whether anything was wrong, then what it was.

    That nothing was wrong is never proved, so those cases count in part; in the first step the
    faults are counted in the same part, or nothing would seem to be the rarer.
    """
    nothing = ends[NOTHING_WRONG]
    counts = {end: seen.get(end, 0.0) for end in ends if end != NOTHING_WRONG}
    faults, normal = sum(counts.values()), seen.get(NOTHING_WRONG, 0.0)
    now = (weight * nothing + normal) / (weight + normal + unproved * faults)
    scale = (1.0 - now) / (weight * (1.0 - nothing) + faults)
    return {end: (weight * ends[end] + n) * scale for end, n in counts.items()} | {
        NOTHING_WRONG: now
    }


def _with_other_complaints(
    rules: RuleBase, machine: Machine, complaint: str, ends: dict[str, float], tally: Tally
) -> dict[str, float]:
    """The rates of the causes as the cases of other complaints move them."""
    seen: dict[str, float] = {}
    expected: dict[str, float] = {}
    for other in (tally.here.keys() | tally.lab.keys()) & rules.complaints.keys() - {complaint}:
        by_rules = ends_by_rules(rules, machine, other)
        by_rules = {c: p for c, p in by_rules.items() if c in rules.causes}
        counts = {
            c: tally.here.get(other, {}).get(c, 0.0) + tally.lab.get(other, {}).get(c, 0.0)
            for c in by_rules
        }
        cases, total = sum(counts.values()), sum(by_rules.values())
        for cause, p in by_rules.items():
            seen[cause] = seen.get(cause, 0.0) + counts[cause]
            expected[cause] = expected.get(cause, 0.0) + cases * p / total
    cases = sum(expected.values())
    if cases == 0.0:
        return ends
    moved = {}
    for end, p in ends.items():
        e = expected.get(end, 0.0)
        a = rules.settings.learn_causes * e / cases
        moved[end] = p * (a + seen[end]) / (a + e) if e > 0.0 else p
    causes = [end for end in ends if end in rules.causes]
    if not causes:
        return ends
    scale = sum(ends[c] for c in causes) / sum(moved[c] for c in causes)
    return {end: p * scale if end in rules.causes else p for end, p in moved.items()}


def cure_learned(rules: RuleBase, action: str, cause: str, tally: Tally) -> float:
    """P(the remedy cures the cause) with the closed cases."""
    p = rules.actions[action].cures[cause]
    tried, cured = tally.cures.get(action, {}).get(cause, (0.0, 0.0))
    weight = rules.settings.learn_remedies
    return min(0.99, (weight * p + cured) / (weight + tried))


def with_cases(rules: RuleBase, machine: Machine, complaint: str, tally: Tally) -> RuleBase:
    """The rule base as the closed cases move it, for this complaint on this machine.

    Changed are the shares of the causes that raise the complaint, how often it is raised by nothing
    or by something unlisted, and what the remedies cure; the sum of the causes' rates stays.
    """
    before = ends_by_rules(rules, machine, complaint)
    after = ends_learned(rules, machine, complaint, tally)
    causes = [end for end in before if end in rules.causes]
    rest = sum(after[c] for c in causes)
    scale = sum(before[c] for c in causes) / rest if causes else 1.0
    shares = {
        c: min(MOST_SHARE, rules.causes[c].share * scale * after[c] / before[c]) for c in causes
    }
    most, beside = MOST_SHARE / 100.0, _beside(rules, machine, complaint)
    entry = rules.complaints[complaint].model_copy(
        {
            "normal_share": min(most, after[NOTHING_WRONG] / (1.0 - after[UNLISTED]) / beside),
            "unlisted_share": min(most, after[UNLISTED]),
        }
    )
    actions = {
        name: rules.actions[name].model_copy(
            {"cures": {c: cure_learned(rules, name, c, tally) for c in rules.actions[name].cures}}
        )
        for name in tally.cures.keys() & rules.actions.keys()
    }
    moved = rules.model_copy(
        {
            "hash": f"{rules.hash}+{tally.hash}",
            "causes": {
                name: cause.model_copy({"share": shares[name]}) if name in shares else cause
                for name, cause in rules.causes.items()
            },
            "complaints": {**rules.complaints, complaint: entry},
            "actions": {name: actions.get(name, action) for name, action in rules.actions.items()},
        }
    )
    # The rows do not depend on any of these: they are resolved once.
    moved.__dict__["rows"] = rules.rows
    return moved
