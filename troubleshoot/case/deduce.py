"""What follows of a case by rules alone: cautions, bans, contradictions, derived findings.

A pure function of the journal, the rule base and the machine; no probability is looked at.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from troubleshoot.case.journal import Journal
from troubleshoot.case.known import Known, Seen, active, replay, told
from troubleshoot.case.odd import oddities
from troubleshoot.case.permitted import Refusal, Standing, all_refused
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.derivation import Fact
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.reasoning import engine


@dataclass(frozen=True)
class Deduction:
    """Where a case stands by rules alone; always there, with or without a complaint.

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


def deduce(journal: Journal, rules: RuleBase, machine: Machine) -> Deduction:
    """What is known and what follows: no belief and no plan yet."""
    known = replay(journal, rules, machine)
    facts = _facts(known, machine)
    fixpoint = engine.run(tuple(rules.derivations.values()), facts)
    firings = (*fixpoint.firings, *_feared(known, rules, facts, fixpoint.firings))
    now = ("", str(known.epoch))
    derived = {f for firing in firings for f in firing.added}
    plain = sorted({f.name for f in derived if f.kind == "caution" and f.epoch in now})
    brought = _brought(known, rules, firings)
    bans = _bans(known, rules, brought)
    cautions = tuple(dict.fromkeys((*bans, *brought, *plain)))
    stops = tuple(
        c
        for c in cautions
        if rules.cautions[c].stop_now
        and known.made_safe.get(c, -1) < brought.get(c, 0)
        and known.repaired.get(c, -1) < brought.get(c, 0)
    )
    standing = Standing(
        rules,
        machine,
        known.role,
        known.irreplaceable,
        _out_of_reach(rules, fixpoint.firings, now),
        bans,
        known.done_since(min((brought[c] for c in bans), default=0)),
    )
    contradictions = tuple(
        dict.fromkeys(
            rules.derivations[firing.rule].because
            for firing in fixpoint.firings
            if any(f.kind == "contradiction" for f in firing.added)
        )
    )
    odd = (odd.sentence for odd in oddities(journal, rules, machine))
    seen = tuple(sorted((*known.seen, *_derived(known, rules, fixpoint.firings)), key=_order))
    return Deduction(
        known=known,
        rules=rules,
        machine=machine,
        firings=firings,
        cautions=cautions,
        stops=stops,
        bans=bans,
        brought=brought,
        contradictions=tuple(dict.fromkeys((*contradictions, *odd))),
        refused=all_refused(standing),
        follow_up=tuple(sorted(f.name for f in derived if f.kind == "ask" and f.epoch in now)),
        seen=seen,
    )


def _feared(
    known: Known, rules: RuleBase, facts: list[Fact], firings: tuple[engine.Firing, ...]
) -> list[engine.Firing]:
    """The cautions of answers that are not settled: nothing else follows from such an answer."""
    may_be = [
        Fact("finding", s.finding, answer, str(s.epoch))
        for s in known.seen
        if s.others
        for answer in (s.answer, *s.others)
    ]
    if not may_be:
        return []
    more = engine.run(tuple(rules.derivations.values()), (*facts, *may_be)).firings
    cautions = {f: tuple(a for a in f.added if a.kind == "caution") for f in more}
    return [replace(f, added=cautions[f]) for f in more if cautions[f] and f not in firings]


def _out_of_reach(
    rules: RuleBase, firings: tuple[engine.Firing, ...], now: tuple[str, str]
) -> dict[str, str]:
    """Actions that a rule took out of reach, with its reason."""
    out: dict[str, str] = {}
    for firing in firings:
        for fact in firing.added:
            if fact.kind == "out_of_reach" and fact.epoch in now:
                out.setdefault(fact.name, rules.derivations[firing.rule].because)
    return out


def _brought(known: Known, rules: RuleBase, firings: tuple[engine.Firing, ...]) -> dict[str, int]:
    """Cautions that a sign or what was found brought up, with the last entry that did.

    A danger stays however often one looks again. Another caution that bans falls silent once
    the finding that brought it was answered anew, later.
    """
    out: dict[str, int] = {}
    for sign, number in known.signs.items():
        caution = rules.signs[sign].caution
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
            if fact.kind != "caution" or not rules.cautions[fact.name].bans:
                continue
            if rules.cautions[fact.name].is_danger or not overtaken:
                out[fact.name] = max(at, out.get(fact.name, at))
    return out


def _bans(known: Known, rules: RuleBase, brought: Mapping[str, int]) -> tuple[str, ...]:
    """The cautions in force that forbid something, dangers first.

    A danger is lifted by the record that it is repaired and proved, another one by its repair.
    """
    out = []
    for name, number in brought.items():
        caution = rules.cautions[name]
        lifted = known.repaired.get(name, -1) > number or (
            not caution.is_danger and known.done_since(number).intersection(caution.repair)
        )
        if caution.bans and not lifted:
            out.append(name)
    return tuple(sorted(out, key=lambda c: not rules.cautions[c].is_danger))


def _derived(known: Known, rules: RuleBase, firings: tuple[engine.Firing, ...]) -> list[Seen]:
    """Findings that follow from others and were not answered themselves."""
    told_already = {(s.finding, s.epoch) for s in known.seen}
    sureness = {(s.finding, str(s.epoch)): s.sure for s in known.seen}
    out: dict[tuple[str, int], Seen] = {}
    for firing in firings:
        for fact in firing.added:
            if fact.kind != "finding" or not fact.epoch:
                continue
            key = (fact.name, int(fact.epoch))
            if key in told_already or fact.name not in rules.findings:
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
                likelihood=told(rules, fact.name, fact.value, sure),
            )
    return list(out.values())


def _order(seen: Seen) -> tuple[int, int, int, str]:
    return seen.epoch, seen.number < 0, seen.number, seen.finding


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
        if not seen.others:
            facts.append(Fact("finding", seen.finding, seen.answer, str(seen.epoch)))
    return facts
