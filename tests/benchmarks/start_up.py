"""Processor time of whole commands, side by side with what they cannot do without."""

import math
import os
import pty
import resource
import select
import signal
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Command:
    """Least processor time of a new process, s; `ratio` to importing what it cannot do without."""

    name: str
    seconds: float
    ratio: float


PLAIN = "import click, numpy, rich.console, rich.table, rich.panel"
PROMPTS = f"{PLAIN}; import prompt_toolkit.application"
ASKS = "import click, rich.console, rich.table, rich.panel, prompt_toolkit.application"
TROUBLESHOOT = ("-m", "troubleshoot")
# All that lies between the start of a live case and its first check but what is typed: the casebook
# is opened, the terminal is ready, and the first step is planned.
FIRST_QUESTION = """
import troubleshoot.__main__
import troubleshoot.cli.live
from troubleshoot.casebook.store import Store
from troubleshoot.advice.step import next_step
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.load import load

Store()
rules = load()
journal = append((), "2026-01-05T09:00:00", "complaint", rules, complaint="slow_pump_down")
next_step(Bench(rules, Machine()).assess(journal))
"""
RUNS: Mapping[str, Sequence[str]] = {
    "imports of click, numpy and rich alone": ("-c", PLAIN),
    "imports of click, rich and prompt_toolkit, no numpy": ("-c", ASKS),
    "imports of all four": ("-c", PROMPTS),
    "imports of all four and SQLAlchemy": ("-c", f"{PROMPTS}; import sqlalchemy"),
    "--help": (*TROUBLESHOOT, "--help"),
    "calc purge": (
        *TROUBLESHOOT, "calc", "purge", "--low", "0.2Torr", "--high", "0.35Torr", "--cycles", "3",
    ),
    "explain seal_dirty": (*TROUBLESHOOT, "explain", "seal_dirty"),
    "troubleshoot alone": TROUBLESHOOT,
    "cases list": (*TROUBLESHOOT, "cases", "list"),
    "diagnose CASE --no-questions --json": (
        *TROUBLESHOOT, "diagnose", "full_stage_on_a_monday", "--no-questions", "--json",
    ),
    "from the start to the first planned question, all loaded": ("-c", FIRST_QUESTION),
}  # fmt: skip
"""The first is what the others are held against."""
FIRST_PROMPT = b"danger sign"
AT_PROMPT = "first question of diagnose, when it stands in a terminal"
BESIDE = "the same, with what is loaded while it is read"
STILL = 1.0  # seconds without a sign on the screen after which all is loaded


def commands(repeats: int) -> list[Command]:
    """Each command in a new process, side by side: least of `repeats` runs after one uncounted.

    The modules are compiled and the rules are kept by the first run, as after an installation.
    """
    least = dict.fromkeys((*RUNS, AT_PROMPT, BESIDE), math.inf)
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "PYTHONPYCACHEPREFIX": f"{folder}/compiled"}
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        environment["TROUBLESHOOT_CACHE"] = f"{folder}/kept"
        environment["TROUBLESHOOT_DATA"] = f"{folder}/data"
        environment["OPENBLAS_NUM_THREADS"] = "1"
        for number in range(repeats + 1):
            taken = {name: _processor_time(run, environment) for name, run in RUNS.items()}
            taken[AT_PROMPT], taken[BESIDE] = _until_first_prompt(environment)
            if number:
                least = {name: min(least[name], taken[name]) for name in least}
    base = next(iter(least.values()))
    return [Command(name, seconds, seconds / base) for name, seconds in least.items()]


def _processor_time(arguments: Sequence[str], environment: Mapping[str, str]) -> float:
    """User and system time of one process, s."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, *arguments], env=environment, cwd=ROOT,
        stdout=subprocess.DEVNULL, check=True,
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def _until_first_prompt(environment: Mapping[str, str]) -> tuple[float, float]:
    """User and system time of `troubleshoot diagnose`, s: as its first prompt stands, and later.

    Later is when nothing more comes to the screen: what is loaded beside the prompt is loaded.
    """
    process, screen = pty.fork()
    if process == 0:
        os.chdir(ROOT)
        arguments = [sys.executable, *TROUBLESHOOT, "diagnose"]
        os.execve(sys.executable, arguments, {**environment, "TERM": "xterm"})
    shown, standing = b"", math.nan
    while select.select([screen], [], [], STILL if FIRST_PROMPT in shown else 60.0)[0]:
        try:
            shown += os.read(screen, 4096)
        except OSError:  # it has ended
            break
        if FIRST_PROMPT in shown and math.isnan(standing):
            standing = _so_far(process)
    os.kill(process, signal.SIGKILL)
    used = os.wait4(process, 0)[2]
    os.close(screen)
    if FIRST_PROMPT not in shown:
        raise RuntimeError(f"no first prompt: {shown.decode(errors='replace')[-300:]}")
    return standing, used.ru_utime + used.ru_stime


def _so_far(process: int) -> float:
    """Processor time that the threads of a running process have used, s (Linux)."""
    tasks = Path(f"/proc/{process}/task").glob("*/schedstat")
    return sum(int(task.read_text().split()[0]) for task in tasks) / 1e9
