"""Where the tool is run: other languages and clocks, no home, nowhere to write, no network."""

import os
import select
import shlex
import shutil
import subprocess
import sys

import pytest

from tests.cli.checkout import ROOT
from troubleshoot.__main__ import COMMANDS
from troubleshoot.cli.setup import demo_files

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="surroundings of POSIX"),
]
CASE = str(next(p for p in demo_files() if p.stem == "flakes_on_the_lower_seal"))
JSON = ("diagnose", CASE, "--json")
PLAIN = ("diagnose", CASE, "--no-questions")


def ran(*args, before="", seconds=120, **env):
    """A run of the tool after the statements `before`, with nothing around it but `env`."""
    program = f"{before}\nfrom troubleshoot.__main__ import main\nmain({list(map(str, args))!r})"
    return subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        timeout=seconds,
        check=False,
        env={"PATH": os.environ["PATH"], **env},
    )


def sound(ended, status=0):
    assert ended.returncode == status, ended.stderr
    assert b"Traceback" not in ended.stderr
    return ended.stdout


@pytest.fixture(scope="module")
def usual(tmp_path_factory):
    return sound(ran(*JSON, HOME=str(tmp_path_factory.mktemp("home"))))


@pytest.mark.parametrize(
    "env",
    [
        {"LC_ALL": "C", "PYTHONIOENCODING": "ascii"},
        {"TZ": "Pacific/Kiritimati"},
        {"TZ": "America/St_Johns", "LC_ALL": "C.UTF-8"},
        {"TZ": "no/such/zone"},
        {"COLUMNS": "7", "LINES": "2", "TERM": "dumb"},
        {"PYTHONHASHSEED": "1"},
        {"PYTHONOPTIMIZE": "2"},
    ],
    ids=str,
)
def test_the_same_is_said_in_any_language_zone_and_terminal(tmp_path, usual, env):
    assert sound(ran(*JSON, HOME=str(tmp_path), **env)) == usual


def test_a_plain_page_goes_through_an_old_encoding(tmp_path):
    out = sound(ran(*PLAIN, HOME=str(tmp_path), LC_ALL="C", PYTHONIOENCODING="ascii"))
    assert out.decode("ascii")


def test_decimal_commas_change_nothing(tmp_path, usual):
    localedef = shutil.which("localedef")
    made = localedef and subprocess.run(
        [localedef, "-i", "de_DE", "-f", "UTF-8", str(tmp_path / "de_DE.UTF-8")],
        capture_output=True,
        check=False,
    )
    if not made or made.returncode:
        pytest.skip("no German locale can be made here (Debian: apt-get install locales)")
    before = (
        "import locale\nlocale.setlocale(locale.LC_ALL, 'de_DE.UTF-8')\n"
        "assert locale.str(1.5) == '1,5'"
    )
    ended = ran(*JSON, before=before, HOME=str(tmp_path), LOCPATH=str(tmp_path))
    assert sound(ended) == usual


def test_there_need_be_no_home(usual):
    assert sound(ran(*JSON)) == usual
    assert sound(ran(*JSON, HOME="/no/such/home")) == usual


NOBODY = """
import os, pwd
pwd.getpwuid = lambda number: {}[number]
os.chdir(%r)
"""


def test_a_user_whom_the_system_does_not_know_is_told_where_to_keep_cases(tmp_path, usual):
    """As in a container; a home or a data folder of a relative name is none (XDG base directory
    specification 0.8), so nothing is made where one happens to stand."""
    before = NOBODY % str(tmp_path)
    env = {"HOME": "here", "XDG_DATA_HOME": "here", "TMPDIR": "/no/such/place"}
    assert sound(ran(*JSON, before=before, **env)) == usual
    ended = ran("cases", "list", before=before, **env)
    sound(ended, status=2)
    assert b"home folder is not known here: set TROUBLESHOOT_DATA" in ended.stderr
    assert list(tmp_path.iterdir()) == []
    sound(ran("cases", "list", before=before, TROUBLESHOOT_DATA="data", **env))
    assert [path.name for path in tmp_path.iterdir()] == ["data"]


