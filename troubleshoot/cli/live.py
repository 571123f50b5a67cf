"""A live case: found again or opened, led by questions, kept entry by entry."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from troubleshoot.advice.instruction import for_danger, site_of
from troubleshoot.advice.verdict import verdict
from troubleshoot.case.diagnose import Bench, Diagnosis
from troubleshoot.case.entries import (
    Attached,
    Book,
    Complaint,
    Opened,
    Opening,
    Reading,
    Said,
    Sign,
)
from troubleshoot.case.journal import Entry, Journal, check_all, enter, standing
from troubleshoot.casebook.alike import alike
from troubleshoot.casebook.attachments import attached, digest, keeping, read_into
from troubleshoot.casebook.drafts import Draft
from troubleshoot.casebook.ran import pumped_before
from troubleshoot.casebook.record import OPEN, PARKED
from troubleshoot.casebook.store import Store
from troubleshoot.casebook.tally import tally
from troubleshoot.casebook.wanted import Wanted
from troubleshoot.cli.echo import echo
from troubleshoot.cli.out_of_use import tell_out_of_use
from troubleshoot.cli.setup import (
    going_on,
    in_casebook,
    now,
    open_casebook,
    stopping,
    stopwatch,
    stored_machine,
)
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.reasoning.engine import engine_name
from troubleshoot.show.cases import names_of, summary, waiting
from troubleshoot.show.html.words import book_words
from troubleshoot.show.teller import TerminalTeller
from troubleshoot.show.terminal import TerminalAsker
from troubleshoot.talk.conversation import Conversation
from troubleshoot.talk.dialogue import Choice
from troubleshoot.talk.draft import Drafted
from troubleshoot.talk.machine_questions import ask_machine
from troubleshoot.talk.telling import tell
from troubleshoot.talk.typed_path import path_of

Started = tuple[str, Machine, Journal]
MOST = 30
"""So many cases at most are told of, or offered, before the questions: the newest."""


def live(
    rules: RuleBase,
    machine: Machine | None,
    started: Started | None = None,
    *,
    resume: bool = False,
    number: int | None = None,
    asks: bool = True,
    line: str = "",
    complaint: str | None = None,
    told: Sequence[Said] = (),
    signs: Sequence[str] | None = None,
) -> tuple[Bench, Journal]:
    """Lead a case by questions (or, without a terminal, only find it again).

    `line` is what was said of it in own words, to be confirmed in the opening; `complaint` and
    `told` are what is known of it without asking, `signs` the danger signs if they were asked for.
    """
    teller, asker = TerminalTeller(), _Asker()
    first = () if signs is None else (*map(_sign, signs), Opening(done="signs"))
    try:
        store = open_casebook()
    except UserError:
        _stop_all_the_same(rules, machine or Machine(), first, teller)
        raise
    if resume:
        case = _which(store, number, asker if asks else None)
        journal, machine = store.journal(case), store.machine_of(case)
        check_all(journal, rules)
        if not asks:
            return Bench(rules, machine), journal
        tell_out_of_use(store, rules, beside=case)
        _where_it_stands(Bench(rules, machine), journal, teller)
        _tell_alike(store, Bench(rules, machine), journal, case, teller)
    else:
        tell_out_of_use(store, rules)
        _waiting(store, rules, teller)
        if started is not None:
            name, machine, journal = started
        else:
            name, journal, machine = "", (), machine or stored_machine(None, store)
        case = store.new_case(name, now(), machine or Machine())
        if started is not None:  # also where it came from a case that is kept here already
            teller.small(f"It goes on as a case of its own here: case {case}.")
        if not journal:
            opened = Opened(
                name=name,
                rules=rules.hash,
                engine=engine_name(),
                machine=(machine or Machine()).hash,
            )
            journal = enter((), now(), opened, rules)
        known = tally(store, (machine or Machine()).name, now(), rules.settings)
        if known.cases:
            journal = enter(journal, now(), Book.of(known), rules)
            teller.small(f"Reckoned with {book_words(known)}.")
        if complaint is not None:
            told = (Complaint(complaint=complaint), *told, Opening(done="complaint"))
        for said in (*first, *told):
            journal = enter(journal, now(), said, rules)
        for entry in journal:
            store.save(case, entry)
    machine = machine or Machine()
    read: dict[str, bytes] = {}

    def ask() -> Machine:
        draft = Draft(f"machine of case {case}")
        drafted = Drafted(asker, teller, draft)
        told = ask_machine(drafted, teller, {m.name: m for m in store.machines()})
        store.set_machine(case, told)
        known = tally(store, told.name, now(), rules.settings)
        if known.cases:  # what is of this coater, and what of another one, is known only now
            conversation.add(Book.of(known))
        if told != Machine():
            store.save_machine(told)
        draft.clear()
        return told

    def keep(entry: Entry) -> None:
        said = entry.said
        content = read.pop(said.sha256, None) if isinstance(said, Attached) else None
        store.save(case, entry, None if content is None else keeping(case, content))
        if isinstance(said, Reading):
            for path, content in read_into(said, asker.named).items():
                read[digest(content)] = content
                conversation.add(attached(path, content, "read into the case"))
            asker.named.clear()
        if isinstance(said, Complaint):
            _tell_alike(store, conversation.bench, (entry,), case, teller)

    conversation = Conversation(
        Bench(rules, machine),
        asker,
        teller,
        journal,
        keep,
        now,
        ask if machine == Machine() else None,
        line,
        lambda journal: _earlier(store, conversation.bench, journal, case),
        partial(pumped_before, store),
        stopwatch,
    )
    with stopping(f"Nothing is lost: {going_on(case)} goes on."):
        end = conversation.run()
    _goodbye(end, case)
    return conversation.bench, conversation.journal


class _Asker(TerminalAsker):
    """Remembers which files were named, so that those that were read are kept with the case."""

    def __init__(self) -> None:
        super().__init__()
        self.named: list[Path] = []

    def path(self, question: str) -> str:
        typed = super().path(question)
        if found := path_of(typed):
            self.named.append(found)
        return typed


def _sign(sign: str) -> Sign:
    return Sign(sign=sign, present=True)


def _stop_all_the_same(
    rules: RuleBase, machine: Machine, first: Sequence[Said], teller: TerminalTeller
) -> None:
    """What a danger sign calls for is told even where no casebook can keep it."""
    journal: Journal = ()
    for said in first:
        journal = enter(journal, now(), said, rules)
    case = Bench(rules, machine).deduce(journal)
    for stop in case.stops:
        tell(teller, for_danger(site_of(case), stop), set())


def _which(store: Store, number: int | None, asker: TerminalAsker | None) -> int:
    if number is not None:
        return number
    found = store.cases(Wanted(status=(OPEN, PARKED), limit=MOST))
    if not found:
        raise UserError("No case is open: start one with `troubleshoot diagnose`.")
    if len(found) == 1 or asker is None:
        return found[0].id
    return int(asker.choose("Which case?", [Choice(str(c.id), waiting(c)) for c in found]))


def _waiting(store: Store, rules: RuleBase, teller: TerminalTeller) -> None:
    for case in store.cases(Wanted(status=(PARKED,), limit=MOST)):
        action = rules.actions.get(case.parked_on or "")
        due = "due now" if (case.parked_until or "") <= now() else f"until {case.parked_until}"
        teller.line(
            f"Parked: case {case.id}, {action.name if action else case.parked_on} ({due}). "
            f"Go on with: {going_on(case.id)}"
        )


def _tell_alike(
    store: Store, bench: Bench, journal: Journal, case: int, teller: TerminalTeller
) -> None:
    """How earlier cases like this one ended in this lab, if there are any."""
    said = _earlier(store, bench, journal, case)
    if said:
        teller.line(said)
        teller.small(f"In another window, `troubleshoot cases like {case}` shows them.")


def _earlier(store: Store, bench: Bench, journal: Journal, case: int) -> str:
    """The sentence about earlier cases like this one; empty where there are none."""
    complaint = next((e.said for e in standing(journal) if isinstance(e.said, Complaint)), None)
    if complaint is None:
        return ""
    found = alike(store, journal, complaint.complaint, bench.machine.name, case)
    return summary(found, names_of(bench.rules)) if found else ""


def _where_it_stands(bench: Bench, journal: Journal, teller: TerminalTeller) -> None:
    case = bench.assess(journal)
    if not isinstance(case, Diagnosis):
        return
    teller.line(f"Going on with: {bench.rules.complaints[case.complaint].name.lower()}.")
    teller.line(verdict(case).sentence)


def _goodbye(end: str, case: int) -> None:
    if end == "closed":
        report = in_casebook(f"cases report {case} report.html")
        echo(f"Case {case} is closed and kept. For a report: {report}")
        return
    echo(f"Case {case} is kept. Go on with: {going_on(case)}")
