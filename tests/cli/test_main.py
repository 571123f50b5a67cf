"""Every end of the program is an exit status and at most a sentence, never a traceback."""

import errno
import os
import sys
from pathlib import Path

import click
import pytest

from troubleshoot import __main__, __version__
from troubleshoot.errors import Interrupted, UserError

EXTRA = """findings:
  smear:
    source: judgement
    name: Smear
    ask: Does it smear?
    kind: yes_no
    answers: {"yes": "Yes", "no": "No"}
    background: {"yes": 0.1, "no": 0.9}
"""


def test_done(run):
    assert run("--help").status == 0
    assert run("--version") == (0, f"troubleshoot, version {__version__}\n", "")


@pytest.mark.parametrize("command", __main__.COMMANDS)
def test_every_command_has_help(run, command):
    ended = run(command, "-h")
    assert ended.status == 0
    assert ended.out.startswith(f"Usage: troubleshoot {command}")


def test_remarks_are_status_1(run, tmp_path):
    (tmp_path / "mine.yaml").write_text(EXTRA)
    ended = run("rules", "check", tmp_path, "--layer", "reachability")
    assert (ended.status, ended.err) == (1, "")
    assert "2 remarks" in ended.out


ODD = [
    ["cure"], ["--rules"], ["diagnose", "--colour"], ["diagnose"], ["diagnose", "nothing.yaml"],
    ["diagnose", ""], ["diagnose", "."], ["diagnose", "x" * 5000],
    ["diagnose", "--resume"], ["diagnose", "--resume", "--case", "7"], ["diagnose", "--case", "x"],
    ["diagnose", "chip_in_the_glass", "--case", "1"], ["diagnose", "chip_in_the_glass", "--resume"],
    ["diagnose", "chip_in_the_glass", "--machine", "ours"],
    ["diagnose", "chip_in_the_glass", "--machine", "ours.yaml"],
    ["diagnose", "chip_in_the_glass", "--rules", "no_such_folder"],
    ["diagnose", "chip_in_the_glass", "--no-questions", "--report", "no/such/folder/x.html"],
    ["diagnose", "chip_in_the_glass", "too", "many"], ["diagnose", "chip_in_the_glas"],
    ["cases"], ["cases", "show"], ["cases", "show", "one"], ["cases", "show", "99"],
    ["cases", "show", "-1"], ["cases", "show", str(10**30)], ["cases", "close", "99"],
    ["explain", "seel_dirty"], ["explain", "../../etc/passwd"],
    ["machine", "read", "nothing.yaml"], ["machine", "read", "."], ["machine", "new"],
    ["rules", "check", "nothing"], ["about", "me"],
    ["calc", "nonsense"],
]  # fmt: skip
if sys.platform != "win32":
    ODD += [
        ["--casebook", "pipe", "cases", "list"], ["rules", "check", "--words", "pipe"],
        ["rules", "check", "--words", "/dev/zero"],
        *([*words, name] for name in ("x" * 300, "loop", "pipe") for words in (
            ["read"], ["machine", "good-day"], ["rules", "check"],
            ["diagnose", "chip_in_the_glass", "--rules"],
        )),
    ]  # fmt: skip


@pytest.mark.parametrize("args", ODD, ids=lambda a: " ".join(a)[:40])
def test_an_odd_command_line_is_status_2_and_a_sentence(run, args, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    if sys.platform != "win32":
        os.mkfifo("pipe")
        os.symlink("loop", "loop")
    ended = run(*args)
    assert ended.status == 2, ended
    assert "Traceback" not in ended.out + ended.err
    assert "fault of the program" not in ended.err
    assert ended.err.strip()


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["diagnose", "chip_in_the_glas"], "did you mean 'chip_in_the_glass'"),
        (["explain", "seel_dirty"], "did you mean 'seal_dirty'"),
        (["diagnose"], "no terminal"),
        (["diagnose", "chip_in_the_glass", "--case", "1"], "add --resume"),
        (["diagnose", "chip_in_the_glass", "--resume"], "leave CASE.yaml out"),
        (["cases", "show", "99"], "cases list"),
        (["diagnose", "--resume"], "troubleshoot diagnose"),
    ],
)
def test_the_sentence_says_the_way_out(run, args, said):
    ended = run(*args)
    assert said in ended.err
    assert ended.out == ""


@pytest.fixture
def failing(monkeypatch):
    """A program whose `about` raises what the test wants."""

    def fail_with(error):
        @click.command()
        def broken():
            raise error

        monkeypatch.setattr(__main__._Late, "get_command", lambda *_: broken)

    return fail_with


def test_a_users_error_is_status_2(run, failing):
    failing(UserError("This cannot be used."))
    assert run("about") == (2, "", "Error: This cannot be used.\n")


def test_a_fault_is_told_where_no_log_can_be_written(run, failing, tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "nowhere"))
    failing(RuntimeError("out of cheese"))
    ended = run("about")
    assert ended.status == 3
    assert "could not be written down (No such file or directory)" in ended.err


def test_of_many_broken_lines_the_first_are_told(run, tmp_path, monkeypatch):
    monkeypatch.setenv("TROUBLESHOOT_DATA", str(tmp_path))
    (tmp_path / "letter.txt").write_text("no case\n" * 1000)
    ended = run("cases", "import", tmp_path / "letter.txt")
    assert ended.status == 2
    assert len(ended.err.splitlines()) == 22
    assert "and 980 more" in ended.err


