"""What to do next: the action with the least expected minutes until the complaint is gone.

The objective counts checks and remedies together (expected cost of repair: Heckerman, Breese and
Rommelse 1995, "Decision-theoretic troubleshooting", CACM 38(3):49-57). For every possible next
check, over all its joint outcomes,

    E(check) = cost(check) + sum over outcomes P(outcome) R(outcome)

is compared with R(now), the cost of trying remedies in order of probability over cost with a
fall-back at a price that always ends it. While there is still something to look at, the fall-back
is to look further (at about what a session costs); only when that has become the best thing to do
and nothing is left to look at is it the price of calling service. A waiting minute weighs less
than a hands-on one; bringing the machine into the state that an action needs is part of its cost.

Planning ranks on "nothing wrong", "unlisted" and single causes: the probability of a pair is
shared between its members that bear on the complaint.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from troubleshoot.knowledge.machine import Machine
from troubleshoot.knowledge.model import ROLES, Action, RuleBase
from troubleshoot.reasoning.belief import Network, Posterior
from troubleshoot.reasoning.findings import Floats

MOST_OUTCOMES = 300
LEAST_BITS = 2e-4
MOST_REMEDIES_AHEAD = 14
ACCEPT, SERVICE = "accept", "service"


@dataclass(frozen=True)
class Situation:
    """What the planner must know beside the probabilities.

    `state` of the machine; `role` of who asks; `answered` findings of this epoch ("don't know"
    included); `closed` actions that are done, out of reach or refused (ACCEPT among them);
    `touched` tags of what was handled last; `irreplaceable`: a specimen that cannot be replaced is
    meant.
    """

    state: str
    role: str
    answered: frozenset[str] = frozenset()
    closed: frozenset[str] = frozenset()
    touched: frozenset[str] = frozenset()
    irreplaceable: bool = False


@dataclass(frozen=True)
class Option:
    """One possible next step. `expected`: weighted minutes to the end if it is taken first."""

    kind: str  # "check", "remedy", "accept", "service"
    action: str | None
    expected: float
    cost: float


@dataclass(frozen=True)
class Plan:
    """The next step and why. `saves` is against the best remedy now, without asking more.

    `reason`: "expected" (least expected minutes), "knob_first", "touched_first" (they come before
    anything that costs money or service), "likely" (remedy at once). `splits` names the two leading
    causes when the step separates them.
    """

    next: Option
    reason: str
    saves: float
    splits: tuple[str, str] | None
    options: tuple[Option, ...]


def move_minutes(rules: RuleBase, machine: Machine, start: str, end: str) -> float:
    """Minutes from one machine state into another, with this coater's own pump-down time."""
    if end in ("any", start) or start == "any":
        return 0.0
    minutes = rules.states[start].to.get(end, 0.0)
    under_vacuum = ("pumped", "coating")
    if end in under_vacuum and start not in under_vacuum and "usual_time" in machine.numbers:
        minutes += machine.numbers["usual_time"] / 60.0 - rules.states["vented"].to["pumped"]
    return max(0.0, minutes)


