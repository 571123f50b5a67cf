"""What is suspicious about a rule base, in layers that can be run one by one.

style         how the files are written: order of keys, spaces, length, unwanted words
schema        every entry has its keys, and they hold what they should (as loading sees it)
references    what one entry says of another exists there (as loading sees it)
reachability  nothing stands there that no complaint, check or remedy leads to
sense         rows that say nothing, causes nobody can tell apart, steps without their caution

A check is a small function that yields what it found; its name is the remark's name. To add one,
write it and put it into the tuple of its layer.
"""

import itertools
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path

from pydantic import BaseModel

from troubleshoot.errors import UserError
from troubleshoot.knowledge import model
from troubleshoot.knowledge.derivation import Derivation
from troubleshoot.knowledge.effects import EFFECTS, WITH, Effect, by_state, by_text
from troubleshoot.knowledge.load import DERIVATIONS, KINDS, SETTINGS, Loaded, load_with_places
from troubleshoot.knowledge.rows import complete
from troubleshoot.strict_yaml import Document, Where, read

LAYERS = ("style", "schema", "references", "reachability", "sense")

MAX_LINE = 200  # characters
MAX_FILE = 400  # lines
MAX_ID = 50  # characters
SEPARATES = 0.3  # total variation from which one finding tells two causes apart
BEARS = 0.3  # strength from which a cause of a complaint is no bystander to it
SAYS_SOMETHING = 0.05  # total variation to the background from which a row is worth its line


@dataclass(frozen=True, order=True)
class Spot:
    """Where a remark belongs; `line` is 1-based, 0 when no line can be named."""

    file: str
    line: int
    key: str = ""

    def __str__(self) -> str:
        line = f", line {self.line}" if self.line else ""
        return self.file + line + (f", key {self.key}" if self.key else "")


@dataclass(frozen=True, order=True)
class Found:
    """What a check yields: where, what is wrong, and what to do about it."""

    place: Spot
    message: str
    remedy: str


@dataclass(frozen=True, order=True)
class Remark:
    """One thing worth mending: the layer and name of the check, and what it found."""

    layer: str
    name: str
    place: Spot
    message: str
    remedy: str


@dataclass(frozen=True)
class Page:
    """One file of rules, as text and as what it says."""

    text: str
    document: Document

    def at(self, line: int) -> Spot:
        """A whole line of the file."""
        return Spot(self.document.path, line)

    def key(self, *where: str | int) -> Spot:
        """A key of the file."""
        return _spot(self.document, where)


Mention = model.Entry | Derivation
StyleCheck = Callable[[Page], Iterator[Found]]


@dataclass(frozen=True)
class View:
    """A loaded rule base and where its entries stand."""

    loaded: Loaded

    @property
    def rules(self) -> model.RuleBase:
        """The rule base."""
        return self.loaded.rules

    def at(self, entry: Mention, *key: str | int) -> Spot:
        """The place of an entry, or of a key in it."""
        place = self.loaded.places[_kind(entry), entry.id]
        return _spot(place.document, (*place.where, *key))

    def derived(self, kind: str) -> set[str]:
        """The names that some derivation concludes of `kind`."""
        return {c.name for d in self.rules.derivations.values() for c in d.then if c.kind == kind}

    def revealed(self, finding: str) -> bool:
        """Whether anything can ever answer this finding."""
        return bool(self.rules.revealed_by[finding]) or finding in self.derived("finding")


Check = Callable[[View], Iterator[Found]]


def _spot(document: Document, where: Where) -> Spot:
    return Spot(document.path, document.line(where), ".".join(str(part) for part in where))


def _kind(entry: Mention) -> str:
    if isinstance(entry, model.Action):
        return "checks" if entry.kind == "check" else "remedies"
    if isinstance(entry, Derivation):
        return DERIVATIONS
    if isinstance(entry, model.Settings):
        return SETTINGS
    return next(kind for kind, cls in KINDS.items() if isinstance(entry, cls))


def _distance(p: Mapping[str, float], q: Mapping[str, float]) -> float:
    """Total variation: half the sum of absolute differences, 0 (equal) to 1 (never the same)."""
    return sum(abs(p[a] - q[a]) for a in p) / 2


