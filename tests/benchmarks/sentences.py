"""How well a line from a logbook is understood: `python -m tests.benchmarks.sentences [FILE]`.

Each line of `sentences.jsonl` holds a `text`, the `complaint` it opens (`a|b` where either is
right; `null` for none), the `items` that should be proposed (`finding:answer`, `finding=quantity`,
`sign:id` or a circumstance, with `|` between readings that are as good), what is `also_ok`, and
`held`; without `items` it is only asked what the line opens. The lines held out were written before
anything could read one and were not changed since; what came of them was looked at only as a
figure. All of them are by one hand, which knows the rules; those of `sentences_by_another.jsonl`
and of `openings.jsonl` are by two who had seen none.
"""

import argparse
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from troubleshoot.case import entries
from troubleshoot.case.diagnose import Bench
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.load import load
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.talk.heard import understand

FILE = Path(__file__).parent / "sentences.jsonl"


@dataclass(frozen=True)
class Scored:
    """A line with what should be proposed and what was."""

    text: str
    held: bool
    complaint: tuple[str, ...]
    wanted: tuple[str, ...]
    also: tuple[str, ...]
    complaints: tuple[str, ...]
    proposed: tuple[str, ...]

    @property
    def found(self) -> list[str]:
        """The wanted items that were proposed."""
        return [w for w in self.wanted if set(w.split("|")) & set(self.proposed)]

    @property
    def wrong(self) -> list[str]:
        """What was proposed though nobody said it."""
        right = {r for w in (*self.wanted, *self.also) for r in w.split("|")}
        return [p for p in self.proposed if p not in right]

    @property
    def opens_right(self) -> bool:
        """Whether the complaint that is proposed first is right, or none where none is meant."""
        first = self.complaints[0] if self.complaints else "null"
        return first in self.complaint

    @property
    def offers_right(self) -> bool:
        """Whether a right complaint is among those proposed."""
        return bool({*self.complaints, *(() if self.complaints else ("null",))} & {*self.complaint})


def name_of(said: entries.Said) -> str:
    """An entry as the file of lines spells it."""
    match said:
        case entries.Finding(quantity=str(quantity)):
            return f"{said.finding}={quantity}"
        case entries.Finding():
            return f"{said.finding}:{said.answer}"
        case entries.Sign():
            return f"sign:{said.sign}"
        case entries.Circumstance():
            return said.circumstance
    raise ValueError(said.kind)


def scored(rules: RuleBase, file: Path = FILE) -> list[Scored]:
    """Every line of the file, read."""
    out, bench = [], Bench(rules, Machine())
    for text in file.read_text(encoding="utf-8").splitlines():
        given = json.loads(text)
        line = understand(bench, given["text"])
        out.append(
            Scored(
                given["text"],
                given.get("held", True),
                tuple((given["complaint"] or "null").split("|")),
                tuple(given.get("items", ())),
                tuple(given.get("also_ok", ())),
                line.complaints,
                tuple(name_of(h.said) for h in line.heard),
            )
        )
    return out


def table(lines: Sequence[Scored]) -> str:
    """The shares for these lines."""

    def share(part: int, whole: int) -> str:
        return f"{part} of {whole} ({100 * part / max(whole, 1):.0f} %)"

    well = [s for s in lines if s.complaint == ("null",)]
    trouble = [s for s in lines if s not in well]
    wanted, found = (sum(len(getattr(s, key)) for s in lines) for key in ("wanted", "found"))
    proposed, wrong = (sum(len(getattr(s, key)) for s in lines) for key in ("proposed", "wrong"))
    none, first, among = (
        sum(s.opens_right for s in well),
        sum(s.opens_right for s in trouble),
        sum(s.offers_right for s in trouble),
    )
    opening = (
        f"no trouble told, and none opened {share(none, len(well))}\n"
        f"trouble told: the first right {share(first, len(trouble))}, "
        f"among those offered {share(among, len(trouble))}"
    )
    if not wanted:
        return opening
    return (
        f"{opening}\n"
        f"what was said and is proposed {share(found, wanted)}\n"
        f"proposed though nobody said it {share(wrong, proposed)}\n"
        f"lines with all of it and nothing wrong {share(sum(map(whole, lines)), len(lines))}"
    )


def whole(line: Scored) -> bool:
    """Whether everything was understood, and nothing else."""
    return line.opens_right and len(line.found) == len(line.wanted) and not line.wrong


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the shares of both halves."""
    parser = argparse.ArgumentParser(description="How well a line from a logbook is understood.")
    parser.add_argument("file", nargs="?", type=Path, default=FILE, help="JSON lines")
    parser.add_argument("--log", type=Path, help="write what came of each line not held out (JSON)")
    given = parser.parse_args(arguments)
    lines = scored(load(), given.file)
    for head, held in (("worked with", False), ("held out", True)):
        mine = [s for s in lines if s.held is held]
        if mine:
            print(f"{head}, {len(mine)} lines\n{table(mine)}\n")
    if given.log:
        log = [
            {
                "text": s.text,
                "complaints": s.complaints,
                "missed": [w for w in s.wanted if w not in s.found],
                "wrong": s.wrong,
                "opens_right": s.opens_right,
            }
            for s in lines
            if not s.held
        ]
        given.log.write_text(json.dumps(log, ensure_ascii=False, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
