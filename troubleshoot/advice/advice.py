"""What to say of a case: the next step, the verdict, why, and whether one can coat today.

Pure functions from an `Assessment` to plain words and the one JSON object of the command line.
"""

from dataclasses import dataclass
from typing import Any

from troubleshoot.advice import instruction, today
from troubleshoot.advice.instruction import Instruction
from troubleshoot.advice.today import MATTERS, Today
from troubleshoot.case.journal import UNLISTED
from troubleshoot.case.state import Assessment, Bench, Seen
from troubleshoot.knowledge.model import Action, Cause, Caution, Complaint, RuleBase
from troubleshoot.reasoning import explain
from troubleshoot.reasoning.engine import engine_name
from troubleshoot.reasoning.firmness import FIRM, firmness
from troubleshoot.reasoning.planner import ACCEPT, SERVICE

NOTHING_WRONG, CALL_SERVICE, CURED, CLOSED, UNNAMED, DANGER = (
    "nothing_wrong",
    "call_service",
    "cured",
    "closed",
    "no_complaint",
    "danger",
)


@dataclass(frozen=True)
class NextStep:
    """The next thing to do. `kind` is check, remedy or stop; `do` says how, with its cautions."""

    kind: str
    id: str
    name: str
    say: str
    why: str
    do: Instruction | None = None
    findings: tuple[str, ...] = ()

    @property
    def minutes(self) -> float:
        """Elapsed minutes in all: getting the machine there, hands and waiting."""
        return self.do.minutes if self.do else 0.0

    @property
    def hands(self) -> float:
        """Hands-on minutes."""
        return self.do.hands if self.do else 0.0

    @property
    def wait(self) -> float:
        """Minutes of waiting."""
        return self.do.wait if self.do else 0.0

    @property
    def hazards(self) -> tuple[str, ...]:
        """The cautions that belong to it."""
        return tuple(box.id for box in self.do.cautions) if self.do else ()


@dataclass(frozen=True)
class Verdict:
    """The likeliest explanation in words, after a danger sign the danger."""

    hypothesis: str
    name: str
    probability: float
    sentence: str
    settled: bool


def chance(p: float) -> str:
    """A probability as a person says it."""
    if p >= 0.95:
        return "almost certain"
    if p <= 0.05:
        return "very unlikely"
    tenths = round(10 * p)
    return f"about {max(1, tenths)} in 10"


def in_brackets(p: float) -> str:
    """The chance behind a verdict, left out where `how_sure` says it already."""
    return "" if p >= 0.95 else f" ({chance(p)})"


def how_sure(p: float) -> str:
    """How firmly a verdict of probability `p` may be put."""
    for least, words in ((0.9, "Almost certainly"), (0.7, "Very likely"), (0.5, "Probably")):
        if p >= least:
            return words
    return (
        "Not settled yet; it looks most like this"
        if p >= 0.25
        else "Nothing stands out yet; first in line"
    )


def ranking(case: Assessment) -> list[tuple[Cause, float]]:
    """Every cause with its probability of being present now, falling."""
    assert case.belief is not None
    pairs = [(case.rules.causes[c], p) for c, p in case.belief.present.items()]
    return sorted(pairs, key=lambda item: (-item[1], item[0].id))


def commonest_first(rules: RuleBase) -> list[Complaint]:
    """The complaints by how often they are raised: shares of causes times how strongly they do."""

    def often(complaint: Complaint) -> float:
        return sum(c.share * c.complaints.get(complaint.id, 0.0) for c in rules.causes.values())

    return sorted(rules.complaints.values(), key=lambda c: (-often(c), c.id))


def suspects(case: Assessment) -> list[tuple[Cause, float]]:
    """As `ranking`, without bystanders: only causes that can raise the complaint."""
    return [(c, p) for c, p in ranking(case) if case.known.complaint in c.complaints]


def remedies_of(case: Assessment, cause: Cause) -> list[Action]:
    """The remedies of `cause` that may be done: on this machine, now, to this specimen."""
    return [case.rules.actions[name] for name in cause.remedies if case.may(name)]


