"""How often the true cause of a real report comes first, or among the first three.

`python -m tests.benchmarks.field [FOLDER] [--log FILE]`; FOLDER holds case files and their
`causes.yaml`, and --log writes the causes of each, ranked (JSON).

`tests/field/` holds what 44 published or retold reports say was seen, one case file each, and in
`causes.yaml` the cause that the reporter found. "Alike" counts a cause with the same first remedy
as the true one as a hit too. The row "complaint alone" is what the rule base says before it has
heard anything but the complaint, so the difference is what the findings and circumstances add.
Intervals are 95 % (Wilson). Reports whose cause the rule base does not have are listed apart, with
the probability that it gives to "a cause that is not in this rule base".
"""

import argparse
import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from troubleshoot.case.casefile import CaseFile, read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.entries import UNLISTED
from troubleshoot.case.journal import Journal
from troubleshoot.errors import UserError
from troubleshoot.knowledge.load import load
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.strict_yaml import read

FOLDER = Path(__file__).parents[1] / "field"
NOW = "2026-01-05T09:00:00"
SCOPES = ("near", "far")


@dataclass(frozen=True)
class Report:
    """A case file with the cause that was found: any of `causes`, or `unlisted`."""

    name: str
    scope: str  # "near" or "far", as causes.yaml says
    causes: tuple[str, ...]
    case: CaseFile

    @property
    def listed(self) -> bool:
        """Whether the rule base has the true cause."""
        return self.causes != (UNLISTED,)


@dataclass(frozen=True)
class Ranking:
    """The causes, likeliest first, with P(nothing is wrong) and P(a cause not listed)."""

    causes: list[str]
    nothing_wrong: float
    unlisted: float


def reports(rules: RuleBase, folder: Path = FOLDER) -> Iterator[Report]:
    """Every report of the folder. Raises `UserError` for a file that cannot be read."""
    for name, truth in read(folder / "causes.yaml").data.items():
        case = read_case(folder / f"{name}.yaml", rules, NOW)
        yield Report(name, truth.get("scope", SCOPES[0]), tuple(truth["causes"]), case)


def ranking(bench: Bench, journal: Journal) -> Ranking:
    """What the rule base makes of the journal."""
    belief = bench.assess(journal).belief
    assert belief is not None
    order = sorted(belief.present, key=lambda c: -belief.present[c])
    return Ranking(order, belief.nothing_wrong, belief.unlisted)


def complaint_alone(journal: Journal) -> Journal:
    """The journal with nothing but the complaint in it."""
    return tuple(e for e in journal if e.kind == "complaint")


def rank(order: Sequence[str], causes: Sequence[str], rules: RuleBase, alike: bool) -> int:
    """The place of the best of `causes` (from 1; past the end if none is there)."""
    same = {rules.causes[c].remedies[0] for c in causes if c in rules.causes} if alike else set()
    for place, cause in enumerate(order, 1):
        if cause in causes or rules.causes[cause].remedies[0] in same:
            return place
    return len(order) + 1


def wilson(hits: int, number: int, z: float = 1.96) -> tuple[float, float]:
    """The score interval of a share: Wilson, J. Am. Stat. Assoc. 22 (1927) 209.

    (p + z²/2n ± z sqrt(p(1 − p)/n + z²/4n²)) / (1 + z²/n), p = hits/number.
    """
    p, zz = hits / number, z * z / number
    middle, half = p + zz / 2, z * math.sqrt(p * (1 - p) / number + zz / (4 * number))
    return (middle - half) / (1 + zz), (middle + half) / (1 + zz)


def share(ranks: Sequence[int], within: int) -> str:
    """How many of `ranks` are `within` the first so many, with its interval."""
    hits = sum(r <= within for r in ranks)
    low, high = wilson(hits, len(ranks))
    return f"{hits:>2} ({100 * low:>2.0f}-{100 * high:>3.0f} %)"


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="How often the cause of a real report is found.")
    parser.add_argument("folder", nargs="?", type=Path, default=FOLDER, help="case files")
    parser.add_argument("--log", type=Path, help="write the ranked causes of each report (JSON)")
    given = parser.parse_args(arguments)
    rules = load()
    try:
        found = list(reports(rules, given.folder))
    except UserError as error:
        print(error)
        return
    places: dict[tuple[str, str, bool], list[int]] = {}
    rows, log = [], []
    for report in found:
        bench = Bench(rules, report.case.machine)
        after = ranking(bench, report.case.journal)
        before = ranking(bench, complaint_alone(report.case.journal))
        log.append({"id": report.name, **asdict(after)})
        mine = "-"
        if report.listed:
            for what, causes in (("all told", after.causes), ("complaint alone", before.causes)):
                for alike in (False, True):
                    place = rank(causes, report.causes, rules, alike)
                    places.setdefault((report.scope, what, alike), []).append(place)
            mine = str(rank(after.causes, report.causes, rules, alike=False))
        rows.append(
            f"{report.name} {report.scope:<5}{mine:>4}   {after.unlisted:.2f}  "
            f"{'/'.join(report.causes)}  <- {', '.join(after.causes[:3])}"
        )
    print("case     scope rank  P(unlisted)  true cause <- first three")
    print("\n".join(rows))
    print(f"\n{'':<28}{'first':>14}{'first three':>14}{'first, alike':>14}{'three, alike':>14}")
    for scope, what in ((s, w) for s in SCOPES for w in ("all told", "complaint alone")):
        if (scope, what, False) in places:
            exact, alike = places[scope, what, False], places[scope, what, True]
            cells = (share(r, k) for r in (exact, alike) for k in (1, 3))
            head = f"{scope}, {what}, n {len(exact)}"
            print(f"{head:<28}" + "".join(f"{cell:>14}" for cell in cells))
    for scope in SCOPES:
        number = sum(r.scope == scope and not r.listed for r in found)
        print(f"{scope}, cause not in the rule base: {number} (above, with P(unlisted))")
    if given.log:
        given.log.write_text(json.dumps(log, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