def test_a_fault_of_the_program_is_status_3_with_a_log(run, failing, tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    failing(RuntimeError("out of cheese"))
    ended = run("about")
    assert ended.status == 3
    assert "Traceback" not in ended.out + ended.err
    (log,) = tmp_path.glob("troubleshoot-*.log")
    assert str(log) in ended.err
    text = log.read_text()
    assert "out of cheese" in text
    assert "Traceback" in text
    assert __version__ in text


@pytest.mark.parametrize("error", [KeyboardInterrupt(), EOFError(), click.Abort()])
def test_an_interruption_is_status_130_and_promises_nothing(run, failing, error):
    failing(error)
    ended = run("about")
    assert ended.status == 130
    assert ended.err.strip() == "Stopped."


def test_an_interruption_says_what_is_kept(run, failing):
    failing(Interrupted("Nothing is lost: `troubleshoot diagnose --resume` goes on."))
    ended = run("about")
    assert ended.status == 130
    assert ended.err.strip().endswith("`troubleshoot diagnose --resume` goes on.")


def test_a_reader_that_has_gone_is_no_fault(program):
    """`troubleshoot ... | head`: the reader closes its end of the pipe."""
    reader, writer = os.pipe()
    os.close(reader)
    try:
        ended = _into(program, writer)
    finally:
        os.close(writer)
    assert "Traceback" not in ended
    assert "fault of the program" not in ended


def _lacking(error):
    try:
        raise error
    except Exception as first:
        raise ValueError("what came of it") from first


@pytest.mark.parametrize(
    "error",
    [
        MemoryError(),
        OSError(errno.ENOMEM, "Cannot allocate memory"),
        ImportError("libz.so.1: failed to map segment from shared object"),  # glibc's own words
    ],
)
@pytest.mark.parametrize("raising", ["at once", "behind another"])
def test_too_little_memory_is_no_fault_of_the_program(run, monkeypatch, error, raising):
    def fails(**_):
        raise error

    fails_so = fails if raising == "at once" else lambda **_: _lacking(error)
    monkeypatch.setattr("troubleshoot.__main__.cli.main", fails_so)
    ended = run("about")
    assert (ended.status, ended.err.count("\n")) == (2, 1)
    assert "too little memory" in ended.err


@pytest.mark.parametrize("missing", ["tempfile", "traceback"])
def test_a_fault_that_cannot_be_written_down_is_told_all_the_same(run, monkeypatch, missing):
    def fails(**_):
        raise ValueError("so")

    monkeypatch.setattr("troubleshoot.__main__.cli.main", fails)
    monkeypatch.setitem(sys.modules, missing, None)
    ended = run("about")
    assert ended.status == 3
    assert "could not be written down (ModuleNotFoundError)" in ended.err


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs a device that is full")
def test_a_full_disk_is_no_fault_of_the_program(program):
    writer = os.open("/dev/full", os.O_WRONLY)
    try:
        ended = _into(program, writer)
    finally:
        os.close(writer)
    assert "cannot be written (No space left on device): make room" in ended
    assert "fault of the program" not in ended


def _into(program, writer):
    import subprocess

    from tests.cli.checkout import ROOT

    done = subprocess.run(
        [sys.executable, "-m", "troubleshoot", "explain", "seal_dirty"],
        stdin=subprocess.DEVNULL, stdout=writer, stderr=subprocess.PIPE, timeout=60,
        env={**os.environ, "PYTHONPATH": str(ROOT)}, check=False,
    )  # fmt: skip
    return done.stderr.decode()


@pytest.mark.first_quick(1)
@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_a_pipe_in_an_old_encoding_costs_letters_only(program, encoding):
    args = ("diagnose", "flakes_on_the_lower_seal", "--no-questions", "--full")
    old = {"PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"}
    ended = program(*args, env=old)
    assert (ended.status, ended.err) == (0, "")
    assert "Dirty seal" in ended.out
    assert '"dirty seal"' in ended.out if encoding == "ascii" else "�" in ended.out


def test_a_closed_standard_input_is_no_fault(tmp_path):
    import subprocess

    from tests.cli.checkout import ROOT

    done = subprocess.run(
        f"{sys.executable} -m troubleshoot diagnose <&-", shell=True, capture_output=True,
        timeout=60, env={**os.environ, "PYTHONPATH": str(ROOT)}, cwd=tmp_path, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert b"no terminal" in done.stderr


def test_the_program_is_installed_under_its_name():
    import tomllib

    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text())["project"]
    assert project["scripts"] == {"troubleshoot": "troubleshoot.start:start"}
    assert project["version"] == __version__


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_an_interruption_while_it_loads_ends_it_without_a_word():
    import signal
    import subprocess

    program = (
        "import os, signal, sys\n"
        "class Press:\n"
        "    def find_spec(self, name, *_):\n"
        "        if name == 'click': os.kill(os.getpid(), signal.SIGINT)\n"
        "sys.meta_path.insert(0, Press())\n"
        "from troubleshoot.start import start\n"
        "start()\n"
    )
    ended = subprocess.run([sys.executable, "-c", program], capture_output=True, check=False)
    assert ended.returncode == -signal.SIGINT
    assert not ended.stdout + ended.stderr
