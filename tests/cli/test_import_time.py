"""`--help` is quick because nothing heavy is imported for it."""

import subprocess
import sys

import pytest

from tests.cli.checkout import ROOT

HEAVY = {
    "numpy", "scipy", "matplotlib", "sqlalchemy", "pydantic", "rich", "questionary", "jinja2",
    "yaml", "durable", "rapidfuzz", "platformdirs",
}  # fmt: skip


def loaded(*args):
    """The packages that a command imports."""
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "troubleshoot", *args],
        capture_output=True, text=True, timeout=60, cwd=ROOT, check=True,
    )  # fmt: skip
    return {line.rpartition("|")[2].strip().split(".")[0] for line in done.stderr.splitlines()}


@pytest.mark.parametrize("args", [["--help"], ["diagnose", "--help"], ["calc", "--help"]])
def test_help_imports_nothing_heavy(args):
    found = loaded(*args)
    assert "click" in found
    assert found & HEAVY == set()


@pytest.mark.first_quick(1)
@pytest.mark.parametrize(
    "args",
    [["diagnose", "chip_in_the_glass", "--no-questions"], ["explain", "seal_dirty"], ["about"]],
)
def test_what_opens_no_casebook_imports_no_database_library(args):
    found = loaded(*args)
    assert "troubleshoot" in found
    assert "sqlalchemy" not in found
