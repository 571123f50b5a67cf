"""Read a folder of rules into a `RuleBase`; every error names file, line, key and remedy.

Any file may hold any kinds; a kind is a top-level key whose value maps IDs to entries. One ID
stands once in a folder. A later folder overrides or extends entries of an earlier one
(`knowledge.overlay`), and overrides drawings by file name.
"""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from troubleshoot.coater.fields import FACTS, NUMBERS
from troubleshoot.coater.machine import DERIVED
from troubleshoot.errors import UserError, nearest
from troubleshoot.knowledge import drawings as pictures
from troubleshoot.knowledge import kept, model
from troubleshoot.knowledge.coats import coat_problems
from troubleshoot.knowledge.derivation import Conclusion, Condition, Derivation
from troubleshoot.knowledge.overlay import EXTENDS, Entries, Key, Place, lay
from troubleshoot.regular_file import bytes_of

if TYPE_CHECKING:
    from troubleshoot.strict_yaml import Document, Where

KINDS: dict[str, type[model.RuleEntry]] = {
    "complaints": model.Complaint,
    "findings": model.Finding,
    "presuppositions": model.Presupposition,
    "groups": model.Group,
    "mechanisms": model.Mechanism,
    "causes": model.Cause,
    "checks": model.Action,
    "remedies": model.Action,
    "cautions": model.Caution,
    "signs": model.Sign,
    "circumstances": model.Circumstance,
    "workarounds": model.Workaround,
    "care": model.Care,
    "words": model.Term,
    "lessons": model.Lesson,
    "routine": model.Step,
    "specimens": model.Specimen,
    "coats": model.Coat,
    "stories": model.Story,
    "states": model.MachineState,
    "synonyms": model.Synonyms,
    "phrases": model.Phrases,
}
ACTION_KIND = {"checks": {"kind": "check"}, "remedies": {"kind": "remedy"}}
SETTINGS, DERIVATIONS = "settings", "derivations"
CONDITION_KINDS = (
    "machine",
    "finding",
    "circumstance",
    "state",
    "sign",
    "complaint",
    "role",
    "specimen",
)
CONCLUSION_KINDS = (
    "finding",
    "out_of_reach",
    "caution",
    "contradiction",
    "ask",
)


def shipped() -> Path:
    """The folder of the rules that come with the package (in a checkout: `rules/`)."""
    packed = Path(__file__).parent.parent / "data" / "rules"
    return packed if packed.is_dir() else Path(__file__).parent.parent.parent / "rules"


@dataclass(frozen=True)
class Loaded:
    """The rule base, where each entry and each drawing stands, and what a later folder changed."""

    rules: model.RuleBase
    places: Mapping[Key, Place]
    overridden: tuple[str, ...]
    extended: tuple[str, ...]
    drawings: Mapping[str, Path]


def load(folders: Sequence[Path] | None = None) -> model.RuleBase:
    """The rule base in `folders` (the shipped one by default). Raises `UserError`.

    The shipped rules are read from a copy that was validated before, where there is one.
    """
    if folders is not None:
        return load_with_places(folders).rules
    home = shipped()
    key = kept.key_of([*_files(home, "**/*.yaml"), *_pictures(home)])
    rules = kept.read(key)
    if rules is None:
        rules = load_with_places([home]).rules
        kept.write(key, rules)
    return rules


def load_with_places(folders: Sequence[Path]) -> Loaded:
    """As `load`, with the place of every entry and the lists of what was changed."""
    from troubleshoot.strict_yaml import (
        MAX_BYTES,
        read,
    )  # rules that were checked before need none of it

    entries: Entries = {}
    overridden: set[Key] = set()
    extended: set[Key] = set()
    drawn: dict[str, Path] = {}
    digest = hashlib.sha256()
    for folder in folders:
        if not folder.is_dir():
            raise UserError(f"{folder} is not a folder of rules: name one that holds .yaml files.")
        mine: Entries = {}
        for path in _files(folder, "**/*.yaml"):
            digest.update(bytes_of(path, MAX_BYTES))
            for key, entry in _entries(read(path)):
                if key in mine:
                    raise UserError(
                        f"{entry[1].key()}: {key[1]!r} already stands at "
                        f"{mine[key][1].key()}; give one of them another ID."
                    )
                mine[key] = entry
        entries, replaced, changed = lay(mine, entries)
        overridden.update(replaced)
        extended.update(changed)
        for path in _pictures(folder):
            digest.update(bytes_of(path, MAX_BYTES))
            drawn[path.name] = path
    if not entries:
        raise UserError(f"{folders[0]} holds no rules: it needs at least one .yaml file.")
    markup = {name: pictures.read_drawing(path) for name, path in drawn.items()}
    rules = _build(entries, markup, digest.hexdigest()[:12])
    places = {key: place for key, (_, place) in entries.items()}
    _check_references(rules, places)
    return Loaded(rules, places, _names(overridden), _names(extended), drawn)