def test_a_data_folder_that_cannot_be_is_a_sentence(tmp_path):
    (tmp_path / "file").write_text("")
    ended = ran("cases", "list", TROUBLESHOOT_DATA=str(tmp_path / "file" / "data"))
    sound(ended, status=2)
    assert ended.stderr.startswith(b"Error: ")
    assert ended.stderr.count(b"\n") == 1


@pytest.mark.parametrize("args", [PLAIN, JSON, ("--help",), ("explain",)], ids=str)
def test_standard_output_may_be_shut_or_full(tmp_path, args):
    for redirect in (">&-", "2>&-", ">&- 2>&-", "> /dev/full"):
        if "full" in redirect and not os.path.exists("/dev/full"):
            continue
        command = f'"$0" -m troubleshoot "$@" {redirect}'
        ended = subprocess.run(
            ["sh", "-c", command, sys.executable, *args],
            capture_output=True, timeout=120, check=False,
            env={"PATH": os.environ["PATH"], "HOME": str(tmp_path)},
        )  # fmt: skip
        assert ended.returncode in (0, 1, 2), (redirect, ended.stderr)
        assert b"Traceback" not in ended.stderr, redirect


@pytest.mark.parametrize("args", [("read", "--typed"), ("diagnose",)], ids=str)
def test_standard_input_may_be_shut(tmp_path, args):
    ended = subprocess.run(
        ["sh", "-c", '"$0" -m troubleshoot "$@" <&-', sys.executable, *args],
        capture_output=True, timeout=120, check=False,
        env={"PATH": os.environ["PATH"], "HOME": str(tmp_path)},
    )  # fmt: skip
    sound(ended, status=2)
    assert ended.stderr.startswith(b"Error: ")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="a closed window of Linux")
def test_a_window_that_closes_under_a_program_that_outlives_it_loses_nothing(tmp_path):
    """As after `nohup`: what it writes comes to nothing (EIO), and nobody is left to be told."""
    window, inside = os.openpty()
    env = {"PATH": os.environ["PATH"], "HOME": str(tmp_path), "TMPDIR": str(tmp_path)}
    case = [sys.executable, "-m", "troubleshoot", "diagnose", CASE]
    talk = subprocess.Popen(case, stdin=inside, stdout=inside, stderr=inside, env=env)
    os.close(inside)
    said = b""
    while b"(" not in said.rpartition(b"?")[2]:  # the first question, and what may be answered
        assert select.select([window], [], [], 60)[0]
        said += os.read(window, 4096)
    os.close(window)
    assert talk.wait(timeout=60) == 1
    assert not list(tmp_path.glob("troubleshoot-*"))  # no fault was written down
    home = {"HOME": str(tmp_path)}
    assert b"open" in sound(ran("cases", "list", **home))


NO_NETWORK = """
import sys
def refused(event, args):
    told = ("socket.connect", "socket.bind", "socket.getaddrinfo", "socket.sendto",
            "subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "urllib.Request")
    if event in told:
        raise RuntimeError(f"{event} {args}")
sys.addaudithook(refused)
"""


@pytest.mark.parametrize(
    "args",
    [
        JSON,
        PLAIN,
        (*PLAIN, "--report", "report.html", "--service-sheet", "sheet.html", "--forms", "f.html"),
        ("cases", "list"),
        ("explain", "glow"),
        ("rules", "check"),
        ("about",),
    ],
    ids=lambda args: args[0] + str(len(args)),
)
def test_nothing_goes_over_the_network_and_no_program_is_started(tmp_path, args):
    """By the audit events of Python (PEP 578), which no library can go round unseen."""
    args = [str(tmp_path / a) if a.endswith(".html") else a for a in args]
    sound(ran(*args, before=NO_NETWORK, HOME=str(tmp_path)))


