"""`demo` plays a case to the end that its file tells, and records nothing."""

import pytest

from troubleshoot.casebook.store import Store
from troubleshoot.cli.setup import demo_files
from troubleshoot.strict_yaml import read

PLAYED = ("chip_in_the_glass", "flakes_on_the_lower_seal", "smell_of_burning",
          "full_stage_on_a_monday", "two_at_once_seal_and_sponge")  # fmt: skip
"""A stop on the way, a cause, a stop at once, nothing wrong, two causes."""


@pytest.mark.first_quick(2)
@pytest.mark.parametrize(
    "path", [p for p in demo_files() if p.stem in PLAYED], ids=lambda p: p.stem
)
def test_a_demo_plays_itself_to_its_end(run, path, rules):
    said = run("demo", str(path), "--quick")
    assert (said.status, said.err) == (0, "")
    outcome = read(path).data["outcome"]
    if outcome.get("causes") and not outcome.get("cured"):
        asked, _, end = said.out.rpartition("? What was it?")
        named = [rules.causes[c].name.lower() for c in outcome["causes"]]
        assert not asked or any(name in end.lower() for name in named)
    if "stop" in outcome:
        assert "STOP" in said.out
    assert Store().cases() == []


def test_the_first_demo_comes_to_the_cause_and_its_proof(run):
    said = run("demo", "--quick").out
    assert said.index("? Is there any danger sign") < said.index("? What is the trouble?")
    assert "As on a good day" in said
    assert "    Dirty seal" in said
