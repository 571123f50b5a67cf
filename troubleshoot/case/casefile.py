"""A case written down in a YAML file, read into a journal.

    name: damp Monday
    complaint: slow_pump_down
    machine: bench_coater.yaml        # or its keys, indented here
    circumstances: [first_run_today]
    journal:
      - finding: base_loaded
        quantity: 0.35 Torr
      - reading: rise.csv               # a pressure log beside this file
        valve: shut
      - reading: slow.png               # a micrograph; second and pair: another of the same field
      - points: "0 s 1000 mbar; 30 s 4 mbar; 60 s 0.9 mbar; 120 s 0.4 mbar; 300 s 0.3 mbar"
        valve: open
      - finding: seal_look
        answer: dust_or_flakes
        sure: fairly
      - action: wipe_and_reseat_seals
        complaint_now: better

`outcome` says how the case ended; the diagnosis never reads it.
"""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from troubleshoot.case import entries
from troubleshoot.case.journal import Journal, append, latest_in_epoch
from troubleshoot.case.odd import oddities
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from, read_machine
from troubleshoot.errors import UserError, instead
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.strict_yaml import Document, Where, read

HEAD = (
    "name", "opened", "machine", "role", "specimen", "specimen_kind", "state", "signs", "complaint",
    "words", "since", "circumstances", "journal", "outcome",
)  # fmt: skip
# The key that says what a journal item is -> the kind of entry it becomes.
ITEMS = {
    "finding": "finding",
    "reading": "reading",
    "points": "reading",
    "action": "action",
    "cannot": "cannot",
    "not_now": "later",
    "new_epoch": "epoch",
    "state": "state",
    "sign": "sign",
    "circumstance": "circumstance",
    "workaround": "workaround",
    "made_safe": "made_safe",
    "repaired": "repaired",
    "note": "note",
    "outcome": "closed",
}
RENAMED = {"cannot": "action", "not_now": "action", "new_epoch": "why", "made_safe": "caution",
           "repaired": "caution", "note": "text"}  # fmt: skip
OUTCOME = ("causes", "nothing_wrong", "cured", "stop")
if TYPE_CHECKING:
    from troubleshoot.readings.door import Beside

LOG_KEYS = ("unit", "time_unit", "column", "every", "gauge_scale")
PICTURE_KEYS = ("second", "pair", "pixel")
READING_KEYS = ("reading", "points", *LOG_KEYS, "valve", "empty", *PICTURE_KEYS, "at")
SPECIMENS = ("irreplaceable", "replaceable")


@dataclass(frozen=True)
class CaseFile:
    """A case from a file: its journal, its machine and the outcome that was written down.

    `odd` says, with file and line, what in it cannot be, or cannot be used as it stands.
    """

    name: str
    journal: Journal
    machine: Machine
    outcome: Mapping[str, Any] | None
    odd: tuple[str, ...] = ()


def read_case(
    path: Path,
    rules: RuleBase,
    now: str,
    machine: Machine | None = None,
    *,
    anywhere: bool = False,
) -> CaseFile:
    """Read a case file. `now` stamps entries when the file gives no time; `machine` overrides.

    Logs and profiles that it names are read out of its own folder only, unless `anywhere`.
    Raises `UserError` naming file, line, key and remedy.
    """
    document = read(path)
    data = document.data
    if not isinstance(data, dict):
        raise UserError(f"{path}: a case file holds keys (complaint:, journal: ...) at its top.")
    for key in data:
        if key not in HEAD:
            raise UserError(f"{document.place((key,))}: unknown key{instead(key, HEAD)}.")
    if "complaint" not in data:
        raise UserError(
            f"{path}: the key 'complaint' is missing; give one of {', '.join(rules.complaints)}."
        )
    machine = machine or _machine(document, anywhere)
    at = _time(document, ("opened",), data.get("opened"), now)
    writer = _Writer(document, rules, machine, anywhere)
    name = str(data.get("name") or path.stem)
    opened = {"name": name, "rules": rules.hash, "machine": machine.hash}
    writer.add(("name",), at, "opened", opened)
    for key, kind in (("role", "role"), ("state", "state"), ("since", "since")):
        if key in data:
            field = "text" if kind == "since" else kind
            writer.add((key,), at, kind, {field: str(data[key])})
    if "specimen" in data or "specimen_kind" in data:
        if data.get("specimen", SPECIMENS[1]) not in SPECIMENS:
            raise UserError(
                f"{document.place(('specimen',))}: {data['specimen']!r} is not one of "
                f"{', '.join(SPECIMENS)}."
            )
        told = {"irreplaceable": data.get("specimen") == "irreplaceable"}
        if "specimen_kind" in data:
            told["what"] = data["specimen_kind"]
        key = "specimen_kind" if "specimen_kind" in data else "specimen"
        writer.add((key,), at, "specimen", told)
    for n, sign in enumerate(_list(document, "signs")):
        writer.add(("signs", n), at, "sign", {"sign": sign, "present": True})
    said = {"complaint": data["complaint"]} | (
        {"words": str(data["words"])} if "words" in data else {}
    )
    writer.add(("complaint",), at, "complaint", said)
    for n, fact in enumerate(_list(document, "circumstances")):
        writer.add(
            ("circumstances", n), at, "circumstance", {"circumstance": fact, "answer": "yes"}
        )
    for n, item in enumerate(_list(document, "journal")):
        at = writer.item(n, item, at)
    odd = tuple(
        f"{document.place(writer.places[o.entry])}: {o.sentence}"
        for o in oddities(writer.journal, rules, machine)
    )
    return CaseFile(name, writer.journal, machine, _outcome(document, rules), odd)


