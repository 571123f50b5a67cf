"""Decision charts: what they cost against chance itself, and what of them stands on the paper."""

import io
import re
import statistics
from copy import copy
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from troubleshoot.__main__ import cli
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.show.sheets import decision
from troubleshoot.show.sheets.files import as_pdf, as_svg
from troubleshoot.show.sheets.paper import Text, arcmin, wrap
from troubleshoot.training.chart import Reckoning
from troubleshoot.training.plays import _World, compared, drawn
from troubleshoot.training.policy import compiled, total

pypdf = pytest.importorskip("pypdf")


@pytest.fixture(scope="module")
def by(bench):
    return Reckoning(bench, "gauge_odd")


@pytest.fixture(scope="module")
def chart(by, rules):
    found = [decision.fitted(one, rules, Machine()) for one in compiled(by)]
    return min(found, key=lambda one: total(by, one))


@pytest.fixture(scope="module")
def page(chart, rules):
    return decision.sheet(chart, rules, Machine(), "made for a test")


def played(by, chart, times):
    """(weighted minutes, ended) of plays by the chart alone, the truth drawn with its weight."""
    out = []
    for n in range(times):
        world = _World(by, drawn(by, (n + 0.5) / times), n)
        out.append((world.down(chart), world.minutes))
    return [m for _, m in out], [e for e, _ in out]


@pytest.mark.slow
def test_what_a_chart_takes_and_ends_is_what_plays_of_it_come_to(by, chart):
    """The sum over hypotheses against chance: within four standard errors of 400 plays."""
    drawable = copy(by)
    drawable.w = by.w.copy()
    drawable.w[1] = 0.0  # what is not in the rules cannot be drawn
    drawable.w /= drawable.w.sum()
    minutes, ended = played(by, chart, 400)
    value, error = drawable.value(chart), statistics.stdev(minutes) / 20
    assert statistics.fmean(minutes) == pytest.approx(value.minutes, abs=4 * error)
    assert statistics.fmean(ended) == pytest.approx(value.cured, abs=4 * 0.025)


def test_every_line_of_a_chart_saves_minutes(by, chart):
    lines = chart.lines()
    assert lines
    for line in lines:
        shorter = chart.only([one for one in lines if one != line])
        assert total(by, shorter) > total(by, chart) - 1.0, line


def test_it_only_names_what_may_be_done(by, chart):
    for way in chart.ways:
        for look in way.looks:
            assert look.action in (by.checks if look.branches else by.remedies)
            assert all(b.kind == "danger" or b.id in by.remedies for b in look.branches)


def test_the_same_coater_is_played_both_ways(by, chart):
    one, other = compared(by, chart, 3), compared(by, chart, 3)
    assert one == other
    assert one.more == pytest.approx(one.chart - one.tool)


def test_it_can_be_read_from_two_metres(page, rules, chart):
    """A letter of 5 minutes of arc is what visual acuity 1.0 resolves (ISO 8596)."""
    sizes = {item.text: item.size for item in page.items if isinstance(item, Text)}
    for way in chart.ways:
        for look in way.looks:
            first = wrap(rules.actions[look.action].name, decision.STEP, 60, bold=True)[0].split()[
                0
            ]
            step = next(text for text in sizes if re.match(rf"\d .*{re.escape(first)}", text))
            assert arcmin(sizes[step], 2.0) >= 7.0
            for branch in look.branches:
                if branch.kind == "remedy":
                    word = rules.actions[branch.id].name.split()[0]
                    assert any(word in t and arcmin(s, 2.0) >= 5.0 for t, s in sizes.items())
    assert arcmin(decision.CARE, 2.0) >= 5.0


def test_a_caution_stands_with_the_step_and_what_to_do_about_it_at_the_foot(page, rules, chart):
    words = " ".join(item.text for item in page.items if isinstance(item, Text))
    actions = {look.action for way in chart.ways for look in way.looks}
    actions |= {b.id for way in chart.ways for k in way.looks for b in k.branches}
    hazards = {h for a in actions if a in rules.actions for h in rules.actions[a].hazards}
    assert hazards
    for name in hazards:
        assert words.count(rules.cautions[name].name.split()[0]) >= 2
    assert "STOP" in words


def test_nothing_stands_outside_the_page(page):
    for item in page.items:
        points = [(item.x, item.y)] if isinstance(item, Text) else item.points
        assert all(0 < x < page.width and 0 < y < page.height for x, y in points)


def test_svg_and_pdf_say_the_same_and_are_the_same_each_time(page):
    svg, pdf = as_svg(page), as_pdf(page)
    assert as_svg(page) == svg
    assert as_pdf(page) == pdf
    root = ElementTree.fromstring(svg)
    drawn_ = [t.text for t in root.iter("{http://www.w3.org/2000/svg}text")]
    (sheet,) = pypdf.PdfReader(io.BytesIO(pdf)).pages
    assert float(sheet.mediabox.width) == pytest.approx(595.28, abs=0.1)  # A4, ISO 216
    text = re.sub(r"\s+", "", sheet.extract_text())
    assert all(re.sub(r"\s+", "", line) in text for line in drawn_)


def test_larger_paper_holds_no_less(by, rules):
    for one in compiled(by):
        small, large = (decision.fitted(one, rules, Machine(), p) for p in ("A4", "A3"))
        assert len(small.lines()) <= len(large.lines())


def test_the_command_writes_both_files_and_says_what_the_chart_costs(tmp_path):
    done = CliRunner().invoke(
        cli, ["chart", "gauge_odd", "--out", str(tmp_path / "wall"), "--plays", "2"]
    )
    assert done.exit_code == 0, done.output
    assert "What it costs" in done.output
    assert {p.name for p in (tmp_path / "wall").iterdir()} == {
        "chart_gauge_odd.svg", "chart_gauge_odd.pdf",
    }  # fmt: skip


def test_an_unknown_complaint_is_said_with_the_nearest(tmp_path):
    done = CliRunner().invoke(cli, ["chart", "gauge_od", "--out", str(tmp_path)])
    assert isinstance(done.exception, UserError)
    assert "gauge_odd" in str(done.exception)
