"""What to do next: the action with the least expected minutes until the complaint is gone.

From the rule base, the machine and a posterior this makes a `decision.Problem` and takes its best
move, two steps ahead where that is quick, else one (exactly, once little is left). Checks and
remedies are weighed together; bringing the machine into the state that an action needs is part of
its cost, and a waiting minute weighs less than a hands-on one. While there is still something to
look at, the fall-back is to look further (so many minutes for each bit that must be learned to know
the right remedy); only when that has become the best thing to do, or nothing is left to look at, is
it the price of service.

Planning ranks on "nothing wrong", "unlisted" and single causes: the probability of a pair is
shared between its members that bear on the complaint.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import ROLES, Action, RuleBase
from troubleshoot.reasoning.belief import Network, Posterior
from troubleshoot.reasoning.decision import FALL_BACK, Problem, look_ahead
from troubleshoot.reasoning.findings import Floats, Ints
from troubleshoot.reasoning.moves import move_minutes

MOST_OUTCOMES = 300
LEAST_BITS = 2e-4
LEAST_SAVING = 1.0
NEGLIGIBLE = 1e-6
TWO_STEPS_UP_TO = 450  # outcomes of all checks; beyond, one step keeps the answer quick
SMALL = 2000  # problems of at most so many nodes are solved exactly
ACCEPT, SERVICE = "accept", "service"
MOSTLY = 0.5  # "nothing is wrong" this likely goes before a call for service
FAR_AHEAD = 0.9  # a cause this likely, with a cheap, safe remedy: that remedy is the next step
CURES = 0.5  # ... if it cures it at least this often
CHEAP_HANDS = 20.0  # minutes hands-on of a cheap remedy
A_DAY = 240.0  # blocked minutes from which the coater is gone for the day
LONG_LOOK = 30.0  # hands-on and waiting minutes of a check that a short look comes before
SHORT_LOOK = 6.0  # weighted minutes, the way there included, of a short look
CAN_CHANGE = 0.02  # an answer less likely than this is no reason to ask before a dear remedy
BEARS = 0.1  # ... and one less likely than this before a check that only takes long


@dataclass(frozen=True)
class Situation:
    """What the planner must know beside the probabilities.

    `state` of the machine; `role` of who asks; `answered` findings that are not asked: they stand
    ("don't know" included), or make no sense here; `closed` actions that are done, may not be
    offered or were refused (ACCEPT among them); `tried` remedies that were done once without ending
    the complaint: a second, more thorough try has a chance of its own; `still_there`: a remedy left
    the complaint there, so that nothing being wrong is said only before service; `touched` tags of
    what was handled last; `leave` remedies that the owner of a specimen decides on: they are never
    the next step, but while looking can tell whether one of them is right, one looks.
    """

    state: str
    role: str
    answered: frozenset[str] = frozenset()
    closed: frozenset[str] = frozenset()
    tried: frozenset[str] = frozenset()
    still_there: bool = False
    touched: frozenset[str] = frozenset()
    leave: frozenset[str] = frozenset()


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
    anything that costs money, a visit or the coater for a day, while they can change which remedy
    is best), "short_first" (as they do, before a long check), "likely" (remedy at once),
    "far_ahead" (one cause is, and its remedy is cheap), "look_first" (what is best comes after it).
    `splits` names the two leading causes when the step separates them.
    """

    next: Option
    reason: str
    saves: float
    splits: tuple[str, str] | None
    options: tuple[Option, ...]


@dataclass(frozen=True)
class _Weighed:
    """The options, the value of remedies alone, and the problem that they were weighed in."""

    options: tuple[Option, ...]
    now: float
    problem: Problem
    w: Floats
    state: int
    places: Mapping[str, int]

    def can_change(self, check: str, least: float) -> bool:
        """Whether an answer of `check` at least this likely changes which remedy is best."""
        rows = self.problem.checks[self.places[check]] * self.w
        rows = rows[rows.sum(axis=1) >= least * self.w.sum()]
        _, first = self.problem.repair(
            np.vstack([self.w, rows]), np.full(len(rows) + 1, self.state)
        )
        return bool((first[1:] != first[0]).any())


