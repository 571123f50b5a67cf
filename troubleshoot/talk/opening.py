"""The opening of a case: danger, complaint, machine, state, specimen, who asks, since when."""

from collections.abc import Callable

from troubleshoot.advice import instruction, verdict
from troubleshoot.case import entries
from troubleshoot.case.diagnose import Bench, nothing_raises
from troubleshoot.case.journal import standing
from troubleshoot.case.known import active
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import Circumstance
from troubleshoot.talk import signs
from troubleshoot.talk.back import go_back
from troubleshoot.talk.circumstances import ask_which_hold, fitting
from troubleshoot.talk.danger import ask_signs, stop_now_first
from troubleshoot.talk.dialogue import About, Choice
from troubleshoot.talk.proposing import complaints_for, propose
from troubleshoot.talk.talk import SKIP, Back, Danger, Talk
from troubleshoot.talk.wording import people_say, sentence

CAN_WAIT = ("machine", "since", "history")


def open_case(talk: Talk) -> None:
    """Ask the opening questions that were not answered yet; a case file has said it all."""
    if talk.facts().known.complaint is not None and not _done(talk):
        return
    while left := _left(talk):
        if not _done(talk):
            talk.once("opening", lambda: signs.begin(talk.teller))
        try:
            QUESTIONS[left[0]](talk)
        except Back:
            go_back(talk)
        except Danger:
            ask_signs(talk)
            stop_now_first(talk)
        else:
            talk.add(entries.Opening(done=left[0]))


def _done(talk: Talk) -> set[str]:
    said = [e.said for e in standing(talk.journal)]
    return {s.done for s in said if isinstance(s, entries.Opening)}


def _left(talk: Talk) -> list[str]:
    """The questions that are to be asked yet, in order."""
    done, danger = _done(talk), bool(talk.facts().dangers)
    silent = {
        "machine": talk.ask_machine is None,
        "since": "complaint" in done and _since_known(talk),
        "history": "complaint" in done and not fitting(talk, "opening"),
    }
    return [
        name
        for name in QUESTIONS
        if name not in done
        and not silent.get(name, False)
        # The danger comes first; what can wait is asked once it is over.
        and not (danger and name in CAN_WAIT)
    ]


def _learn_machine(talk: Talk) -> None:
    assert talk.ask_machine is not None
    machine = talk.ask_machine()
    complaint = talk.facts().known.complaint
    nothing = nothing_raises(talk.rules, machine, complaint) if complaint else ""
    if nothing:
        talk.teller.line(nothing)
        talk.add(_complaint(talk, machine))
    talk.move_to(Bench(talk.rules, machine))
    talk.add(entries.MachineMeant(name=machine.name, hash=machine.hash))


def _ask_complaint(talk: Talk) -> None:
    stop_now_first(talk)
    if talk.line:
        talk.teller.small(f"Your line: {talk.line}")
    if talk.facts().known.complaint is None:
        talk.add(_complaint(talk, talk.bench.machine))
    words = talk.facts().known.words
    if words:
        propose(talk, words)


def _complaint(talk: Talk, machine: Machine) -> entries.Complaint:
    own = Choice(
        "/own", "None of these fits: say it in my own words, or type a line",
        aside=True, in_full=True,
    )  # fmt: skip
    words = talk.line
    while True:
        if not words:
            found = talk.choose(
                "What is the trouble?",
                [
                    *(
                        Choice(c.id, c.name, words=(*c.says, *people_say(talk.rules, c.id)))
                        for c in verdict.commonest_first(talk.rules, machine)
                    ),
                    own,
                ],
                About("opening", "complaint"),
            )
            if found != own.value:
                return entries.Complaint(complaint=found)
            words = talk.asker.text(
                "Say what is wrong, in your own words, as in a logbook:", About("opening", "words")
            )
        said, words, talk.line = words, "", ""
        choices = complaints_for(talk, said)
        if not choices:
            talk.add(entries.Note(text=said))
            talk.teller.line("That matches none of the complaints; choose the nearest one.")
            continue
        meant = talk.choose(
            "Did you mean one of these?",
            [*choices, Choice("/none", "None of these: show the list again", aside=True)],
            About("opening", "meant"),
        )
        if meant in talk.rules.complaints:
            nothing = nothing_raises(talk.rules, machine, meant)
            if not nothing:
                return entries.Complaint(complaint=meant, words=said)
            talk.teller.line(nothing)
        talk.add(entries.Note(text=said))
        if meant.startswith("sign:"):
            talk.add(entries.Sign(sign=meant.removeprefix("sign:"), present=True))
            stop_now_first(talk)


