"""Cases as lines of JSON, for a backup or for another lab's casebook, and back again.

Each line is one object: the head, a machine profile, a run, a file's content, or a case with its
whole journal. Roles go with it, names of people do not. What is read may come from anybody: each
line is checked before anything of it is kept, and text is taken without control characters.
"""

import base64
import binascii
import json
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from troubleshoot.case.entries import Attached, Closed, Opened
from troubleshoot.case.journal import Entry, Journal, as_records, from_records, standing
from troubleshoot.casebook import attachments
from troubleshoot.casebook.record import listed
from troubleshoot.casebook.schema import CASES, ENTRIES, FILES, MACHINES, RUNS
from troubleshoot.casebook.store import (
    LARGEST,
    Store,
    journal_in,
    keep_record,
    parsed,
    row_of_entry,
)
from troubleshoot.casebook.wanted import Wanted
from troubleshoot.coater.profile import machine_from
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import ROLES
from troubleshoot.upkeep.run import Run

FORMAT = 1
"""The version of these lines."""
AT_ONCE = 500
"""Lines that are kept in one transaction, unless all must be."""
CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")
KEY = re.compile(r"[0-9a-f]{32}")


# --- out ---------------------------------------------------------------------------------------


def lines(store: Store, wanted: Wanted, at: str, *, whole: bool) -> Iterator[str]:
    """The casebook as lines. `whole`: with machines and runs, so that all can be put back.

    A case that cannot be read raises `UserError`: a backup that leaves something out is none.
    """
    yield _line({"casebook": FORMAT, "written": at})
    if whole:
        yield from _machines_and_runs(store)
    sent: set[str] = set()
    for row in reversed(store.cases(wanted)):
        journal, machine = store.journal(row.id), store.machine_of(row.id)
        for name in files_of(journal):
            if name not in sent:
                sent.add(name)
                content = base64.b64encode(attachments.content_of(store, name)).decode()
                yield _line({"file": name, "content": content})
        yield _line(
            {
                "case": store.key_of(row.id), "number": row.id, "name": row.name,
                "opened_at": row.opened_at, "machine": machine.as_dict(),
                "journal": as_records(nameless(journal)),
            }
        )  # fmt: skip


def _machines_and_runs(store: Store) -> Iterator[str]:
    with store.reading() as db:
        machines = db.execute(sa.select(MACHINES).order_by(MACHINES.c.name)).all()
        runs = db.execute(sa.select(RUNS).order_by(RUNS.c.id)).all()
    for row in machines:
        yield _line({"machine": parsed(row.profile)})
    for row in runs:
        yield _line({"run": parsed(row.data), "of": row.machine, "at": row.at, "kind": row.kind})


def _line(record: Mapping[str, Any]) -> str:
    return json.dumps(record, ensure_ascii=False, sort_keys=False)


def nameless(journal: Journal) -> Journal:
    """The journal without what may name a person: who looked, and who closed it unless by role."""
    out = []
    for entry in journal:
        data = dict(entry.data)
        if entry.kind == Opened.kind:
            data.pop("seen_by", None)
        if entry.kind == Closed.kind and data.get("by") not in ROLES:
            data.pop("by", None)
        out.append(Entry(entry.number, entry.at, entry.kind, data))
    return tuple(out)


def files_of(journal: Journal) -> list[str]:
    """The files that a journal speaks of."""
    return [str(e.data["sha256"]) for e in journal if e.kind == Attached.kind]


# --- in ----------------------------------------------------------------------------------------


@dataclass
class Taken:
    """What came of reading lines: cases by number, and each broken line or conflict in a sentence.

    `longer`: cases that were here already and went on over there.
    """

    new: list[int] = field(default_factory=list)
    longer: list[int] = field(default_factory=list)
    same: int = 0
    machines: int = 0
    runs: int = 0
    files: int = 0
    broken: list[str] = field(default_factory=list)
    conflicts: list[str] = field(default_factory=list)


class _Refused(Exception):
    """Something is broken, and nothing is to be kept then."""


