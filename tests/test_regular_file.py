import bz2
import gzip
import lzma
import os
import sys
import zipfile
from pathlib import Path

import pytest

from troubleshoot.__main__ import main
from troubleshoot.errors import UserError
from troubleshoot.regular_file import MOST_NAMES, bytes_of, files_below, open_regular
from troubleshoot.sources import log_file

posix = pytest.mark.skipif(sys.platform == "win32", reason="devices and pipes of POSIX")


def test_a_file_of_the_most_bytes_is_read_and_one_of_more_is_refused(tmp_path):
    path = tmp_path / "case.yaml"
    path.write_bytes(b"x" * 10)
    assert bytes_of(path, 10) == b"x" * 10
    with pytest.raises(UserError, match="larger than"):
        bytes_of(path, 9)


@posix
@pytest.mark.parametrize("name", ["/dev/zero", "/dev/null", "fifo"])
def test_a_device_or_a_pipe_is_refused_at_once(tmp_path, name):
    path = tmp_path / name
    if name == "fifo":
        os.mkfifo(path)
    with pytest.raises(UserError, match="a device or a pipe"):
        open_regular(path)


@posix
def test_a_link_to_a_device_is_a_device(tmp_path):
    (tmp_path / "case.yaml").symlink_to("/dev/zero")
    with pytest.raises(UserError, match="a device or a pipe"):
        bytes_of(tmp_path / "case.yaml", 100)


@pytest.mark.skipif(not os.path.exists("/proc/self/status"), reason="no /proc")
def test_a_file_that_says_it_is_empty_gives_no_more_than_may_be():
    assert os.stat("/proc/self/status").st_size == 0
    with pytest.raises(UserError, match="larger than"):
        bytes_of("/proc/self/status", 100)


@pytest.mark.parametrize("name", ["nothing.yaml", ".", "a\0b"])
def test_what_is_no_file_is_said_in_a_sentence(tmp_path, name):
    with pytest.raises(UserError):
        open_regular(f"{tmp_path}/{name}")


@pytest.mark.skipif(not os.path.exists("/proc/self/mem"), reason="no /proc")
def test_a_file_that_fails_while_it_is_read_is_a_sentence():
    """As a disk or a server does that goes away: the first page of a process cannot be read."""
    for read in (lambda: bytes_of("/proc/self/mem", 100), open_regular("/proc/self/mem").readline):
        with pytest.raises(UserError, match="cannot be read"):
            read()


def _replaced(path):
    other = path.with_name("other.csv")
    other.write_text("time s,pressure mbar\n")
    other.replace(path)


CHANGES = {
    "shorter": lambda path: path.write_text("time s,pressure mbar\n0,1\n"),
    "empty": lambda path: path.write_text(""),
    "replaced": _replaced,
    "gone": Path.unlink,
    "another by a link": lambda path: (path.unlink(), path.symlink_to(os.devnull)),
}


@posix
@pytest.mark.parametrize("table", [False, True], ids=["log", "table"])
@pytest.mark.parametrize("change", CHANGES)
def test_a_log_that_becomes_another_one_while_it_is_read_is_not_told(
    tmp_path, monkeypatch, change, table
):
    """Between the look at its first lines and the reading of its rows."""
    path = tmp_path / "log.csv"
    head = "time s,current mA,pressure mbar" if table else "time s,pressure mbar"
    rows = [f"{n},{'12,' * table}{100 / (n + 1)}" for n in range(50)]
    path.write_text("\n".join([head, *rows, ""]))
    look = log_file.layout_of

    def and_then(*args, **more):
        found = look(*args, **more)
        CHANGES[change](path)
        return found

    monkeypatch.setattr(log_file, "layout_of", and_then)
    with pytest.raises(UserError, match="was changed while it was read"):
        (log_file.read_table if table else log_file.read_log)(path)


def test_a_log_that_somebody_still_writes_is_read(tmp_path, monkeypatch):
    path = tmp_path / "log.csv"
    path.write_text("time s,pressure mbar\n" + "".join(f"{n},{9 - n}\n" for n in range(6)))
    look = log_file.layout_of

    def and_then(*args, **more):
        with path.open("a") as log:
            log.write("6,2.5\n7,2\n")
        return look(*args, **more)

    monkeypatch.setattr(log_file, "layout_of", and_then)
    assert len(log_file.read_log(path).seconds) == 8


PACKERS = {
    "zip": lambda path, text: zipfile.ZipFile(path, "w").writestr("../../log.csv", text),
    "gzip": lambda path, text: path.write_bytes(gzip.compress(text)),
    "bzip2": lambda path, text: path.write_bytes(bz2.compress(text)),
    "xz": lambda path, text: path.write_bytes(lzma.compress(text)),
}


@pytest.mark.parametrize("packer", PACKERS)
@pytest.mark.parametrize("name", ["x.yaml", "x.html", "x.png", "x.csv", "x.jsonl"])
def test_what_is_packed_is_never_unpacked_and_is_one_sentence(tmp_path, packer, name, capsys):
    """As a case, a report, a picture, a log and a backup: so a bomb of nothing but zeros is one."""
    path = tmp_path / name
    PACKERS[packer](path, b"0" * 1_000_000)
    read = {"yaml": ["diagnose"], "html": ["diagnose"], "jsonl": ["cases", "import"]}
    with pytest.raises(SystemExit) as end:
        main([*read.get(name[2:], ["read"]), str(path)])
    said = capsys.readouterr().err
    assert (end.value.code, "packed" in said, said.count("\n")) == (2, True, 1), said
    assert [p.name for p in tmp_path.iterdir() if p.is_file()] == [name]


def test_a_folder_of_rules_holds_no_whole_disk(tmp_path):
    for name in ("b.yaml", "a.yaml", "below/c.yaml", "note.txt"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("")
    assert [p.name for p in files_below(tmp_path, ".yaml")] == ["a.yaml", "b.yaml", "c.yaml"]
    with pytest.raises(UserError, match=f"more than {MOST_NAMES:,} files"):
        files_below(Path("/"), ".yaml")