class Planner:
    """The actions of one network and machine, compiled for ranking."""

    def __init__(self, net: Network, machine: Machine) -> None:
        self.net = net
        self.rules: RuleBase = net.rules
        self.machine = machine
        self.states = list(self.rules.states)
        self.actions = [a for a in self.rules.actions.values() if machine.allows(a.machine)]
        n = len(net.causes)
        # Hypotheses: 0 nothing wrong, 1 unlisted, then the single causes in the network's order.
        self.size = n + 2
        bearing = net.strength[:n] > 0
        self.fixes = np.zeros((len(self.actions), self.size))
        for row, action in enumerate(self.actions):
            for cause, p in action.cures.items():
                if cause in net.index and bearing[net.index[cause]]:
                    self.fixes[row, net.index[cause] + 2] = p
        self._answers: dict[str, Floats] = {}
        self._costs_of: dict[str, tuple[Floats, Ints]] = {}

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
        shares = [belief.shares[c] for c in self.net.causes]
        return np.array([belief.nothing_wrong, belief.unlisted, *shares])

    def plan(self, belief: Posterior, situation: Situation) -> Plan:
        """The next step for this belief and situation."""
        w = self.weights(belief)
        if ACCEPT in situation.closed and w[1:].any():
            # Somebody at the machine said that something is wrong.
            w[0], total = 0.0, w.sum()
            w *= total / w.sum()
        rows = [n for n, a in enumerate(self.actions) if self.open(a, situation)]
        checks = self._checks(w, rows, situation)
        remedies = [n for n in rows if self.fixes[n].any()]
        fresh = [n for n in remedies if self.actions[n].id not in situation.tried]
        fresh = self._not_outdone(fresh, situation)
        settings = self.rules.settings
        looking = settings.minutes_a_bit if checks else None
        for a_bit, tries, least in (
            (looking, fresh, settings.try_from),
            (None, fresh, settings.try_from),
            (None, fresh, 0.0),  # nothing is left to look at
            (None, remedies, 0.0),  # once more, before anybody is called
        ):
            weighed = self._weigh(w, list(checks.items()), tries, situation, a_bit, least)
            if weighed.options[0].kind != SERVICE:
                break
        best, reason = self._choose(w, weighed, situation)
        if best.kind == SERVICE and situation.leave:
            theirs = [n for n, a in enumerate(self.actions) if a.id in situation.leave]
            decided = [*remedies, *(n for n in theirs if self.fixes[n].any())]
            told = self._weigh(w, list(checks.items()), decided, situation, looking, 0.0)
            if told.options[0].kind == "check":
                weighed, best = told, told.options[0]
        far_fetched = best.kind == "remedy" and least == 0.0 and not situation.still_there
        ends = best.kind == SERVICE or far_fetched
        if ends and ACCEPT not in situation.closed and w[0] >= MOSTLY * w.sum():
            # No look is worth its minutes and most likely nothing is wrong: say so before service,
            # and before a remedy that hardly has a chance.
            normal = Option(ACCEPT, None, best.expected, settings.accept_normal_minutes)
            best, reason = normal, "expected"
        first = self.first_of(self.rules.actions[best.action], situation) if best.action else None
        if first is not None and first.id != best.action:
            cost = self.cost(first, situation.state, situation.role)
            best, reason = Option("check", first.id, best.expected, cost), "look_first"
        return Plan(
            next=best,
            reason=reason,
            saves=weighed.now - best.expected,
            splits=self._splits(w, best),
            options=weighed.options,
        )

    def _weigh(
        self,
        w: Floats,
        checks: list[tuple[int, list[str]]],
        remedies: list[int],
        situation: Situation,
        a_bit: float | None,
        least: float,
    ) -> "_Weighed":
        """Every move on offer, best first, and the value of remedies alone."""
        live = w > NEGLIGIBLE * w.sum()
        problem = self._problem(live, checks, remedies, situation, a_bit, least)
        state = self.states.index(situation.state)
        options = []
        outcomes = sum(len(c) for c in problem.checks)
        steps = 2 if outcomes <= TWO_STEPS_UP_TO else 1
        moves = look_ahead(problem, w[live], state, range(len(checks)), steps=steps, small=SMALL)
        for move in moves:
            if move.is_check:
                n = checks[move.number][0]
                cost = float(problem.check_cost[state, move.number])
                options.append(Option("check", self.actions[n].id, move.value, cost))
            elif move.number == FALL_BACK:
                options.append(
                    Option(SERVICE, None, move.value, self.rules.settings.service_minutes)
                )
            elif move.number == len(remedies):
                cost = float(problem.remedy_cost[state, move.number])
                options.append(Option(ACCEPT, None, move.value, cost))
            else:
                n = remedies[move.number]
                cost = float(problem.remedy_cost[state, move.number])
                options.append(Option("remedy", self.actions[n].id, move.value, cost))
        options.sort(key=lambda o: (o.expected, o.cost, o.action or ""))
        now, _ = problem.repair(w[live][None, :], np.array([state]))
        places = {self.actions[n].id: k for k, (n, _) in enumerate(checks)}
        return _Weighed(tuple(options), float(now[0]), problem, w[live], state, places)

    def _problem(
        self,
        live: NDArray[np.bool_],
        checks: list[tuple[int, list[str]]],
        remedies: list[int],
        situation: Situation,
        a_bit: float | None,
        least: float,
    ) -> Problem:
        """The situation as plain arrays; the last remedy is to accept that nothing is wrong."""
        settings = self.rules.settings
        rows = [n for n, _ in checks]
        cost, leaves = self._costs(situation.role)
        proof = self.states.index(self._proof_state)
        to_proof = np.array([self.move(s, self._proof_state) for s in self.states])
        accept = np.zeros(self.size)
        accept[0] = 1.0
        stay = np.arange(len(self.states))[:, None]
        after = leaves.take(remedies, axis=1)
        repair = cost.take(remedies, axis=1) + to_proof[after] + settings.proof_minutes
        closed = situation.still_there or ACCEPT in situation.closed
        may_accept = 2.0 if closed else settings.accept_from
        again = np.array(
            [
                settings.second_try if self.actions[n].id in situation.tried else 1.0
                for n in remedies
            ]
        )
        return Problem(
            fixes=np.vstack([self.fixes[remedies] * again[:, None], accept]).compress(live, axis=1),
            remedy_cost=np.hstack([repair, np.full_like(stay, settings.accept_normal_minutes)]),
            remedy_leaves=np.hstack([np.full_like(after, proof), stay]),
            checks=tuple(self._joint(names).compress(live, axis=1) for _, names in checks),
            check_cost=cost[:, rows],
            check_leaves=leaves[:, rows],
            price=settings.service_minutes,
            a_bit=a_bit,
            sure_enough=np.array([*np.full(len(remedies), least), may_accept]),
        )

    def _joint(self, findings: list[str]) -> Floats:
        """P(joint outcome | hypothesis) of findings that are looked at together."""
        joint = np.ones((1, self.size))
        for f in findings:
            joint = (joint[:, None, :] * self.answers(f)[None, :, :]).reshape(-1, self.size)
        return joint

    # --- what comes before what -----------------------------------------------------------------

    def open(self, action: Action, situation: Situation) -> bool:
        """Whether `action` can come next: not closed, nor after a look that cannot be taken."""
        return action.id not in situation.closed and self.first_of(action, situation) is not None

    def first_of(self, action: Action, situation: Situation) -> Action | None:
        """`action`, or the cheapest look that comes before it; None where one that must cannot."""
        must = self._not_seen(action.after, situation)
        if must:
            return self._look_at(must[0], situation)
        looks = (self._look_at(f, situation) for f in self._not_seen(action.first, situation))
        return next((look for look in looks if look is not None), action)

    def _not_seen(self, findings: list[str], situation: Situation) -> list[str]:
        """Those that this coater can show and that nobody was asked for."""
        return [
            f
            for f in findings
            if f not in situation.answered and self.machine.allows(self.rules.findings[f].machine)
        ]

    def _look_at(self, finding: str, situation: Situation) -> Action | None:
        """The cheapest look at it that can be taken at once."""
        looks = [
            a
            for a in self.actions
            if finding in a.reveals and not (a.after or a.first) and a.id not in situation.closed
        ]
        cost = {a.id: self.cost(a, situation.state, situation.role) for a in looks}
        return min(looks, key=lambda a: cost[a.id], default=None)

    def _not_outdone(self, remedies: list[int], situation: Situation) -> list[int]:
        """Without those of which another puts right all that they do, likelier and for no more.

        A small chance that may not be tried later (`try_from`) would else go before a large one.
        """
        cost, leaves = self._costs(situation.role)
        state = self.states.index(situation.state)
        proved = [
            cost[state, n] + self.move(self.states[leaves[state, n]], self._proof_state)
            for n in remedies
        ]
        fixes = self.fixes[remedies]
        return [
            n
            for k, n in enumerate(remedies)
            if not any(
                proved[j] <= proved[k]
                and (fixes[j] >= fixes[k]).all()
                and fixes[j].sum() > fixes[k].sum()
                for j in range(len(remedies))
            )
        ]

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
        cost = action.minutes.hands
        cost += settings.waiting_weight * min(action.minutes.wait, settings.longest_wait)
        if action.leaves is not None:
            # What brings the machine into another state is no quicker way there than going there.
            cost = max(cost, self.move(action.state, action.leaves))
        cost += self.move(state, action.state)
        if ROLES.index(action.role) > ROLES.index(role):
            cost += settings.fetch_minutes[action.role]
        if action.parts in ("spare", "service"):
            cost += settings.spare_minutes
        return max(cost, 0.5)

    def _costs(self, role: str) -> tuple[Floats, Ints]:
        """Cost of every action from every state, and the state it leaves: (states, actions)."""
        if role not in self._costs_of:
            cost = [[self.cost(a, s, role) for a in self.actions] for s in self.states]
            leaves = [
                [self.states.index(self.state_after(a, s)) for a in self.actions]
                for s in self.states
            ]
            self._costs_of[role] = (np.array(cost), np.array(leaves, dtype=np.intp))
        return self._costs_of[role]

    @property
    def _proof_state(self) -> str:
        at_microscope = self.rules.complaints[self.net.complaint].place == "microscope"
        return "in_sem" if at_microscope else "pumped"

    # --- what is on offer ----------------------------------------------------------------------

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

    # --- which of the options --------------------------------------------------------------------

    def _choose(self, w: Floats, weighed: "_Weighed", situation: Situation) -> tuple[Option, str]:
        """The best option, unless a cheap remedy is all but sure, or a cheap look comes first."""
        options = weighed.options
        sure = self._far_ahead(w, options)
        if sure is not None:
            return sure, "far_ahead"
        best = options[0]
        if best.kind == "check":
            # A check that gains next to nothing over a remedy at hand only delays it.
            tries = (o for o in options if o.kind in ("remedy", ACCEPT))
            best = next((o for o in tries if o.expected < best.expected + LEAST_SAVING), best)
        plain = "likely" if best.kind == "remedy" else "expected"
        action = self.rules.actions.get(best.action or "")
        if best.kind != SERVICE and not (action is not None and self._dear(action)):
            if action is not None and best.kind == "check" and self._long(action):
                for option in options:
                    short = option.kind == "check" and option.cost <= SHORT_LOOK
                    if short and weighed.can_change(option.action or "", BEARS):
                        return option, "short_first"
            return best, plain
        for reason, wanted in (
            ("touched_first", self._touched(situation)),
            ("knob_first", {a.id for a in self.actions if a.knob}),
        ):
            for option in options:
                cheap = option.kind == "check" and option.action in wanted
                if cheap and weighed.can_change(option.action or "", CAN_CHANGE):
                    return option, reason
        return best, plain

    def _far_ahead(self, w: Floats, options: tuple[Option, ...]) -> Option | None:
        """A cheap, safe remedy for a cause that is far ahead of all others."""
        lead = int(np.argmax(w[2:])) + 2 if len(w) > 2 else 0
        if lead < 2 or w[lead] < FAR_AHEAD * w.sum():
            return None
        for option in options:
            if option.kind != "remedy" or option.action is None:
                continue
            action = self.rules.actions[option.action]
            cheap = action.minutes.hands <= CHEAP_HANDS and not self._dear(action)
            cures = action.cures.get(self.net.causes[lead - 2], 0.0) >= CURES
            if cheap and cures and action.specimen == "safe":
                return option
        return None

    def _long(self, action: Action) -> bool:
        """A check that takes long, or somebody else's pump or gauge."""
        return action.minutes.hands + action.minutes.wait >= LONG_LOOK

    def _dear(self, action: Action) -> bool:
        """It costs money, a visit, or the coater for a day."""
        minutes = action.minutes
        blocked = minutes.hands + minutes.wait if minutes.blocked is None else minutes.blocked
        return action.needs_service or blocked >= A_DAY

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