# --- style ----------------------------------------------------------------------------------------

PARTS: Mapping[str, type[BaseModel]] = {
    "quantity": model.Quantity,
    "minutes": model.Minutes,
    "today": model.Today,
}


def _written(page: Page) -> Iterator[tuple[Where, dict[str, object], list[str]]]:
    """Place and content of everything written as keys with values, and the keys it may have."""
    data = page.document.data if isinstance(page.document.data, dict) else {}
    for kind, members in data.items():
        named: dict[str, object] = members if isinstance(members, dict) else {}
        if kind == SETTINGS:
            yield (kind,), named, list(model.Settings.model_fields)
            continue
        keys = [f.name for f in fields(Derivation)]
        if kind in KINDS:
            keys = list(KINDS[kind].model_fields)
        for name, entry in named.items():
            if not isinstance(entry, dict):
                continue
            yield (kind, name), entry, keys
            for part, cls in PARTS.items():
                if isinstance(entry.get(part), dict):
                    yield (kind, name, part), entry[part], list(cls.model_fields)


def key_order(page: Page) -> Iterator[Found]:
    """Keys in one fixed order are found at once, whoever wrote the file."""
    for where, entry, keys in _written(page):
        here = [key for key in entry if key in keys]
        wanted = sorted(here, key=keys.index)
        wrong = [key for key, right in zip(here, wanted, strict=True) if key != right]
        if wrong:
            yield Found(
                page.key(*where, wrong[0]),
                f"the key {wrong[0]!r} stands out of order",
                f"use the order {', '.join(wanted)}",
            )


def plain_id(page: Page) -> Iterator[Found]:
    """An ID is typed, read aloud and printed in narrow columns."""
    for where, _, _ in _written(page):
        name = str(where[-1])
        if len(where) == 2 and (
            len(name) > MAX_ID or not re.fullmatch(r"[a-z][a-z0-9]*(_[a-z0-9]+)*", name)
        ):
            yield Found(
                page.key(*where),
                f"the ID {name!r} is long or odd",
                f"use small letters and digits joined by single underscores, {MAX_ID} at most",
            )


def _lines(page: Page) -> Iterator[tuple[Spot, str]]:
    for number, line in enumerate(page.text.split("\n"), start=1):
        yield page.at(number), line


def trailing_space(page: Page) -> Iterator[Found]:
    """Invisible, and every editor shows it as a change (carriage returns are meant too)."""
    for spot, line in _lines(page):
        if line != line.rstrip():
            yield Found(spot, "spaces at the end of the line", "remove them")


def tab(page: Page) -> Iterator[Found]:
    """YAML cannot be indented by tabs, and nobody sees the difference."""
    for spot, line in _lines(page):
        if "\t" in line:
            yield Found(spot, "a tab", "use spaces")


def long_line(page: Page) -> Iterator[Found]:
    """What does not fit a screen is not read."""
    for spot, line in _lines(page):
        if len(line) > MAX_LINE:
            yield Found(spot, f"{len(line)} characters in a line", f"break it at {MAX_LINE}")


def long_file(page: Page) -> Iterator[Found]:
    """A file should be one subject."""
    count = page.text.count("\n")
    if count > MAX_FILE:
        yield Found(page.at(count), f"{count} lines in a file", f"split it at {MAX_FILE} or less")


def last_newline(page: Page) -> Iterator[Found]:
    """Without it the last line and whatever is added later run together in listings."""
    if not page.text.endswith("\n") or page.text.endswith("\n\n"):
        yield Found(page.at(page.text.count("\n") + 1), "the file's end", "end with one newline")


STYLE: tuple[StyleCheck, ...] = (
    key_order,
    plain_id,
    trailing_space,
    tab,
    long_line,
    long_file,
    last_newline,
)


def unwanted_word(page: Page, words: Iterable[str]) -> Iterator[Found]:
    """Any of `words` as a whole word, in text, IDs or comments, also across a line break."""
    for word in words:
        pattern = r"\s+".join(map(re.escape, word.split()))
        for hit in re.finditer(rf"(?<![^\W_]){pattern}(?![^\W_])", page.text, re.IGNORECASE):
            line = page.text.count("\n", 0, hit.start()) + 1
            yield Found(page.at(line), f"the word {word!r}", "say it in other words")


