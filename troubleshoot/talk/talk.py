"""One case in a talk: its journal, which grows, what it puts questions with, and what it has told.

The questions themselves are functions on it, a module a part of the case.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence

from troubleshoot.advice.step import NextStep
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.diagnose import Bench, Diagnosis
from troubleshoot.case.entries import Said
from troubleshoot.case.journal import Entry, Journal, enter
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import Finding
from troubleshoot.talk.dialogue import About, Asker, Choice, Teller

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
TYPED = {
    "unknown": DONT_KNOW, "cannot": CANNOT, "why": WHY, "how": HOW, "likely": SO_FAR,
    "today": TODAY, "other": OTHER, "danger": DANGER, "log": LOG, "try": TRY,
    "back": BACK, "stop": STOP,
}  # fmt: skip


class Stopped(Exception):
    """The operator stops here; the journal is safe."""


class Back(Exception):
    """The operator goes back one answer."""


class Again(Exception):
    """Something was recorded out of turn: assess anew."""


class Talk(ABC):
    """One case, led by questions.

    Every entry is handed to `save` before the next question is asked, so stopping at any moment
    loses nothing. `shown` are the cautions that were told in full.
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
    ) -> None:
        self.bench, self.rules = bench, bench.rules
        self.asker, self.teller = asker, teller
        self.journal, self._save, self.now = journal, save, now
        self.ask_machine = ask_machine
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
