"""The command lines that score plain remarks and real reports."""

import json

import pytest

from tests.benchmarks import field, words
from troubleshoot.errors import UserError


def test_remarks_are_scored_and_logged(tmp_path, capsys):
    """Shares are printed for each kind of remark, and what was made of each is logged in order."""
    lines = [
        {"text": "its gone all pink", "means": "glow_colour:pink"},
        {"text": "the vacuum never comes", "means": "slow_pump_down",
         "also_ok": ["pressure_not_reached"]},
        {"text": "see you at lunch", "means": None, "held": True},
        {"text": "a crack in the glass", "means": "sign:chip_or_crack", "held": True},
        {"text": "blue and even as always", "means": "sign:gas_alarm", "held": True},
    ]  # fmt: skip
    file, log = tmp_path / "remarks.jsonl", tmp_path / "log.json"
    file.write_text("\n".join(json.dumps(line) for line in lines))
    words.main([str(file), "--log", str(log)])
    said = capsys.readouterr().out
    assert "findings" in said
    assert "first   1 of 1 (100 %)" in said
    assert "left alone   1 of 1 (100 %)" in said
    assert "told   1 of 2 (50 %)" in said
    logged = json.loads(log.read_text())
    assert [entry["text"] for entry in logged] == [line["text"] for line in lines]
    assert logged[0]["findings"][0] == "glow_colour"
    assert "pressure_not_reached" in logged[1]["complaints"]
    assert logged[2] == {"text": "see you at lunch", "findings": [], "complaints": []}


@pytest.mark.parametrize(
    "line", ["{", "[]", '{"means": null}', '{"text": "pink", "means": "no_such_thing"}']
)
def test_a_line_that_cannot_be_read_is_named(tmp_path, rules, line):
    file = tmp_path / "remarks.jsonl"
    file.write_text(line)
    with pytest.raises(UserError, match="line 1"):
        words.remarks(file, rules)


@pytest.mark.slow
def test_the_remarks_that_come_with_it(rules):
    """At least 220, of which at least 80 held out and 15 without a meaning; each says it once."""
    found = words.remarks(words.FILE, rules)
    assert len(found) >= 220
    assert sum(r.held for r in found) >= 80
    assert sum(r.means is None for r in found) >= 15
    assert len({r.text for r in found}) == len(found)


@pytest.mark.slow
@pytest.mark.parametrize("file", [words.FILE, words.BY_ANOTHER, words.BY_A_THIRD])
def test_what_is_meant_is_an_answer_of_its_finding(rules, file):
    for remark in words.remarks(file, rules):
        for name in (remark.means, *remark.also):
            finding, _, answer = (name or "").partition(":")
            if finding == "sign":
                assert answer in rules.signs, remark.text
            elif answer:
                assert answer in rules.findings[finding].answers, remark.text


def test_real_reports_of_another_folder_are_scored_and_logged(tmp_path, capsys, rules):
    """The folder may be any that holds case files and their causes; the log ranks every cause."""
    for name in ("case-004.yaml", "case-072.yaml"):
        (tmp_path / name).write_text((field.FOLDER / name).read_text())
    (tmp_path / "causes.yaml").write_text(
        "case-004: {causes: [seal_dirty]}\ncase-072: {causes: [unlisted]}\n"
    )
    log = tmp_path / "log.json"
    field.main([str(tmp_path), "--log", str(log)])
    assert "near, all told, n 1" in capsys.readouterr().out
    logged = json.loads(log.read_text())
    assert [entry["id"] for entry in logged] == ["case-004", "case-072"]
    for entry in logged:
        assert set(entry["causes"]) <= set(rules.causes)
        assert 0 < entry["unlisted"] < 1
        assert 0 <= entry["nothing_wrong"] < 1


def test_a_folder_without_causes_is_one_sentence(tmp_path, capsys):
    field.main([str(tmp_path)])
    assert "causes.yaml" in capsys.readouterr().out