def read_words(path: Path) -> tuple[str, ...]:
    """Words or phrases, one a line; empty lines and lines from # on are skipped.

    Raises `UserError` when the file cannot be read or holds no word.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError):
        raise UserError(
            f"{path} cannot be read as UTF-8 text: name a file with one word a line."
        ) from None
    words = tuple(line.strip() for line in text.splitlines() if line.strip()[:1] not in ("", "#"))
    if not words:
        raise UserError(f"{path} holds no word: write one a line.")
    return words


# --- reachability ---------------------------------------------------------------------------------


def complaint_without_cause(view: View) -> Iterator[Found]:
    """A complaint that no cause can explain ends in "not in this rule base" at once."""
    raised = {name for cause in view.rules.causes.values() for name in cause.complaints}
    for complaint in view.rules.complaints.values():
        if complaint.id not in raised:
            yield Found(
                view.at(complaint),
                f"no cause raises the complaint {complaint.id!r}",
                "give some cause a strength for it, or remove it",
            )


def cause_unreached(view: View) -> Iterator[Found]:
    """A cause is only ever considered for the complaints that it names."""
    for cause in view.rules.causes.values():
        if not cause.complaints:
            yield Found(
                view.at(cause, "complaints"),
                f"no complaint leads to the cause {cause.id!r}",
                "name a complaint with its strength, or remove the cause",
            )


def finding_unrevealed(view: View) -> Iterator[Found]:
    """What no action reveals and no derivation concludes can never be answered."""
    for finding in view.rules.findings.values():
        if not view.revealed(finding.id):
            yield Found(
                view.at(finding),
                f"nothing reveals the finding {finding.id!r}",
                "let a check reveal it, or remove it",
            )


def finding_unspoken(view: View) -> Iterator[Found]:
    """A finding on which no cause has a say only costs time."""
    spoken = {finding for _, finding in view.rules.rows}
    for finding in view.rules.findings.values():
        if finding.id not in spoken:
            yield Found(
                view.at(finding),
                f"no cause has a say on the finding {finding.id!r}",
                "give a cause or a mechanism a row for it, or remove it",
            )


def action_idle(view: View) -> Iterator[Found]:
    """An action that reveals nothing and cures nothing is never worth a minute."""
    for action in view.rules.actions.values():
        if not action.reveals and not action.cures:
            yield Found(
                view.at(action),
                f"{action.id!r} reveals nothing and cures nothing",
                "name what it reveals or cures, or remove it",
            )


def remedy_unnamed(view: View) -> Iterator[Found]:
    """A remedy that stands under no cause appears on no cause's page."""
    named = {name for cause in view.rules.causes.values() for name in cause.remedies}
    for action in view.rules.actions.values():
        if action.kind == "remedy" and action.id not in named:
            yield Found(
                view.at(action),
                f"no cause names the remedy {action.id!r}",
                "put it under the `remedies` of a cause, or remove it",
            )


def cause_without_remedy(view: View) -> Iterator[Found]:
    """To name a cause and offer nothing helps nobody."""
    for cause in view.rules.causes.values():
        if not cause.remedies:
            yield Found(
                view.at(cause, "remedies"),
                f"the cause {cause.id!r} has no remedy",
                "name one (a call to service is one)",
            )


def remedy_does_not_cure(view: View) -> Iterator[Found]:
    """A cause's remedy has to say with which probability it cures that cause."""
    for cause in view.rules.causes.values():
        for n, name in enumerate(cause.remedies):
            if cause.id not in view.rules.actions[name].cures:
                yield Found(
                    view.at(cause, "remedies", n),
                    f"{name!r} is a remedy for {cause.id!r} and does not say that it cures it",
                    f"add {cause.id!r} to its `cures`, or take it off the list",
                )


def remedy_without_proof(view: View) -> Iterator[Found]:
    """Nothing is mended before it is shown to be."""
    named = {name for cause in view.rules.causes.values() for name in cause.remedies}
    for name in sorted(named):
        if view.rules.actions[name].proof is None:
            yield Found(
                view.at(view.rules.actions[name]),
                f"nothing proves that {name!r} has helped",
                "name the check that does under `proof`",
            )


