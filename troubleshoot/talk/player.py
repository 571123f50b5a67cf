"""Answers a conversation from a case that is known already: a demo plays itself.

What the case file says is answered; of anything else "don't know". A remedy cures when it cures one
of the causes with which the case ended.
"""

from collections.abc import Callable, Sequence

from troubleshoot.case import entries
from troubleshoot.case.entries import UNKNOWN
from troubleshoot.case.journal import Journal
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.talk.circumstances import NONE_HOLD
from troubleshoot.talk.dialogue import ASIDE, About, Choice
from troubleshoot.talk.talk import CANNOT, DONT_KNOW, SKIP, STOP

LIKELY_CURE = 0.5
"""From this chance on an action counts as a cure of a cause."""
USUAL = {"signs": "none", "specimen": "no", "role": "student", "since": SKIP.value}
"""What is said in the opening where the file says nothing."""
FIXED = {"wait": "now", "normal": "yes", "gone": "yes", "service": "yes", "stop": "done",
         "danger": STOP, "proof": "complaint gone after the remedy"}  # fmt: skip
"""Kinds of question that have one answer in a demo."""


class Player:
    """An `Asker` that answers from a journal and shows each question and answer with `show`."""

    def __init__(
        self,
        rules: RuleBase,
        journal: Journal,
        causes: Sequence[str],
        show: Callable[[str, str], None],
    ) -> None:
        said = [entry.said for entry in journal]
        self.rules, self.causes, self._show = rules, set(causes), show
        self.findings = {s.finding: s for s in said if isinstance(s, entries.Finding)}
        self.held = {s.circumstance for s in said if isinstance(s, entries.Circumstance)}
        self.signs = [s.sign for s in said if isinstance(s, entries.Sign) and s.present]
        self.opening = dict(USUAL)
        for s in said:
            match s:
                case entries.Complaint():
                    self.opening["complaint"] = self.opening["meant"] = s.complaint
                case entries.State():
                    self.opening["state"] = s.state
                case entries.Role():
                    self.opening["role"] = s.role
                case entries.Specimen():
                    self.opening["specimen"] = "yes" if s.irreplaceable else "no"

    def choose(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> str:
        """As `Asker.choose`."""
        offered = {c.value: c.label for c in choices}
        wanted = self._answer(about, offered)
        value = next((v for v in (wanted, DONT_KNOW, SKIP.value) if v in offered), STOP)
        self._show(question, offered.get(value, "stop"))
        return value

    def _answer(self, about: About, offered: dict[str, str]) -> str:
        match about.kind:
            case "opening" if about.id == "signs":
                return self.signs.pop(0) if self.signs else "none"
            case "opening":
                return self.opening.get(about.id, SKIP.value)
            case "finding":
                seen = self.findings.get(about.id)
                return seen.answers[0] if seen and seen.answer else DONT_KNOW
            case "action":
                return "done" if self._cures(about.id) else CANNOT
            case "complaint_now":
                return "cured" if self._cures(about.id) else "unchanged"
            case "outcome":
                return next((c for c in offered if c in self.causes), "unlisted")
        return FIXED.get(about.kind, STOP)

    def _cures(self, action: str) -> bool:
        cures = self.rules.actions[action].cures
        return any(cures.get(c, 0.0) >= LIKELY_CURE for c in self.causes)

    def several(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> list[str]:
        """As `Asker.several`."""
        held = [c for c in choices if c.value in self.held]
        found = held or [NONE_HOLD]
        self._show(question, "; ".join(c.label for c in found))
        return [c.value for c in found]

    def text(self, question: str, about: About = ASIDE) -> str:
        """As `Asker.text`: the quantity that was read, where it was."""
        seen = self.findings.get(about.id)
        typed = (seen.quantity if seen else None) or (UNKNOWN if about.kind == "finding" else "")
        self._show(question, typed)
        return typed

    path = text
