"""A diagnosis on the terminal, without questions."""

from troubleshoot.cli.terminal import TerminalTeller
from troubleshoot.investigation import advice
from troubleshoot.investigation.conversation import minutes_of
from troubleshoot.investigation.state import Assessment, Bench
from troubleshoot.readings.quantity import answer_text
from troubleshoot.reasoning.explain import in_words


def show(case: Assessment, bench: Bench) -> None:
    """Print where the case stands."""
    tell = TerminalTeller()
    step = advice.next_step(case)
    for name in advice.in_force(case, step):
        caution = case.rules.cautions[name]
        tell.caution(caution.name, advice.precaution(case, name), caution.stop_now)
    for text in case.contradictions:
        tell.caution("These do not fit together", text, False)
    tell.title(f"Next: {step.say}")
    if step.kind != "stop":
        tell.small(minutes_of(step))
    for extra in (step.prepare, step.fetch):
        if extra:
            tell.line(extra)
    tell.steps(step.steps)
    if step.why:
        tell.small(f"Why now: {step.why}")
    if case.belief is None:
        return
    said = advice.verdict(case)
    tell.title(said.sentence)
    tell.line(advice.how_firm(case, bench).sentence)
    clash = advice.clash(case, bench)
    if clash:
        tell.line(clash)
    changes = advice.would_change(case, bench)
    if changes:
        tell.line(f"What would change it: {changes}")
    tell.line(f"Today: {advice.TODAY_WORDS[said.today].lower()}. {said.today_note}")
    for name in advice.workarounds(case)[:3]:
        tell.line(f"  A way round: {advice.lower_first(case.rules.workarounds[name].name)}.")
    _causes(tell, case)
    _remedy(tell, case)
    _evidence(tell, case, bench)


def _causes(tell: TerminalTeller, case: Assessment) -> None:
    assert case.belief is not None
    top = advice.suspects(case)[:3]
    tell.title("How likely (judgement, as far as the evidence has come)")
    tell.bars(
        [
            *((c.name, p) for c, p in top),
            ("Nothing is wrong", case.belief.nothing_wrong),
            ("Not in this rule base", case.belief.unlisted),
        ]
    )
    tell.small("Two causes may be present together, so these can sum to more than 100 %.")


def _remedy(tell: TerminalTeller, case: Assessment) -> None:
    cause, p = advice.suspects(case)[0]
    if advice.verdict(case).hypothesis != cause.id or p < advice.MATTERS:
        return
    remedies = [case.rules.actions[r] for r in cause.remedies]
    if case.known.irreplaceable:
        remedies = [r for r in remedies if r.specimen == "safe"]
    if not remedies:
        return
    remedy = remedies[0]
    tell.title(f"Remedy for “{advice.lower_first(cause.name)}”: {remedy.say}")
    who = advice.ROLE_NAMES[remedy.role]
    tell.small(f"By {who}; {remedy.minutes.hands:g} min hands-on, {remedy.minutes.wait:g} waiting")
    for name in remedy.hazards:
        tell.line(f"Caution: {case.rules.cautions[name].precaution}")
    tell.steps(remedy.steps)
    if remedy.proof:
        tell.line(f"Proof: {case.rules.actions[remedy.proof].say}")
    if remedy.tell_owner:
        tell.line(f"For the specimen's owner: {remedy.tell_owner}")


def _evidence(tell: TerminalTeller, case: Assessment, bench: Bench) -> None:
    rows = advice.evidence(case, bench)
    if not rows:
        return
    cause = advice.suspects(case)[0][0]
    tell.title(f"What each answer says about “{advice.lower_first(cause.name)}”")
    for seen, weight in rows:
        finding = case.rules.findings[seen.finding]
        shown = seen.quantity or answer_text(finding, seen.answer, case.machine)
        derived = {"derived": " (follows from the others)", "reading": " (read off a log)"}.get(
            seen.origin, ""
        )
        counted = advice.counted_in(case, seen)
        says = f"counted in “{advice.lower_first(counted)}”" if counted else in_words(weight)
        tell.line(f"  {finding.name}: {shown}{derived} — {says}")
