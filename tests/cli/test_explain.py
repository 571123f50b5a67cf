"""`troubleshoot explain`: every entry of the rule base prints as a page for a newcomer."""

from pathlib import Path

import pytest

KINDS = (
    "complaints", "causes", "actions", "findings", "cautions", "workarounds", "mechanisms", "words",
)  # fmt: skip


@pytest.mark.first_quick(3)
@pytest.mark.parametrize("kind", KINDS)
def test_every_entry_has_a_page(run, rules, kind):
    for name, entry in getattr(rules, kind).items():
        ended = run("explain", name)
        assert (ended.status, ended.err) == (0, ""), name
        flat = " ".join(ended.out.split())
        assert " ".join(entry.name.split()) in flat
        assert "Source: " in flat


def test_a_cause_says_what_it_is_how_it_shows_and_what_to_do(run, rules):
    flat = " ".join(run("explain", "seal_dirty").out.split())
    cause = rules.causes["seal_dirty"]
    assert " ".join(cause.what.split()) in flat
    assert "Part: seals. Something is worn, broken or dirty." in flat
    assert rules.findings["seal_look"].answers["dust_or_flakes"] in flat
    for remedy in cause.remedies:
        assert f"Remedy ({remedy})" in flat
    assert cause.today.note in flat


def test_a_check_says_its_steps_and_its_cautions(run, rules):
    flat = " ".join(run("explain", "rate_of_rise").out.split())
    action = rules.actions["rate_of_rise"]
    for step in action.steps:
        assert " ".join(step.split()) in flat
    for name in action.hazards:
        assert f"Caution: {rules.cautions[name].name}" in flat


def test_a_finding_says_where_its_drawings_are(run):
    out = run("explain", "glass_rim").out
    (line,) = (x for x in out.splitlines() if x.startswith("Pictures of these answers: "))
    assert Path(line.split(": ", 1)[1]).read_text().count("<img ") == 4
    assert "drawings" not in run("explain", "hiss").out


def test_a_complaint_names_its_commonest_causes(run, rules):
    flat = run("explain", "uneven_coat").out
    raised = {c.id for c in rules.causes.values() if "uneven_coat" in c.complaints}
    named = {c for c in rules.causes if f" {c} " in flat}
    assert named <= raised
    assert len(named) == min(10, len(raised))


def test_no_two_kinds_share_a_name(rules):
    """`explain ID` has one answer: an ID that stands for two things would hide one of them."""
    names = [name for kind in KINDS for name in getattr(rules, kind)]
    assert sorted({n for n in names if names.count(n) > 1}) == []


def test_alone_it_lists_every_complaint(run, rules):
    said = run("explain")
    assert said.status == 0
    assert all(complaint.name in said.out for complaint in rules.complaints.values())


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("glow goes out", "unstable_current"),
        ("virtual leak", "Trapped air in a hollow part"),
        ("argon", "cylinder"),
        ("Plasma zündet nicht", "no_strike"),
    ],
)
def test_words_find_an_entry_or_list_those_that_may_be_meant(run, words, found):
    said = run("explain", *words.split())
    assert (said.status, said.err) == (0, "")
    assert found in said.out


@pytest.mark.parametrize(("words", "says"), [("seal_drty", "did you mean"), ("qwxz", "Nothing in")])
def test_what_means_nothing_is_refused_with_the_nearest(run, words, says):
    said = run("explain", words)
    assert said.status == 2
    assert says in said.err
