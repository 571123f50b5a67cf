"""`troubleshoot about`: what runs, and where things are kept."""

import json

from troubleshoot import __version__
from troubleshoot.knowledge.load import shipped
from troubleshoot.reasoning.engine import engine_name


def test_about_as_one_object(run, rules, data_folder):
    facts = json.loads(run("about", "--json").out)
    assert facts["version"] == __version__
    assert facts["engine"] == engine_name()
    assert facts["rule_base"] == rules.hash
    assert facts["rules_folder"] == str(shipped())
    assert facts["data_folder"] == str(data_folder)
    assert facts["causes"] == len(rules.causes)
    assert facts["checks_and_remedies"] == len(rules.actions)


def test_about_in_words_says_what_it_defers_to(run):
    ended = run("about")
    assert (ended.status, ended.err) == (0, "")
    assert "judgement" in ended.out
    assert "handbook" in ended.out


def test_about_makes_no_folder(run, data_folder):
    run("about")
    assert not data_folder.exists()


def test_about_says_why_the_plain_matcher_runs(run, monkeypatch):
    monkeypatch.setattr("troubleshoot.reasoning.engine._durable_name", lambda: None)
    said = run("about").out
    assert "engine               plain matcher" in said
    assert "The results are the same." in " ".join(said.split())