def _names(keys: Iterable[Key]) -> tuple[str, ...]:
    return tuple(f"{kind}.{name}" for kind, name in sorted(keys))


def _pictures(folder: Path) -> list[Path]:
    """The files of pictures in `folder`."""
    return [p for kind in pictures.KINDS for p in _files(folder, f"{pictures.FOLDER}/*.{kind}")]


def _files(folder: Path, pattern: str) -> list[Path]:
    """The files of `folder`; none of them may lead out of it (by a symbolic link)."""
    root = folder.resolve()
    files = [p for p in sorted(folder.glob(pattern)) if p.is_file()]
    outside = {p for p in {f.parent for f in files} if not p.resolve().is_relative_to(root)}
    for path in files:
        linked = path.is_symlink() and not path.resolve().is_relative_to(root)
        if linked or path.parent in outside:
            raise UserError(f"{path} points outside {folder}: rules may not leave their folder.")
    return files


def _entries(document: "Document") -> Iterable[tuple[tuple[str, str], tuple[Any, Place]]]:
    if not isinstance(document.data, dict):
        raise UserError(f"{document.path}: the top level must be kinds (causes:, findings: ...).")
    kinds = [*KINDS, SETTINGS, DERIVATIONS]
    for kind, members in document.data.items():
        if kind not in kinds:
            raise UserError(f"{document.place((kind,))}: unknown kind{nearest(kind, kinds)}.")
        if kind == SETTINGS:
            yield (SETTINGS, SETTINGS), (members, Place(document, (kind,)))
            continue
        if not isinstance(members, dict):
            raise UserError(f"{document.place((kind,))}: IDs with their entries are needed here.")
        for name, entry in members.items():
            yield (kind, name), (entry, Place(document, (kind, name)))


def _build(entries: Entries, drawings: Mapping[str, str], digest: str) -> model.RuleBase:
    from pydantic import ValidationError  # rules that were checked before need none of it

    built: dict[str, dict[str, Any]] = {kind: {} for kind in (*KINDS, DERIVATIONS)}
    problems: list[str] = []
    settings = None
    for (kind, name), (entry, place) in entries.items():
        if not isinstance(entry, dict):
            problems.append(f"{place.key()}: keys with values are needed here.")
            continue
        if "id" in entry:
            problems.append(f"{place.key('id')}: the ID is the key above; leave `id` out.")
            continue
        try:
            if kind == SETTINGS:
                settings = model.Settings.model_validate(_numbers({"id": "settings", **entry}))
            elif kind == DERIVATIONS:
                built[kind][name] = _derivation(name, entry, place)
            else:
                built[kind][name] = KINDS[kind].model_validate(
                    _numbers({"id": name, **entry, **ACTION_KIND.get(kind, {})})
                )
        except ValidationError as error:
            problems += [_say(item, kind, entry, place) for item in error.errors()]
    if settings is None and not problems:
        problems.append("the rules hold no `settings:`; add them once (see rules/settings.yaml).")
    if problems:
        raise UserError("\n".join(dict.fromkeys(problems)))
    checks, remedies = built.pop("checks"), built.pop("remedies")
    for name in sorted(set(checks) & set(remedies)):
        place = entries["remedies", name][1]
        raise UserError(f"{place.key()}: {name!r} is a check already; give one another ID.")
    actions = {**checks, **remedies}
    built["causes"] = _with_own_cures(built["causes"], actions, entries)
    assert settings is not None
    return model.RuleBase(
        hash=digest, actions=actions, settings=settings, drawings=drawings, **built
    )


