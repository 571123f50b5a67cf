"""The handbook as a browser shows it from a file: phone and desk, light and dark, searched."""

import pytest

from tests.show.browser import PROGRAM, violations

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(PROGRAM is None, reason="needs Chromium"),
]
TELLING = (
    "index.html",
    "complaints/pressure_not_reached.html",
    "causes/seal_dirty.html",
    "checks/look_at_seals.html",
    "remedies/change_oil.html",
    "cautions.html",
    "learn/sticking_is_not_the_pump.html",
    "learn/thin_gold_is_not_golden.html",
    "learn/routine_run.html",
    "search.html",
)
VIEWS = [(360, False), (360, True), (900, False), (1400, True)]


@pytest.fixture(scope="module")
def folder(handbook, tmp_path_factory):
    out = tmp_path_factory.mktemp("handbook")
    for path, text in handbook.items():
        (out / path).parent.mkdir(exist_ok=True)
        (out / path).write_text(text, encoding="utf-8")
    return out


def test_pages_are_quiet_ask_for_nothing_and_fit_the_screen(browser, folder):
    for path in TELLING:
        for width, dark in VIEWS:
            browser.open(folder / path, width, dark=dark)
            assert browser.noise == [], path
            assert browser.asked == [], path
            assert browser.run("document.documentElement.scrollWidth") <= width, path


def test_pages_hold_the_rules_of_accessibility(browser, folder, axe):
    for number, path in enumerate(TELLING):
        width, dark = ((360, True), (900, False))[number % 2]
        browser.open(folder / path, width, dark=dark)
        assert violations(browser, axe) == [], f"{path} at {width}"


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ("stopper vent", "Bung on the vent"),
        ("glow goes out", "Discharge current will not stay stable"),
        ("wett specimen", "Specimen still wet inside"),
        ("Dichtung", "Dirty seal"),
        ("qqqq", None),
    ],
)
def test_it_is_searched_from_a_file(browser, folder, words, first):
    """By people's own words, in another language, and with a slip of the finger."""
    browser.open(folder / "search.html")
    browser.run(
        f"(b => {{ b.value = {words!r}; b.dispatchEvent(new Event('input')); }})"
        "(document.getElementById('words'))"
    )
    found = browser.run("[...document.querySelectorAll('#found a')].map(a => a.textContent)")
    said = browser.run("document.getElementById('count').textContent")
    assert browser.asked == []
    if first is None:
        assert found == []
        assert said.startswith("Nothing")
    else:
        assert first in found[:3]
        assert said[0].isdigit()
        there = browser.run("document.querySelector('#found a').getAttribute('href')")
        assert (folder / there.partition("#")[0]).exists()


def test_words_in_the_address_are_searched_at_once(browser, folder):
    browser.open(folder / "search.html")
    browser.run("location.hash = 'seal%20dust'")
    browser.run("new Promise(done => setTimeout(done, 50))")
    assert browser.run("document.getElementById('words').value") == "seal dust"
    assert "Dirty seal" in browser.run("document.getElementById('found').textContent")
