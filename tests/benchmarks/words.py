"""How often plain remarks are understood: `python -m tests.benchmarks.words [FILE] [--log FILE]`.

FILE holds JSON lines: `text`, what it `means` (a finding, a finding and its answer as
`finding:answer`, a complaint, a danger sign as `sign:id`, or null where it means nothing here),
`also_ok` (other readings that are right as well) and `held` (true for remarks that nobody looked at
while the wording of the rules was written). A remark that means nothing is left alone when nothing
at all is offered for it; a danger is told when its sign stands among what is offered for a trouble.
The remarks of `words.jsonl` are by the same hand as the phrases. Of those held out the first half
was written before the phrases and the second half after them, and nobody looked at what came of
them; those worked with are no measure, for the phrases were made to fit them. Other people's
remarks will come out worse than either. `words_by_another.jsonl` is by somebody who had seen no
phrase, and so is `words_by_a_third.jsonl`; what they showed first stands in docs/benchmarks.md, and
whole kinds were mended since.
"""

import argparse
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from troubleshoot.errors import UserError
from troubleshoot.knowledge.load import load
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.talk.wording import Match, complaints_like, meant

FILE = Path(__file__).parent / "words.jsonl"
BY_ANOTHER = Path(__file__).parent / "words_by_another.jsonl"
BY_A_THIRD = Path(__file__).parent / "words_by_a_third.jsonl"
MOST = 1000


@dataclass(frozen=True)
class Remark:
    """A line of the file with what was made of it."""

    text: str
    means: str | None
    also: tuple[str, ...]
    held: bool
    matches: tuple[Match, ...]
    signs: tuple[str, ...] = ()

    @property
    def told(self) -> bool:
        """Whether the danger that is meant is among the signs offered for a trouble."""
        return bool({self.means, *self.also} & set(self.signs))

    def ranked(self, kind: str) -> list[str]:
        """The IDs of this kind that were offered, best first."""
        return [m.id for m in self.matches if m.kind == kind]

    def rank(self, kind: str) -> int:
        """The place of the first right reading (from 1; past the end if none is there)."""
        right = {(name or "").partition(":")[0] for name in (self.means, *self.also)}
        order = self.ranked(kind)
        return next((n for n, name in enumerate(order, 1) if name in right), MOST + 1)

    def right_answer(self) -> bool:
        """Whether a right finding comes first, with the answer that is meant."""
        best = next((m for m in self.matches if m.kind == "finding"), None)
        return best is not None and any(
            name == best.id or name == f"{best.id}:{best.answer}"
            for name in (self.means or "", *self.also)
        )


def remarks(file: Path, rules: RuleBase) -> list[Remark]:
    """Every remark of the file, matched. Raises `UserError` for a line that cannot be read."""
    return [_remark(line, f"{file}, line {n}", rules) for n, line in _lines(file)]


def _lines(file: Path) -> list[tuple[int, str]]:
    try:
        lines = file.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise UserError(f"{file} cannot be read as text: {error}.") from None
    return [(n, line) for n, line in enumerate(lines, 1) if line.strip()]


def _remark(line: str, place: str, rules: RuleBase) -> Remark:
    try:
        given: Any = json.loads(line)
    except json.JSONDecodeError as error:
        raise UserError(f"{place}: this is no JSON ({error}).") from None
    if not isinstance(given, dict) or not isinstance(given.get("text"), str):
        raise UserError(f'{place}: an object with a "text" is needed.')
    means = given.get("means")
    if means is not None and str(means).partition(":")[0] not in (
        *rules.findings,
        *rules.complaints,
        "sign",
    ):
        raise UserError(f"{place}: {means!r} is neither a finding, a complaint nor a sign.")
    also = tuple(str(name) for name in given.get("also_ok") or ())
    matches = tuple(meant(rules, given["text"], most=MOST))
    signs = tuple(m.value for m in complaints_like(rules, given["text"]) if m.kind == "sign")
    return Remark(given["text"], means, also, bool(given.get("held")), matches, signs)


def table(found: Sequence[Remark], rules: RuleBase) -> str:
    """Shares of the remarks that were understood, one line for each kind of remark."""

    def line(head: str, mine: Sequence[Remark], **tests: Callable[[Remark], bool]) -> str:
        cells = (
            f"{name.replace('_', ' ')} {sum(map(test, mine)):>3} of {len(mine)}"
            f" ({100 * sum(map(test, mine)) / len(mine):.0f} %)"
            for name, test in tests.items()
        )
        return f"{head:<12} " + ";  ".join(cells)

    out = []
    kinds: Mapping[str, Mapping[str, Any]] = {
        "finding": rules.findings,
        "complaint": rules.complaints,
    }
    for kind, entries in kinds.items():
        mine = [r for r in found if (r.means or "").partition(":")[0] in entries]
        tests: dict[str, Callable[[Remark], bool]] = {
            "first": lambda r, k=kind: r.rank(k) == 1,  # type: ignore[misc]
            "first_three": lambda r, k=kind: r.rank(k) <= 3,  # type: ignore[misc]
        }
        if kind == "finding":
            tests["first_with_the_answer"] = Remark.right_answer
        if mine:
            out.append(line(f"{kind}s", mine, **tests))
    dangers = [r for r in found if (r.means or "").startswith("sign:")]
    if dangers:
        out.append(line("dangers", dangers, told=lambda r: r.told))
    nothing = [r for r in found if r.means is None]
    if nothing:
        out.append(line("meaningless", nothing, left_alone=lambda r: not r.matches))
    return "\n".join(out)


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the shares."""
    parser = argparse.ArgumentParser(description="How often plain remarks are understood.")
    parser.add_argument("file", nargs="?", type=Path, default=FILE, help="JSON lines")
    parser.add_argument("--log", type=Path, help="write what was made of each remark (JSON)")
    given = parser.parse_args(arguments)
    rules = load()
    try:
        found = remarks(given.file, rules)
    except UserError as error:
        print(error)
        return
    for head, held in (("worked with", False), ("held out", True)):
        mine = [r for r in found if r.held is held]
        if mine:
            print(f"{head}, {len(mine)} remarks\n{table(mine, rules)}\n")
    if given.log:
        log = [
            {
                "text": r.text,
                "findings": r.ranked("finding"),
                "complaints": r.ranked("complaint"),
            }
            for r in found
        ]
        given.log.write_text(json.dumps(log, ensure_ascii=False, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
