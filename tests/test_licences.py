"""Every package that an installation brings along is listed with its licence."""

import importlib.metadata
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "docs" / "licences.md").read_text(encoding="utf-8")
LISTED = dict(re.findall(r"^\| ([\w-]+) \| ([^|]+) \|", PAGE, re.MULTILINE))
LISTED.pop("package")


def needed():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    hook = project["tool"]["hatch"]["metadata"]["hooks"]["custom"]
    more = project["project"]["optional-dependencies"]
    lines = [*hook["dependencies"], *hook["where-it-builds"]]
    lines += [x for name, extra in more.items() if name != "test" for x in extra]
    return {re.match(r"[\w-]+", line)[0] for line in lines}


def test_all_are_listed_and_no_more():
    assert set(LISTED) == needed()


@pytest.mark.parametrize("name", sorted(LISTED))
def test_what_a_package_says_of_its_licence_is_what_is_listed(name):
    try:
        said = importlib.metadata.metadata(name)
    except importlib.metadata.PackageNotFoundError:
        pytest.skip("not installed here")
    words = [said.get("License-Expression") or "", (said.get("License") or "")[:80]]
    words += [c for c in said.get_all("Classifier") or [] if c.startswith("License ::")]
    if not any(words):
        pytest.skip("it says so in a text only")
    family = re.match(r"[A-Za-z]+", LISTED[name])[0].upper()
    spelled = {"LGPL": ("LGPL", "LESSER")}.get(family, (family,))
    assert any(part in w.upper() for part in spelled for w in words), words