def _with_own_cures(
    causes: Mapping[str, model.Cause], actions: dict[str, model.Action], entries: Entries
) -> dict[str, model.Cause]:
    """Put what causes say under `cured_by` into the `cures` of `actions`; the causes are returned.

    What cures a cause is a remedy of it, after those that it lists. Raises `UserError` where an
    action says itself that it cures the cause.
    """
    out = {}
    for cause in causes.values():
        remedies = list(dict.fromkeys([*cause.remedies, *cause.cured_by]))
        out[cause.id] = cause.model_copy(update={"remedies": remedies})
        for name, p in cause.cured_by.items():
            if name not in actions:
                continue  # told with all other names that do not exist
            action = actions[name]
            if cause.id in action.cures:
                place = entries["causes", cause.id][1].key("cured_by", name)
                raise UserError(
                    f"{place}: {name!r} says itself, under `cures`, that it cures {cause.id!r}; "
                    "say it in one of the two places."
                )
            actions[name] = action.model_copy(update={"cures": {**action.cures, cause.id: p}})
    return out


def _say(item: Any, kind: str, entry: Any, place: Place) -> str:
    """One validation error as a sentence with its place."""
    last, message = str(item["loc"][-1]), item["msg"]
    if item["type"] == "unexpected_keyword_argument":
        keys = [f.name for f in fields(KINDS.get(kind, model.Settings)) if f.name != "id"]
        message = f"unknown key {last!r}{nearest(last, [*keys, EXTENDS])}"
    elif item["type"] == "missing":
        message = f"the key {last!r} is missing"
    return f"{place.key(*_reached(entry, list(item['loc'])))}: {message}."


def _reached(entry: Any, loc: list[Any]) -> list[str | int]:
    """The part of a validation path that stands in the file."""
    out: list[str | int] = []
    for part in loc:
        in_list = isinstance(entry, list) and isinstance(part, int) and part < len(entry)
        if not in_list and not (isinstance(entry, dict) and part in entry):
            break
        entry = entry[part]
        out.append(part)
    return out


def _numbers(value: Any) -> Any:
    """Whole numbers as floats: strict validation tells them apart, a person does not."""
    if isinstance(value, dict):
        return {k: _numbers(v) for k, v in value.items()}
    if isinstance(value, list):
        return [_numbers(v) for v in value]
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


def _derivation(name: str, entry: Mapping[str, Any], place: Place) -> Derivation:
    keys = ("when", "then", "because", "source")
    for key in entry:
        if key not in keys:
            raise UserError(f"{place.key(key)}: unknown key{nearest(key, keys)}.")
    for key in keys:
        if not entry.get(key):
            raise UserError(f"{place.key()}: the key {key!r} is missing.")
    if not isinstance(entry["when"], list) or not isinstance(entry["then"], list):
        raise UserError(f"{place.key()}: `when` and `then` are lists of conditions.")
    conditions = tuple(_condition(item, place, ("when", n)) for n, item in enumerate(entry["when"]))
    conclusions = tuple(
        _conclusion(item, place, ("then", n)) for n, item in enumerate(entry["then"])
    )
    return Derivation(name, conditions, conclusions, str(entry["because"]), str(entry["source"]))


def _condition(item: Any, place: Place, where: "Where") -> Condition:
    kind = _one_kind(item, CONDITION_KINDS, {"is", "same_epoch_as", "same_value_as"}, place, where)
    values = item.get("is", [])
    values = tuple(values) if isinstance(values, list) else (values,)
    if not all(isinstance(v, str) for v in values):
        raise UserError(f"{place.key(*where)}: `is` takes text; put numbers in quotes.")
    return Condition(kind, item[kind], values, item.get("same_epoch_as"), item.get("same_value_as"))


def _conclusion(item: Any, place: Place, where: "Where") -> Conclusion:
    kind = _one_kind(item, CONCLUSION_KINDS, {"is"}, place, where)
    if (kind == "finding") != ("is" in item):
        raise UserError(f"{place.key(*where)}: a derived finding, and only that, needs `is`.")
    value = item.get("is", "yes")
    if not isinstance(item[kind], str) or not isinstance(value, str):
        raise UserError(f"{place.key(*where)}: names and `is` take text; put numbers in quotes.")
    return Conclusion(kind, item[kind], value)


