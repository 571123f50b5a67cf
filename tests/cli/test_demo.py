"""`demo` plays a case to the end that its file tells, and records nothing."""

import pytest

from troubleshoot.casebook.store import Store
from troubleshoot.cli.setup import demo_files
from troubleshoot.strict_yaml import read


@pytest.mark.first_quick(2)
@pytest.mark.parametrize("path", demo_files(), ids=lambda p: p.stem)
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
