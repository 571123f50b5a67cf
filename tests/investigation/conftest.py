"""The small lab: made-up rules (with the shipped settings) that the conversation tests talk to."""

import shutil
from pathlib import Path

import pytest

from troubleshoot.investigation.state import Bench
from troubleshoot.knowledge.load import load, shipped
from troubleshoot.knowledge.machine import Machine


@pytest.fixture(scope="session")
def small_rules(tmp_path_factory):
    """Two complaints, four causes, checks of every kind."""
    folder = tmp_path_factory.mktemp("settings")
    shutil.copy(shipped() / "settings.yaml", folder)
    return load([folder, Path(__file__).parent / "small_lab"])


@pytest.fixture(scope="session")
def small_bench(small_rules):
    """The small lab on a coater of which nothing is known."""
    return Bench(small_rules, Machine())