def mechanism_unused(view: View) -> Iterator[Found]:
    """A mechanism that no cause has and no mechanism builds on."""
    used = {name for cause in view.rules.causes.values() for name in cause.mechanisms}
    used |= {m.like for m in view.rules.mechanisms.values() if m.like}
    for mechanism in view.rules.mechanisms.values():
        if mechanism.id not in used:
            yield Found(
                view.at(mechanism),
                f"no cause works by the mechanism {mechanism.id!r}",
                "name it under a cause, or remove it",
            )


def caution_unused(view: View) -> Iterator[Found]:
    """A caution that nothing brings into force warns nobody."""
    used = {name for action in view.rules.actions.values() for name in action.hazards}
    used |= {sign.caution for sign in view.rules.signs.values()} | view.derived("caution")
    for caution in view.rules.cautions.values():
        if caution.id not in used:
            yield Found(
                view.at(caution),
                f"nothing brings the caution {caution.id!r} into force",
                "name it under an action's `hazards`, a sign or a derivation, or remove it",
            )


def group_unused(view: View) -> Iterator[Found]:
    """A mistake that spoils nothing which can be answered."""
    for group in view.rules.groups.values():
        if not any(map(view.revealed, group.findings)):
            yield Found(
                view.at(group),
                f"the group {group.id!r} holds no finding that can be answered",
                "name the findings that the mistake spoils, or remove the group",
            )


def sign_without_effect(view: View) -> Iterator[Found]:
    """A danger sign is asked first of all, so it has to change something."""
    read_by = {c.name for d in view.rules.derivations.values() for c in d.when if c.kind == "sign"}
    for sign in view.rules.signs.values():
        if sign.id not in read_by and not view.rules.cautions[sign.caution].stop_now:
            yield Found(
                view.at(sign),
                f"the sign {sign.id!r} stops nothing and no derivation reads it",
                "let its caution `stop_now`, or ask it as a finding",
            )


def drawing_unused(view: View) -> Iterator[Found]:
    """A drawing that no answer shows."""
    shown = {file for finding in view.rules.findings.values() for file in finding.drawings.values()}
    for name, path in view.loaded.drawings.items():
        if name not in shown:
            yield Found(
                Spot(str(path), 0),
                f"no finding shows the drawing {name!r}",
                "name it under the `drawings` of a finding, or remove it",
            )


REACHABILITY: tuple[Check, ...] = (
    complaint_without_cause,
    cause_unreached,
    finding_unrevealed,
    finding_unspoken,
    action_idle,
    remedy_unnamed,
    cause_without_remedy,
    remedy_does_not_cure,
    remedy_without_proof,
    mechanism_unused,
    caution_unused,
    group_unused,
    sign_without_effect,
    drawing_unused,
)


# --- sense ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class WrittenRow:
    """A row as it stands in a file, and whether it refines one that is inherited."""

    owner: model.Mechanism | model.Cause
    finding: model.Finding
    row: model.Row
    refines: bool


def _rows(view: View) -> Iterator[WrittenRow]:
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


def causes_not_told_apart(view: View) -> Iterator[Found]:
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


def _contrasts(view: View, a: str, b: str) -> Iterator[tuple[float, str]]:
    """How far each finding separates two causes; where one has no say it shows the background."""
    for finding in view.rules.findings.values():
        rows = [view.rules.rows.get((cause, finding.id), finding.background) for cause in (a, b)]
        if view.revealed(finding.id) and rows[0] is not rows[1]:
            yield _distance(rows[0], rows[1]), finding.id


def row_says_nothing(view: View) -> Iterator[Found]:
    """A row that is the background again is padding.

    Left alone where it takes an inherited row back to the background, and in cure tests: there a
    row near zero says that the cause would not have gone away, which no background says.
    """
    for item in _rows(view):
        gap = _distance(complete(item.finding, item.row), item.finding.background)
        if gap < SAYS_SOMETHING and not item.refines and item.finding.kind != "cure_test":
            yield Found(
                view.at(item.owner, "shows", item.finding.id),
                f"{item.owner.id!r} says nothing of {item.finding.id!r} that the background does "
                f"not ({gap:.2f} apart)",
                "remove the row",
            )


