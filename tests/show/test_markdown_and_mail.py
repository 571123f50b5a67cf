"""A case for a notebook (CommonMark, read by markdown-it-py) and as plain text for service."""

from functools import cache

import pytest
from markdown_it import MarkdownIt

from troubleshoot.advice.page import page_of
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append
from troubleshoot.cli.setup import demo_files
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.knowledge.load import load
from troubleshoot.show.mail import WIDTH, as_mail
from troubleshoot.show.markdown import as_markdown

AT = "2026-03-02T09:00:00"
MADE = "2026-03-02 17:40"
RULES = load()
HOSTILE = "1. # x | <b>y</b> [z](http://a.example) ![i](j) `k` *l* _m_ ~~n~~ &lt; \\ \x1b[31m"


@cache
def demo(path):
    case = read_case(path, RULES, AT)
    return page_of(Bench(RULES, case.machine).assess(case.journal), case.journal)


def read(text):
    """The tokens of the page, those within lines too."""
    top = MarkdownIt("commonmark").enable("table").parse(text)
    return top, [inner for token in top for inner in token.children or ()]


@pytest.mark.parametrize("path", demo_files(), ids=lambda p: p.stem)
def test_a_case_as_markdown(path):
    page = demo(path)
    top, inner = read(as_markdown(page, made_at=MADE))
    heads = [top[n + 1].content for n, t in enumerate(top) if t.type == "heading_open"]
    assert heads[0] == page.case.rules.complaints[page.case.known.complaint].name
    assert heads[1:3] == ["What it looks like", "Do this next"]
    assert len(heads) == len(set(heads))
    shown = " ".join(t.content for t in inner)
    assert page.found.verdict.sentence in shown
    assert page.step.say in shown
    for step in page.step.do.steps if page.step.do else ():
        assert step in shown
    for box in page.cautions:
        assert box.settled or box.text in shown
    assert not {t.type for t in (*top, *inner)} & {"html_block", "html_inline", "link_open"}


def strange():
    machine = machine_from({"name": HOSTILE}, "x")
    journal = append((), AT, "complaint", RULES, complaint="slow_pump_down", words=HOSTILE)
    journal = append(journal, AT, "note", RULES, text=HOSTILE)
    journal = append(journal, AT, "cannot", RULES, action="timed_pump_down", why=HOSTILE)
    return page_of(Bench(RULES, machine).assess(journal), journal)


def test_nobody_writes_markup_into_a_notebook():
    top, inner = read(as_markdown(strange(), made_at=MADE))
    kinds = {t.type for t in (*top, *inner)}
    assert not kinds & {"html_block", "html_inline", "link_open", "image", "code_inline", "s_open"}
    assert [t.tag for t in top if t.type == "heading_open"].count("h1") == 1
    assert any("<b>y</b>" in t.content for t in inner)


def test_a_closed_case_stands_in_the_notebook_in_the_past():
    ended = {"outcome": "cured", "cause": "seal_dirty", "proved_by": "fault seen"}
    journal = append((), AT, "complaint", RULES, complaint="slow_pump_down")
    journal = append(journal, AT, "closed", RULES, **ended)
    text = as_markdown(page_of(Bench(RULES, Machine()).assess(journal), journal), made_at=MADE)
    assert "**It was: dirty seal.**" in text
    assert "Do this next" not in text


@pytest.mark.parametrize("path", demo_files(), ids=lambda p: p.stem)
def test_a_mail_to_service_is_plain_and_says_what_they_ask_for(path):
    page = demo(path)
    text = as_mail(page)
    lines = text.splitlines()
    assert lines[0].startswith("Subject: ")
    assert max(map(len, lines[1:])) <= WIDTH
    flat = " ".join(text.split())
    known = page.case.known
    if known.words:
        assert flat.index(known.words) < flat.index("The coater:")
    for box in page.dangers:
        assert flat.index("DANGER:") < flat.index(box.name) < flat.index("The coater:")
    for word in ("rule base", "deciban", "posterior", page.case.rules.hash):
        assert word not in flat
    assert "We can be reached" in flat


def test_a_mail_moves_no_cursor():
    text = as_mail(strange())
    assert "\x1b" not in text
    assert "\\u001b[31m" in text
