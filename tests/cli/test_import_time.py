"""`--help` is quick because nothing heavy is imported for it."""

import subprocess
import sys

import pytest

from tests.cli.checkout import ROOT

HEAVY = {
    "numpy", "scipy", "matplotlib", "sqlalchemy", "pydantic", "rich", "questionary", "jinja2",
    "yaml", "durable", "rapidfuzz", "platformdirs",
}  # fmt: skip


@pytest.mark.parametrize("args", [["--help"], ["diagnose", "--help"], ["calc", "--help"]])
def test_help_imports_nothing_heavy(args):
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "troubleshoot", *args],
        capture_output=True, text=True, timeout=60, cwd=ROOT, check=True,
    )  # fmt: skip
    loaded = {line.rpartition("|")[2].strip().split(".")[0] for line in done.stderr.splitlines()}
    assert "click" in loaded
    assert loaded & HEAVY == set()
