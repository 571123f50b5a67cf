"""A diagnosis on the terminal, without questions."""

from troubleshoot.advice import advice, instruction
from troubleshoot.case.state import Assessment, Bench
from troubleshoot.readings.quantity import answer_text
from troubleshoot.reasoning.explain import in_words
from troubleshoot.show.terminal import TerminalTeller
from troubleshoot.talk.telling import minutes_of, tell, tell_caution


def show(case: Assessment, bench: Bench) -> None:
    """Print where the case stands."""
    out, told = TerminalTeller(), set[str]()
    step = advice.next_step(case)
    for box in instruction.boxes(instruction.site_of(case), case.cautions):
        if box.id not in step.hazards:
            tell_caution(out, box, told)
    for text in case.contradictions:
        out.caution("These do not fit together", text, False)
    out.title(f"Next: {step.say}")
    if step.do is not None:
        if step.kind != "stop":
            out.small(minutes_of(step.do))
        tell(out, step.do, told)
    if step.why:
        out.small(f"Why now: {step.why}")
    if case.belief is None:
        return
    said, today = advice.verdict(case), advice.today_of(case)
    out.title(said.sentence)
    if not case.dangers:
        out.line(advice.how_firm(case, bench).sentence)
        clash = advice.clash(case, bench)
        if clash:
            out.line(clash)
        changes = advice.would_change(case, bench)
        if changes:
            out.line(f"What would change it: {changes}")
    out.line(f"Today: {advice.lower_first(today.head)}. {today.note}")
    for name in today.ways[:3]:
        out.line(f"  A way round: {advice.lower_first(case.rules.workarounds[name].name)}.")
    _causes(out, case)
    _remedy(out, case, step, told)
    _evidence(out, case, bench)


def _causes(out: TerminalTeller, case: Assessment) -> None:
    assert case.belief is not None
    top = advice.suspects(case)[:3]
    apart = "Apart from the danger: how" if case.dangers else "How"
    out.title(f"{apart} likely (judgement, as far as the evidence has come)")
    out.bars(
        [
            *((c.name, p) for c, p in top),
            ("Nothing is wrong", case.belief.nothing_wrong),
            ("Not in this rule base", case.belief.unlisted),
        ]
    )
    out.small("Two causes may be present together, so these can sum to more than 100 %.")


def _remedy(out: TerminalTeller, case: Assessment, step: advice.NextStep, told: set[str]) -> None:
    """The remedy of the leading cause, if it stands out, may be done and is not the next step."""
    cause, p = advice.suspects(case)[0]
    if advice.verdict(case).hypothesis != cause.id or p < advice.MATTERS:
        return
    remedies = advice.remedies_of(case, cause)
    if not remedies or remedies[0].id == step.id:
        return
    do = instruction.for_action(instruction.site_of(case), remedies[0])
    out.title(f"Remedy for “{advice.lower_first(cause.name)}”: {do.say}")
    out.small(f"By {do.who}; {minutes_of(do)}")
    tell(out, do, told)
    if do.proof:
        out.line(f"Proof: {do.proof}")
    if do.tell_owner:
        out.line(f"For the specimen's owner: {do.tell_owner}")


def _evidence(out: TerminalTeller, case: Assessment, bench: Bench) -> None:
    rows = advice.evidence(case, bench)
    if not rows:
        return
    cause = advice.suspects(case)[0][0]
    out.title(f"What each answer says about “{advice.lower_first(cause.name)}”")
    for seen, weight in rows:
        finding = case.rules.findings[seen.finding]
        shown = seen.quantity or answer_text(finding, seen.answer, case.machine)
        derived = {"derived": " (follows from the others)", "reading": " (read off a log)"}.get(
            seen.origin, ""
        )
        counted = advice.counted_in(case, seen)
        says = f"counted in “{advice.lower_first(counted)}”" if counted else in_words(weight)
        out.line(f"  {finding.name}: {shown}{derived} — {says}")