def take(
    store: Store,
    text: Iterable[str],
    *,
    strict: bool = False,
    told: Callable[[int, int], None] = lambda done, whole: None,
) -> Taken:
    """Keep what the lines hold that is not here yet; a second time changes nothing.

    A broken line is told by its number and left out; with `strict` nothing is kept then. `told` is
    called with the lines that are done, and all of them.
    """
    taken = Taken()
    numbered = list(enumerate(text, start=1))
    size = len(numbered) if strict else AT_ONCE
    try:
        for start in range(0, len(numbered), max(1, size)):
            chunk = numbered[start : start + size]
            checked = [(n, found) for n, line in chunk if (found := _checked(n, line, taken))]
            if strict and taken.broken:
                break
            store.write(lambda db, checked=checked: _keep(db, checked, taken, strict))  # type: ignore[misc]
            told(start + len(chunk), len(numbered))
    except _Refused:
        pass
    if strict and (taken.broken or taken.conflicts):
        return Taken(broken=taken.broken, conflicts=taken.conflicts)
    return taken


@dataclass(frozen=True)
class _Case:
    key: str
    number: int
    name: str
    opened_at: str
    machine: Mapping[str, Any]
    journal: Journal


_Checked = tuple[str, Any]


def _checked(number: int, line: str, taken: Taken) -> _Checked | None:
    """What a line holds, if it is sound; otherwise its trouble is told in `taken`."""
    if not line.strip():
        return None
    try:
        written = line.removeprefix("\ufeff") if number == 1 else line
        record = json.loads(
            written, parse_constant=_no_constant, parse_float=_number, parse_int=_number
        )
        if not isinstance(record, dict):
            raise UserError("it is no object in braces")
        return _sound(_clean(record))
    except UserError as error:
        reason = str(error).rstrip(".")
    except (AttributeError, TypeError):
        reason = "its keys do not hold what they hold in a backup"
    except (ValueError, KeyError, binascii.Error) as error:
        reason = _why(error)
    except RecursionError:
        reason = "it is nested too deeply"
    taken.broken.append(f"line {number}: {reason}")
    return None


def _why(error: Exception) -> str:
    if isinstance(error, KeyError):
        return f"the key {error.args[0]!r} is missing"
    if isinstance(error, json.JSONDecodeError):
        return f"it cannot be read as JSON from letter {error.colno} on"
    return str(error).splitlines()[0] if str(error) else type(error).__name__


def _number(digits: str) -> float:
    """A number that can be reckoned with: not 1e999, and no whole one that long."""
    if not math.isfinite(float(digits)):
        raise ValueError(f"{digits[:20]} is no number")
    return int(digits) if digits.lstrip("-").isdigit() else float(digits)


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no number")


def _clean(value: Any) -> Any:
    """The same without control characters, which could move the cursor of who reads it."""
    if isinstance(value, str):
        return CONTROL.sub("", value.replace("\r\n", "\n")).encode("utf-8", "replace").decode()
    if isinstance(value, list):
        return [_clean(inner) for inner in value]
    if isinstance(value, dict):
        return {_clean(key): _clean(inner) for key, inner in value.items()}
    return value


def _sound(record: dict[str, Any]) -> _Checked | None:
    if "casebook" in record:
        if record["casebook"] != FORMAT:
            raise UserError("it was written by a newer version of this program")
        return None
    if "file" in record:
        content = base64.b64decode(record["content"], validate=True)
        if attachments.digest(content) != record["file"]:
            raise UserError("the content of the file is not what its name says")
        return "file", content
    if "run" in record:
        run = Run.taken_up(_time(record["at"]), str(record["kind"]), record["run"])
        return "run", (_named(record["of"]), run)
    if "case" in record:
        return "case", _sound_case(record)
    if "machine" in record:
        machine = machine_from(record["machine"], "the machine")
        _named(machine.name)
        return "machine", machine
    raise UserError("it holds no case, machine, run or file")


