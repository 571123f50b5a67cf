"""Imports run one way: physics and knowledge at the bottom, the command line on top."""

import tomllib
from pathlib import Path

import troubleshoot

ROOT = Path(__file__).parent.parent.parent


def test_the_contract_holds(capsys, monkeypatch):
    from importlinter.cli import lint_imports

    monkeypatch.chdir(ROOT)
    assert lint_imports(config_filename="pyproject.toml", no_cache=True) == 0, (
        capsys.readouterr().out
    )


def test_the_contract_names_every_package():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    (contract,) = project["tool"]["importlinter"]["contracts"]
    named = {part.strip() for layer in contract["layers"] for part in layer.split("|")}
    package = Path(troubleshoot.__file__).parent
    there = {p.parent.name for p in package.glob("*/__init__.py")}
    assert there <= named