class _Writer:
    """Grows a journal, turning every refusal into one that names file, line and key."""

    def __init__(
        self, document: Document, rules: RuleBase, machine: Machine, anywhere: bool
    ) -> None:
        self.document, self.rules, self.machine = document, rules, machine
        self.anywhere = anywhere
        self.journal: Journal = ()
        self.places: dict[int, Where] = {}

    def add(self, where: Where, at: str, kind: str, data: Mapping[str, Any]) -> None:
        try:
            self.journal = append(self.journal, at, kind, self.rules, **data)
            self.places[self.journal[-1].number] = where
        except UserError as error:
            raise UserError(f"{self._place(where, str(error))}: {error}") from None

    def _place(self, where: Where, error: str) -> str:
        """The line of the key whose name or value an error quotes, else of the whole item."""
        for at in self.document.lines:
            if at[: len(where)] == where and len(at) == len(where) + 1:
                key, value = at[-1], self.document.value(at)
                if f"{key!r}" in error or f"{value!r}" in error:
                    return self.document.place(at)
        return self.document.place(where)

    def item(self, n: int, item: Any, at: str) -> str:
        where: Where = ("journal", n)
        kinds = [k for k in item if k in ITEMS] if isinstance(item, dict) else []
        for beside in ("state", "note"):  # they may also stand beside what an item is about
            if beside in kinds and len(kinds) > 1:
                kinds.remove(beside)
        if len(kinds) != 1:
            raise UserError(
                f"{self.document.place(where)}: exactly one of {', '.join(ITEMS)} is needed here."
            )
        key = kinds[0]
        at = _time(self.document, (*where, "at"), item.get("at"), at)
        data = {RENAMED.get(k, k) if k == key else k: v for k, v in item.items() if k != "at"}
        if key == "finding":
            self._finding(data)
        if key in ("reading", "points"):
            data = self._reading((*where, key), item)
        if key == "repaired":
            data.setdefault("role", self._role())
        if key in ("sign", "circumstance"):
            data.setdefault(*(("present", True) if key == "sign" else ("answer", "yes")))
        self.add(where, at, ITEMS[key], data)
        return at

    def _reading(self, where: Where, item: Mapping[str, Any]) -> dict[str, Any]:
        """A log beside the case file, or points typed by hand, read once and for all."""
        from troubleshoot.readings.door import read_any, read_pressures
        from troubleshoot.readings.pressure.typed import typed_log
        from troubleshoot.sources.log_file import Told

        for key in item:
            if key not in READING_KEYS:
                place = self.document.place((*where[:-1], key))
                raise UserError(f"{place}: unknown key{instead(key, READING_KEYS)}.")
        valve = item.get("valve")
        if valve not in (None, "open", "shut"):
            place = self.document.place((*where[:-1], "valve"))
            raise UserError(f"{place}: {valve!r} is not one of open, shut.")
        empty, shut = item.get("empty") in (True, "yes"), None if valve is None else valve == "shut"
        said = {k: str(item[k]) for k in LOG_KEYS if k in item}
        points = str(item.get("points", ""))
        findings, machine = self.rules.findings, self.machine
        try:
            if "points" in item:
                log = typed_log(points, said.get("unit"), said.get("time_unit", "s"))
                found, plot = read_pressures(log, findings, machine, empty=empty, shut=shut)
            else:
                path = _beside(self.document, str(item["reading"]), self.anywhere)
                told = Told.of(said)
                found, plot = read_any(
                    path, findings, machine, told, self._picture(item), empty=empty, shut=shut
                )
        except UserError as error:
            raise UserError(f"{self.document.place(where)}: {error}") from None
        return entries.Reading.of(found, str(item.get("reading", "typed")), plot, points).record()

    def _picture(self, item: Mapping[str, Any]) -> "Beside":
        """What is said beside a picture."""
        from troubleshoot.readings.door import Beside

        other = item.get("second")
        return Beside(
            None if other is None else _beside(self.document, str(other), self.anywhere),
            *(None if item.get(key) is None else str(item[key]) for key in ("pair", "pixel")),
        )

    def _role(self) -> str:
        """Who speaks, as far as the file has said."""
        said = [e.said.role for e in self.journal if isinstance(e.said, entries.Role)]
        return said[-1] if said else entries.DEFAULT_ROLE

    def _finding(self, data: dict[str, Any]) -> None:
        if data.get("replaces") in (True, "yes"):
            earlier = latest_in_epoch(self.journal, str(data["finding"]))
            data["replaces"] = None if earlier is None else earlier.number


