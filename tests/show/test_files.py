"""Where a page goes: a regular file gets it whole, anything else is written into."""

import contextlib
import os
import sqlite3
import stat
import subprocess
import sys
import threading

import pytest

from troubleshoot.errors import UserError
from troubleshoot.regular_file import bytes_of
from troubleshoot.show.files import lines_to_file, to_file

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="devices and pipes of POSIX")


def test_a_device_is_written_into_and_stays_one():
    before = os.stat("/dev/null")
    to_file("/dev/null", "page")
    assert os.stat("/dev/null").st_rdev == before.st_rdev
    assert stat.S_ISCHR(os.stat("/dev/null").st_mode)


def test_a_pipe_gets_the_page_and_stays_one(tmp_path):
    pipe, got = tmp_path / "pipe", []
    os.mkfifo(pipe)
    reader = threading.Thread(target=lambda: got.append(pipe.read_text()))
    reader.start()
    to_file(pipe, "page\n")
    reader.join(10)
    assert got == ["page\n"]
    assert stat.S_ISFIFO(os.stat(pipe).st_mode)


@pytest.mark.parametrize("name", ["-", "/dev/stdout", "/dev/fd/1"])
def test_standard_output_gets_the_page(name):
    program = f"from troubleshoot.show.files import to_file; to_file({name!r}, 'page\\n')"
    ended = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert (ended.stdout, ended.stderr) == ("page\n", "")


def test_the_rights_of_a_file_are_kept_and_a_link_stays_a_link(tmp_path):
    target, link = tmp_path / "r.html", tmp_path / "link.html"
    target.write_text("old")
    target.chmod(0o640)
    link.symlink_to(target)
    to_file(link, "new")
    assert link.is_symlink()
    assert target.read_text() == "new"
    assert stat.S_IMODE(target.stat().st_mode) == 0o640


def test_what_cannot_be_finished_leaves_the_old_file_and_nothing_beside_it(tmp_path):
    target = tmp_path / "cases.jsonl"
    target.write_text("old")

    def lines():
        yield "first"
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        lines_to_file(target, lines())
    assert target.read_text() == "old"
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no /dev/full")
def test_a_full_device_is_a_sentence():
    with pytest.raises(UserError, match="no space left"):
        to_file("/dev/full", "page")


def test_what_was_read_for_a_page_is_never_replaced_by_it(tmp_path):
    case, link = tmp_path / "case.yaml", tmp_path / "link.html"
    case.write_text("complaint: no_strike\n")
    link.symlink_to(case)
    bytes_of(case, 100)
    for name in (case, link):
        with pytest.raises(UserError, match="was read just now"):
            to_file(name, "<!doctype html>")
    assert case.read_text() == "complaint: no_strike\n"
    assert sorted(tmp_path.iterdir()) == [case, link]


def test_a_report_that_was_opened_again_may_be_written_anew(tmp_path):
    report = tmp_path / "report.html"
    report.write_text("<!doctype html><title>old")
    bytes_of(report, 100)
    to_file(report, "<!doctype html><title>new")
    assert report.read_text().endswith("new")


def test_no_page_and_no_backup_takes_the_place_of_a_casebook(tmp_path):
    book = tmp_path / "cases.db"
    with contextlib.closing(sqlite3.connect(book)) as db:
        db.execute("create table kept (id)")
    before = book.read_bytes()
    with pytest.raises(UserError, match="casebook"):
        lines_to_file(book, ['{"casebook": 1}'])
    assert book.read_bytes() == before