def verdict(case: Assessment) -> Verdict:
    """The verdict of a case that has a complaint."""
    assert case.belief is not None
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
        sure, settled = how_sure(belief.nothing_wrong), belief.nothing_wrong >= 0.5
        return Verdict(
            NOTHING_WRONG, "nothing is wrong", belief.nothing_wrong,
            f"{sure}: nothing is wrong{in_brackets(belief.nothing_wrong)}.", settled,
        )  # fmt: skip
    if belief.unlisted > p:
        return Verdict(
            UNLISTED, "a cause that is not in this rule base", belief.unlisted,
            f"Nothing in the rule base explains this well ({chance(belief.unlisted)} that the "
            "cause is none of those listed).", False,
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


def _danger_verdict(case: Assessment) -> Verdict:
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


def today_of(case: Assessment) -> Today:
    """Whether one can still coat today, and ways round."""
    assert case.belief is not None
    banned = today.of_bans(case)
    if banned is not None:
        return banned
    first, belief = suspects(case), case.belief
    if is_cured(case):
        return today.of_cure(case)
    look = next_step(case).name
    p = first[0][1]
    if belief.nothing_wrong >= max(p, belief.unlisted, 0.5):
        return today.of_normal(case, look)
    return today.of_causes(case, first, look)


def is_cured(case: Assessment) -> bool:
    """The last remedy was followed by "cured" and nothing was reported since."""
    known = case.known
    fresh = any(s.epoch == known.epoch for s in case.seen)
    return known.last_outcome == "cured" and known.treatments[-1] is not None and not fresh


def next_step(case: Assessment) -> NextStep:
    """What to do now."""
    rules = case.rules
    if case.stop is not None:
        caution = rules.cautions[case.stop]
        do = instruction.for_danger(instruction.site_of(case), caution.id)
        return NextStep("stop", caution.id, caution.name, caution.precaution, caution.hazard, do)
    if case.known.closed is not None:
        return NextStep("stop", CLOSED, "This case is closed", "Nothing is left to do.", "")
    if case.plan is None:
        return NextStep(
            "stop", UNNAMED, "Say what the trouble is", "Name the complaint first.",
            "Without a complaint there is nothing to look for.",
        )  # fmt: skip
    if case.dangers and case.dangers[0] not in case.known.go_on:
        return _danger_step(case, rules.cautions[case.dangers[0]])
    if is_cured(case):
        return NextStep(
            "stop", CURED, "Close the case", "The complaint is gone: close the case.",
            "The last look showed the complaint gone.",
        )  # fmt: skip
    follow = _follow_up(case)
    if follow is not None:
        action, because = follow
        return _step(case, action, because)
    option = case.plan.next
    if option.kind == ACCEPT:
        assert case.known.complaint is not None
        complaint = rules.complaints[case.known.complaint]
        return NextStep(
            "stop", NOTHING_WRONG, "Nothing is wrong", complaint.normal,
            "What was seen fits a sound coater better than any fault.",
        )  # fmt: skip
    if option.kind == SERVICE:
        do = instruction.for_service()
        return NextStep(
            "remedy", do.id, do.name, do.say,
            "Nothing left to look at or try here is worth its minutes.", do,
        )  # fmt: skip
    assert option.action is not None
    return _step(case, rules.actions[option.action], _why(case))


def _danger_step(case: Assessment, danger: Caution) -> NextStep:
    """What to do about a danger that was made safe: its repair, then the record of it."""
    done = case.known.done_since(case.brought[danger.id])
    put_off = {*case.known.cannot, *(a for e, a in case.known.later if e == case.known.epoch)}
    repairs = [r for r in danger.repair if case.may(r) and r not in put_off]
    at = instruction.site_of(case)
    if repairs and not done.intersection(danger.repair):
        return _step(case, case.rules.actions[repairs[0]], "The danger comes first.")
    steps: tuple[str, ...]
    if done.intersection(danger.repair):
        steps = (
            "The person in charge, or qualified service, looks at the repair and proves it.",
            "They record it here: repaired and proved.",
        )
        say = "Have the repair proved and recorded; until then it stays out of use."
    else:
        steps = (
            'Leave it off, with its "do not use" tag on.',
            "Fetch the person in charge: they decide on the repair, or call qualified service.",
            "Only they record here that it is repaired and proved.",
        )
        say = "Out of use until this is repaired and proved. Fetch the person in charge."
    do = instruction.for_danger(at, danger.id, steps)
    return NextStep("stop", danger.id, danger.name, say, danger.hazard, do)


def step_for(case: Assessment, action: str, why: str) -> NextStep:
    """The step that a given check or remedy would be now."""
    return _step(case, case.rules.actions[action], why)


def _follow_up(case: Assessment) -> tuple[Action, str] | None:
    assert case.situation is not None
    for finding in case.follow_up:
        if finding in case.situation.answered:
            continue
        for name in case.rules.revealed_by[finding]:
            action = case.rules.actions[name]
            if name not in case.situation.closed:
                because = next(
                    case.rules.derivations[f.rule].because
                    for f in case.firings
                    if any(a.kind == "ask" and a.name == finding for a in f.added)
                )
                return action, because
    return None


def _step(case: Assessment, action: Action, why: str) -> NextStep:
    asked = case.situation.answered if case.situation else frozenset()
    return NextStep(
        kind=action.kind,
        id=action.id,
        name=action.name,
        say=action.say,
        why=why,
        do=instruction.for_action(instruction.site_of(case), action),
        findings=tuple(
            f
            for f in action.reveals
            if f not in asked and case.machine.allows(case.rules.findings[f].machine)
        ),
    )


def _why(case: Assessment) -> str:
    plan, causes = case.plan, case.rules.causes
    assert plan is not None
    if plan.reason == "touched_first":
        return "It looks at what was handled last, before anything that costs money or a visit."
    if plan.reason == "knob_first":
        return "A knob or a lamp costs nothing to look at, before anything that costs money."
    if plan.reason == "far_ahead":
        return "One cause is far ahead, and this puts it right: trying is quicker than asking more."
    if plan.next.kind == "check":
        parts = []
        if plan.saves >= 1:
            parts.append(f"it saves about {_rough(plan.saves)} on average")
        if plan.splits:
            a, b = (lower_first(causes[c].name) for c in plan.splits)
            parts.append(f"it tells the two leading causes apart: {a}, and {b}")
        if not parts:
            parts.append("it is the cheapest look that can still change what to do")
        text = "; ".join(parts)
        return text[0].upper() + text[1:] + "."
    action = case.rules.actions[plan.next.action or ""]
    named = [c.name for c, p in suspects(case)[:4] if c.id in action.cures and p >= 0.05]
    if named:
        targets = ", ".join(lower_first(n) for n in named[:3])
        return f"Trying it now is quicker than asking more. It cures: {targets}."
    return "Trying it now is quicker than asking more."


def _rough(minutes: float) -> str:
    """Minutes to the nearest one or five: more would be false precision."""
    whole = round(minutes) if minutes < 10 else round(minutes / 5) * 5
    return "a minute" if whole == 1 else f"{whole} minutes"


def lower_first(text: str) -> str:
    """The text for the middle of a sentence ("Dirty seal" -> "dirty seal"), initialisms kept."""
    return text if text[:2].isupper() else text[:1].lower() + text[1:]


def evidence(case: Assessment, bench: Bench) -> list[tuple[Seen, float]]:
    """Each observation with its weight in decibans for the leading cause."""
    assert case.known.complaint is not None
    assert case.belief is not None
    assert case.evidence is not None
    lead = suspects(case)[0][0].id
    net = bench.planner(case.known.complaint).net
    weights = {(w.epoch, w.finding): w.decibans for w in explain.weights(net, case.evidence, lead)}
    return [(s, weights.get((s.epoch, s.finding), 0.0)) for s in case.seen]


def counted_in(case: Assessment, seen: Seen) -> str | None:
    """The contrast that speaks in place of this observation, if one was computed from it."""
    for other in case.seen:
        finding = case.rules.findings[other.finding]
        if other.epoch == seen.epoch and seen.finding in finding.replaces:
            return finding.name
    return None


def would_change(case: Assessment, bench: Bench) -> str | None:
    """The one answer that would put something else first, as a sentence."""
    assert case.known.complaint is not None
    assert case.belief is not None
    assert case.situation is not None
    lead = suspects(case)[0][0]
    alike = {c.id for c, _ in suspects(case) if same_to_the_user(lead, c)}
    planner = bench.planner(case.known.complaint)
    assert case.evidence is not None
    open_ = {
        finding
        for action in planner.actions
        if action.id not in case.situation.closed
        for finding in action.reveals
    }
    shut = case.situation.answered | (set(planner.net.findings) - open_)
    found = explain.overturn(planner, case.belief, case.evidence, shut, frozenset(alike))
    if found is None:
        return None
    finding = case.rules.findings[found.finding]
    then = (
        lower_first(case.rules.causes[found.then].name)
        if found.then in case.rules.causes
        else "“nothing is wrong”"
    )
    return f"{finding.ask} “{finding.answers[found.answer]}” would put {then} first."


@dataclass(frozen=True)
class HowFirm:
    """The share of shaken rule bases in which the verdict stands, and that in words."""

    share: float
    sentence: str


def how_firm(case: Assessment, bench: Bench) -> HowFirm:
    """Whether the verdict survives if the rule base's numbers are somewhat wrong.

    A copy in which a cause leads that is treated the same counts for the verdict.
    """
    assert case.known.complaint is not None
    assert case.evidence is not None
    found = firmness(bench.planner(case.known.complaint).net, case.evidence)
    causes, share = case.rules.causes, found.share
    if found.leader in causes:
        share += sum(
            p
            for name, p in found.others
            if name in causes and same_to_the_user(causes[found.leader], causes[name])
        )
    kept = f"it stands in {round(100 * share)} of 100 rule bases whose numbers were shaken"
    if share < FIRM:
        return HowFirm(share, f"This verdict is provisional: {kept}.")
    return HowFirm(share, f"This verdict is firm: {kept}.")


CLASH_BITS = 2.0


def clash(case: Assessment, bench: Bench) -> str | None:
    """A sentence on observations that do not fit together, or None."""
    assert case.known.complaint is not None
    assert case.evidence is not None
    found = explain.conflict(bench.planner(case.known.complaint).net, case.evidence)
    if found.bits < CLASH_BITS or found.pair is None or found.pair_bits <= 0:
        return None
    a, b = (lower_first(case.rules.findings[f].name) for f in found.pair)
    return (
        "These observations do not fit together well; the pair that clashes most is: "
        f"{a}, and {b}. Look at both again, or think of two causes, or of one that is not listed."
    )


def as_json(case: Assessment, bench: Bench) -> dict[str, Any]:
    """The diagnosis as one object: see the README for its keys."""
    step = next_step(case)
    base: dict[str, Any] = {
        "complaint": case.known.complaint,
        "next": {"kind": step.kind, "id": step.id, "minutes": round(step.minutes, 1),
                 "why": step.why, "name": step.name, "say": step.say,
                 "steps": list(step.do.steps) if step.do else [],
                 "cautions": list(step.hazards)},
        "danger": _danger_json(case),
        "cautions": [
            {"id": c.id, "text": c.precaution, "stop_now": c.stop_now, "source": c.source}
            for c in (case.rules.cautions[name] for name in in_force(case, step))
        ],
        "contradictions": list(case.contradictions),
        "rule_base": case.rules.hash,
        "engine": engine_name(),
    }  # fmt: skip
    banned = today.of_bans(case)
    if case.belief is None:
        nothing = dict.fromkeys(("nothing_wrong", "unlisted", "verdict"))
        now = _today_json(banned) if banned else None
        return {**base, "ranking": [], "sets": [], "evidence": [], **nothing, "today": now}
    said = verdict(case)
    base |= {
        "ranking": [
            {"cause": c.id, "name": c.name, "probability": p} for c, p in ranking(case)
        ],
        "sets": [
            {"causes": list(names), "probability": p} for names, p in case.belief.sets[:5]
        ],
        "nothing_wrong": case.belief.nothing_wrong,
        "unlisted": case.belief.unlisted,
        "verdict": {"hypothesis": said.hypothesis, "sentence": said.sentence,
                    "stands_in_share": how_firm(case, bench).share,
                    "clash": clash(case, bench)},
        "today": _today_json(today_of(case)),
        "evidence": [
            {"finding": s.finding, "answer": s.answer, "origin": s.origin, "epoch": s.epoch,
             "decibans": round(db, 2)}
            for s, db in evidence(case, bench)
        ],
    }  # fmt: skip
    return base


def _today_json(said: Today) -> dict[str, Any]:
    return {"advice": said.advice, "note": said.note, "ways_round": list(said.ways)}


def _danger_json(case: Assessment) -> dict[str, Any] | None:
    """The danger that leads, what it bans, and the others; None where there is none."""
    names = list(dict.fromkeys((*([case.stop] if case.stop else []), *case.dangers)))
    if not names:
        return None
    first = case.rules.cautions[names[0]]
    return {
        "id": first.id,
        "name": first.name,
        "text": first.precaution,
        "made_safe": case.stop != first.id,
        "bans": list(first.bans),
        "others": names[1:],
    }


def in_force(case: Assessment, step: NextStep) -> list[str]:
    """Cautions that hold now: from signs and rules first, then those of the next step."""
    return list(dict.fromkeys((*case.cautions, *step.hazards)))
