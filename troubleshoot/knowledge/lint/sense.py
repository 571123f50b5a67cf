"""Rows that say nothing, causes that nobody can tell apart, entries without a source."""

import itertools
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from troubleshoot.knowledge import model
from troubleshoot.knowledge.build import SETTINGS
from troubleshoot.knowledge.lint.remarks import Check, Found, RulesSeen
from troubleshoot.knowledge.rows import complete
from troubleshoot.knowledge.sources import sourced

SEPARATES = 0.3  # total variation from which one finding tells two causes apart
BEARS = 0.3  # strength from which a cause of a complaint is no bystander to it
SAYS_SOMETHING = 0.05  # total variation to the background from which a row is worth its line
PROVES = 0.2  # total variation to the background from which a look tells that the cause has gone


def distance(p: Mapping[str, float], q: Mapping[str, float]) -> float:
    """Total variation: half the sum of absolute differences, 0 (equal) to 1 (never the same)."""
    return sum(abs(p[a] - q[a]) for a in p) / 2


@dataclass(frozen=True)
class WrittenRow:
    """A row as it stands in a file, and whether it refines one that is inherited."""

    owner: model.Mechanism | model.Cause
    finding: model.Finding
    row: model.Row
    refines: bool


def _rows(view: RulesSeen) -> Iterator[WrittenRow]:
    owners: list[model.Mechanism | model.Cause] = [
        *view.rules.mechanisms.values(),
        *view.rules.causes.values(),
    ]
    for owner in owners:
        inherited = {
            finding
            for name in _ancestors(view.rules, owner)
            for finding in view.rules.mechanisms[name].shows
        }
        for name, row in owner.shows.items():
            yield WrittenRow(owner, view.rules.findings[name], row, name in inherited)


def _ancestors(rules: model.RuleBase, owner: model.Mechanism | model.Cause) -> set[str]:
    out: set[str] = set()
    if isinstance(owner, model.Cause):
        open_ = list(owner.mechanisms)
    else:
        open_ = [owner.like] if owner.like else []
    while open_:
        name = open_.pop()
        like = rules.mechanisms[name].like
        if name not in out and like:
            open_.append(like)
        out.add(name)
    return out


def causes_not_told_apart(view: RulesSeen) -> Iterator[Found]:
    """Two causes of one complaint that no finding separates, though their remedies differ."""
    for a, b in itertools.combinations(view.rules.causes.values(), 2):
        shared = sorted(set(a.complaints) & set(b.complaints))
        if not shared or not _on_one_machine(a, b) or _may_stay_alike(a, b):
            continue
        best, finding = max(_contrasts(view, a.id, b.id), default=(0.0, ""))
        if best < SEPARATES:
            most = f" (at best {finding!r}, {best:.2f})" if finding else ""
            yield Found(
                view.at(b),
                f"nothing tells {b.id!r} from {a.id!r} when {shared[0]!r} is complained of{most}",
                "add a finding that does, or say `alike`, or give them one first remedy",
            )


def _may_stay_alike(a: model.Cause, b: model.Cause) -> bool:
    return a.id in b.alike or b.id in a.alike or a.remedies[:1] == b.remedies[:1]


def _on_one_machine(a: model.Cause, b: model.Cause) -> bool:
    """False when some fact of the machine keeps the two from ever being rivals."""

    def choices(wanted: str | list[str]) -> set[str]:
        return {wanted} if isinstance(wanted, str) else set(wanted)

    both = set(a.machine) & set(b.machine)
    return all(choices(a.machine[key]) & choices(b.machine[key]) for key in both)


def _contrasts(view: RulesSeen, a: str, b: str) -> Iterator[tuple[float, str]]:
    """How far each finding separates two causes; where one has no say it shows the background."""
    for finding in view.rules.findings.values():
        rows = [view.rules.rows.get((cause, finding.id), finding.background) for cause in (a, b)]
        if view.revealed(finding.id) and rows[0] is not rows[1]:
            yield distance(rows[0], rows[1]), finding.id


def told_apart_outside_only(view: RulesSeen) -> Iterator[Found]:
    """Worlds must not cut off what distinguishes two live causes of a complaint."""
    rules = view.rules
    for complaint in rules.complaints.values():
        live = [c for c in rules.causes.values() if _bears(c, complaint.id)]
        for a, b in itertools.combinations(live, 2):
            if not _on_one_machine(a, b) or _may_stay_alike(a, b):
                continue
            contrasts = list(_contrasts(view, a.id, b.id))
            inside = [c for c in contrasts if rules.is_in_world(c[1], complaint.id)]
            best, finding = max(contrasts, default=(0.0, ""))
            if best >= SEPARATES > max(inside, default=(0.0, ""))[0]:
                yield Found(
                    view.at(rules.findings[finding], "world"),
                    f"{complaint.id!r} is outside the world of all that tells {b.id!r} from "
                    f"{a.id!r}, first of {finding!r}",
                    "put it into the world of a finding that an expert might ask of it",
                )


