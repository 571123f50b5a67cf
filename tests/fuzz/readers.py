"""Everything that reads what somebody else wrote, as a function of bytes, and its first inputs.

A reader returns or raises `UserError` with one sentence; anything else is a fault.
"""

import io
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from PIL import Image

from tests.casebook.made import keep
from troubleshoot import units
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.embedded import as_data, read_page
from troubleshoot.casebook import share
from troubleshoot.casebook.store import EVERY, Store
from troubleshoot.cli.setup import demo_files
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import read_machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.load import load, shipped
from troubleshoot.readings.door import Told, read_any
from troubleshoot.readings.quantity import likelihood
from troubleshoot.sources.image_file import read_picture
from troubleshoot.strict_yaml import read as read_yaml
from troubleshoot.talk.heard import understand

AT = "2026-03-02T09:00:00"
TESTS = Path(__file__).parent.parent
WORDS = (
    b"complaint:", b"journal:", b"- finding:", b"answer:", b"quantity:", b"{", b"}", b"[", b"]",
    b"null", b"~", b"yes", b"1e308", b"-1", b"NaN", b"inf", b"0", b"1e-320", b"999999999999",
    b"mbar", b"Torr", b"Pa", b"mbar/min", b"L/s", b",", b";", b"\t", b"\n", b"\r", b"\0", b"\xff",
    b"\xfe\xff", b"\xef\xbb\xbf", b"'", b'"', b"&a", b"*a", b"!!x", b"\\", b"\x1b[31m", b"=1+1",
    b"2026-02-30T25:61", b"12:30", b"OVER", b"\xe2\x80\xae", b"\xc2\xa0", b"\xcc\x81",
)  # fmt: skip


@dataclass(frozen=True)
class Reader:
    """`read` takes bytes; `corpus` gives whole inputs to begin with; `most` bytes are tried."""

    read: Callable[[bytes], object]
    corpus: Callable[[], list[bytes]]
    most: int = 20_000


@cache
def rules():
    return load()


@cache
def folder() -> Path:
    """A folder for files that a reader wants by name; it goes with the process."""
    kept = tempfile.TemporaryDirectory(prefix="troubleshoot-fuzz-")
    _kept.append(kept)
    return Path(kept.name)


_kept: list[tempfile.TemporaryDirectory] = []


def in_file(name: str, read: Callable[[Path], object]) -> Callable[[bytes], object]:
    """A reader of files, as one of bytes."""

    def of_bytes(content: bytes) -> object:
        path = folder() / name
        path.write_bytes(content)
        return read(path)

    return of_bytes


def text(read: Callable[[str], object]) -> Callable[[bytes], object]:
    """A reader of a line, as one of bytes: what no command line could hold is left out."""
    return lambda content: read(content.decode("utf-8", "replace").replace("\0", ""))


def files(*patterns: str, under: Path = TESTS) -> Callable[[], list[bytes]]:
    def found() -> list[bytes]:
        paths = [p for pattern in patterns for p in sorted(under.glob(pattern))]
        return [p.read_bytes() for p in paths if p.stat().st_size < 4_000]

    return found


def _rules_file(content: bytes) -> object:
    own = folder() / "own_rules"
    own.mkdir(exist_ok=True)
    (own / "own.yaml").write_bytes(content)
    return load([own])


@cache
def _book() -> Store:
    return Store(str(folder() / "book.db"))


def _import(content: bytes) -> object:
    return share.take(_book(), content.decode("utf-8", "replace").splitlines())


def _book_of_lines() -> list[bytes]:
    """A backup of a small casebook, whole and line by line."""
    book = Store(str(folder() / "small.db"))
    keep(book, ("opened", {"rules": "r", "machine": "m"}), ("note", {"text": "so"}), title="Hiss")
    book.save_machine(Machine(name="ours"))
    lines = list(share.lines(book, EVERY, AT, whole=True))
    book.close()
    return ["\n".join(lines).encode(), *(line.encode() for line in lines)]


def _log(path: Path) -> object:
    return read_any(path, rules().findings, Machine(), Told(unit="mbar", time_unit="s"))


def _quantity(line: str) -> object:
    for dimension in units.dimensions():
        try:
            units.parse(line, dimension)
        except UserError:
            continue
    for name in ("base_loaded", "rise_rate"):
        if name in rules().findings and rules().findings[name].quantity:
            likelihood(rules().findings[name], line, Machine())
    return None


def _reports() -> list[bytes]:
    """A page around the case that is kept in it: the rest of a report is not read."""
    case = read_case(demo_files()[0], rules(), AT)
    return [f"<!doctype html><html><body>{as_data(case.journal, case.machine)}</body>".encode()]


def _pictures() -> list[bytes]:
    """A small picture in each kind of file."""
    image, out = Image.effect_noise((96, 64), 40), []
    for kind, more in (("PNG", {}), ("TIFF", {}), ("JPEG", {"quality": 60})):
        held = io.BytesIO()
        image.save(held, kind, **more)
        out.append(held.getvalue())
    return out


def _demos() -> list[bytes]:
    return [p.read_bytes() for p in demo_files()]


def _quantities() -> list[bytes]:
    return [
        b"0.2 Torr", b"27 Pa", b"200 micron", b"-13 psig", b"5x10-2 mbar", b"2 min 30", b"1:05:30",
        b"60 to 70 mTorr", b"below 0.1 Torr", b"about 5 min", b"1 000 mbar", b"3,5 mbar",
        b"10^-3 mbar", b"12 mA", b"5 L", b"4 m3/h",
    ]  # fmt: skip


def _lines() -> list[bytes]:
    return [
        b"base 3e-1 mbar after 20 min, glow pink, 4 mA unstable, glass was off yesterday",
        b"pumpt nicht, Dichtung schmutzig",
        b"images charge, 5 kV, gold 10 nm",
    ]


READERS: dict[str, Reader] = {
    "yaml": Reader(in_file("input.yaml", read_yaml), files("rules/cases/*/explains.yaml")),
    "case": Reader(in_file("case.yaml", lambda p: read_case(p, rules(), AT)), _demos),
    "machine": Reader(
        in_file("machine.yaml", read_machine), lambda: [p.read_bytes() for p in _profiles()]
    ),
    "rules": Reader(_rules_file, files("**/gauge*.yaml", "**/care*.yaml", under=shipped())),
    "log": Reader(
        in_file("input.csv", _log),
        files("sources/**/*.csv", "sources/**/*.txt", "sources/**/*.tsv", "case/fixtures/*.csv"),
    ),
    "report": Reader(
        in_file("input.html", lambda path: read_page(path, rules())), _reports, most=60_000
    ),
    "picture": Reader(in_file("picture", read_picture), _pictures, most=60_000),
    "json lines": Reader(_import, _book_of_lines),
    "quantity": Reader(text(_quantity), _quantities, most=300),
    "logbook line": Reader(
        text(lambda line: understand(Bench(rules(), Machine()), line)), _lines, most=600
    ),
}


def _profiles() -> Iterator[Path]:
    yield from sorted(demo_files()[0].parent.glob("machine*.yaml"))