NO_WRITING_THERE = """
import os, sys
os.chdir({here!r})
told = {{"os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.chmod", "os.chown", "os.link",
        "os.symlink", "os.truncate", "os.utime", "sqlite3.connect"}}
def refused(event, args):
    if event == "open":
        args = args[:1] if args[2] & (os.O_WRONLY | os.O_RDWR | os.O_CREAT) else ()
    elif event not in told:
        return
    for path in (os.path.abspath(os.fsdecode(a)) for a in args if isinstance(a, str | bytes)):
        if path.startswith({installed!r}):
            os.write(2, f"{{event}} {{path}}".encode())
            os._exit(99)
sys.addaudithook(refused)
from troubleshoot.__main__ import main
for args in {lines!r}:
    try:
        main(args)
    except SystemExit as ended:
        assert not ended.code, args
"""
EVERYTHING = """\
diagnose flakes_on_the_lower_seal --no-questions --report r.html --forms f.html
cases add --complaint no_strike --cause seal_dry
cases stats --page stats.html
cases export book.jsonl
explain seal_dry
learn routine_run
chart no_strike --plays 0 --out wall
handbook handbook
demo --quick
demos --help
machine read {demos}/machine_sieve_room.yaml
coat-plan --specimen copepod --magnification 2000 --kv 5kV
rules schema case
read {demos}/log_rise_vapour.csv
run --base 0.05mbar
check-up --base 0.03mbar
calc convert 1Torr Pa
about"""
"""A line of every command but `drill`, which wants a terminal."""


def test_nothing_is_written_where_the_program_is_installed(tmp_path):
    """As where it is installed once for all users, who may only read it (PEP 578 audit events)."""
    everything = EVERYTHING.format(demos=ROOT / "cases_demo")
    lines = [shlex.split(line) for line in everything.splitlines()]
    assert {line[0] for line in lines} == COMMANDS.keys() - {"drill"}
    places = ("troubleshoot", "rules", "cases_demo")
    installed = (*(str(ROOT / place) for place in places), sys.prefix, sys.base_prefix)
    before = NO_WRITING_THERE.format(here=str(tmp_path), installed=installed, lines=lines)
    env = {"HOME": str(tmp_path), "PYTHONDONTWRITEBYTECODE": "1"}
    sound(ran("about", before=before, seconds=600, **env))
    assert len(list(tmp_path.glob("**/*.*"))) > 100  # the pages of the handbook, and the others


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="limits of Linux")
def test_little_memory_is_enough(tmp_path, usual):
    """256 MB of address space, of which the interpreter and numpy take most."""
    before = "import resource\nresource.setrlimit(resource.RLIMIT_AS, (256 << 20, 256 << 20))"
    assert sound(ran(*JSON, before=before, HOME=str(tmp_path), OPENBLAS_NUM_THREADS="1")) == usual


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="limits of Linux")
def test_too_little_memory_is_a_sentence_and_nothing_that_was_kept_is_lost(tmp_path):
    """From what the interpreter alone needs to where a remark can just be kept."""
    home = {"HOME": str(tmp_path), "OPENBLAS_NUM_THREADS": "1"}
    sound(ran("cases", "add", "--complaint", "no_strike", "--cause", "seal_dry", **home))
    kept, told, sizes = 0, 0, (36, 44, 52, 60, 120)
    for size in sizes:
        before = f"import resource\nresource.setrlimit(resource.RLIMIT_AS, ({size << 20},) * 2)"
        ended = ran("cases", "note", 1, f"at {size} MB", before=before, **home)
        kept += ended.returncode == 0
        told += b"too little memory" in ended.stderr
        # Now and then the interpreter has no memory even for the sentence, and fails of itself.
        spent = b"SystemError: error return without exception set" in ended.stderr
        assert ended.returncode == 0 or b"too little memory" in ended.stderr or spent, ended.stderr
    assert kept
    assert told
    assert sound(ran("cases", "show", 1, "--journal", **home)).count(b" MB") >= kept
