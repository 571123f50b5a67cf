"""Questions outside a case whose answers are kept as they come, and that go on where they ended.

Like `prompts`, by replay: the same questions are asked again from the first one on, and those that
were answered before are answered from what was kept.
"""

from collections.abc import Sequence
from typing import Any, Protocol

from troubleshoot.talk.dialogue import ASIDE, About, Asker, Choice, Teller


class Kept(Protocol):
    """Where the answers are kept."""

    def answers(self) -> list[tuple[str, Any]]:
        """(question, answer) in their order."""

    def when(self) -> str:
        """When the last of them was kept."""

    def add(self, question: str, answer: Any) -> None:
        """Keep one more."""

    def clear(self) -> None:
        """Keep none of them any more."""


class Drafted:
    """An asker that keeps every answer before the next question, and first gives those kept."""

    def __init__(self, asker: Asker, teller: Teller, kept: Kept) -> None:
        self._asker, self._teller, self._kept = asker, teller, kept
        self._before = kept.answers()
        if self._before and not self._goes_on():
            self._before = []
            kept.clear()

    def _goes_on(self) -> bool:
        count = len(self._before)
        answers = "One answer is kept" if count == 1 else f"{count} answers are kept"
        when = self._kept.when()
        found = self._asker.choose(
            f"{answers} from {when}, when this was not finished. Go on with them?",
            [Choice("yes", "Yes, go on there"), Choice("no", "No, begin anew")],
        )
        return found == "yes"

    def _answered(self, question: str, among: Sequence[Choice] | None = None) -> Any:
        """What was answered to this before, if it is the next one kept; else the rest is void."""
        if not self._before:
            return None
        asked, answer = self._before[0]
        said = [answer] if isinstance(answer, str) else list(answer)
        offered = among is None or set(said) <= {c.value for c in among}
        if asked != question or not offered:
            self._before = []  # the questions have changed: what follows is asked
            return None
        del self._before[0]
        labels = {c.value: c.label for c in among or ()}
        self._teller.small(f"{question}  {'; '.join(labels.get(s, s) for s in said)}")
        return answer

    def _keep(self, question: str, answer: Any) -> Any:
        self._kept.add(question, answer)
        return answer

    def choose(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> str:
        """As `Asker.choose`."""
        found = self._answered(question, choices)
        return str(found or self._keep(question, self._asker.choose(question, choices, about)))

    def several(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> list[str]:
        """As `Asker.several`."""
        found = self._answered(question, choices)
        if found is None:
            found = self._keep(question, self._asker.several(question, choices, about))
        return list(found)

    def text(self, question: str, about: About = ASIDE) -> str:
        """As `Asker.text`."""
        found = self._answered(question)
        return str(
            self._keep(question, self._asker.text(question, about)) if found is None else found
        )

    def path(self, question: str) -> str:
        """As `text`."""
        found = self._answered(question)
        return str(self._keep(question, self._asker.path(question)) if found is None else found)