def _sound_case(record: dict[str, Any]) -> _Case:
    key = record["case"]
    if not isinstance(key, str) or not KEY.fullmatch(key):
        raise UserError("the case has no key of 32 hexadecimal digits")
    machine_from(record["machine"], "the machine")
    clean = nameless(from_records(record["journal"]))
    opened_at = _time(record["opened_at"])
    listed(clean, opened_at)
    for entry in standing(clean):
        if isinstance(entry.said, Closed):
            entry.said.must_be_possible()
    number = record.get("number")
    return _Case(
        key, number if isinstance(number, int) else 0, str(record["name"]), opened_at,
        record["machine"], clean,
    )  # fmt: skip


def _time(at: Any) -> str:
    try:
        return datetime.fromisoformat(str(at)).isoformat(timespec="seconds")
    except ValueError:
        raise UserError(f"{at!r} is no time") from None


def _named(name: Any) -> str:
    if not isinstance(name, str) or not name.strip():
        raise UserError(f"{name!r} is no name of a machine")
    return name


def _keep(
    db: sa.Connection, checked: list[tuple[int, _Checked]], taken: Taken, strict: bool
) -> None:
    for number, (kind, found) in checked:
        if kind == "case":
            _keep_case(db, number, found, taken)
        elif kind == "file":
            taken.files += attachments.put(db, found)
        elif kind == "machine":
            if db.scalar(sa.select(MACHINES.c.name).where(MACHINES.c.name == found.name)) is None:
                profile = json.dumps(found.as_dict())
                db.execute(MACHINES.insert().values(name=found.name, profile=profile))
                taken.machines += 1
        else:
            _keep_run(db, found, taken)
    if strict and taken.conflicts:
        raise _Refused


def _keep_run(db: sa.Connection, found: tuple[str, Run], taken: Taken) -> None:
    machine, run = found
    row = {"machine": machine, "at": run.at, "kind": run.kind, "data": json.dumps(run.as_data())}
    same = [RUNS.c[name] == value for name, value in row.items()]
    if db.scalar(sa.select(RUNS.c.id).where(*same)) is None:
        db.execute(RUNS.insert().values(row))
        taken.runs += 1


def _keep_case(db: sa.Connection, line: int, found: _Case, taken: Taken) -> None:
    case = db.scalar(sa.select(CASES.c.id).where(CASES.c.key == found.key))
    if case is not None:
        _keep_more(db, line, int(case), found, taken)
        return
    wanted = sa.select(CASES.c.id).where(CASES.c.id == found.number)
    free = 0 < found.number <= LARGEST and db.scalar(wanted) is None
    own = {"id": found.number} if free else {}
    made = db.execute(
        CASES.insert().values(
            name=found.name, opened_at=found.opened_at, machine=json.dumps(dict(found.machine)),
            key=found.key, coater=str(found.machine.get("name", "")) or None, **own,
            **listed((), found.opened_at),
        )
    ).inserted_primary_key  # fmt: skip
    assert made is not None
    if own and db.dialect.name == "postgresql":  # the next number is beyond it
        db.execute(
            sa.text("SELECT setval(pg_get_serial_sequence('cases', 'id'), max(id)) FROM cases")
        )
    _add(db, int(made[0]), found.journal)
    taken.new.append(int(made[0]))


def _keep_more(db: sa.Connection, line: int, case: int, found: _Case, taken: Taken) -> None:
    """A case that is here already: nothing new, or what was added over there, or a conflict."""
    mine = tuple(
        Entry(e.number, e.at, e.kind, _clean(dict(e.data))) for e in nameless(journal_in(db, case))
    )
    common = min(len(mine), len(found.journal))
    if mine[:common] != found.journal[:common]:
        first = next(n for n in range(common) if mine[n] != found.journal[n])
        taken.conflicts.append(
            f"line {line}: case {case} went on differently here and there from entry {first} on; "
            "what is here is kept"
        )
    elif len(found.journal) > len(mine):
        _add(db, case, found.journal[common:])
        taken.longer.append(case)
    else:
        taken.same += 1


def _add(db: sa.Connection, case: int, journal: Journal) -> None:
    for entry in journal:
        db.execute(ENTRIES.insert().values(case_id=case, **row_of_entry(entry)))
    for name in files_of(journal):
        content = db.scalar(sa.select(FILES.c.content).where(FILES.c.sha256 == name))
        if content is not None:
            attachments.keeping(case, bytes(content))(db)
    keep_record(db, case)