def _one_kind(
    item: Any, kinds: tuple[str, ...], others: set[str], place: Place, where: "Where"
) -> str:
    found = [k for k in item if k in kinds] if isinstance(item, dict) else []
    strange = [k for k in item if k not in kinds and k not in others] if found else []
    if len(found) != 1 or strange:
        raise UserError(
            f"{place.key(*where)}: exactly one of {', '.join(kinds)} is needed here, "
            f"with at most {', '.join(sorted(others))} beside it."
        )
    return found[0]


def _check_references(rules: model.RuleBase, places: Mapping[tuple[str, str], Place]) -> None:
    """Everything that one entry says of another must exist there. All problems at once."""
    problems: list[str] = []

    def known(kind: str, name: str, target: str, pool: Iterable[str], *key: str | int) -> bool:
        if target in pool:
            return True
        place = places[kind, name].key(*key)
        problems.append(f"{place}: {target!r} does not exist{nearest(target, pool)}.")
        return False

    def row(kind: str, name: str, finding: str, cells: model.Row, *key: str | int) -> None:
        if not known(kind, name, finding, rules.findings, *key):
            return
        f, place = rules.findings[finding], places[kind, name].key(*key)
        if isinstance(cells, float):
            if list(f.answers) != ["yes", "no"]:
                problems.append(f"{place}: a single number is for yes/no findings only.")
            return
        for answer in cells:
            known(kind, name, answer, f.answers, *key, answer)
        if sum(cells.values()) > 1 + 1e-9:
            problems.append(f"{place}: the answers sum to {sum(cells.values()):g}, above 1.")

    for f in rules.findings.values():
        place = places["findings", f.id].key
        if set(f.background) != set(f.answers) or abs(sum(f.background.values()) - 1) > 1e-6:
            problems.append(f"{place('background')}: every answer once, summing to 1.")
        if f.kind == "yes_no" and list(f.answers) != ["yes", "no"]:
            problems.append(
                f"{place('answers')}: yes_no has exactly `yes` and `no`, in that order."
            )
        if f.kind == "two_sided" and len(f.answers) < 3:
            problems.append(f"{place('answers')}: two_sided needs low, usual and high at least.")
        if f.kind == "cure_test" and len(f.answers) not in (2, 3):
            problems.append(f"{place('answers')}: cure_test has 2 or 3 answers, `gone` first.")
        if f.quantity and (
            len(f.quantity.edges) != len(f.answers) - 1
            or f.quantity.edges != sorted(f.quantity.edges)
        ):
            problems.append(f"{place('quantity')}: rising edges, one fewer than the answers.")
        for field in ("usual", "instead"):
            number = getattr(f.quantity, field, None)
            if number and number not in (*NUMBERS, *DERIVED):
                near = nearest(number, NUMBERS)
                problems.append(f"{place('quantity', field)}: no such number of a machine{near}.")
        for answer in f.looks:
            known("findings", f.id, answer, f.answers, "looks", answer)
        if f.turned:
            for key in ("better", "same"):
                for answer in getattr(f.turned, key):
                    known("findings", f.id, answer, f.answers, "turned", key)
        for answer, file in f.drawings.items():
            known("findings", f.id, answer, f.answers, "drawings", answer)
            if Path(file).name != file:
                problems.append(
                    f"{place('drawings', answer)}: {file!r} is no plain file name; name a file of "
                    f"the folder {pictures.FOLDER!r} beside the rules."
                )
            else:
                known("findings", f.id, file, rules.drawings, "drawings", answer)
        for target in f.replaces:
            known("findings", f.id, target, rules.findings, "replaces")
        for target in f.world:
            known("findings", f.id, target, rules.complaints, "world")
        for target in f.presumes:
            known("findings", f.id, target, rules.presuppositions, "presumes")
        for n, several in enumerate(f.decided_by):
            for target in several:
                known("findings", f.id, target, rules.findings, "decided_by", n)
    grouped: dict[str, str] = {}
    _check_machine_facts(rules, places, problems)
    for g in rules.groups.values():
        for finding in g.findings:
            known("groups", g.id, finding, rules.findings, "findings")
            if finding in grouped:
                problems.append(
                    f"{places['groups', g.id].key()}: {finding!r} is already in the group "
                    f"{grouped[finding]!r}; a finding may be in one group only."
                )
            grouped[finding] = g.id
    for p in rules.presuppositions.values():
        for target in p.needs:
            known("presuppositions", p.id, target, rules.presuppositions, "needs")
            if p.id in _needed(rules, target):
                here = places["presuppositions", p.id].key("needs")
                problems.append(f"{here}: these presuppositions need one another in a circle.")
        for key in ("denied_by", "unless"):
            for n, together in enumerate(getattr(p, key)):
                for name, wanted in together.items():
                    pool: Iterable[str] = rules.complaints
                    if name == "circumstance":
                        pool = rules.circumstances
                    elif name != "complaint":
                        if not known("presuppositions", p.id, name, rules.findings, key, n, name):
                            continue
                        pool = rules.findings[name].answers
                    for target in [wanted] if isinstance(wanted, str) else wanted:
                        known("presuppositions", p.id, target, pool, key, n, name)
    for m in rules.mechanisms.values():
        if m.like is not None and known("mechanisms", m.id, m.like, rules.mechanisms, "like"):
            seen, like = {m.id}, m.like
            while like in rules.mechanisms and like not in seen:
                seen.add(like)
                like = rules.mechanisms[like].like or ""
            if like in seen:
                here = places["mechanisms", m.id].key("like")
                problems.append(f"{here}: these mechanisms are like one another in a circle.")
        for finding, cells in m.shows.items():
            row("mechanisms", m.id, finding, cells, "shows", finding)
    for c in rules.causes.values():
        for target in c.mechanisms:
            known("causes", c.id, target, rules.mechanisms, "mechanisms")
        for target in c.complaints:
            known("causes", c.id, target, rules.complaints, "complaints", target)
        for target in c.cured_by:
            known("causes", c.id, target, rules.actions, "cured_by", target)
        for target in c.remedies:
            if target not in c.cured_by:
                known("causes", c.id, target, rules.actions, "remedies")
        for target in c.alike:
            known("causes", c.id, target, rules.causes, "alike")
        for finding, cells in c.shows.items():
            row("causes", c.id, finding, cells, "shows", finding)
    for a in rules.actions.values():
        kind = "checks" if a.kind == "check" else "remedies"
        for target in a.reveals:
            known(kind, a.id, target, rules.findings, "reveals")
        for target in a.after:
            known(kind, a.id, target, rules.findings, "after")
        for key, pool in (("cures", rules.causes), ("may_cause", rules.causes)):
            for target in getattr(a, key):
                known(kind, a.id, target, pool, key, target)
        for target in a.hazards:
            known(kind, a.id, target, rules.cautions, "hazards")
        if a.proof is not None:
            known(kind, a.id, a.proof, rules.actions, "proof")
    for state in rules.states.values():
        for target in state.to:
            known("states", state.id, target, rules.states, "to", target)
    for s in rules.signs.values():
        known("signs", s.id, s.caution, rules.cautions, "caution")
        for target in s.odds:
            known("signs", s.id, target, rules.causes, "odds", target)
    for k in rules.circumstances.values():
        for target in k.odds:
            known("circumstances", k.id, target, rules.causes, "odds", target)
        for target in k.said_by:
            known("circumstances", k.id, target, rules.findings, "said_by")
        for target in k.complaints:
            known("circumstances", k.id, target, rules.complaints, "complaints")
    for w in rules.workarounds.values():
        for target in w.complaints:
            known("workarounds", w.id, target, rules.complaints, "complaints")
        for target in w.causes:
            known("workarounds", w.id, target, rules.causes, "causes")
        for target in w.hazards:
            known("workarounds", w.id, target, rules.cautions, "hazards")
    for caution in rules.cautions.values():
        for target in caution.repair:
            known("cautions", caution.id, target, rules.actions, "repair")
    problems += coat_problems(rules, places)
    for care in rules.care.values():
        if care.runs is None and care.days is None:
            problems.append(f"{places['care', care.id].key()}: `runs`, `days` or both are needed.")
    for lesson in rules.lessons.values():
        for key, pool in (
            ("checks", rules.actions),
            ("causes", rules.causes),
            ("taken_for", rules.causes),
            ("complaints", rules.complaints),
        ):
            for target in getattr(lesson, key):
                known("lessons", lesson.id, target, pool, key)
    for step in rules.routine.values():
        for target in step.causes:
            known("routine", step.id, target, rules.causes, "causes")
        for target in step.hazards:
            known("routine", step.id, target, rules.cautions, "hazards")
    for story in rules.stories.values():
        known("stories", story.id, story.complaint, rules.complaints, "complaint")
    named: dict[str, Mapping[str, model.RuleEntry]] = {
        "finding": rules.findings,
        "complaint": rules.complaints,
        "sign": rules.signs,
        "circumstance": rules.circumstances,
        "action": rules.actions,
    }
    for phrases in rules.phrases.values():
        known("phrases", phrases.id, phrases.id, named[phrases.of])
        answers = rules.findings[phrases.id].answers if phrases.id in rules.findings else {}
        for answer in phrases.answers:
            known("phrases", phrases.id, answer, answers, "answers", answer)
    _check_derivations(rules, known)
    if problems:
        raise UserError("\n".join(problems))


