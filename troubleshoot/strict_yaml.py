"""YAML read the way people mean it, with the line of every key kept for error messages.

Plain YAML 1.1 reads `no` as false, `12:30` as 750, `1e-3` as text, `0777` as 511 and keeps the
last of two equal keys without a word. Here the scalars follow the YAML 1.2 core schema (`no` and
`12:30` are text, `1e-3` is a number), a number with a leading zero or beyond 1e308 is refused, two
equal keys are refused, and so are anchors and aliases (a handful of lines can unfold to gigabytes)
and tags.
"""

import math
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, ClassVar

import yaml

from troubleshoot.errors import UserError
from troubleshoot.regular_file import bytes_of, refuse_packed

MAX_BYTES = 2_000_000
MAX_DEPTH = 30

Where = tuple[str | int, ...]


class _Loader(yaml.CSafeLoader):
    """libyaml's parser with the scalars of YAML 1.2's core schema."""

    yaml_implicit_resolvers: ClassVar[dict[str, list[Any]]] = {}  # type: ignore[misc]


for _tag, _pattern, _first in (
    ("tag:yaml.org,2002:bool", r"true|false|True|False|TRUE|FALSE", "tfTF"),
    ("tag:yaml.org,2002:null", r"~|null|Null|NULL|", "~nN\0"),
    ("tag:yaml.org,2002:int", r"[-+]?[0-9]+", "-+0123456789"),
    (
        "tag:yaml.org,2002:float",
        r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?",
        "-+.0123456789",
    ),
):
    _Loader.add_implicit_resolver(_tag, re.compile(rf"^(?:{_pattern})$"), list(_first))
_Loader.yaml_implicit_resolvers.setdefault("", []).append(
    ("tag:yaml.org,2002:null", re.compile(r"^$"))
)


@dataclass
class Document:
    """What a file says (`data`), and the 1-based line on which each key or item stands."""

    path: str
    data: Any
    lines: dict[Where, int] = field(default_factory=dict)

    def line(self, where: Where) -> int:
        """The line of `where`, or of the nearest thing above it that has one."""
        while where and where not in self.lines:
            where = where[:-1]
        return self.lines.get(where, 1)

    def value(self, where: Where) -> Any:
        """What stands at `where`."""
        out = self.data
        for part in where:
            out = out[part]
        return out

    def place(self, where: Where) -> str:
        """`file, line n, item 2 of journal, key finding` for an error message."""
        out, rest = f"{self.path}, line {self.line(where)}", where
        if len(where) > 1 and isinstance(where[1], int):
            out, rest = f"{out}, item {where[1] + 1} of {where[0]}", where[2:]
        key = ".".join(str(part) for part in rest)
        return f"{out}, key {key}" if key else out


def read(path: Path | str, text: str | None = None) -> Document:
    """Read one YAML file (or `text`, with `path` used in messages only).

    Raises `UserError` with file, line and remedy for anything that is not plain, finite YAML.
    """
    shown = str(path)
    if text is None:
        text = _text(Path(path), shown)
    if not text.strip():
        raise UserError(f"{shown} is empty: write at least one key, or leave the file out.")
    try:
        _refuse_bombs(text, shown)
        node = yaml.compose(text, Loader=_Loader)
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = f", line {mark.line + 1}" if mark is not None else ""
        problem = getattr(error, "problem", None) or str(error).splitlines()[0]
        if mark is not None and re.match(" *\t", "".join(text.splitlines()[mark.line :][:1])):
            raise UserError(
                f"{shown}{line}: a tab stands in the indentation, where YAML takes only spaces; "
                "put spaces there."
            ) from None
        raise UserError(
            f"{shown}{line}: this is not valid YAML ({problem}); mend the indentation, "
            "quotes or colons there."
        ) from None
    document = Document(shown, None)
    if node is not None:
        document.data = _plain(node, (), document)
    return document


def _text(path: Path, shown: str) -> str:
    raw = bytes_of(path, MAX_BYTES)
    refuse_packed(shown, raw)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise UserError(f"{shown} is not text in UTF-8: save it as UTF-8 text.") from None
    if "\0" in text:
        raise UserError(f"{shown} is a binary file: a YAML text file is needed here.")
    return text


def _refuse_bombs(text: str, shown: str) -> None:
    depth = documents = 0
    for event in yaml.parse(text, Loader=_Loader):
        line = event.start_mark.line + 1 if event.start_mark else 1
        tag = getattr(event, "tag", None)
        if tag is not None:
            raise UserError(f"{shown}, line {line}: the tag {tag} is not allowed; remove it.")
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            raise UserError(f"{shown}, line {line}: anchors and aliases (& *) are not allowed.")
        if isinstance(event, yaml.ScalarEvent) and "\0" in event.value:
            # No name of a file may hold it, and no database keeps it.
            raise UserError(f"{shown}, line {line}: a text holds the character \\0; take it out.")
        if isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            if documents > 1:
                raise UserError(f"{shown}, line {line}: only one YAML document a file (no ---).")
        if isinstance(event, yaml.CollectionStartEvent):
            depth += 1
            if depth > MAX_DEPTH:
                raise UserError(f"{shown}, line {line}: nested deeper than {MAX_DEPTH} levels.")
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1


def _plain(node: yaml.Node, where: Where, document: Document) -> Any:
    document.lines.setdefault(where, node.start_mark.line + 1)
    if isinstance(node, yaml.MappingNode):
        out: dict[str, Any] = {}
        for key_node, value_node in node.value:
            line = key_node.start_mark.line + 1
            if not isinstance(key_node, yaml.ScalarNode):
                raise UserError(f"{document.path}, line {line}: a key must be plain text.")
            key = str(key_node.value)
            if key in out:
                raise UserError(
                    f"{document.path}, line {line}: the key {key!r} stands here twice; "
                    "keep one of the two."
                )
            document.lines[(*where, key)] = line
            out[key] = _plain(value_node, (*where, key), document)
        return out
    if isinstance(node, yaml.SequenceNode):
        return [_plain(item, (*where, n), document) for n, item in enumerate(node.value)]
    return _scalar(node, where, document)


def _scalar(node: yaml.Node, where: Where, document: Document) -> Any:
    kind, text = node.tag.rpartition(":")[2], str(node.value)
    if kind == "null":
        return None
    if kind == "bool":
        return text.lower() == "true"
    if kind == "str":
        return text
    if re.match(r"^[-+]?0[0-9]", text):
        raise UserError(
            f"{document.place(where)}: {text} has a leading zero; write the number without "
            "it, or in quotes if it is text."
        )
    if not math.isfinite(float(text)):
        raise UserError(f"{document.place(where)}: this number is too large; write a smaller one.")
    return int(text) if kind == "int" else float(text)