def row_below_background(view: View) -> Iterator[Found]:
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


def background_above_causes(view: View) -> Iterator[Found]:
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


def cure_test_gap(view: View) -> Iterator[Found]:
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


@dataclass(frozen=True)
class Hazard:
    """What an action's state or words give away, and the cautions of which one has to be named."""

    what: str
    cautions: frozenset[str]
    words: str = ""
    states: frozenset[str] = frozenset()


def _hazard(what: str, cautions: str, words: str = "", states: str = "") -> Hazard:
    return Hazard(what, frozenset(cautions.split()), words, frozenset(states.split()))


# Words are regular expressions. They live here and not in the rules, so that a folder of rules
# cannot switch off the check of its own cautions. A sentence that forbids a thing does not do it.
HAZARDS = (
    _hazard(
        "a discharge under high voltage",
        "high_voltage",
        r"\bdemand\b|\bhigh voltage (demanded|on)\b",
        states="coating",
    ),
    _hazard("work with the mains plug out", "lock_out", states="unplugged"),
    _hazard("a pump at standstill", "oil_suck_back", states="pump_off"),
    _hazard(
        "a solvent",
        "solvents wet_paint",
        r"\b(isopropanol|acetone|ethanol|alcohol|solvents?)\b",
    ),
    _hazard("glass under vacuum", "glass_under_vacuum", r"\bguard (stays |is )?(on|in place)\b"),
    _hazard("pump oil", "used_pump_oil", r"\b(drain|flush) [^.]*\b(oil|pump|can)\b"),
    _hazard(
        "a gas cylinder",
        "compressed_gas argon_in_room argon_overpressure regulator_creep",
        r"\b(open|change|move|undo) the (argon )?(cylinder|regulator)\b",
    ),
    _hazard("a hot pump", "hot_pump", r"\bhand near the pump\b|\bpump (is |until it is )?hot\b"),
    _hazard("metal dust", "metal_dust", r"\b(wipe|lift|take|brush)\b[^.]*\bflakes\b"),
    _hazard("heat", "hot_specimen", r"\b(warm|heat) it\b|\boven\b"),
    _hazard("a heavy load", "manual_handling", r"\b(carry|lift) the (pump|cylinder)\b"),
)


def hazard_without_caution(view: View) -> Iterator[Found]:
    """What is dangerous has to name its caution."""
    for action in view.rules.actions.values():
        for hazard in HAZARDS:
            if _runs_into(action, hazard) and not hazard.cautions & set(action.hazards):
                yield Found(
                    view.at(action),
                    f"{action.id!r} means {hazard.what} and names no caution for it",
                    f"add {' or '.join(sorted(hazard.cautions))} to its `hazards`",
                )


def _runs_into(action: model.Action, hazard: Hazard) -> bool:
    return action.state in hazard.states or bool(hazard.words and _says(action, hazard.words))


def _says(action: model.Action, words: str) -> bool:
    """Whether a sentence of the action tells one to do it (and does not forbid it)."""
    sentences = re.split(r"[.;!?]\s", " ".join([action.say, *action.steps]))
    for sentence in sentences:
        hit = re.search(words, sentence, re.IGNORECASE)
        forbids = r"\b(no|not|never|without|nor)\b"
        if hit and not re.search(forbids, sentence[: hit.start()], re.IGNORECASE):
            return True
    return False


Doing = model.Action | model.Workaround


def _doings(view: View) -> Iterator[Doing]:
    yield from view.rules.actions.values()
    yield from view.rules.workarounds.values()


def _given_away(doing: Doing) -> frozenset[Effect]:
    """What text and machine state give away of what it does; in the microscope nothing."""
    if isinstance(doing, model.Action):
        if doing.state == "in_sem" and doing.leaves is None:
            return frozenset()
        return by_text([doing.say, *doing.steps]) | by_state(doing.state, doing.leaves)
    return by_text(doing.steps)


