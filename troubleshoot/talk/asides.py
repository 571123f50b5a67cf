"""What can be said at any question instead of an answer: why, how, something else, a log ..."""

from troubleshoot.advice import instruction, verdict
from troubleshoot.advice import step as steps
from troubleshoot.advice.outcomes import outcomes
from troubleshoot.advice.step import NextStep
from troubleshoot.advice.today import today_of
from troubleshoot.advice.why import how_firm
from troubleshoot.case import entries
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.case.journal import latest_in_epoch
from troubleshoot.knowledge.model import Finding
from troubleshoot.talk import checks, danger, recorded, remedies
from troubleshoot.talk.dialogue import Choice
from troubleshoot.talk.talk import Again, Back, Stopped, Talk
from troubleshoot.talk.telling import show, tell, tell_pictures
from troubleshoot.talk.wording import candidate, findings_like

MOST_REMEDIES = 8


def take(
    talk: Talk, command: str, case: Diagnosis, step: NextStep, finding: Finding | None
) -> bool:
    """Do what was asked for; False where `command` is an answer. Raises `Again` if it changed much.

    Raises `Back` and `Stopped` as it says.
    """
    match command:
        case "/stop":
            raise Stopped
        case "/back":
            raise Back
        case "/why":
            talk.teller.line(step.why)
            for one in outcomes(talk.case(), step):
                talk.teller.line(f"  {one.sentence}")
        case "/how":
            if step.do is not None:
                tell(talk.teller, step.do, talk.shown, whole=True)
            for answer, look in (finding.looks if finding else {}).items():
                assert finding is not None
                talk.teller.small(f"{finding.answers[answer]}: {look}")
            if finding is not None:
                tell_pictures(talk.teller, talk.rules, finding)
        case "/so_far":
            _tell_ranking(talk, talk.case())
        case "/today":
            _tell_today(talk, talk.case())
        case "/danger":
            danger.ask_signs(talk)
            raise Again
        case "/other":
            _something_else(talk, step)
            raise Again
        case "/recorded":
            if recorded.correct(talk, case, step):
                raise Again
        case "/log":
            _take_reading(talk)
            raise Again
        case "/try":
            _try_a_remedy(talk)
            raise Again
        case _:
            return False
    return True


def _something_else(talk: Talk, step: NextStep) -> None:
    """Record any finding, whatever is being asked."""
    net = talk.bench.planner(talk.case().known.complaint or "").net
    words = talk.asker.text("What did you see? A few words:")
    matches = findings_like(talk.rules, words, net.findings)
    if not matches:
        talk.teller.line("That matches nothing in the rule base; it is kept as a note.")
        talk.add(entries.Note(text=words))
        return
    nothing = Choice("/none", "None of these: keep it as a note", aside=True)
    value = talk.asker.choose(
        "Which of these is it?",
        [*(Choice(m.value, candidate(talk.rules, m)) for m in matches), nothing],
    )
    found = next((m for m in matches if m.value == value), None)
    if found is None or found.kind == "sign":
        talk.add(entries.Note(text=words))
        if found is not None:
            talk.add(entries.Sign(sign=found.id, present=True))
        return
    again = None
    if latest_in_epoch(talk.journal, found.id) is not None:
        again = talk.asker.choose(
            "This was answered before. What is the new answer?",
            [
                Choice("replace", "A correction: it takes the place of the first"),
                Choice("later", "A later look (next day, after wiping, empty): both stand"),
            ],
        )
    finding = talk.rules.findings[found.id]
    if found.answer is not None:  # the answer that seems meant is offered first
        first = {found.answer: finding.answers[found.answer]}
        finding = finding.model_copy(update={"answers": first | finding.answers})
    seen = checks.answer_to(talk, talk.case(), step, finding)
    # All at once and last: until then nothing is kept, so the question can be put again.
    talk.add(entries.Note(text=words))
    if seen is not None:
        if again == "later":
            talk.add(entries.Epoch(why="looked at again later"))
        checks.keep(talk, seen)


def _take_reading(talk: Talk) -> None:
    """A log or typed readings, whatever is being asked."""
    from troubleshoot.talk.reading_questions import ask_reading

    found = ask_reading(
        talk.asker, talk.teller, talk.rules.findings, talk.bench.machine,
        talk.stopwatch,
        talk.ran(talk.bench.machine) if talk.ran else (),
    )  # fmt: skip
    if found is not None:
        talk.add(found)


def _try_a_remedy(talk: Talk) -> None:
    """A remedy of the operator's own choice, whatever is being asked."""
    case = talk.case()
    worth: dict[str, float] = {}
    for cause, p in verdict.suspects(case):
        for name in cause.remedies:
            can = case.planner.first_of(talk.rules.actions[name], case.situation) is not None
            if can and case.may(name) and name not in case.known.cannot:
                # The planner's rules: with how often it cured in this lab.
                gain = p * case.planner.rules.actions[name].cures.get(cause.id, 0.0)
                worth[name] = worth.get(name, 0.0) + gain
    names = sorted(worth, key=lambda n: -worth[n])[:MOST_REMEDIES]
    chosen = talk.asker.choose(
        "Which remedy?",
        [
            *(Choice(n, talk.rules.actions[n].name) for n in names),
            Choice("/none", "None of these", aside=True),
        ],
    )
    if chosen != "/none":
        first = case.planner.first_of(talk.rules.actions[chosen], case.situation)
        if first is not None and first.id != chosen:
            look = steps.step_for(case, first.id, "This must be looked at before it.")
            show(talk.teller, case, look, talk.shown)
            checks.check(talk, case, look)
            case = talk.case()
            if case.stop is not None or not case.may(chosen):
                return
        step = steps.step_for(case, chosen, "You chose it.")
        show(talk.teller, case, step, talk.shown)
        remedies.remedy(talk, case, step)


def _tell_ranking(talk: Talk, case: Diagnosis) -> None:
    gone = {one.cause.id for one in verdict.mended(case, case.belief)}
    top = [(c.name, p) for c, p in verdict.suspects(case) if c.id not in gone][:3]
    said = verdict.verdict(case)
    talk.teller.line(said.sentence)
    for one in verdict.mended(case, case.belief):
        talk.teller.line(one.sentence)
    talk.teller.bars(
        [
            *top,
            ("Nothing is wrong", case.belief.nothing_wrong),
            ("Not in this rule base", case.belief.unlisted),
        ]
    )
    firm = how_firm(case, said).sentence
    if firm:
        talk.teller.small(firm)
    talk.teller.small("The probabilities are judgement, and say how far the evidence has come.")
    before = talk.earlier(talk.journal) if talk.earlier else ""
    if before:
        talk.teller.line(before)


def _tell_today(talk: Talk, case: Diagnosis) -> None:
    said = today_of(case)
    talk.teller.line(f"{said.head}. {said.note}")
    if not said.ways:
        return
    chosen = talk.asker.choose(
        "Ways round for today (the cause stays where it is):",
        [
            *(Choice(w, talk.rules.workarounds[w].name) for w in said.ways[:4]),
            Choice("/none", "None of these now", aside=True),
        ],
    )
    if chosen != "/none":
        way = talk.rules.workarounds[chosen]
        site = instruction.site_of(case)
        tell(talk.teller, instruction.for_way(site, way), talk.shown)
        talk.add(entries.Workaround(workaround=chosen))