def row_says_nothing(view: RulesSeen) -> Iterator[Found]:
    """A row that is the background again is padding.

    Left alone where it takes an inherited row back to the background, and in cure tests: there a
    row near zero says that the cause would not have gone away, which no background says.
    """
    for item in _rows(view):
        gap = distance(complete(item.finding, item.row), item.finding.background)
        if gap < SAYS_SOMETHING and not item.refines and item.finding.kind != "cure_test":
            yield Found(
                view.at(item.owner, "shows", item.finding.id),
                f"{item.owner.id!r} says nothing of {item.finding.id!r} that the background does "
                f"not ({gap:.2f} apart)",
                "remove the row",
            )


def proof_tells_nothing(view: RulesSeen) -> Iterator[Found]:
    """A remedy's proof has to show something that the cause it cured would have changed.

    Where the cause has no row, or one much like the background, the proof looks the same whether
    the cause is there or not. Only a remedy that the cause names is held against it: what a remedy
    also puts right by the way is proved by looking at the complaint again.
    """
    rules = view.rules
    for cause in rules.causes.values():
        for name in cause.remedies:
            action = rules.actions[name]
            if action.proof is None:
                continue
            gaps = [
                distance(rules.rows[cause.id, f], rules.findings[f].background)
                for f in rules.actions[action.proof].reveals
                if (cause.id, f) in rules.rows
            ]
            if max(gaps, default=0.0) < PROVES:
                yield Found(
                    view.at(action, "proof"),
                    f"{action.proof!r} shows nothing by which one could tell that {name!r} "
                    f"has cured {cause.id!r} ({max(gaps, default=0.0):.2f} from the background)",
                    "name a check that this cause moves, or give the cause a remedy of its own",
                )


def row_below_background(view: RulesSeen) -> Iterator[Found]:
    """Answers that a row lists are taken to be what the cause shows, so one should be likelier.

    Left alone where `row_says_nothing` leaves rows alone. A single number lists both answers.
    """
    for item in _rows(view):
        if isinstance(item.row, float) or item.refines or item.finding.kind == "cure_test":
            continue
        if all(p <= item.finding.background[a] for a, p in item.row.items()):
            yield Found(
                view.at(item.owner, "shows", item.finding.id),
                f"every answer that {item.owner.id!r} lists for {item.finding.id!r} is at or "
                "below the background, so each of them counts against it",
                "list the answers that it makes likelier, or remove the row",
            )


def background_above_causes(view: RulesSeen) -> Iterator[Found]:
    """A finding whose unusual answers no cause makes likelier can only ever speak for health."""
    for finding in view.rules.findings.values():
        rows = [row for (_, name), row in view.rules.rows.items() if name == finding.id]
        usual = max(finding.background, key=finding.background.__getitem__)
        unusual = [(a, rate) for a, rate in finding.background.items() if a != usual]
        if rows and all(row[a] <= rate for row in rows for a, rate in unusual):
            yield Found(
                view.at(finding, "background"),
                f"the background of {finding.id!r} gives each unusual answer at least what any "
                "cause gives it",
                "lower it, or raise the rows of the causes that show it",
            )


def cure_test_gap(view: RulesSeen) -> Iterator[Found]:
    """Chances to go away multiply over the causes that have a row; one without counts as gone.

    So the other causes of the complaints that a test is meant for (those that most of the causes
    it relieves raise) need rows, if only to say that they stay.
    """
    for finding in view.rules.findings.values():
        if finding.kind != "cure_test":
            continue
        gone = next(iter(finding.answers))
        rows = {c: row for (c, name), row in view.rules.rows.items() if name == finding.id}
        relieved = [view.rules.causes[c] for c, row in rows.items() if row[gone] >= 0.5]
        meant = [
            complaint
            for complaint in view.rules.complaints
            if 2 * sum(_bears(cause, complaint) for cause in relieved) > len(relieved)
        ]
        for cause in view.rules.causes.values():
            borne = [complaint for complaint in meant if _bears(cause, complaint)]
            if borne and cause.id not in rows:
                yield Found(
                    view.at(cause, "shows"),
                    f"{cause.id!r} can be behind {borne[0]!r} and has no row for the cure test "
                    f"{finding.id!r}, so it would seem cured with any other cause",
                    f"say how likely {gone!r} is while it is there, in a mechanism if it can be",
                )


def _bears(cause: model.Cause, complaint: str) -> bool:
    return cause.complaints.get(complaint, 0.0) >= BEARS


FILLER = re.compile(
    r"(?i)\W*|\W*(n/?a|none|unknown|source|x+)\W*|.*(\b(todo|tbd|fixme|xxx)\b|\?\?).*", re.DOTALL
)


def source_missing(view: RulesSeen) -> Iterator[Found]:
    """Every entry says where it comes from, if only `judgement`."""
    for kind, entry in sourced(view.rules):
        if FILLER.fullmatch(entry.source):
            yield Found(
                view.at(entry) if kind == SETTINGS else view.at(entry, "source"),
                f"the source of {entry.id!r} is no source: {entry.source!r}",
                "cite one, or write `common practice, no source` or `judgement`",
            )


SENSE: tuple[Check, ...] = (
    causes_not_told_apart,
    told_apart_outside_only,
    row_says_nothing,
    proof_tells_nothing,
    row_below_background,
    background_above_causes,
    cure_test_gap,
    source_missing,
)