def effect_not_declared(view: View) -> Iterator[Found]:
    """Cautions ban by what an action declares that it does, so nothing may be missing there."""
    for doing in _doings(view):
        missing = _given_away(doing) - doing.effects - set(doing.spoken_of)
        for word in sorted(missing):
            if not any(word in WITH.get(other, ()) for other in missing):
                yield Found(
                    view.at(doing),
                    f"the text of {doing.id!r} sounds as if {EFFECTS[word]}, undeclared",
                    f"add {word!r} to its `does`, or the reason why not to `spoken_of`",
                )


def effect_declared_twice(view: View) -> Iterator[Found]:
    """A word that follows from another, or from the machine state, only hides what matters."""
    for doing in _doings(view):
        states = by_state(doing.state, doing.leaves) if isinstance(doing, model.Action) else ()
        for word in doing.does:
            if word in states or any(word in WITH.get(other, ()) for other in doing.does):
                yield Found(
                    view.at(doing, "does"),
                    f"{word!r} of {doing.id!r} follows from the rest",
                    "leave it out",
                )


def spoken_of_in_vain(view: View) -> Iterator[Found]:
    """An exception that nothing needs would hide a declaration that is missing later."""
    for doing in _doings(view):
        for word in doing.spoken_of:
            if word in doing.effects or word not in _given_away(doing):
                yield Found(
                    view.at(doing, "spoken_of", word),
                    f"nothing in {doing.id!r} needs the exception {word!r}",
                    "remove it",
                )


BRINGS: Mapping[Effect, frozenset[str]] = {
    "discharge": frozenset({"high_voltage"}),
    "under_vacuum": frozenset({"glass_under_vacuum"}),
    "guard_off": frozenset({"lock_out", "high_voltage", "damaged_glass", "glass_under_vacuum"}),
    "presses_glass": frozenset({"glass_under_vacuum", "damaged_glass"}),
}


def effect_without_caution(view: View) -> Iterator[Found]:
    """What is done to the machine brings its hazard with it."""
    for doing in _doings(view):
        for word, cautions in BRINGS.items():
            there = cautions & set(view.rules.cautions)
            if word in doing.effects and there and not there & set(doing.hazards):
                yield Found(
                    view.at(doing),
                    f"{doing.id!r} means that {EFFECTS[word]} and names no caution for it",
                    f"add {' or '.join(sorted(there))} to its `hazards`",
                )


def stop_without_ban(view: View) -> Iterator[Found]:
    """What stops everything has to forbid something afterwards, or "made safe" re-opens it all."""
    for caution in view.rules.cautions.values():
        if caution.stop_now and not caution.bans:
            yield Found(
                view.at(caution),
                f"the caution {caution.id!r} stops everything and bans nothing afterwards",
                "name under `bans` what must not be done before it is repaired and proved",
            )


FILLER = re.compile(
    r"(?i)\W*|\W*(n/?a|none|unknown|source|x+)\W*|.*(\b(todo|tbd|fixme|xxx)\b|\?\?).*", re.DOTALL
)


def source_missing(view: View) -> Iterator[Found]:
    """Every entry says where it comes from, if only `judgement`."""
    rules = view.rules
    pools: list[Mapping[str, Mention]] = [
        *(getattr(rules, kind) for kind in KINDS if kind not in ("checks", "remedies")),
        rules.actions,
        rules.derivations,
        {"settings": rules.settings},
    ]
    for entry in itertools.chain.from_iterable(pool.values() for pool in pools):
        if FILLER.fullmatch(entry.source):
            yield Found(
                view.at(entry) if entry is rules.settings else view.at(entry, "source"),
                f"the source of {entry.id!r} is no source: {entry.source!r}",
                "cite one, or write `common practice, no source` or `judgement`",
            )


def plug_out_for_student(view: View) -> Iterator[Found]:
    """With the plug out one mends the machine itself: not a student's job alone (to look is)."""
    for action in view.rules.actions.values():
        if action.kind == "remedy" and action.state == "unplugged" and action.role == "student":
            yield Found(
                view.at(action),
                f"{action.id!r} needs the mains plug out and is given to a student",
                "give it the role `experienced` or higher",
            )


COVER = (
    r"\b(open|take|take off|remove|undo|unscrew|lift) (off )?(a|any|the|its) ([a-z]+ )?"
    r"(cover|cabinet|housing|casing)\b"
)