def _ask_state(talk: Talk) -> None:
    likely = talk.facts().known.state  # as the complaint suggests: it stands first
    states = sorted(talk.rules.states.values(), key=lambda s: s.id != likely)
    state = talk.choose(
        "What state is the coater in now?",
        [*(Choice(s.id, sentence(s.name)) for s in states if s.id != "any"), SKIP],
        About("opening", "state"),
    )
    if state != SKIP.value:
        talk.add(entries.State(state=state))


def _ask_specimen(talk: Talk) -> None:
    kept = talk.choose(
        "Is a specimen in there, or waiting for it, that cannot be replaced?",
        [Choice("no", "No"), Choice("yes", "Yes"), SKIP],
        About("opening", "specimen"),
    )
    if kept == "yes":
        talk.add(entries.Specimen(irreplaceable=True))
        talk.teller.line(
            "Then every test runs on a dummy, and nothing that marks or spends a specimen is "
            "offered; where only such a cure is left it is named, and its owner decides. If it is "
            "in the coater: leave it pumped, or vent slowly and take it out."
        )


def _ask_role(talk: Talk) -> None:
    role = talk.choose(
        "Who is asking?",
        [
            *(
                Choice(r, words[0].upper() + words[1:])
                for r, words in instruction.ROLE_NAMES.items()
                if r != "service"
            ),
            SKIP,
        ],
        About("opening", "role"),
    )
    if role != SKIP.value:
        talk.add(entries.Role(role=role))


def _events(talk: Talk) -> list[Circumstance]:
    """What was handled, moved or changed and may have begun it."""
    return [c for c in fitting(talk, "opening") if c.touched]


def _since_known(talk: Talk) -> bool:
    """Whether it was said already, or nothing can be said of it."""
    held = active(talk.facts().known)
    told = any(talk.rules.circumstances[name].when == "since" for name in held)
    return told or not (fitting(talk, "since") or _events(talk))


def _ask_since(talk: Talk) -> None:
    """Since when: how it began, or since something was done, with its day."""
    fit, events = fitting(talk, "since"), _events(talk)
    event = Choice("/event", "Since something was done: a clean, a new cylinder, a move …")
    found = talk.choose(
        "Since when?",
        [*(Choice(c.id, sentence(c.name)) for c in fit), *([event] if events else []), SKIP],
        About("opening", "since"),
    )
    day = ""
    if found == event.value:
        found = talk.choose(
            "What was done?",
            [
                *(
                    Choice(c.id, sentence(c.name), words=people_say(talk.rules, c.id))
                    for c in events
                ),
                Choice("/other", "Something else: say what", aside=True),
            ],
            About("opening", "event"),
        )
        if found == "/other":
            said = talk.asker.text("What was done, and when?", About("opening", "event")).strip()
            if said:
                talk.add(entries.Since(text=said))
            return
        day = talk.asker.text(
            "On which day, such as Friday or 3 May? (nothing is fine)", About("opening", "day")
        ).strip()
    if found != SKIP.value:
        talk.add(entries.Circumstance(circumstance=found, answer="yes"))
        name = talk.rules.circumstances[found].name
        talk.add(entries.Since(text=f"{name} ({day})" if day else name))


def _ask_history(talk: Talk) -> None:
    ask_which_hold(
        talk,
        fitting(talk, "opening"),
        "Which of these hold? (since it was last good; perhaps none)",
        About("opening", "history"),
    )


QUESTIONS: dict[str, Callable[[Talk], None]] = {
    "signs": ask_signs,
    "complaint": _ask_complaint,
    "machine": _learn_machine,
    "state": _ask_state,
    "specimen": _ask_specimen,
    "role": _ask_role,
    "since": _ask_since,
    "history": _ask_history,
}
"""In the order in which they are asked; the names are kept in journals."""
