import os
import sys
from pathlib import Path

import pytest

from troubleshoot.errors import UserError
from troubleshoot.regular_file import MOST_NAMES, bytes_of, files_below, open_regular

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


def test_a_folder_of_rules_holds_no_whole_disk(tmp_path):
    for name in ("b.yaml", "a.yaml", "below/c.yaml", "note.txt"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("")
    assert [p.name for p in files_below(tmp_path, ".yaml")] == ["a.yaml", "b.yaml", "c.yaml"]
    with pytest.raises(UserError, match=f"more than {MOST_NAMES:,} files"):
        files_below(Path("/"), ".yaml")
