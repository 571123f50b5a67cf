"""One case in a talk: its journal, which grows, what it puts questions with, and what it has told.

The questions themselves are functions on it, a module a part of the case.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from datetime import datetime

from troubleshoot.advice.step import NextStep
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.diagnose import Bench, Diagnosis
from troubleshoot.case.entries import Said
from troubleshoot.case.journal import Entry, Journal, enter
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import Finding
from troubleshoot.talk.dialogue import MORE, About, Asker, Choice, Teller

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
TRY, RECORDED = "/try", "/recorded"
LOG_WORDS = "I have a log, a picture, or a row of readings"
PICTURE = "/picture"
"""What is told once of pictures."""
ASIDES = (
    Choice(WHY, "why now?", aside=True, key="?", words=("why",)),
    Choice(BACK, "go back", aside=True, key="<", words=("back", "undo")),
    Choice(DANGER, "danger", aside=True, key="!", words=("smell", "shock", "crack", "alarm")),
    Choice(HOW, "Show me how", aside=True, key=MORE, words=("how", "steps", "picture")),
    Choice(OTHER, "I saw something else", aside=True, key=MORE, words=("other",), in_full=True),
    Choice(LOG, LOG_WORDS, aside=True, key=MORE, words=("log", "curve", "file")),
    Choice(SO_FAR, "What is likely so far?", aside=True, key=MORE, words=("likely",)),
    Choice(RECORDED, "What is recorded so far; correct it", aside=True, key="=",
           words=("recorded", "wrong", "mistake")),
    Choice(TODAY, "Can I still coat today?", aside=True, key=MORE, words=("today", "coat")),
    Choice(TRY, "I think I know what it is, or have mended it", aside=True, key=MORE,
           words=("try", "mended", "know")),
    Choice(STOP, "Stop here (nothing is lost)", aside=True, key=MORE,
           words=("stop", "quit", "exit")),
)  # fmt: skip
OPENING_ASIDES = tuple(c for c in ASIDES if c.value in (BACK, DANGER, STOP))
SKIP = Choice("/skip", "Skip", aside=True)
TYPED = {
    "unknown": DONT_KNOW, "cannot": CANNOT, "why": WHY, "how": HOW, "likely": SO_FAR,
    "today": TODAY, "other": OTHER, "danger": DANGER, "log": LOG, "try": TRY,
    "back": BACK, "stop": STOP, "recorded": RECORDED,
    **{c.key: c.value for c in ASIDES if c.key != MORE},
}  # fmt: skip


class Stopped(Exception):
    """The operator stops here; the journal is safe."""


class Back(Exception):
    """The operator goes back one answer."""


class Again(Exception):
    """Something was recorded out of turn: assess anew."""


class Danger(Exception):
    """The operator sees a danger sign before the case has begun."""


class Talk(ABC):
    """One case, led by questions.

    Every entry is handed to `save` before the next question is asked, so stopping at any moment
    loses nothing. `shown` are the cautions that were told in full, `line` what was said in own
    words before the first question; `earlier` says how cases like this one ended in this lab, `ran`
    what earlier runs of a coater left: times in s of pumping and pressures in Pa. `stopwatch` gives
    seconds between readings that are typed as they are seen; without it they are told by `now`.
    """

    def __init__(
        self,
        bench: Bench,
        asker: Asker,
        teller: Teller,
        journal: Journal,
        save: Callable[[Entry], None],
        now: Callable[[], str],
        ask_machine: Callable[[], Machine] | None = None,
        line: str = "",
        earlier: Callable[[Journal], str] | None = None,
        ran: Callable[[Machine], Sequence[tuple[float, float]]] | None = None,
        stopwatch: Callable[[], float] | None = None,
    ) -> None:
        self.bench, self.rules = bench, bench.rules
        self.asker, self.teller = asker, teller
        self.journal, self._save, self.now = journal, save, now
        self.ask_machine = ask_machine
        self.line = line
        self.earlier = earlier
        self.ran = ran
        self.stopwatch = stopwatch or (lambda: datetime.fromisoformat(now()).timestamp())
        self._kept: tuple[Journal, Deduction] | None = None
        self._told: set[str] = set()
        self.shown: set[str] = set()

    def add(self, said: Said) -> None:
        """Enter it and keep it before anything else happens."""
        self.journal = enter(self.journal, self.now(), said, self.rules)
        self._save(self.journal[-1])

    def move_to(self, bench: Bench) -> None:
        """Go on at this bench: another machine is meant."""
        self.bench, self._kept = bench, None

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

    def choose(self, question: str, choices: Sequence[Choice], about: About) -> str:
        """Put a question of the opening. Raises `Back`, `Stopped`, and `Again` after a danger."""
        return self._plain(self.asker.choose(question, [*choices, *OPENING_ASIDES], about))

    def several(self, question: str, choices: Sequence[Choice], about: About) -> list[str]:
        """As `choose`, any number of them."""
        marked = self.asker.several(question, [*choices, *OPENING_ASIDES], about)
        for value in marked:
            self._plain(value)
        return marked

    def _plain(self, value: str) -> str:
        if value == BACK:
            raise Back
        if value == STOP:
            raise Stopped
        if value == DANGER:
            raise Danger
        return value

    def once(self, key: str, tell: Callable[[], None]) -> None:
        """Tell it unless it was told already."""
        if key not in self._told:
            self._told.add(key)
            tell()

    def ask(
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
            if not self.take(answer, case, step, finding):
                return answer

    @abstractmethod
    def take(self, said: str, case: Diagnosis, step: NextStep, finding: Finding | None) -> bool:
        """Take what is no answer; False if it was one after all."""