def _outcome(document: Document, rules: RuleBase) -> Mapping[str, Any] | None:
    """How the case ended, checked: `causes`, `nothing_wrong`, `cured`, `stop` (a caution)."""
    value = document.data.get("outcome")
    if value is None:
        return None
    if not isinstance(value, dict):
        raise UserError(
            f"{document.place(('outcome',))}: keys are needed here ({', '.join(OUTCOME)})."
        )
    named = {"causes": [*rules.causes, entries.UNLISTED], "stop": list(rules.cautions)}
    for key, said in value.items():
        place = document.place(("outcome", key))
        if key not in OUTCOME:
            raise UserError(f"{place}: unknown key{instead(key, OUTCOME)}.")
        if key not in named:
            if not isinstance(said, bool):
                raise UserError(f"{place}: {said!r} is not true or false.")
            continue
        if isinstance(said, list) != (key == "causes"):
            raise UserError(f"{place}: causes takes a list, stop takes one caution.")
        for name in said if isinstance(said, list) else [said]:
            if name not in named[key]:
                what = "cause" if key == "causes" else "caution"
                close = instead(str(name), named[key])
                raise UserError(f"{place}: unknown {what} {name!r}{close}.")
    return value


def _list(document: Document, key: str) -> list[Any]:
    value = document.data.get(key)
    if value is None:
        return []
    if not isinstance(value, list):
        raise UserError(f"{document.place((key,))}: a list is needed here (lines with - ).")
    return value


def _beside(document: Document, name: str, anywhere: bool) -> Path:
    """The file that a case names, in the case's own folder or below it.

    A case that came by mail must not make the tool look into other files of whoever opens it.
    """
    folder = Path(document.path).parent
    path = folder / name
    there, here = (os.path.realpath(p) for p in (path, folder))
    if not (anywhere or Path(there).is_relative_to(here)):
        raise UserError(
            f"{name!r} lies outside the folder of the case: copy it beside the case, or say "
            "--anywhere if you trust this case."
        )
    return path


def _machine(document: Document, anywhere: bool) -> Machine:
    value = document.data.get("machine")
    if value is None:
        return Machine()
    if isinstance(value, dict):
        return machine_from(value, document.place(("machine",)))
    try:
        return read_machine(_beside(document, str(value), anywhere))
    except UserError as error:
        raise UserError(f"{document.place(('machine',))}: {error}") from None


def _time(document: Document, where: Where, value: Any, default: str) -> str:
    if value is None:
        return default
    try:
        return datetime.fromisoformat(str(value)).isoformat(timespec="seconds")
    except ValueError:
        raise UserError(
            f"{document.place(where)}: {value!r} is not a time; write it like 2026-03-02T09:10."
        ) from None
