"""A case on one screen: the verdict first, what to do next last, at every size of a terminal."""

import re

import pytest

from troubleshoot.advice.page import page_of
from troubleshoot.advice.phrases import STANDS_OUT, chance, lower_first
from troubleshoot.advice.verdict import verdict
from troubleshoot.advice.why import how_firm
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append
from troubleshoot.cli.setup import demo_files
from troubleshoot.coater.machine import Machine
from troubleshoot.readings.quantity import answer_text
from troubleshoot.show.plain import LINES, show

AT = "2026-03-02T12:00:00"

DEMOS = demo_files()
SIZES = [(60, 20), (80, 24), (200, 50)]


@pytest.fixture(scope="module")
def page(rules):
    """The page of a demo, each made once."""
    made = {}

    def of(path):
        if path not in made:
            case = read_case(path, rules, "2026-03-02T09:00:00")
            shown = Bench(rules, case.machine).assess(case.journal)
            made[path] = page_of(shown, case.journal)
        return made[path]

    return of


def screen(page, capsys, monkeypatch, columns=80, lines=24, *, full=False, **env):
    for name, value in {"COLUMNS": columns, "LINES": lines, **env}.items():
        monkeypatch.setenv(name, str(value))
    show(page, full=full)
    return capsys.readouterr().out


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_a_case_fits_on_one_screen(page, path, capsys, monkeypatch):
    text = screen(page(path), capsys, monkeypatch)
    assert len(text.splitlines()) <= LINES == 40
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_the_verdict_comes_first_and_what_to_do_next_last(page, path, capsys, monkeypatch):
    case = page(path)
    lines = screen(case, capsys, monkeypatch).splitlines()
    flat = " ".join(" ".join(lines).split())
    assert case.found.verdict.sentence in flat
    assert flat.index(case.found.verdict.sentence) < flat.index("Today: ") < flat.index("Next: ")
    last = " ".join(" ".join(lines[lines.index(next(x for x in lines if "Next: " in x)) :]).split())
    for box in case.cautions:
        assert box.id in case.step.hazards or box.name not in last
        assert box.name in flat
    if case.step.kind != "stop":
        assert case.step.say in last
        assert lines[-1].startswith("It takes ")
    elif case.step.do:
        assert last.endswith(case.step.do.steps[-1])


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_no_sentence_stands_twice_on_a_screen(page, path, capsys, monkeypatch):
    flat = " ".join(screen(page(path), capsys, monkeypatch).replace("│", " ").split())
    sentences = [s for s in re.split(r"(?<=[.!?]) ", flat) if len(s) > 40]
    assert len(sentences) == len(set(sentences))


@pytest.mark.parametrize("path", DEMOS[::2], ids=lambda p: p.stem)
def test_all_of_it_holds_what_the_screen_leaves_out(page, path, capsys, monkeypatch):
    case = page(path)
    flat = " ".join(screen(case, capsys, monkeypatch, full=True).replace("│", " ").split())
    for box in case.cautions:
        assert box.settled or box.text in flat
    for step in case.step.do.steps if case.step.do else ():
        assert step in flat
    for bar in case.found.bars:
        assert bar.name in flat
    assert {chance(bar.part) for bar in case.found.bars} <= set(
        re.findall(r"almost certain|very unlikely|about \d in 10", flat)
    )
    assert "%" not in flat.split("ow likely")[1].split("What each answer")[0]


@pytest.mark.parametrize(("columns", "lines"), SIZES, ids=lambda n: str(n))
@pytest.mark.parametrize("path", DEMOS[::4], ids=lambda p: p.stem)
def test_no_line_is_wider_than_the_terminal(page, path, columns, lines, capsys, monkeypatch):
    for full in (False, True):
        text = screen(page(path), capsys, monkeypatch, columns, lines, full=full)
        assert max(map(len, text.splitlines())) <= columns
        assert "…" not in text, "nothing is cut"


@pytest.mark.parametrize("env", [{"NO_COLOR": "1"}, {"TERM": "dumb"}, {}], ids=str)
def test_a_pipe_gets_plain_text(page, env, capsys, monkeypatch):
    assert "\x1b" not in screen(page(DEMOS[0]), capsys, monkeypatch, **env)


def test_a_verdict_that_does_not_stand_out_is_not_called_firm(rules):
    """Of the first of many it is not said how firm it is."""
    bench = Bench(rules, Machine())
    stand_out = set()
    for complaint in list(rules.complaints)[::2]:
        case = bench.assess(append((), AT, "complaint", rules, complaint=complaint))
        said = verdict(case)
        firm = how_firm(case, said)
        assert 0 <= firm.share <= 1
        assert bool(firm.sentence) == (said.probability >= STANDS_OUT)
        assert said.sentence.startswith("Nothing stands out yet") <= (not firm.sentence)
        stand_out.add(bool(firm.sentence))
    assert stand_out == {True, False}


def leader(page):
    """What comes first on a page: its name within a sentence, and its chance."""
    bars = [b for b in page.found.bars if not b.name.startswith("Any other")]
    first = max(bars, key=lambda bar: bar.part)
    return first.name.split()[0][1:] if first.named else "", chance(first.part)


@pytest.mark.parametrize("path", DEMOS[::2], ids=lambda p: p.stem)
def test_why_now_says_what_the_outcomes_would_mean(page, path, rules):
    """What an outcome is said to mean is what the case says once that is in its journal."""
    case = page(path)
    found = case.found.outcomes
    if case.step.kind == "stop":
        assert found == ()
        return
    bench, journal = Bench(rules, case.case.machine), case.journal
    if case.step.kind == "remedy":
        tried = {"action": case.step.id, "complaint_now": "unchanged"}
        after = append(journal, AT, "action", rules, **tried)
        name, p = leader(page_of(bench.assess(after), after))
        assert f"({p})" in found[1].means
        assert name in found[1].means
        return
    heard = 0
    for name in case.step.findings:
        finding = rules.findings[name]
        for answer in finding.answers:
            text = f"“{lower_first(answer_text(finding, answer, case.case.machine))}”"
            for outcome in (o for o in found if text in o.seen):
                if len(case.step.findings) > 1 and lower_first(finding.name) not in outcome.seen:
                    continue
                seen = {"finding": name, "answer": answer, "check": case.step.id}
                after = append(journal, AT, "finding", rules, **seen)
                first, p = leader(page_of(bench.assess(after), after))
                assert f"({p})" in outcome.means
                assert first in outcome.means
                heard += 1
    assert heard >= len(found) >= 1
