"""Fixtures for every test: a data folder of its own, and the shipped rules loaded once."""

import shutil
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import settings

from troubleshoot.case.diagnose import Bench
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.load import load, shipped

settings.register_profile("any machine", deadline=None)  # a busy one is no fault
settings.load_profile("any machine")


@pytest.hookimpl(tryfirst=True)  # before `-m` chooses
def pytest_collection_modifyitems(items):
    """`first_quick(n)`: all but the first n examples of a parametrised test are slow."""
    seen = Counter()
    for item in items:
        quick = item.get_closest_marker("first_quick")
        if quick is not None:
            test = item.nodeid.partition("[")[0]
            seen[test] += 1
            if seen[test] > quick.args[0]:
                item.add_marker(pytest.mark.slow)


@pytest.fixture(autouse=True)
def data_folder(tmp_path, tmp_path_factory, monkeypatch):
    """Cases and machines of a test are kept in its own folder, never in the user's."""
    folder = tmp_path / "troubleshoot-data"
    monkeypatch.setenv("TROUBLESHOOT_DATA", str(folder))
    monkeypatch.delenv("TROUBLESHOOT_CASEBOOK", raising=False)
    return folder


@pytest.fixture(scope="session")
def rules():
    """The shipped rules."""
    return load()


@pytest.fixture(scope="session")
def bench(rules):
    """The shipped rules on a coater of which nothing is known."""
    return Bench(rules, Machine())


@pytest.fixture(scope="session")
def small_rules(tmp_path_factory):
    """The small lab: made-up rules with the shipped settings; two complaints, four causes."""
    folder = tmp_path_factory.mktemp("settings")
    shutil.copy(shipped() / "settings.yaml", folder)
    return load([folder, Path(__file__).parent / "talk" / "small_lab"])


@pytest.fixture(scope="session")
def small_bench(small_rules):
    """The small lab on a coater of which nothing is known."""
    return Bench(small_rules, Machine())
