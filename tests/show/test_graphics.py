"""Pictures in a terminal: drawn only where it says it can, and read back dot by dot."""

import os
import re
import sys

import pytest
from PIL import Image

from tests.cli.checkout import ROOT
from troubleshoot.show import graphics
from troubleshoot.show.graphics import attributes, sheet, sixels
from troubleshoot.show.teller import TerminalTeller

TOKEN = re.compile(r'"1;1;(\d+);(\d+)|#(\d+)(?:;2;(\d+);(\d+);(\d+))?|!(\d+)(.)|(.)')


def dots(text):
    """A sixel sequence read back to {(x, y): colour}, its size and its colours.

    By the manual named in the module, and not by what wrote it: `#` chooses or sets a colour, `!`
    repeats, `$` goes back to the left, `-` down six rows, `?` to `~` are six dots from the top.
    """
    body = re.fullmatch(r"\x1bPq(.*)\x1b\\", text, re.S)[1]
    colours, seen, size, x, y, now = {}, {}, None, 0, 0, None
    for token in TOKEN.finditer(body):
        wide, high, colour, r, g, b, times, many, letter = token.groups()
        if wide:
            size = int(wide), int(high)
        elif colour:
            now = int(colour)
            if r is not None:
                colours[now] = (int(r), int(g), int(b))
        elif letter == "$":
            x = 0
        elif letter == "-":
            x, y = 0, y + 6
        else:
            bits, run = ord(many or letter) - 63, int(times or 1)
            assert 0 <= bits < 64
            lit = [(x + dx, y + bit) for dx in range(run) for bit in range(6) if bits >> bit & 1]
            assert not seen.keys() & set(lit), "a dot has one colour"
            seen |= dict.fromkeys(lit, now)
            x += run
    return seen, size, colours


@pytest.mark.parametrize("size", [(1, 1), (7, 6), (30, 13)])
def test_sixels_hold_the_image(size):
    image = Image.effect_noise(size, 90).point(lambda v: 255 * (v > 128)).convert("RGB")
    seen, told, colours = dots(sixels(image))
    assert told == size
    assert seen.keys() == {(x, y) for x in range(size[0]) for y in range(size[1])}
    for place, colour in seen.items():
        want = round(image.getpixel(place)[0] / 255 * 100)
        assert colours[colour] == (want, want, want)


def test_every_drawing_of_the_rules_can_be_shown(rules):
    """Not blank, and each in its own place on the sheet."""
    pytest.importorskip("resvg_py")
    drawn = list(rules.drawings.items())
    image = sheet(drawn)
    step_x, step_y = graphics.WIDTH + graphics.GAP, graphics.HEIGHT + graphics.GAP
    for number, (name, _) in enumerate(drawn):
        left = graphics.GAP + number % graphics.IN_A_ROW * step_x
        top = graphics.GAP + number // graphics.IN_A_ROW * step_y
        inside = (left + 30, top + 30, left + graphics.WIDTH - 30, top + graphics.HEIGHT - 20)
        assert image.crop(inside).convert("L").getextrema()[0] < 200, name


@pytest.mark.parametrize(
    ("reply", "able"),
    [
        ("\x1b[?62;4;22c", True), ("\x1b[?4c", True), ("\x1b[?62;22c", False),
        ("\x1b[?64c", False), ("\x1b[?1;2c", False), ("", False), ("junk", False),
    ],
)  # fmt: skip
def test_a_terminal_says_whether_it_draws_sixels(reply, able):
    assert (4 in attributes(reply)) is able


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")
@pytest.mark.parametrize(
    ("reply", "able"), [("\x1b[?62;4;22c", True), ("\x1b[?1;2c", False), ("", False)]
)
def test_a_real_terminal_is_asked_and_one_that_is_silent_is_not_waited_for(reply, able):
    pytest.importorskip("resvg_py")
    pexpect = pytest.importorskip("pexpect")
    asks = "from troubleshoot.show.graphics import shows_pictures as s; print('able:', s())"
    env = {**os.environ, "TERM": "xterm", "PYTHONPATH": str(ROOT)}
    child = pexpect.spawn(sys.executable, ["-c", asks], env=env, encoding="utf-8", timeout=60)
    child.expect_exact("\x1b[c")
    child.send(reply)
    child.expect(r"able: (\w+)")
    assert child.match[1] == str(able)


def test_nothing_is_drawn_without_a_terminal():
    graphics.shows_pictures.cache_clear()
    assert not graphics.shows_pictures()


def told(rules, monkeypatch, capsys, able):
    monkeypatch.setattr(graphics, "shows_pictures", lambda: able)
    finding = rules.findings["seal_look"]
    shown = [(finding.answers[a], n, rules.drawings[n]) for a, n in finding.drawings.items()]
    TerminalTeller().pictures(finding.ask, shown)
    return capsys.readouterr().out


def test_else_the_path_of_a_page_of_pictures_is_told(rules, monkeypatch, capsys, tmp_path):
    monkeypatch.setenv("TROUBLESHOOT_CACHE", str(tmp_path))
    text = told(rules, monkeypatch, capsys, False)
    (page,) = (tmp_path / "pictures").iterdir()
    assert text == f"Pictures of these answers: {page}\n"
    html = page.read_text()
    finding = rules.findings["seal_look"]
    assert html.count("<img ") == len(finding.drawings)
    assert all(finding.answers[a] in html for a in finding.drawings)


def test_where_no_page_can_be_written_nothing_is_said(rules, monkeypatch, capsys, tmp_path):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("TROUBLESHOOT_CACHE", str(tmp_path / "file"))
    assert told(rules, monkeypatch, capsys, False) == ""


def test_a_terminal_that_can_gets_them_numbered(rules, monkeypatch, capsys, tmp_path):
    pytest.importorskip("resvg_py")
    monkeypatch.setenv("TROUBLESHOOT_CACHE", str(tmp_path))
    text = told(rules, monkeypatch, capsys, True)
    drawing, words = text.split("\x1b\\\n", 1)
    seen, size, _ = dots(drawing + "\x1b\\")
    assert len(seen) == size[0] * size[1]
    flat = " ".join(words.split())
    for number, answer in enumerate(rules.findings["seal_look"].drawings, start=1):
        assert f"{number} {rules.findings['seal_look'].answers[answer]}" in flat
