"""Where a case stands: a pure function of its journal, the rule base and the machine.

`replay` reads the journal into what is known; `Bench.assess` adds what follows (rules), what is
believed (posterior) and what to do next (plan). No clock is read and nothing is stored here.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from troubleshoot.case.journal import DEFAULT_ROLE, UNKNOWN, Entry, Journal, standing
from troubleshoot.case.permitted import Refusal, Standing, all_refused
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.derivation import Fact
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.readings.quantity import LEAST, likelihood
from troubleshoot.reasoning import engine as engine
from troubleshoot.reasoning.belief import (
    RECHECK,
    Epoch,
    Evidence,
    Network,
    Observation,
    Posterior,
    Treatment,
    capped_odds,
    posterior,
)
from troubleshoot.reasoning.planner import Plan, Planner, Situation

DEFAULT_STATE = {"coater": "pumped", "microscope": "in_sem"}


@dataclass(frozen=True)
class Seen:
    """One answer. `origin`: told (in words), measured (a number), reading (log), derived (rule)."""

    number: int
    epoch: int
    finding: str
    answer: str
    sure: str
    origin: str
    quantity: str | None
    state: str | None
    likelihood: tuple[float, ...]


@dataclass(frozen=True)
class Done:
    """An action that may have cured something, and what was seen of the complaint afterwards."""

    number: int
    action: str
    complaint_now: str
    value: str | None


@dataclass
class Known:
    """The journal read through: plain facts, nothing inferred.

    `signs`, `made_safe` and `repaired` hold the number of the entry that said so last.
    """

    name: str = ""
    complaint: str | None = None
    words: str | None = None
    role: str = DEFAULT_ROLE
    irreplaceable: bool = False
    state: str = "any"
    state_stated: bool = False
    since: str | None = None
    signs: dict[str, int] = field(default_factory=dict)
    circumstances: dict[str, str] = field(default_factory=dict)
    seen: list[Seen] = field(default_factory=list)
    unknown: list[tuple[int, str]] = field(default_factory=list)
    treatments: list[Done | None] = field(default_factory=list)
    checked: list[tuple[int, str]] = field(default_factory=list)
    cannot: dict[str, str] = field(default_factory=dict)
    later: list[tuple[int, str]] = field(default_factory=list)
    go_on: set[str] = field(default_factory=set)
    parked: Entry | None = None
    workarounds: list[str] = field(default_factory=list)
    made_safe: dict[str, int] = field(default_factory=dict)
    repaired: dict[str, int] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    closed: Mapping[str, object] | None = None

    @property
    def epoch(self) -> int:
        """The number of the epoch that is running."""
        return len(self.treatments)

    def done_since(self, number: int) -> frozenset[str]:
        """What was put right after the entry `number`, whatever the complaint did then."""
        return frozenset(d.action for d in self.treatments if d is not None and d.number > number)

    @property
    def last_outcome(self) -> str | None:
        """What was last seen of the complaint after a remedy."""
        done = [t for t in self.treatments if t is not None]
        return done[-1].complaint_now if done else None


@dataclass(frozen=True)
class Assessment:
    """Everything that is computed of a case.

    `cautions` in force; `stops` end the questioning until they are made safe; `bans` are those that
    forbid something, first the `dangers`: what was seen and is not recorded as repaired and proved;
    `brought` the entry that last brought one up. `refused` is everything that may not be offered
    now, and why.
    """

    known: Known
    rules: RuleBase
    machine: Machine
    firings: tuple[engine.Firing, ...]
    cautions: tuple[str, ...]
    stops: tuple[str, ...]
    bans: tuple[str, ...]
    brought: Mapping[str, int]
    contradictions: tuple[str, ...]
    refused: Mapping[str, Refusal]
    follow_up: tuple[str, ...]
    seen: tuple[Seen, ...]
    evidence: Evidence | None
    belief: Posterior | None
    plan: Plan | None
    situation: Situation | None

    @property
    def stop(self) -> str | None:
        """The caution that has to be made safe first."""
        return self.stops[0] if self.stops else None

    @property
    def dangers(self) -> tuple[str, ...]:
        """Dangers that were seen and not recorded as repaired and proved."""
        return tuple(c for c in self.bans if self.rules.cautions[c].is_danger)

    def may(self, name: str) -> bool:
        """Whether this action or way round may be offered now."""
        return name not in self.refused


def replay(journal: Journal, rules: RuleBase, machine: Machine) -> Known:
    """Read the standing entries in order."""
    known = Known()
    for entry in standing(journal):
        data = entry.data
        if known.parked is not None and entry.kind not in ("parked", "note"):
            known.parked = None
        match entry.kind:
            case "opened":
                known.name = str(data.get("name", ""))
            case "role":
                known.role = data["role"]
            case "specimen":
                known.irreplaceable = bool(data["irreplaceable"])
            case "state":
                known.state, known.state_stated = data["state"], True
            case "sign":
                if data["present"]:  # a sign that is not seen any more is not a repair
                    known.signs[data["sign"]] = entry.number
            case "complaint":
                known.complaint, known.words = data["complaint"], data.get("words")
                if known.state == "any":
                    known.state = DEFAULT_STATE[rules.complaints[data["complaint"]].place]
            case "circumstance":
                known.circumstances[data["circumstance"]] = data["answer"]
            case "since":
                known.since = data["text"]
            case "finding":
                _replay_finding(known, entry, rules, machine)
            case "reading":
                _replay_reading(known, entry, rules)
            case "action":
                _replay_action(known, entry, rules)
            case "cannot":
                known.cannot[data["action"]] = data.get("why", "")
            case "later":
                known.later.append((known.epoch, data["action"]))
            case "epoch":
                known.treatments.append(None)
            case "go_on":
                known.go_on.add(data["although"])
            case "parked":
                known.parked = entry
            case "workaround":
                known.workarounds.append(data["workaround"])
            case "made_safe":
                known.made_safe[data["caution"]] = entry.number
            case "repaired":
                known.repaired[data["caution"]] = entry.number
            case "note":
                known.notes.append(data["text"])
            case "closed":
                known.closed = data
    return known


def _replay_finding(known: Known, entry: Entry, rules: RuleBase, machine: Machine) -> None:
    name = entry.data["finding"]
    known.seen = [s for s in known.seen if (s.finding, s.epoch) != (name, known.epoch)]
    known.unknown = [u for u in known.unknown if u != (known.epoch, name)]
    if entry.data.get("answer") == UNKNOWN:
        known.unknown.append((known.epoch, name))
        return
    finding = rules.findings[name]
    quantity = entry.data.get("quantity")
    sure = entry.data.get("sure") or ("fairly" if finding.fairly else "certain")
    if quantity is not None:
        vector = likelihood(finding, str(quantity), machine)
        answer = list(finding.answers)[max(range(len(vector)), key=vector.__getitem__)]
    else:
        answer = entry.data["answer"]
        vector = told(rules, name, answer, sure)
    known.seen.append(
        Seen(
            number=entry.number,
            epoch=known.epoch,
            finding=name,
            answer=answer,
            sure=sure,
            origin="told" if quantity is None else "measured",
            quantity=None if quantity is None else str(quantity),
            state=known.state if known.state_stated else None,
            likelihood=vector,
        )
    )


def _replay_reading(known: Known, entry: Entry, rules: RuleBase) -> None:
    """What a reader found, as soft evidence; the file itself is never read again."""
    for name, vector in entry.data["findings"].items():
        known.seen = [s for s in known.seen if (s.finding, s.epoch) != (name, known.epoch)]
        most = max(vector)
        known.seen.append(
            Seen(
                number=entry.number,
                epoch=known.epoch,
                finding=name,
                answer=list(rules.findings[name].answers)[vector.index(most)],
                sure="certain",
                origin="reading",
                quantity=None,
                state=None,
                likelihood=tuple(max(float(v), LEAST * most) for v in vector),
            )
        )


def told(rules: RuleBase, finding: str, answer: str, sure: str) -> tuple[float, ...]:
    """The likelihood of an answer given in words.

    "Fairly sure" leaves 1 - `fairly_sure` to the other answers, of an ordered finding to the
    neighbours only.
    """
    entry = rules.findings[finding]
    answers = list(entry.answers)
    here = answers.index(answer)
    if sure == "certain":
        return tuple(1.0 if n == here else 0.0 for n in range(len(answers)))
    ordered = entry.kind in ("graded", "two_sided")
    others = [n for n in range(len(answers)) if n != here and (not ordered or abs(n - here) == 1)]
    p = rules.settings.fairly_sure
    rest = (1.0 - p) / len(others)
    return tuple(p if n == here else rest if n in others else 0.0 for n in range(len(answers)))


def _replay_action(known: Known, entry: Entry, rules: RuleBase) -> None:
    action = rules.actions[entry.data["action"]]
    known.checked.append((known.epoch, action.id))
    if "complaint_now" in entry.data:
        value = entry.data.get("value")
        known.treatments.append(
            Done(
                entry.number,
                action.id,
                entry.data["complaint_now"] or UNKNOWN,
                None if value is None else str(value),
            )
        )
    if action.leaves or action.state != "any":
        known.state, known.state_stated = action.leaves or action.state, False


class Bench:
    """One rule base and one machine, with what was compiled for them kept."""

    def __init__(self, rules: RuleBase, machine: Machine) -> None:
        self.rules, self.machine = rules, machine
        self._planners: dict[str, Planner] = {}

    def planner(self, complaint: str) -> Planner:
        """The compiled planner (and, as `.net`, network) of a complaint."""
        if complaint not in self._planners:
            net = Network(self.rules, self.machine, complaint)
            self._planners[complaint] = Planner(net, self.machine)
        return self._planners[complaint]

    def assess(self, journal: Journal) -> Assessment:
        """Where the case stands."""
        base = self.deduce(journal)
        return self._reasoned(base) if base.known.complaint is not None else base

    def deduce(self, journal: Journal) -> Assessment:
        """What is known and what follows by rules alone: no belief and no plan yet."""
        known = replay(journal, self.rules, self.machine)
        fixpoint = engine.run(tuple(self.rules.derivations.values()), _facts(known, self.machine))
        now = ("", str(known.epoch))
        derived = {f for firing in fixpoint.firings for f in firing.added}
        plain = sorted({f.name for f in derived if f.kind == "caution" and f.epoch in now})
        brought = self._brought(known, fixpoint.firings)
        bans = self._bans(known, brought)
        cautions = tuple(dict.fromkeys((*bans, *brought, *plain)))
        stops = tuple(
            c
            for c in cautions
            if self.rules.cautions[c].stop_now
            and known.made_safe.get(c, -1) < brought.get(c, 0)
            and known.repaired.get(c, -1) < brought.get(c, 0)
        )
        standing = Standing(
            self.rules,
            self.machine,
            known.role,
            known.irreplaceable,
            self._out_of_reach(fixpoint.firings, now),
            bans,
            known.done_since(min((brought[c] for c in bans), default=0)),
        )
        contradictions = tuple(
            dict.fromkeys(
                self.rules.derivations[firing.rule].because
                for firing in fixpoint.firings
                if any(f.kind == "contradiction" for f in firing.added)
            )
        )
        seen = tuple(sorted((*known.seen, *self._derived(known, fixpoint.firings)), key=_order))
        return Assessment(
            known=known,
            rules=self.rules,
            machine=self.machine,
            firings=fixpoint.firings,
            cautions=cautions,
            stops=stops,
            bans=bans,
            brought=brought,
            contradictions=contradictions,
            refused=all_refused(standing),
            follow_up=tuple(sorted(f.name for f in derived if f.kind == "ask" and f.epoch in now)),
            seen=seen,
            evidence=None,
            belief=None,
            plan=None,
            situation=None,
        )

    def _out_of_reach(
        self, firings: tuple[engine.Firing, ...], now: tuple[str, str]
    ) -> dict[str, str]:
        """Actions that a rule took out of reach, with its reason."""
        out: dict[str, str] = {}
        for firing in firings:
            for fact in firing.added:
                if fact.kind == "out_of_reach" and fact.epoch in now:
                    out.setdefault(fact.name, self.rules.derivations[firing.rule].because)
        return out

    def _brought(self, known: Known, firings: tuple[engine.Firing, ...]) -> dict[str, int]:
        """Cautions that a sign or what was found brought up, with the last entry that did.

        A danger stays however often one looks again. Another caution that bans falls silent once
        the finding that brought it was answered anew, later.
        """
        out: dict[str, int] = {}
        for sign, number in known.signs.items():
            caution = self.rules.signs[sign].caution
            out[caution] = max(number, out.get(caution, number))
        entries = {(s.finding, str(s.epoch)): s.number for s in known.seen}
        newest: dict[str, int] = {}
        for seen in known.seen:
            newest[seen.finding] = max(seen.epoch, newest.get(seen.finding, 0))
        for firing in firings:
            facts = [f for f in firing.matched if f.kind == "finding"]
            overtaken = any(f.epoch and newest.get(f.name, 0) > int(f.epoch) for f in facts)
            at = max((entries.get((f.name, f.epoch), 0) for f in facts), default=0)
            for fact in firing.added:
                if fact.kind != "caution" or not self.rules.cautions[fact.name].bans:
                    continue
                if self.rules.cautions[fact.name].is_danger or not overtaken:
                    out[fact.name] = max(at, out.get(fact.name, at))
        return out

    def _bans(self, known: Known, brought: Mapping[str, int]) -> tuple[str, ...]:
        """The cautions in force that forbid something, dangers first.

        A danger is lifted by the record that it is repaired and proved, another one by its repair.
        """
        out = []
        for name, number in brought.items():
            caution = self.rules.cautions[name]
            lifted = known.repaired.get(name, -1) > number or (
                not caution.is_danger and known.done_since(number).intersection(caution.repair)
            )
            if caution.bans and not lifted:
                out.append(name)
        return tuple(sorted(out, key=lambda c: not self.rules.cautions[c].is_danger))

    def _derived(self, known: Known, firings: tuple[engine.Firing, ...]) -> list[Seen]:
        """Findings that follow from others and were not answered themselves."""
        told_already = {(s.finding, s.epoch) for s in known.seen}
        sureness = {(s.finding, str(s.epoch)): s.sure for s in known.seen}
        out: dict[tuple[str, int], Seen] = {}
        for firing in firings:
            for fact in firing.added:
                if fact.kind != "finding" or not fact.epoch:
                    continue
                key = (fact.name, int(fact.epoch))
                if key in told_already or fact.name not in self.rules.findings:
                    continue
                sure = (
                    "fairly"
                    if any(sureness.get((m.name, m.epoch)) == "fairly" for m in firing.matched)
                    else "certain"
                )
                out[key] = Seen(
                    number=-1,
                    epoch=key[1],
                    finding=fact.name,
                    answer=fact.value,
                    sure=sure,
                    origin="derived",
                    quantity=None,
                    state=None,
                    likelihood=told(self.rules, fact.name, fact.value, sure),
                )
        return list(out.values())

    def _reasoned(self, base: Assessment) -> Assessment:
        known = base.known
        assert known.complaint is not None
        planner = self.planner(known.complaint)
        evidence = self._evidence(base, planner)
        belief = posterior(planner.net, evidence)
        situation = self.situation(base)
        plan = planner.plan(belief, situation)
        return replace(base, evidence=evidence, belief=belief, plan=plan, situation=situation)

    def _evidence(self, base: Assessment, planner: Planner) -> Evidence:
        known = base.known
        answered = {s.finding for s in base.seen}
        odds = capped_odds(
            self.rules,
            [
                c.odds
                for c in (self.rules.circumstances[name] for name in active(known))
                if not answered.intersection(c.said_by)
            ],
        )
        epochs = []
        for number in range(known.epoch + 1):
            observations = tuple(
                Observation(s.finding, s.likelihood)
                for s in base.seen
                if s.epoch == number and s.finding in planner.net.findings
            )
            done = known.treatments[number] if number < known.epoch else None
            treatment = _treatment(self.rules, done) if number < known.epoch else None
            epochs.append(Epoch(observations, treatment))
        assert known.complaint is not None
        return Evidence(known.complaint, odds, tuple(epochs))

    def situation(self, base: Assessment) -> Situation:
        """What the planner must know of a case beside the probabilities."""
        known = base.known
        now = known.epoch
        closed = {a for e, a in known.checked if e == now}
        closed |= {d.action for d in known.treatments if d is not None}
        closed |= set(known.cannot) | {a for e, a in known.later if e == now}
        closed |= set(base.refused) | known.go_on
        answered = {s.finding for s in base.seen if s.epoch == now}
        answered |= {f for e, f in known.unknown if e == now}
        last = dict(sorted((name, epoch) for epoch, name in _older(base)))
        answered |= {name for name, epoch in last.items() if not self._reopened(known, epoch, name)}
        touched = {tag for name in active(known) for tag in self.rules.circumstances[name].touched}
        return Situation(
            state=known.state,
            role=known.role,
            answered=frozenset(answered),
            closed=frozenset(closed),
            touched=frozenset(touched),
        )

    def _reopened(self, known: Known, epoch: int, finding: str) -> bool:
        """Whether something done since may have changed what this finding shows."""
        for done in known.treatments[epoch:]:
            if done is None:
                return True
            if done.complaint_now == "unchanged":
                continue
            action = self.rules.actions[done.action]
            if any((c, finding) in self.rules.rows for c in (*action.cures, *action.may_cause)):
                return True
        return False


def active(known: Known) -> list[str]:
    """The circumstances that hold."""
    return [name for name, answer in known.circumstances.items() if answer == "yes"]


def _order(seen: Seen) -> tuple[int, int, int, str]:
    return seen.epoch, seen.number < 0, seen.number, seen.finding


def _older(base: Assessment) -> set[tuple[int, str]]:
    """(epoch, finding) of everything answered before the epoch that is running."""
    now = base.known.epoch
    out = {(s.epoch, s.finding) for s in base.seen if s.epoch < now}
    return out | {(e, f) for e, f in base.known.unknown if e < now}


def _treatment(rules: RuleBase, done: Done | None) -> Treatment:
    if done is None:
        return Treatment({}, {}, None)
    action = rules.actions[done.action]
    recheck = None
    if done.complaint_now in RECHECK:
        vector = [1.0 if a == done.complaint_now else 0.0 for a in RECHECK]
        recheck = (vector[0], vector[1], vector[2], vector[3])
    return Treatment(action.cures, action.may_cause, recheck)


def _facts(known: Known, machine: Machine) -> list[Fact]:
    """What the rule engine is told: text only, numbers already turned into answers."""
    epoch = str(known.epoch)
    facts = [Fact("machine", key, value) for key, value in machine.facts.items()]
    facts.append(Fact("role", known.role, "yes"))
    facts.append(Fact("specimen", "irreplaceable", "yes" if known.irreplaceable else "no"))
    if known.complaint is not None:
        facts.append(Fact("complaint", known.complaint, "yes"))
    facts += [Fact("circumstance", name, "yes") for name in active(known)]
    facts += [Fact("sign", s, "yes") for s in known.signs]
    facts.append(Fact("state", known.state, "yes", epoch))
    for seen in known.seen:
        facts.append(Fact("finding", seen.finding, seen.answer, str(seen.epoch)))
        if seen.state is not None:
            facts.append(Fact("seen_in", seen.finding, seen.state, str(seen.epoch)))
    return facts