def cover_for_student(view: View) -> Iterator[Found]:
    """Behind a cover is mains or high voltage."""
    for action in view.rules.actions.values():
        if action.role == "student" and _says(action, COVER):
            yield Found(
                view.at(action, "steps"),
                f"{action.id!r} tells a student to open a cover",
                "give it to `in_charge` or `service`, or leave the cover on",
            )


SENSE: tuple[Check, ...] = (
    causes_not_told_apart,
    row_says_nothing,
    row_below_background,
    background_above_causes,
    cure_test_gap,
    hazard_without_caution,
    effect_not_declared,
    effect_declared_twice,
    spoken_of_in_vain,
    effect_without_caution,
    stop_without_ban,
    source_missing,
    plug_out_for_student,
    cover_for_student,
)


# --- running them ---------------------------------------------------------------------------------

VIEWED: Mapping[str, tuple[Check, ...]] = {"reachability": REACHABILITY, "sense": SENSE}
PLACED = re.compile(r"(?P<file>.+?), line (?P<line>\d+)(?:, key (?P<key>[^:]+))?: (?P<message>.*)")
BROKEN = {
    "schema": "give the entry the keys and values that its kind has",
    "references": "name what exists, or add the entry that is missing",
}


def check(
    folders: Sequence[Path], layers: Iterable[str] = LAYERS, words: Iterable[str] = ()
) -> list[Remark]:
    """The remarks on the last of `folders`, loaded on top of the ones before it.

    Remarks that the ones before it have by themselves are left out. Rules that do not load give
    remarks of the layers schema and references, also when only a later layer was asked for.
    Raises `UserError` when a folder or a file cannot be read at all.
    """
    asked, unwanted = tuple(layers), tuple(words)
    found = _remarks(folders, asked, unwanted)
    if len(folders) > 1:
        known = set(_remarks(folders[:-1], asked, unwanted))
        found = [remark for remark in found if remark not in known]
    return sorted(found)


def _remarks(
    folders: Sequence[Path], layers: tuple[str, ...], words: tuple[str, ...]
) -> list[Remark]:
    pages = [page for folder in folders for page in _pages(folder)]
    out = []
    if "style" in layers:
        out += [_remark("style", c.__name__, f) for c in STYLE for p in pages for f in c(p)]
        out += [
            _remark("style", unwanted_word.__name__, f)
            for page in pages
            for f in unwanted_word(page, words)
        ]
    if not set(layers) - {"style"}:
        return out
    try:
        view = View(load_with_places(folders))
    except UserError as error:
        return out + _load_problems(str(error), str(folders[-1]), layers)
    return out + [
        _remark(layer, c.__name__, found)
        for layer, checks in VIEWED.items()
        if layer in layers
        for c in checks
        for found in c(view)
    ]


def _remark(layer: str, name: str, found: Found) -> Remark:
    return Remark(layer, name, found.place, found.message, found.remedy)


def _pages(folder: Path) -> list[Page]:
    """Every file of `folder`. Raises `UserError` for what is no folder or no readable YAML."""
    if not folder.is_dir():
        raise UserError(f"{folder} is not a folder of rules: name one that holds .yaml files.")
    files = [path for path in sorted(folder.rglob("*.yaml")) if path.is_file()]
    if not files:
        raise UserError(f"{folder} holds no rules: it needs at least one .yaml file.")
    pages = []
    for path in files:
        document = read(path)
        pages.append(Page(path.read_bytes().decode("utf-8-sig"), document))
    return pages


def _load_problems(text: str, folder: str, layers: tuple[str, ...]) -> list[Remark]:
    """What loading complained of, one remark a line, if it stands in the way of a layer asked."""
    reach = max(LAYERS.index(layer) for layer in layers)
    out = []
    for line in text.splitlines():
        hit = PLACED.fullmatch(line)
        place = Spot(hit["file"], int(hit["line"]), hit["key"] or "") if hit else Spot(folder, 0)
        message = (hit["message"] if hit else line).rstrip(".")
        layer = "references" if "does not exist" in message else "schema"
        if LAYERS.index(layer) <= reach:
            name = "unknown_name" if layer == "references" else "does_not_fit"
            out.append(Remark(layer, name, place, message, BROKEN[layer]))
    return out
