"""Running the command line inside the test, or as a program of its own."""

import os
import subprocess
import sys
from typing import NamedTuple

import pytest

from tests.cli.checkout import ROOT
from troubleshoot.__main__ import main
from troubleshoot.cli import setup


class Ran(NamedTuple):
    """How a command ended."""

    status: int
    out: str
    err: str


@pytest.fixture
def run(capsys, monkeypatch, rules):
    """Run a command in this process, through the error boundary of the program.

    The shipped rules are not read again for every command; `program` does read them.
    """
    load = setup.load_rules
    monkeypatch.setattr(setup, "load_rules", lambda extra: load(extra) if extra else rules)

    def running(*args):
        capsys.readouterr()
        try:
            main([str(a) for a in args])
            status = 0
        except SystemExit as end:
            status = int(end.code or 0)
        said = capsys.readouterr()
        return Ran(status, said.out, said.err)

    return running


@pytest.fixture
def program(tmp_path):
    """Run a command as a program, without a terminal, in a folder of its own."""

    def running(*args, timeout=60, **more):
        env = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1", **more.pop("env", {})}
        kwargs = {"stdin": subprocess.DEVNULL, "cwd": tmp_path, **more}
        done = subprocess.run(
            [sys.executable, "-m", "troubleshoot", *map(str, args)],
            capture_output=True, timeout=timeout, env=env, check=False, **kwargs,
        )  # fmt: skip
        return Ran(
            done.returncode,
            done.stdout.decode(errors="replace"),
            done.stderr.decode(errors="replace"),
        )

    return running
