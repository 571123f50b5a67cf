"""What a wheel of this package asks pip for, with and without a C compiler."""

import importlib.util
import shutil
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
CONFIG = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
CONFIG = CONFIG["tool"]["hatch"]["metadata"]["hooks"]["custom"]


@pytest.fixture(scope="module")
def build():
    spec = importlib.util.spec_from_file_location("hatch_build", ROOT / "hatch_build.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def dependencies(build):
    metadata = {}
    build.Dependencies(str(ROOT), CONFIG).update(metadata)
    return metadata["dependencies"]


@pytest.mark.parametrize(
    ("variable", "value"), [("CC", "/no/such/compiler"), ("CC", "false"),
                            ("TROUBLESHOOT_PLAIN_MATCHER", "1")],
)  # fmt: skip
def test_without_a_compiler_the_engine_is_not_asked_for(build, monkeypatch, variable, value):
    monkeypatch.setenv(variable, value)
    assert dependencies(build) == CONFIG["dependencies"]


@pytest.mark.skipif(
    sys.platform != "linux" or sys.version_info >= (3, 13) or not shutil.which("gcc"),
    reason="the engine builds on Linux below Python 3.13, with a compiler",
)
def test_with_a_compiler_the_engine_is_asked_for(build, monkeypatch):
    monkeypatch.setenv("CC", "gcc")
    monkeypatch.delenv("TROUBLESHOOT_PLAIN_MATCHER", raising=False)
    (engine,) = set(dependencies(build)) - set(CONFIG["dependencies"])
    assert engine.startswith("durable-rules==")
