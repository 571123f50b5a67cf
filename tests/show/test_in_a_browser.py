"""Reports, service sheets and forms as a browser shows and prints them.

At the width of a telephone, a tablet and a desk, light and dark, and on A4.

The rules of accessibility are those of axe-core (`tests/show/conftest.py`). Without Chromium
nothing here is run.
"""

import pytest

from tests.show.browser import PROGRAM, sheets, violations
from troubleshoot.advice.page import page_of
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append, as_records
from troubleshoot.cli.setup import demo_files
from troubleshoot.show.html import pages

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(PROGRAM is None, reason="needs Chromium"),
]
MADE = "2026-03-02 17:40"
VIEWS = [(360, False), (360, True), (900, False), (1400, True)]
PHONE = 800
PAPER = 680  # CSS pixels between the margins of an A4 sheet: 180 mm at 96 to the inch
LEAST_ON_SCREEN, LEAST_ON_PAPER = 11.0, 8.0 * 96 / 72
ALL = ("flakes_on_the_lower_seal", "logs_alone_a_leak")
DIFFERENT = (*ALL, "smell_of_burning", "tall_larva_that_flares")
# The least size of letters that are seen, words and drawings alike, in CSS pixels. Of a drawing of
# a log: the least size in its style, by how much of its width is shown.
LETTERS = """(async () => {
  let least = [1000, ""];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const at = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim() || !at.checkVisibility()) continue;
    if (["STYLE", "SCRIPT"].includes(at.tagName)) continue;
    const size = parseFloat(getComputedStyle(at).fontSize);
    if (size < least[0]) least = [size, walk.currentNode.data.trim()];
  }
  for (const image of document.querySelectorAll("img[src^='data:image/svg']")) {
    if (!image.checkVisibility()) continue;
    const text = await (await fetch(image.src)).text();
    const sizes = [...text.matchAll(/font(?:-size)?:\\s*([\\d.]+)px/g)].map(m => +m[1]);
    if (!sizes.length) continue;
    const wide = +text.match(/viewBox="0 0 ([\\d.]+)/)[1];
    const size = Math.min(...sizes) * image.getBoundingClientRect().width / wide;
    if (size < least[0]) least = [size, image.alt];
  }
  return least;
})()"""


@pytest.fixture(scope="module")
def made(tmp_path_factory, rules):
    """Every demo's report, and of some the whole of it, the service sheet and the forms."""
    folder = tmp_path_factory.mktemp("pages")
    for path in demo_files():
        case = read_case(path, rules, "2026-03-02T09:00:00")
        bench, journal = Bench(rules, case.machine), case.journal
        page = page_of(bench.assess(journal), journal)
        made = {"": pages.render(page, made_at=MADE)}
        if path.stem in DIFFERENT:
            made["+sheet"] = pages.service_sheet(page, made_at=MADE)
        if path.stem in ALL:
            made["+all"] = pages.render(page, made_at=MADE, print_all=True)
            made["+forms"] = pages.forms(page)
        if path.stem == "cured_and_closed":
            ended = {"outcome": "cured", "cause": "gas_ballast_open", "proved_by": "fault seen"}
            closed = append(journal, "2026-04-13T10:00:00", "closed", rules, **ended)
            made["+closed"] = pages.render(page_of(bench.assess(closed), closed), made_at=MADE)
        for name, text in made.items():
            (folder / f"{path.stem}{name}.html").write_text(text, encoding="utf-8")
    return sorted(folder.glob("*.html"))


def telling(made):
    """The pages that differ most: enough to look at in every view."""
    return [p for p in made if p.stem.split("+")[0] in DIFFERENT or "closed" in p.stem]


def test_pages_are_quiet_ask_for_nothing_and_fit_the_screen(browser, made):
    for path in telling(made):
        for width, dark in VIEWS:
            browser.open(path, width, dark=dark)
            assert browser.noise == [], path.name
            assert browser.asked == [], path.name
            assert browser.run("document.documentElement.scrollWidth") <= width, path.name


def test_a_browser_reads_the_case_that_is_embedded(browser, made, rules):
    case = read_case(demo_files()[0], rules, "2026-03-02T09:00:00")
    path = next(p for p in made if p.stem == demo_files()[0].stem)
    browser.open(path)
    read = "JSON.parse(document.getElementById('case').textContent).journal"
    assert browser.run(read) == as_records(case.journal)


def test_letters_are_large_enough_on_a_telephone_and_on_paper(browser, made):
    """11 px on a screen of 360, 8 pt on paper, in drawings too."""
    for path in telling(made):
        browser.open(path, 360)
        size, where = browser.run(LETTERS)
        assert size >= LEAST_ON_SCREEN, f"{path.name}: {where}"
        browser.open(path, PAPER)
        browser("Emulation.setEmulatedMedia", media="print")
        size, where = browser.run(LETTERS)
        assert size >= LEAST_ON_PAPER - 0.01, f"{path.name}: {where}"


def test_the_first_screen_of_a_telephone_says_what_it_is_and_what_to_do(browser, made):
    for path in made:
        if "+" in path.stem:
            continue
        browser.open(path, 360, PHONE)
        bottom = "(q => document.querySelector(q)?.getBoundingClientRect().bottom ?? 0)"
        first = ".stop" if browser.run("!!document.querySelector('.stop')") else ".next .care"
        for part in (".verdict", ".next .lead", first):
            assert browser.run(f"{bottom}('{part}')") <= PHONE, f"{path.name}: {part}"
        order = "[...document.querySelectorAll('.stop, .verdict, .next')].map(e => e.className)"
        assert [c.split()[-1] for c in browser.run(order)][-2:] == ["verdict", "next"]


def test_a_report_and_a_service_sheet_are_one_sheet_of_paper(browser, made):
    """All of it is printed only where that was asked for."""
    for path in made:
        browser.open(path)
        count = sheets(browser.pdf())
        if path.stem.endswith("+all"):
            assert count > 2, path.name
        elif path.stem.endswith("+forms"):
            assert 1 <= count < 5, f"{path.name}: small forms share a sheet"
        else:
            assert count == 1, path.name


def test_headings_stay_with_what_they_head_on_paper(browser, made):
    """No heading may end a sheet: the browser is told so for each of them."""
    for path in telling(made):
        browser.open(path, PAPER)
        browser("Emulation.setEmulatedMedia", media="print")
        told = "[...document.querySelectorAll('h1,h2,h3')].map(e => getComputedStyle(e).breakAfter)"
        assert set(browser.run(told)) == {"avoid"}


def test_pages_hold_the_rules_of_accessibility(browser, made, axe):
    # What is unfolded holds all that the same report holds folded.
    whole = [p for p in telling(made) if p.stem not in ALL]
    for number, path in enumerate(whole):
        width, dark = ((360, True), (900, False))[number % 2]
        browser.open(path, width, dark=dark)
        assert violations(browser, axe) == [], f"{path.name} at {width}"


def test_the_judge_of_accessibility_would_find_something(browser, axe, tmp_path):
    bad, pale = tmp_path / "bad.html", "<p style='color:#eee'>pale</p>"
    bad.write_text(f"<!doctype html><title>x</title><img src='data:,'>{pale}")
    browser.open(bad)
    found = {rule for rule, *_ in violations(browser, axe)}
    assert {"html-has-lang", "image-alt", "color-contrast"} <= found
