"""Entries as they stand in the files, built into a `RuleBase`; each problem with its place."""

from collections.abc import Mapping
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from troubleshoot.errors import UserError, nearest
from troubleshoot.knowledge import model
from troubleshoot.knowledge.derivation import Conclusion, Condition, Derivation
from troubleshoot.knowledge.overlay import EXTENDS, Entries, Place

if TYPE_CHECKING:
    from troubleshoot.strict_yaml import Where

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


def build(entries: Entries, drawings: Mapping[str, str], digest: str) -> model.RuleBase:
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
