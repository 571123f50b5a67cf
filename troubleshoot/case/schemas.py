"""What may be written in a file, as JSON Schema (2020-12), for an editor that completes and checks.

Made from the same types and tables that the readers go by, so it cannot say anything else. A schema
knows names and shapes; what must fit together (a finding and its answer) is the reader's to say.
"""

from collections.abc import Mapping
from dataclasses import Field, fields
from types import UnionType
from typing import Any, get_args, get_origin

from troubleshoot.case import entries
from troubleshoot.case.casefile import ITEMS, READING_KEYS, RENAMED, SPECIMENS
from troubleshoot.coater.fields import ROWS, Fact, Number
from troubleshoot.knowledge.model import RuleBase

Schema = dict[str, Any]
DIALECT = "https://json-schema.org/draft/2020-12/schema"
TEXT: Schema = {"type": ["string", "number", "boolean"]}
TIME: Schema = {"type": "string", "description": "a time, such as 2026-03-02T09:10"}
YES: Schema = {"enum": [True, False, "yes", "no"]}
JSON_TYPES: Mapping[type, Schema] = {
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    float: {"type": "number"},
    dict: {"type": "object"},
    list: {"type": "array"},
}


def machine_schema() -> Schema:
    """A machine profile."""
    keys = {row.key: {"description": row.label, **_of_row(row)} for row in ROWS}
    defaults = _object({row.key: keys[row.key] for row in ROWS})
    return _whole("A machine profile", _object({**keys, "defaults": defaults}))


def _of_row(row: Any) -> Schema:
    if isinstance(row, Fact):
        return {"enum": list(row.choices)}
    if isinstance(row, Number):
        return {**TEXT, "examples": [row.example]}
    return dict(TEXT)


def case_schema(rules: RuleBase) -> Schema:
    """A case file, with the names of these rules."""
    machine = {key: value for key, value in machine_schema().items() if key != "$schema"}
    head: dict[str, Schema] = {
        "name": TEXT,
        "opened": TIME,
        "machine": {"oneOf": [TEXT, machine]},
        "role": _key(entries.Role, "role", rules),
        "specimen": {"enum": list(SPECIMENS)},
        "specimen_kind": _key(entries.Specimen, "what", rules),
        "state": _key(entries.State, "state", rules),
        "signs": _list(_key(entries.Sign, "sign", rules)),
        "complaint": _key(entries.Complaint, "complaint", rules),
        "words": TEXT,
        "since": TEXT,
        "circumstances": _list(_key(entries.Circumstance, "circumstance", rules)),
        "journal": _list({"oneOf": [_item(key, rules) for key in ITEMS]}),
        "outcome": _object(
            {
                "causes": _list({"enum": [*rules.causes, entries.UNLISTED]}),
                "nothing_wrong": {"type": "boolean"},
                "cured": {"type": "boolean"},
                "stop": {"enum": list(rules.cautions)},
            }
        ),
    }
    return _whole("A case", {**_object(head), "required": ["complaint"]})


def _item(key: str, rules: RuleBase) -> Schema:
    """One line of the journal, which `key` makes what it is."""
    if key in ("reading", "points"):
        told = {name: TEXT for name in READING_KEYS if name not in ("reading", "points")}
        told |= {"valve": {"enum": ["open", "shut"]}, "empty": YES, key: TEXT}
        return {**_object(told), "required": [key]}
    said = entries.KINDS[ITEMS[key]]
    own = RENAMED.get(key, key)
    keys = {
        key if field.name == own else field.name: _key(said, field.name, rules)
        for field in fields(said)
    }
    keys["at"] = TIME
    if key == "finding":
        keys["replaces"] = YES
    must = entries.keys(said)[0] - {"role", "present"} - ({"answer"} - {own})
    return {**_object(keys), "required": sorted({key if name == own else name for name in must})}


def _key(said: type[entries.Said], name: str, rules: RuleBase) -> Schema:
    field: Field[Any] = next(f for f in fields(said) if f.name == name)
    if (pool := field.metadata.get("pool")) is not None:
        return {"enum": list(pool(rules))}
    types = get_args(field.type) if isinstance(field.type, UnionType) else (field.type,)
    wanted = [get_origin(t) or t for t in types]
    kinds = [TEXT if t is str else JSON_TYPES[t] for t in wanted if t is not type(None)]
    return kinds[0] if len(kinds) == 1 else {"anyOf": kinds}


def _list(items: Schema) -> Schema:
    return {"type": ["array", "null"], "items": items}


def _object(properties: Mapping[str, Schema]) -> Schema:
    return {"type": "object", "properties": dict(properties), "additionalProperties": False}


def _whole(title: str, schema: Schema) -> Schema:
    return {"$schema": DIALECT, "title": title, **schema}
