"""What may be written in a file of rules, as JSON Schema (2020-12), for an editor."""

from typing import Any

from troubleshoot.knowledge import model
from troubleshoot.knowledge.build import (
    CONCLUSION_KINDS,
    CONDITION_KINDS,
    DERIVATIONS,
    KINDS,
    SETTINGS,
)
from troubleshoot.knowledge.overlay import EXTENDS

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def rules_schema() -> dict[str, Any]:
    """A file of rules, the shipped ones or a lab's own.

    No key is required, for an entry that extends another one holds only what it changes.
    """
    from pydantic import TypeAdapter

    shared: dict[str, Any] = {}

    def entry(kind: type[model.Record]) -> dict[str, Any]:
        made = TypeAdapter(kind).json_schema(ref_template="#/$defs/{model}")
        shared.update(made.pop("$defs", {}))
        keys = {name: key for name, key in made["properties"].items() if name != "id"}
        keys[EXTENDS] = {"type": "boolean"}
        return {"type": "object", "properties": keys, "additionalProperties": False}

    def named(one: dict[str, Any]) -> dict[str, Any]:
        return {"type": "object", "additionalProperties": one}

    kinds: dict[str, Any] = {name: named(entry(kind)) for name, kind in KINDS.items()}
    kinds[SETTINGS] = entry(model.Settings)
    kinds[DERIVATIONS] = named(_derivation())
    return {
        "$schema": DIALECT,
        "title": "A file of rules",
        "type": "object",
        "properties": kinds,
        "additionalProperties": False,
        "$defs": shared,
    }


def _derivation() -> dict[str, Any]:
    def items(kinds: tuple[str, ...], *more: str) -> dict[str, Any]:
        keys: dict[str, Any] = {key: {"type": "string"} for key in kinds}
        keys |= {key: {"type": "integer", "minimum": 0} for key in more}
        keys["is"] = {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}
        one = {"type": "object", "properties": keys, "additionalProperties": False}
        return {"type": "array", "minItems": 1, "items": one}

    return {
        "type": "object",
        "properties": {
            "when": items(CONDITION_KINDS, "same_epoch_as", "same_value_as"),
            "then": items(CONCLUSION_KINDS),
            "because": {"type": "string"},
            "source": {"type": "string"},
        },
        "additionalProperties": False,
    }