class Planner:
    """The actions of one network and machine, compiled for ranking."""

    def __init__(self, net: Network, machine: Machine) -> None:
        self.net = net
        self.rules: RuleBase = net.rules
        self.machine = machine
        self.actions = [a for a in self.rules.actions.values() if machine.allows(a.machine)]
        n = len(net.causes)
        # Hypotheses: 0 nothing wrong, 1 unlisted, then the single causes in the network's order.
        self.size = n + 2
        self.bearing = net.strength[:n] > 0
        self.fixes = np.zeros((len(self.actions), self.size))
        for row, action in enumerate(self.actions):
            for cause, p in action.cures.items():
                if cause in net.index and self.bearing[net.index[cause]]:
                    self.fixes[row, net.index[cause] + 2] = p
        self._answers: dict[str, Floats] = {}

    def answers(self, finding: str) -> Floats:
        """P(answer | hypothesis), shape (answers, hypotheses), a shared mistake blended in."""
        if finding not in self._answers:
            n = len(self.net.causes)
            table = self.net.table(finding)
            single = table.probabilities(np.arange(n, dtype=np.intp)[:, None])
            mean = self.net.population(finding)
            p = np.vstack([table.background, mean, single]).T
            group = self.net.group_of.get(finding)
            if group is not None:
                k = self.rules.groups[group].chance
                p = (1.0 - k) * p + k * mean[:, None]
            self._answers[finding] = p
        return self._answers[finding]

    def weights(self, belief: Posterior) -> Floats:
        """The posterior over sets, shared out to single hypotheses."""
        w = np.zeros(self.size)
        w[1] = belief.unlisted
        for names, p in belief.sets:
            members = [i for i in (self.net.index[c] for c in names) if self.bearing[i]]
            if not members:
                w[0] += p
            for i in members:
                w[i + 2] += p / len(members)
        return w

    def plan(self, belief: Posterior, situation: Situation) -> Plan:
        """The next step for this belief and situation."""
        w = self.weights(belief)
        open_actions = [n for n, a in enumerate(self.actions) if self._offered(a, situation)]
        remedies = [n for n in open_actions if self.fixes[n].any()]
        checks = self._checks(w, open_actions, situation)
        settings = self.rules.settings
        for price in (settings.look_further_minutes, settings.service_minutes):
            now, first = self._repair(w[None, :], remedies, situation.state, situation, price)
            options = [self._first_remedy(float(now[0]), int(first[0]), remedies, situation)]
            options += self._ask(w, checks, remedies, situation, price)
            options.sort(key=lambda o: (o.expected, o.cost, o.action or ""))
            if options[0].kind != SERVICE:
                break
        best, reason = self._gate(options, checks, situation)
        return Plan(
            next=best,
            reason=reason,
            saves=float(now[0]) - best.expected,
            splits=self._splits(w, best),
            options=tuple(options),
        )

    # --- costs ---------------------------------------------------------------------------------

    def move(self, start: str, end: str) -> float:
        """Minutes to bring the machine from one state into another."""
        return move_minutes(self.rules, self.machine, start, end)

    def state_after(self, action: Action, state: str) -> str:
        """The state the machine is left in."""
        return action.leaves or (state if action.state == "any" else action.state)

    def cost(self, action: Action, state: str, role: str) -> float:
        """Weighted minutes of doing `action`, coming from `state`, asked for by `role`."""
        settings = self.rules.settings
        cost = self.move(state, action.state) + action.minutes.hands
        cost += settings.waiting_weight * min(action.minutes.wait, settings.longest_wait)
        if ROLES.index(action.role) > ROLES.index(role):
            cost += settings.fetch_minutes[action.role]
        if action.parts in ("spare", "service"):
            cost += settings.spare_minutes
        return max(cost, 0.5)

    def _repair_cost(self, action: Action, state: str, role: str) -> float:
        place = self._proof_state
        after = self.state_after(action, state)
        return (
            self.cost(action, state, role)
            + self.move(after, place)
            + self.rules.settings.proof_minutes
        )

    @property
    def _proof_state(self) -> str:
        at_microscope = self.rules.complaints[self.net.complaint].place == "microscope"
        return "in_sem" if at_microscope else "pumped"

    # --- what is on offer ----------------------------------------------------------------------

    def _offered(self, action: Action, situation: Situation) -> bool:
        if action.id in situation.closed:
            return False
        return not (situation.irreplaceable and action.specimen != "safe")

    def _checks(
        self, w: Floats, open_actions: list[int], situation: Situation
    ) -> dict[int, list[str]]:
        """Row of the action -> the findings it would tell, most telling first."""
        out = {}
        for n in open_actions:
            names = [
                f
                for f in self.actions[n].reveals
                if f in self.net.findings and f not in situation.answered
            ]
            replaced = {r for f in names for r in self.rules.findings[f].replaces}
            bits = {f: self._bits(w, f) for f in names if f not in replaced}
            telling = sorted((f for f in bits if bits[f] > LEAST_BITS), key=lambda f: -bits[f])
            kept, outcomes = [], 1
            for f in telling:
                outcomes *= len(self.rules.findings[f].answers)
                if outcomes > MOST_OUTCOMES:
                    break
                kept.append(f)
            if kept:
                out[n] = kept
        return out

    def _bits(self, w: Floats, finding: str) -> float:
        """Mutual information of finding and hypothesis, in bits."""
        p = self.answers(finding)
        mean = p @ w / w.sum()
        with np.errstate(divide="ignore", invalid="ignore"):
            terms = np.where(p > 0, p * np.log2(p / mean[:, None]), 0.0)
        return float((terms @ w).sum() / w.sum())

    # --- expected cost -------------------------------------------------------------------------

    def _repair(
        self, w: Floats, remedies: list[int], state: str, situation: Situation, price: float
    ) -> tuple[Floats, np.ndarray]:
        """R for each row of unnormalised weights (rows, hypotheses), and the first thing to do.

        Greedy by probability over cost, re-evaluated after each failure, with the fall-back at
        `price` minutes taken as soon as it is the cheaper end. "First" is an index into `remedies`;
        len(remedies) means accept as normal, len(remedies) + 1 the fall-back.
        """
        settings = self.rules.settings
        acts = [self.actions[n] for n in remedies]
        first_cost = [self._repair_cost(a, state, situation.role) for a in acts]
        later_cost = [self._repair_cost(a, self._proof_state, situation.role) for a in acts]
        accept = np.zeros((1, self.size))
        accept[0, 0] = 1.0
        fixes = np.vstack([self.fixes[remedies], accept])
        costs = np.array([*first_cost, settings.accept_normal_minutes])
        later = np.array([*later_cost, settings.accept_normal_minutes])
        may_accept = ACCEPT not in situation.closed
        left = w.copy()
        total = np.zeros(len(w))
        first = np.full(len(w), len(remedies) + 1)
        active = np.arange(len(w))
        for step in range(MOST_REMEDIES_AHEAD):
            rows = left[active]
            mass = rows.sum(axis=1)
            gain = rows @ fixes.T
            accepted = may_accept & (rows[:, 0] >= settings.accept_from * mass)
            gain[:, -1] = np.where(accepted, gain[:, -1], 0.0)
            pick = np.argmax(gain / costs, axis=1)
            gained = gain[np.arange(len(active)), pick]
            worth = gained * price > costs[pick] * mass
            active, pick, mass = active[worth], pick[worth], mass[worth]
            if not len(active):
                break
            if step == 0:
                first[active] = pick
            total[active] += costs[pick] * mass
            left[active] *= 1.0 - fixes[pick]
            costs = later
        total += left.sum(axis=1) * price
        return total, first

    def _first_remedy(
        self, expected: float, first: int, remedies: list[int], situation: Situation
    ) -> Option:
        if first == len(remedies):
            cost = self.rules.settings.accept_normal_minutes
            return Option(ACCEPT, None, expected, cost)
        if first > len(remedies):
            return Option(SERVICE, None, expected, self.rules.settings.service_minutes)
        action = self.actions[remedies[first]]
        cost = self._repair_cost(action, situation.state, situation.role)
        return Option("remedy", action.id, expected, cost)

    def _ask(
        self,
        w: Floats,
        checks: Mapping[int, list[str]],
        remedies: list[int],
        situation: Situation,
        price: float,
    ) -> list[Option]:
        """E of every check, all joint outcomes of all checks in one batch for each state left."""
        by_state: dict[str, list[tuple[int, Floats]]] = {}
        for n, names in checks.items():
            joint = np.ones((1, self.size))
            for f in names:
                joint = (joint[:, None, :] * self.answers(f)[None, :, :]).reshape(-1, self.size)
            state = self.state_after(self.actions[n], situation.state)
            by_state.setdefault(state, []).append((n, joint))
        out = []
        for state, batch in by_state.items():
            total, _ = self._repair(
                np.concatenate([joint for _, joint in batch]) * w,
                remedies,
                state,
                situation,
                price,
            )
            at = 0
            for n, joint in batch:
                action = self.actions[n]
                cost = self.cost(action, situation.state, situation.role)
                expected = cost + float(total[at : at + len(joint)].sum())
                at += len(joint)
                out.append(Option("check", action.id, expected, cost))
        return out

    # --- knobs and the last thing touched come first -------------------------------------------

    def _gate(
        self,
        options: list[Option],
        checks: Mapping[int, list[str]],
        situation: Situation,
    ) -> tuple[Option, str]:
        best = options[0]
        plain = "likely" if best.kind == "remedy" else "expected"
        action = self.rules.actions.get(best.action or "")
        if best.kind != SERVICE and not (action is not None and self._dear(action)):
            return best, plain
        open_checks = {self.actions[n].id for n in checks}
        for reason, wanted in (
            ("touched_first", self._touched(situation)),
            ("knob_first", {a.id for a in self.actions if a.knob}),
        ):
            cheap = [
                o
                for o in options
                if o.kind == "check" and o.action in wanted and o.action in open_checks
            ]
            if cheap:
                return cheap[0], reason
        return best, plain

    def _dear(self, action: Action) -> bool:
        return action.needs_service or bool(action.cures and action.parts != "none")

    def _touched(self, situation: Situation) -> set[str]:
        return {
            a.id
            for a in self.actions
            if not self._dear(a) and situation.touched.intersection(a.about)
        }

    def _splits(self, w: Floats, option: Option) -> tuple[str, str] | None:
        """The two leading causes, when the findings of the step tell them apart."""
        if option.kind != "check" or option.action is None:
            return None
        order = np.argsort(-w[2:])[:2]
        if len(order) < 2 or w[2:][order[1]] <= 0:
            return None
        a, b = order + 2
        for f in self.rules.actions[option.action].reveals:
            if f in self.net.findings:
                p = self.answers(f)
                if 0.5 * np.abs(p[:, a] - p[:, b]).sum() > 0.3:
                    return self.net.causes[a - 2], self.net.causes[b - 2]
        return None