def _needed(rules: model.RuleBase, name: str) -> set[str]:
    """A presupposition with all that it needs, near and far."""
    out, open_ = set[str](), [name]
    while open_:
        here = open_.pop()
        if here not in out and here in rules.presuppositions:
            out.add(here)
            open_ += rules.presuppositions[here].needs
    return out


def _check_machine_facts(
    rules: model.RuleBase, places: Mapping[tuple[str, str], Place], problems: list[str]
) -> None:
    entries: list[
        tuple[
            str,
            model.Complaint
            | model.Finding
            | model.Cause
            | model.Action
            | model.Workaround
            | model.Caution
            | model.Care
            | model.Step
            | model.Coat,
        ]
    ] = [
        *(("complaints", c) for c in rules.complaints.values()),
        *(("findings", f) for f in rules.findings.values()),
        *(("causes", c) for c in rules.causes.values()),
        *(("cautions", c) for c in rules.cautions.values()),
        *(("care", c) for c in rules.care.values()),
        *(("routine", s) for s in rules.routine.values()),
        *(("coats", c) for c in rules.coats.values()),
        *(("workarounds", w) for w in rules.workarounds.values()),
        *(("checks" if a.kind == "check" else "remedies", a) for a in rules.actions.values()),
    ]
    for kind, entry in entries:
        for key, wanted in entry.machine.items():
            place = places[kind, entry.id].key("machine", key)
            if key not in FACTS:
                near = nearest(key, FACTS) or f"; there are {', '.join(FACTS)}"
                problems.append(f"{place}: no such machine fact{near}.")
                continue
            for value in wanted if isinstance(wanted, list) else [wanted]:
                if value not in FACTS[key].choices:
                    choices = ", ".join(FACTS[key].choices)
                    problems.append(f"{place}: {value!r} is not one of {choices}.")


def _check_derivations(rules: model.RuleBase, known: Any) -> None:
    pools: dict[str, Iterable[str]] = {
        "finding": rules.findings,
        "circumstance": rules.circumstances,
        "sign": rules.signs,
        "complaint": rules.complaints,
        "state": rules.states,
        "machine": FACTS,
        "role": model.ROLES,
        "out_of_reach": rules.actions,
        "caution": rules.cautions,
        "ask": rules.findings,
    }
    for d in rules.derivations.values():
        sides: list[tuple[str, int, Condition | Conclusion]] = [
            *(("when", n, item) for n, item in enumerate(d.when)),
            *(("then", n, item) for n, item in enumerate(d.then)),
        ]
        for side, n, item in sides:
            if item.kind in pools:
                known("derivations", d.id, item.name, pools[item.kind], side, n)
            if item.kind == "finding" and item.name in rules.findings:
                values = item.values if isinstance(item, Condition) else (item.value,)
                for value in values:
                    known("derivations", d.id, value, rules.findings[item.name].answers, side, n)
