"""Answers to a list of questions that is not finished: a file in the data folder, a line each.

What is asked outside a case (a run, readings by hand, a machine's normal) is kept here until all of
it was answered, so that a program that is ended in the middle loses none of it.
"""

import json
import re
from contextlib import suppress
from datetime import datetime
from typing import Any

from troubleshoot.casebook.place import data_folder
from troubleshoot.errors import UserError
from troubleshoot.regular_file import bytes_of, special

LARGEST = 10_000_000
"""Bytes of what is read again: more than anybody types."""


class Draft:
    """The answers to one list of questions; `what` names it."""

    def __init__(self, what: str) -> None:
        self.path = data_folder() / "unfinished" / f"{re.sub(r'[^A-Za-z0-9]+', '_', what)}.jsonl"

    def answers(self) -> list[tuple[str, Any]]:
        """(question, answer) in their order; a line that cannot be read is passed over."""
        try:
            lines = bytes_of(self.path, LARGEST).decode("utf-8", "replace").split("\n")
        except UserError:
            return []
        out = []
        for line in lines:
            with suppress(ValueError, KeyError, TypeError, RecursionError):
                said = json.loads(line)
                answer = said["answer"]
                if all(isinstance(one, str) for one in answer):  # letters, or what was ticked
                    out.append((str(said["question"]), answer))
        return out

    def when(self) -> str:
        """When the last of them was kept, to the minute."""
        return datetime.fromtimestamp(self.path.stat().st_mtime).strftime("%Y-%m-%d %H:%M")

    def add(self, question: str, answer: Any) -> None:
        """Keep one more. Raises `UserError` where it cannot be written."""
        line = json.dumps({"question": question, "answer": answer}, ensure_ascii=False)
        if what := special(self.path):
            raise UserError(f"{self.path} is {what}, not a file: take it away.")
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with self.path.open("a", encoding="utf-8") as file:
                file.write(f"\n{line}")  # after a line that was cut off this begins a new one
        except OSError as error:
            raise UserError(
                f"{self.path} cannot be written ({error.strerror}): make room there, or name "
                "another folder with TROUBLESHOOT_DATA."
            ) from None

    def clear(self) -> None:
        """All of it was answered, or is not wanted."""
        self.path.unlink(missing_ok=True)
