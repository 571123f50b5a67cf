"""The question loop: from a complaint to the cause, the remedy and the proof.

Each turn assesses the journal, tells the one thing to do next, and appends what came back. Every
entry is handed to `save` before the next question is asked, so stopping at any moment loses
nothing.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from troubleshoot.advice import instruction, verdict
from troubleshoot.advice import step as steps
from troubleshoot.advice.phrases import lower_first
from troubleshoot.advice.step import NextStep
from troubleshoot.advice.today import today_of
from troubleshoot.advice.why import how_firm
from troubleshoot.case import entries
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.diagnose import Bench, Diagnosis
from troubleshoot.case.entries import UNKNOWN, Said
from troubleshoot.case.journal import Entry, Journal, enter, latest_in_epoch, standing
from troubleshoot.case.permitted import LIFTS_A_BAN
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import Circumstance, Finding
from troubleshoot.readings.door import TELLS
from troubleshoot.readings.quantity import amounts_to, answer_text, in_gauge_unit, read_quantity
from troubleshoot.reasoning.planner import ACCEPT
from troubleshoot.talk.dialogue import About, Asker, Choice, Teller
from troubleshoot.talk.reading_questions import ask_reading
from troubleshoot.talk.telling import minutes_of, tell, tell_caution
from troubleshoot.talk.wording import candidate, complaints_like, findings_like

LONG_WAIT = 15.0
WORTH_ASKING = 0.1
MOST_REMEDIES = 8
FAIRLY, BACK, WHY, HOW, SO_FAR, TODAY, OTHER, DANGER, LOG, CANNOT, LATER, STOP, DONT_KNOW = (
    "/fairly",
    "/back",
    "/why",
    "/how",
    "/so_far",
    "/today",
    "/other",
    "/danger",
    "/log",
    "/cannot",
    "/later",
    "/stop",
    "/unknown",
)
TRY = "/try"
LOG_WORDS = "I have a log, or a row of readings"
ASIDES = (
    Choice(WHY, "Why now?", aside=True),
    Choice(HOW, "Show me how", aside=True),
    Choice(SO_FAR, "What is likely so far?", aside=True),
    Choice(TODAY, "Can I still coat today?", aside=True),
    Choice(OTHER, "I saw something else", aside=True),
    Choice(DANGER, "There is danger: smell, shock, crack, alarm …", aside=True),
    Choice(LOG, LOG_WORDS, aside=True),
    Choice(TRY, "I think I know what it is, or have mended it", aside=True),
    Choice(BACK, "Go back", aside=True),
    Choice(STOP, "Stop here (nothing is lost)", aside=True),
)
SKIP = Choice("/skip", "Skip", aside=True)
NONE_HOLD = Choice("/none", "None of these (or no other)")
NOT_SURE = Choice("/unsure", "Not sure")
NO_OTHER = "/none"
TYPED = {
    "unknown": DONT_KNOW, "cannot": CANNOT, "why": WHY, "how": HOW, "likely": SO_FAR,
    "today": TODAY, "other": OTHER, "danger": DANGER, "log": LOG, "try": TRY,
    "back": BACK, "stop": STOP,
}  # fmt: skip
CAN_WAIT = ("machine", "since", "history")
KEPT_ON_BACK = (
    entries.Opened, entries.Opening, entries.MachineMeant, entries.Role, entries.Specimen,
    entries.State, entries.Sign, entries.MadeSafe, entries.Complaint,
)  # fmt: skip


class Stopped(Exception):
    """The operator stops here; the journal is safe."""


class _Back(Exception):
    """The operator goes back one answer."""


class _Again(Exception):
    """Something was recorded out of turn: assess anew."""


class Conversation:
    """One case, led by questions."""

    def __init__(
        self,
        bench: Bench,
        asker: Asker,
        teller: Teller,
        journal: Journal,
        save: Callable[[Entry], None],
        now: Callable[[], str],
        ask_machine: Callable[[], Machine] | None = None,
    ) -> None:
        self.bench, self.rules = bench, bench.rules
        self.asker, self.teller = asker, teller
        self.journal, self._save, self._now = journal, save, now
        self._ask_machine = ask_machine
        self._kept: tuple[Journal, Deduction] | None = None
        self._told: set[str] = set()
        self._shown: set[str] = set()

    def run(self) -> str:
        """Lead the case until it is closed, parked or stopped; says which."""
        try:
            self._open()
            while True:
                try:
                    ended = self._turn()
                except _Again:
                    continue
                except _Back:
                    self._go_back()
                    continue
                if ended:
                    return ended
        except Stopped:
            return "stopped"

    def add(self, said: Said) -> None:
        """Enter it and keep it before anything else happens."""
        self.journal = enter(self.journal, self._now(), said, self.rules)
        self._save(self.journal[-1])

    def facts(self) -> Deduction:
        """What is known and follows now, worked out once for each journal."""
        if self._kept is None or self._kept[0] is not self.journal:
            self._kept = (self.journal, self.bench.assess(self.journal))
        return self._kept[1]

    def case(self) -> Diagnosis:
        """Where a case with a complaint stands now."""
        case = self.facts()
        if not isinstance(case, Diagnosis):
            raise ValueError("the case has no complaint yet")
        return case

    # --- the opening screen --------------------------------------------------------------------

    def _open(self) -> None:
        """Ask the opening questions that were not answered yet; a case file has said it all."""
        said = [e.said for e in standing(self.journal)]
        done = {s.done for s in said if isinstance(s, entries.Opening)}
        if self.facts().known.complaint is not None and not done:
            return
        questions = (
            ("signs", self._ask_signs),
            ("complaint", self._ask_complaint),
            ("machine", self._learn_machine),
            ("state", self._ask_state),
            ("specimen", self._ask_specimen),
            ("role", self._ask_role),
            ("since", self._ask_since),
            ("history", self._ask_history),
        )
        left = [(name, ask) for name, ask in questions if name not in done]
        if left:
            self.teller.title("First, one minute")
        for name, ask in left:
            if name in CAN_WAIT and self.facts().dangers:
                continue  # the danger comes first; a later session asks what is left
            ask()
            self.add(entries.Opening(done=name))

    def _learn_machine(self) -> None:
        if self._ask_machine is not None:
            machine = self._ask_machine()
            self.bench, self._kept = Bench(self.rules, machine), None
            self.add(entries.MachineMeant(name=machine.name, hash=machine.hash))

    def _ask_complaint(self) -> None:
        self._stop_now_first()
        self.add(self._complaint())

    def _ask_signs(self) -> None:
        """Any number of danger signs, one after the other; a slip can be taken back."""
        marked: list[str] = []
        question = "Is there any danger sign, now or a moment ago?"
        while True:
            choices = [Choice("none", "No other" if marked else "None of these")]
            choices += [
                Choice(s.id, s.name) for s in self.rules.signs.values() if s.id not in marked
            ]
            if marked:
                choices.append(Choice("/slip", "That was a slip: none of them holds", aside=True))
            found = self.asker.choose(question, choices, About("opening", "signs"))
            if found == "/slip":
                marked.clear()
            elif found != "none":
                marked.append(found)
            else:
                break
            names = "; ".join(self.rules.signs[s].name for s in marked)
            question = f"Marked: {names}. Any other danger sign?" if marked else question
        for sign in marked:
            self.add(entries.Sign(sign=sign, present=True))

    def _complaint(self) -> entries.Complaint:
        own = Choice("/own", "None of these fits: say it in my own words", aside=True)
        while True:
            found = self.asker.choose(
                "What is the trouble?",
                [*(Choice(c.id, c.name) for c in verdict.commonest_first(self.rules)), own],
                About("opening", "complaint"),
            )
            if found != own.value:
                return entries.Complaint(complaint=found)
            words = self.asker.text(
                "Say what is wrong, in your own words:", About("opening", "words")
            )
            matches = complaints_like(self.rules, words)
            if not matches:
                self.add(entries.Note(text=words))
                self.teller.line("That matches none of the complaints; choose the nearest one.")
                continue
            meant = self.asker.choose(
                "Did you mean one of these?",
                [
                    *(Choice(m.value, candidate(self.rules, m)) for m in matches),
                    Choice("/none", "None of these: show the list again", aside=True),
                ],
                About("opening", "meant"),
            )
            match = next((m for m in matches if m.value == meant), None)
            if match is not None and match.kind == "complaint":
                return entries.Complaint(complaint=match.id, words=words)
            self.add(entries.Note(text=words))
            if match is not None:
                self.add(entries.Sign(sign=match.id, present=True))
                self._stop_now_first()

    def _ask_state(self) -> None:
        likely = self.facts().known.state  # as the complaint suggests: it stands first
        states = sorted(self.rules.states.values(), key=lambda s: s.id != likely)
        state = self.asker.choose(
            "What state is the coater in now?",
            [*(Choice(s.id, sentence(s.name)) for s in states if s.id != "any"), SKIP],
            About("opening", "state"),
        )
        if state != SKIP.value:
            self.add(entries.State(state=state))

    def _ask_specimen(self) -> None:
        kept = self.asker.choose(
            "Is a specimen that cannot be replaced in there, or meant?",
            [Choice("no", "No"), Choice("yes", "Yes"), SKIP],
            About("opening", "specimen"),
        )
        if kept == "yes":
            self.add(entries.Specimen(irreplaceable=True))
            self.teller.line(
                "Then every test runs on a dummy, and nothing that marks or spends a specimen is "
                "offered; where only a mark is left to try, its owner decides. If it is in the "
                "coater: leave it pumped, or vent slowly and take it out."
            )

    def _ask_role(self) -> None:
        role = self.asker.choose(
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
            self.add(entries.Role(role=role))

    def _fitting(self, when: str) -> list[Circumstance]:
        """Circumstances to be asked then, that bear on the complaint and were not asked yet."""
        known = self.facts().known
        return [
            c
            for c in self.rules.circumstances.values()
            if c.when == when
            and c.id not in known.circumstances
            and (not c.complaints or known.complaint in c.complaints)
        ]

    def _ask_since(self) -> None:
        fitting = self._fitting("since")
        if not fitting:
            return
        found = self.asker.choose(
            "Since when?",
            [*(Choice(c.id, sentence(c.name)) for c in fitting), SKIP],
            About("opening", "since"),
        )
        if found != SKIP.value:
            self.add(entries.Circumstance(circumstance=found, answer="yes"))
            self.add(entries.Since(text=self.rules.circumstances[found].name))

    def _ask_history(self) -> None:
        self._ask_which_hold(
            self._fitting("opening"),
            "Which of these hold? (since it was last good; none is fine)",
            About("opening", "history"),
        )

    def _ask_before_remedy(self, case: Diagnosis) -> bool:
        """Ask what was not asked yet and bears on the leading causes; True when one holds."""
        live = {c.id for c, p in verdict.suspects(case)[:4] if p >= WORTH_ASKING}
        fitting = [c for c in self._fitting("later") if live.intersection(c.odds)]
        return self._ask_which_hold(
            fitting, "One more thing: do any of these hold?", About("circumstances")
        )

    def _ask_which_hold(self, fitting: Sequence[Circumstance], question: str, about: About) -> bool:
        if not fitting:
            return False
        choices = [Choice(c.id, sentence(c.name)) for c in fitting]
        held = self.asker.several(question, [*choices, NONE_HOLD, NOT_SURE], about)
        # Nothing that was left unmarked is taken for a "no" unless somebody said so.
        rest = "no" if NONE_HOLD.value in held else UNKNOWN
        for entry in fitting:
            answer = "yes" if entry.id in held else rest
            self.add(entries.Circumstance(circumstance=entry.id, answer=answer))
        return any(entry.id in held for entry in fitting)

    # --- one turn ------------------------------------------------------------------------------

    def _turn(self) -> str | None:
        self._stop_now_first()
        case = self.case()
        for text in case.contradictions:
            self._once(text, lambda t=text: self.teller.caution("These do not fit", t, False))  # type: ignore[misc]
        parked, begun = case.known.parked, self._begun(case)
        if begun is not None and case.may(begun):
            rest = steps.step_for(case, begun, "It is half done: this is the rest.")
            self._show(case, rest)
            self._check(case, rest)
            return None
        step = steps.next_step(case)
        if case.dangers and step.id == case.dangers[0]:
            self._danger(case, step)
            return None
        if step.kind == "stop":
            return self._finish(case, step)
        waits = parked is not None and parked.action in self.rules.actions
        if parked is not None and waits and case.may(parked.action):
            until = parked.until
            due = "is due now" if until <= self._now() else f"waits until {until[11:16]}"
            step = steps.step_for(case, parked.action, f"It was parked and {due}.")
        asks_first = step.kind == "remedy" and parked is None and not case.dangers
        if asks_first and self._ask_before_remedy(case):
            return None
        if step.id == steps.CALL_SERVICE:
            return self._service(case, step)
        self._show(case, step)
        action = self.rules.actions[step.id]
        if step.wait >= LONG_WAIT and parked is None and self._park(case, step):
            return "parked"
        if step.kind == "check" and not action.cures:
            self._check(case, step)
        else:
            self._remedy(case, step)
        return None

    def _begun(self, case: Diagnosis) -> str | None:
        """The check that was left between two of its questions, if the case stands there."""
        beside = entries.Note | entries.Workaround | entries.Reading
        said = [e.said for e in standing(self.journal) if not isinstance(e.said, beside)]
        last = said[-1] if said else None
        if not isinstance(last, entries.Finding) or last.check in case.known.cannot:
            return None
        return last.check

    def _stop_now_first(self) -> None:
        while True:
            case = self.facts()
            if case.stop is None:
                return
            step = steps.next_step(case)
            assert step.do is not None
            tell(self.teller, step.do, self._shown)
            answer = self.asker.choose(
                "Has this been done, and the person in charge told?",
                [
                    Choice("done", "Yes, done and told"),
                    Choice(STOP, "Stop here (nothing is lost)", aside=True),
                ],
                About("stop", case.stop),
            )
            if answer == STOP:
                raise Stopped
            self.add(entries.MadeSafe(caution=case.stop))

    def _danger(self, case: Diagnosis, step: NextStep) -> None:
        """A danger that was made safe: nothing more until the right person speaks."""
        assert step.do is not None
        self.teller.title(f"The danger comes first: {step.name}")
        self.teller.line(step.say)
        tell(self.teller, step.do, self._shown)
        says = [
            Choice(
                f"repaired:{role}",
                f"{sentence(instruction.ROLE_NAMES[role])} says: it is repaired and proved",
            )
            for role in LIFTS_A_BAN
        ]
        here = Choice("in_charge", "The person in charge is here and answers from now on")
        answer = self.asker.choose(
            "What now?",
            [
                *([] if case.known.role in LIFTS_A_BAN else [here]),
                *says,
                Choice("go_on", "Meanwhile go on with what does not touch it"),
                Choice(STOP, "Stop here (nothing is lost)", aside=True),
            ],
            About("danger", step.id),
        )
        if answer == STOP:
            raise Stopped
        if answer == here.value:
            self.add(entries.Role(role="in_charge"))
        elif answer == "go_on":
            self.add(entries.GoOn(although=step.id))
        else:
            role = answer.removeprefix("repaired:")
            self.add(entries.Repaired(caution=step.id, role=role))

    def _once(self, key: str, tell: Callable[[], None]) -> None:
        if key not in self._told:
            self._told.add(key)
            tell()

    def _show(self, case: Diagnosis, step: NextStep) -> None:
        """A step with every caution that is in force; steps of a check only when asked for."""
        assert step.do is not None
        self.teller.title(step.say)
        self.teller.small(minutes_of(step.do))
        for box in instruction.boxes(instruction.site_of(case), case.cautions):
            if box.id not in step.hazards:
                tell_caution(self.teller, box, self._shown)
        tell(self.teller, step.do, self._shown, steps=step.kind == "remedy")

    def _park(self, case: Diagnosis, step: NextStep) -> bool:
        answer = self._ask(
            case, step, f"This waits about {step.wait:g} minutes.",
            [
                Choice("park", "Start it and park the case until then"),
                Choice("now", "It is done already, or I will stand by"),
                Choice(CANNOT, "Can't do that here"),
            ],
            About("wait", step.id),
        )  # fmt: skip
        if answer == CANNOT:
            self._cannot(step)
            return False
        if answer == "park":
            until = datetime.fromisoformat(self._now()) + timedelta(minutes=step.hands + step.wait)
            due = until.isoformat(timespec="minutes")
            self.add(entries.Parked(action=step.id, until=due))
            self.teller.line(f"Parked until {due[11:]}: {step.name}. Start the tool again then.")
            return True
        return False

    # --- checks --------------------------------------------------------------------------------

    def _check(self, case: Diagnosis, step: NextStep) -> None:
        if step.id in self.case().known.cannot:
            return
        if TELLS.intersection(step.findings):
            self._once(
                LOG,
                lambda: self.teller.small(
                    "If you log this, or write down six times and readings, the tool can read the "
                    f"curve: “{LOG_WORDS}”, or the word log."
                ),
            )
        put: list[str] = []
        # Anew each time: one answer may take the sense out of the next question, or give it one.
        while left := [f for f in self._unseen(step) if f not in put]:
            number, total = len(put) + 1, len(put) + len(left)
            put.append(left[0])
            if total > 1:
                self.teller.small(f"{number} of {total}")
            if not self._finding(case, step, self.rules.findings[left[0]], step.id):
                self._cannot(step)
                return
            if self.case().stop is not None:
                break
        self.add(entries.Action(action=step.id))

    def _unseen(self, step: NextStep) -> tuple[str, ...]:
        """What is still to be seen in a check."""
        return steps.step_for(self.case(), step.id, step.why).findings

    def _finding(self, case: Diagnosis, step: NextStep, finding: Finding, check: str) -> bool:
        """Ask one finding and keep it as part of `check`; False when it cannot be seen here."""
        seen = self._answer(case, step, finding)
        if seen is None:
            return False
        self._keep(replace(seen, check=check))
        return True

    def _answer(self, case: Diagnosis, step: NextStep, finding: Finding) -> entries.Finding | None:
        if finding.quantity:
            return self._quantity(case, step, finding)
        return self._words(case, step, finding)

    def _keep(self, seen: entries.Finding) -> None:
        earlier = latest_in_epoch(self.journal, seen.finding)
        self.add(seen if earlier is None else replace(seen, replaces=earlier.number))

    def _words(self, case: Diagnosis, step: NextStep, finding: Finding) -> entries.Finding | None:
        answers = [Choice(a, t) for a, t in finding.answers.items()]
        extra = [
            Choice(FAIRLY, "I am only fairly sure: …"),
            Choice(DONT_KNOW, "Don't know"),
            Choice(CANNOT, "Can't do that here"),
        ]
        about = About("finding", finding.id)
        answer = self._ask(case, step, finding.ask, [*answers, *extra], about, finding)
        if answer == FAIRLY:
            question = f"{finding.ask} (fairly sure)"
            answer = self._ask(case, step, question, answers, about, finding)
            return entries.Finding(finding=finding.id, answer=answer, sure="fairly")
        if answer == CANNOT:
            return None
        answer = UNKNOWN if answer == DONT_KNOW else answer
        return entries.Finding(finding=finding.id, answer=answer)

    def _quantity(
        self, case: Diagnosis, step: NextStep, finding: Finding
    ) -> entries.Finding | None:
        assert finding.quantity is not None
        self.teller.small(
            f"A number with its unit, such as {example(finding)}. Or a word: {', '.join(TYPED)}."
        )
        while True:
            typed = self.asker.text(finding.ask, About("finding", finding.id)).strip()
            command = TYPED.get(typed.lower(), DONT_KNOW if not typed else None)
            if command == CANNOT:
                return None
            if command == DONT_KNOW:
                return entries.Finding(finding=finding.id, answer=UNKNOWN)
            if command is not None:
                self._aside(command, case, step, finding)
                continue
            try:
                kept = in_gauge_unit(finding, typed, self.bench.machine.told_unit)
            except UserError as error:
                self.teller.line(str(error))
                continue
            if kept != typed:
                self.teller.small(f"Taken in {kept[len(typed) + 1 :]}, as the gauge shows it.")
            self.teller.line(echo(kept, finding, self.bench.machine))
            return entries.Finding(finding=finding.id, quantity=kept)

    def _ask(
        self,
        case: Diagnosis,
        step: NextStep,
        question: str,
        choices: Sequence[Choice],
        about: About,
        finding: Finding | None = None,
    ) -> str:
        """Ask until an answer comes that is not an aside."""
        while True:
            answer = self.asker.choose(question, [*choices, *ASIDES], about)
            if not self._aside(answer, case, step, finding):
                return answer

    def _aside(
        self, command: str, case: Diagnosis, step: NextStep, finding: Finding | None
    ) -> bool:
        match command:
            case "/stop":
                raise Stopped
            case "/back":
                raise _Back
            case "/why":
                self.teller.line(step.why)
            case "/how":
                if step.do is not None:
                    tell(self.teller, step.do, self._shown)
                for answer, look in (finding.looks if finding else {}).items():
                    assert finding is not None
                    self.teller.small(f"{finding.answers[answer]}: {look}")
            case "/so_far":
                self._tell_ranking(self.case())
            case "/today":
                self._tell_today(self.case())
            case "/danger":
                self._ask_signs()
                raise _Again
            case "/other":
                self._something_else(step)
                raise _Again
            case "/log":
                self._take_reading()
                raise _Again
            case "/try":
                self._try_a_remedy()
                raise _Again
            case _:
                return False
        return True

    def _cannot(self, step: NextStep) -> None:
        self.add(entries.Cannot(action=step.id))

    def _something_else(self, step: NextStep) -> None:
        """Record any finding, whatever is being asked."""
        net = self.bench.planner(self.case().known.complaint or "").net
        words = self.asker.text("What did you see? A few words:")
        matches = findings_like(self.rules, words, net.findings)
        if not matches:
            self.teller.line("That matches nothing in the rule base; it is kept as a note.")
            self.add(entries.Note(text=words))
            return
        nothing = Choice("/none", "None of these: keep it as a note", aside=True)
        value = self.asker.choose(
            "Which of these is it?",
            [*(Choice(m.value, candidate(self.rules, m)) for m in matches), nothing],
        )
        found = next((m for m in matches if m.value == value), None)
        if found is None or found.kind == "sign":
            self.add(entries.Note(text=words))
            if found is not None:
                self.add(entries.Sign(sign=found.id, present=True))
            return
        again = None
        if latest_in_epoch(self.journal, found.id) is not None:
            again = self.asker.choose(
                "This was answered before. What is the new answer?",
                [
                    Choice("replace", "A correction: it takes the place of the first"),
                    Choice("later", "A later look (next day, after wiping, empty): both stand"),
                ],
            )
        finding = self.rules.findings[found.id]
        if found.answer is not None:  # the answer that seems meant is offered first
            first = {found.answer: finding.answers[found.answer]}
            finding = finding.model_copy(update={"answers": first | finding.answers})
        seen = self._answer(self.case(), step, finding)
        # All at once and last: until then nothing is kept, so the question can be put again.
        self.add(entries.Note(text=words))
        if seen is not None:
            if again == "later":
                self.add(entries.Epoch(why="looked at again later"))
            self._keep(seen)

    def _take_reading(self) -> None:
        """A log or typed readings, whatever is being asked."""
        found = ask_reading(
            self.asker, self.teller, self.rules.findings, self.bench.machine,
            lambda: datetime.fromisoformat(self._now()).timestamp(),
        )  # fmt: skip
        if found is not None:
            self.add(found)

    def _try_a_remedy(self) -> None:
        """A remedy of the operator's own choice, whatever is being asked."""
        case = self.case()
        worth: dict[str, float] = {}
        for cause, p in verdict.suspects(case):
            for name in cause.remedies:
                if case.may(name) and name not in case.known.cannot:
                    gain = p * self.rules.actions[name].cures.get(cause.id, 0.0)
                    worth[name] = worth.get(name, 0.0) + gain
        names = sorted(worth, key=lambda n: -worth[n])[:MOST_REMEDIES]
        chosen = self.asker.choose(
            "Which remedy?",
            [
                *(Choice(n, self.rules.actions[n].name) for n in names),
                Choice("/none", "None of these", aside=True),
            ],
        )
        if chosen != "/none":
            step = steps.step_for(case, chosen, "You chose it.")
            self._show(case, step)
            self._remedy(case, step)

    # --- remedies ------------------------------------------------------------------------------

    def _remedy(self, case: Diagnosis, step: NextStep) -> None:
        if step.id in self.case().known.cannot:
            return
        answer = self._ask(
            case, step, "Tell me when it is done.",
            [
                Choice("done", "Done"),
                Choice(LATER, "Not now: something else first"),
                Choice(CANNOT, "Can't do that here"),
            ],
            About("action", step.id),
        )  # fmt: skip
        if answer == CANNOT:
            self._cannot(step)
            return
        if answer == LATER:
            self.add(entries.Later(action=step.id))
            return
        self._recheck(step)

    def _recheck(self, step: NextStep) -> None:
        complaint = self.rules.complaints[self.case().known.complaint or ""]
        action = self.rules.actions[step.id]
        now = self.asker.choose(
            complaint.still_there,
            [
                Choice("cured", "No, it is gone"),
                Choice("better", "Better, but not right"),
                Choice("unchanged", "Unchanged"),
                Choice("worse", "Worse"),
                Choice(UNKNOWN, "Can't tell yet"),
            ],
            About("complaint_now", step.id),
        )
        value = ""
        if now in ("better", "worse") and complaint.how_much:
            value = self.asker.text(f"{complaint.how_much} (nothing is fine)")
        self.add(entries.Action(action=step.id, complaint_now=now, value=value or None))
        if now == "better" and action.if_partly:
            self.teller.line(f"For what is left: {action.if_partly}")
        if now in ("unchanged", "worse") and action.if_not:
            self.teller.line(f"As it did not help: {action.if_not}")

    def _service(self, case: Diagnosis, step: NextStep) -> str | None:
        self._show(case, step)
        answer = self._ask(
            case, step, "Close this case as handed to service?",
            [Choice("yes", "Yes, hand it over"), Choice("leave", "Leave it open")],
            About("service"),
        )  # fmt: skip
        if answer == "leave":
            return "stopped"
        self.add(entries.Closed(outcome="service"))
        return "closed"

    # --- the end -------------------------------------------------------------------------------

    def _finish(self, case: Diagnosis, step: NextStep) -> str | None:
        if step.id == steps.CLOSED:
            return "closed"
        self.teller.title(step.name)
        self.teller.line(step.say)
        if step.id == verdict.NOTHING_WRONG:
            answer = self._ask(
                case, step, "Close the case as normal?",
                [
                    Choice("yes", "Yes, carry on"),
                    Choice("no", "No, something is wrong: go on"),
                    Choice("later", "It comes and goes: come back when it shows"),
                ],
                About("normal"),
            )  # fmt: skip
            if answer == "no":
                self.add(entries.GoOn(although=ACCEPT))
                return None
            how = "normal" if answer == "yes" else "comes_and_goes"
            self.add(entries.Closed(outcome=how))
            return "closed"
        self.close(case)
        return "closed"

    def close(self, case: Diagnosis) -> None:
        """Two short questions, a third where several remedies helped, and the case is closed."""
        start = case.belief.present_at_start
        done = [d for d in case.known.treatments if d is not None]
        can_be = {c for d in done for c in self.rules.actions[d.action].cures} or set(start)
        likely = sorted(can_be & start.keys(), key=lambda c: -start[c])[:4]
        cause = self.asker.choose(
            "What was it?",
            [
                *(Choice(c, self.rules.causes[c].name) for c in likely),
                Choice("unlisted", "Something else"),
                Choice("/skip", "Don't know", aside=True),
            ],
            About("outcome"),
        )
        more = [c for c in likely if c != cause]
        also = NO_OTHER
        if cause in likely and more and any(d.complaint_now == "better" for d in done):
            also = self.asker.choose(
                "Was something else wrong too?",
                [Choice(NO_OTHER, "No, only that"),
                 *(Choice(c, self.rules.causes[c].name) for c in more)],
                About("outcome", "also"),
            )  # fmt: skip
        proof = self.asker.choose(
            "How do you know?",
            [
                Choice("complaint gone after the remedy", "It was gone after the remedy"),
                Choice("fault seen", "I saw the fault itself"),
                Choice("said by service", "Service says so"),
                Choice("not proved", "It is not proved"),
            ],
            About("proof"),
        )
        found = None if cause == "/skip" else cause if also == NO_OTHER else [cause, also]
        self.add(entries.Closed(outcome="cured", cause=found, proved_by=proof, by=case.known.role))

    def _go_back(self) -> None:
        """Retract the last answer, with the marks around it: that its check was done, and what
        was ticked in a list, for a list has no way back of its own."""
        gone = 0
        for entry in reversed(standing(self.journal)):
            if isinstance(entry.said, KEPT_ON_BACK):
                break
            self.add(entries.Retract(entry=entry.number))
            gone += 1
            said = entry.said
            done = isinstance(said, entries.Action) and not said.treats
            if not done and not isinstance(said, entries.Circumstance):
                return
        if not gone:
            self.teller.line("There is nothing to go back to.")

    # --- telling -------------------------------------------------------------------------------

    def _tell_ranking(self, case: Diagnosis) -> None:
        top = [(c.name, p) for c, p in verdict.suspects(case)[:3]]
        self.teller.line(verdict.verdict(case).sentence)
        self.teller.bars(
            [
                *top,
                ("Nothing is wrong", case.belief.nothing_wrong),
                ("Not in this rule base", case.belief.unlisted),
            ]
        )
        self.teller.small(how_firm(case).sentence)
        self.teller.small("The probabilities are judgement, and say how far the evidence has come.")

    def _tell_today(self, case: Diagnosis) -> None:
        said = today_of(case)
        self.teller.line(f"{said.head}: {said.note}")
        if not said.ways:
            return
        chosen = self.asker.choose(
            "Ways round (they cure the picture, not the cause):",
            [
                *(Choice(w, self.rules.workarounds[w].name) for w in said.ways[:4]),
                Choice("/none", "None of these now", aside=True),
            ],
        )
        if chosen != "/none":
            way = self.rules.workarounds[chosen]
            site = instruction.site_of(case)
            tell(self.teller, instruction.for_way(site, way), self._shown)
            self.add(entries.Workaround(workaround=chosen))


def sentence(text: str) -> str:
    """The text with a capital letter at its head."""
    return text[:1].upper() + text[1:]


def example(finding: Finding) -> str:
    """An example of what can be typed for a quantity."""
    assert finding.quantity is not None
    return f"{finding.quantity.edges[0]:g} {finding.quantity.unit}"


def echo(typed: str, finding: Finding, machine: Machine) -> str:
    """What was typed in the other units a lab uses, the answers it amounts to, what was assumed."""
    assert finding.quantity is not None
    stated = read_quantity(finding, typed)
    others = {
        "pressure": ("mbar", "Torr", "Pa"),
        "pressure rate": ("mbar/min", "Torr/min", "Pa/s"),
    }.get(finding.quantity.dimension, (finding.quantity.unit,))
    answers = amounts_to(finding, typed, machine)
    said = " or ".join(lower_first(answer_text(finding, a, machine)) for a in answers)
    shown = (stated.shown(u, finding.quantity.dimension) for u in others)
    line = " = ".join(dict.fromkeys((typed, *shown))) + f": {said}"
    return ". ".join((line, *(note.rstrip(".") for note in stated.notes))) + "." * bool(
        stated.notes
    )
