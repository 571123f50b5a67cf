"""Fixtures for every test: a data folder of its own, and the shipped rules loaded once."""

import pytest

from troubleshoot.investigation.state import Bench
from troubleshoot.knowledge.load import load
from troubleshoot.knowledge.machine import Machine


@pytest.fixture(autouse=True)
def data_folder(tmp_path, monkeypatch):
    """Cases and machines of a test are kept in its own folder, never in the user's."""
    folder = tmp_path / "troubleshoot-data"
    monkeypatch.setenv("TROUBLESHOOT_DATA", str(folder))
    return folder


@pytest.fixture(scope="session")
def rules():
    """The shipped rules."""
    return load()


@pytest.fixture(scope="session")
def bench(rules):
    """The shipped rules on a coater of which nothing is known."""
    return Bench(rules, Machine())
