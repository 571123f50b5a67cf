"""`troubleshoot rules check`: exit status, one JSON object, one line a remark."""

import json
import shutil

import pytest
from click.testing import CliRunner

from troubleshoot.__main__ import cli
from troubleshoot.cli.rules import LAYERS
from troubleshoot.errors import UserError
from troubleshoot.knowledge.lint.run import LAYERS as RUN
from troubleshoot.knowledge.load import shipped

EXTRA = """findings:
  smear:
    source: judgement
    name: Smear
    ask: Does it smear?
    kind: yes_no
    answers: {"yes": "Yes", "no": "No"}
    background: {"yes": 0.1, "no": 0.9}
"""


def run(*args: object):
    return CliRunner().invoke(cli, ["rules", "check", *map(str, args)])


@pytest.fixture
def lab(tmp_path):
    (tmp_path / "lab").mkdir()
    (tmp_path / "lab" / "mine.yaml").write_text(EXTRA)
    return tmp_path / "lab"


def test_layers_of_the_option_are_those_of_the_checks():
    assert LAYERS == RUN


@pytest.mark.slow
def test_shipped_rules_are_checked_by_default():
    result = run()
    assert result.exit_code == 0, result.output
    assert result.output.strip().endswith("nothing to remark.")


@pytest.mark.slow
def test_a_copy_by_itself_is_as_clean(tmp_path):
    copy = shutil.copytree(shipped(), tmp_path / "copy")
    assert run(copy, "--alone").exit_code == 0


@pytest.mark.slow
def test_one_line_a_remark(lab):
    result = run(lab)
    lines = result.output.splitlines()
    assert result.exit_code == 1
    assert len(lines) == 3
    assert all("mine.yaml, line 2, key findings.smear: " in line for line in lines[:2])
    assert lines[-1].endswith("2 remarks.")


@pytest.mark.slow
def test_json_is_one_object(lab):
    result = run(lab, "--json", "--layer", "reachability")
    data = json.loads(result.output)
    assert result.exit_code == 1
    assert data["layers"] == ["reachability"]
    assert [(r["name"], r["line"], r["key"]) for r in data["remarks"]] == [
        ("finding_unrevealed", 2, "findings.smear"),
        ("finding_unspoken", 2, "findings.smear"),
    ]
    assert all(r["message"] and r["remedy"] and r["file"] for r in data["remarks"])


def test_json_when_clean(lab):
    result = run(lab, "--json", "--layer", "style")
    assert result.exit_code == 0
    assert json.loads(result.output)["remarks"] == []


@pytest.mark.slow
def test_what_is_overridden_and_extended_is_listed_apart(lab, rules):
    caution = next(iter(rules.cautions.values()))
    (lab / "mine.yaml").write_text(
        "settings: {extends: true, source: judgement}\n"
        f"cautions:\n  {caution.id}:\n    source: judgement\n    name: Mind\n"
        "    hazard: It is hot.\n    precaution: Keep away.\n"
    )
    data = json.loads(run(lab, "--layer", "style", "--json").output)
    assert data["overridden"] == [f"cautions.{caution.id}"]
    assert data["extended"] == ["settings.settings"]
    lines = run(lab, "--layer", "style").output.splitlines()
    assert f"Overridden: cautions.{caution.id}" in lines
    assert "Extended: settings.settings" in lines


def test_alone_leaves_the_shipped_rules_out(lab):
    result = run(lab, "--alone", "--json")
    assert result.exit_code == 1
    (remark,) = json.loads(result.output)["remarks"]
    assert (remark["layer"], remark["line"]) == ("schema", None)


@pytest.mark.slow
def test_words(lab, tmp_path):
    (tmp_path / "words").write_text("smear\n")
    result = run(lab, "--layer", "style", "--words", tmp_path / "words", "--json")
    assert [r["line"] for r in json.loads(result.output)["remarks"]] == [2, 4, 5]


@pytest.mark.parametrize("text", [None, "a: [\n", "a: 1\na: 2\n"])
def test_unreadable_input_is_for_the_main_program(text, tmp_path):
    folder = tmp_path / "lab"
    if text is not None:
        folder.mkdir()
        (folder / "a.yaml").write_text(text)
    error = run(folder).exception
    assert isinstance(error, UserError)


def test_an_unknown_layer_is_a_usage_error():
    assert run("--layer", "taste").exit_code == 2


def test_sources_are_counted_and_nothing_is_checked(lab):
    data = json.loads(run("--sources", "--json").output)["sources"]
    grounds = {"citation", "computation", "practice", "judgement"}
    assert all(set(counts) == grounds for counts in data.values())
    with_lab = json.loads(run(lab, "--sources", "--json").output)["sources"]
    assert sum(with_lab["findings"].values()) == sum(data["findings"].values()) + 1
    result = run(lab, "--sources")
    assert result.exit_code == 0
    heads, *lines = result.output.splitlines()
    assert heads.split()[:5] == ["citation", "computation", "practice", "judgement", "entries"]
    assert [line.split()[0] for line in lines] == [*data, "all"]
    everything = [int(number) for number in lines[-1].split()[1:6]]
    assert sum(everything[:4]) == everything[4]


def test_sources_with_what_only_a_check_needs_is_a_usage_error():
    assert run("--sources", "--layer", "style").exit_code == 2
