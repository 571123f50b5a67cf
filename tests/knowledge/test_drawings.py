"""Drawings: only plain shapes load, from their own folder, and everything else is refused."""

import base64
import itertools
import re
import struct
import zlib

import pytest

from tests.knowledge import tiny
from troubleshoot.errors import UserError
from troubleshoot.knowledge.drawings import MOST_BYTES, MOST_PNG_BYTES, PNG, content
from troubleshoot.knowledge.load import load

LINK = 'xmlns:xlink="http://www.w3.org/1999/xlink"'


def drawn(folder, file="cloud.svg", answer="milky"):
    """The tiny rules with a drawing named for one answer."""
    data = tiny.rules()
    data["findings"]["tint"]["drawings"] = {answer: file}
    return tiny.write(folder, data)


def refusal(*folders):
    with pytest.raises(UserError) as caught:
        load(folders)
    return str(caught.value)


def test_a_drawing_loads_as_it_stands(tmp_path):
    folder = drawn(tmp_path / "rules")
    tiny.draw(folder, "cloud.svg")
    rules = load([folder])
    assert rules.findings["tint"].drawings == {"milky": "cloud.svg"}
    assert rules.drawings == {"cloud.svg": tiny.svg()}


def test_the_hash_covers_the_drawings(tmp_path):
    """What a form shows belongs to the rules that a case was opened with."""
    folder = drawn(tmp_path / "rules")
    tiny.draw(folder, "cloud.svg")
    before = load([folder]).hash
    tiny.draw(folder, "cloud.svg", tiny.svg('<rect x="1" y="1" width="9" height="9"/>'))
    assert load([folder]).hash != before


def test_a_later_folder_draws_it_its_own_way(tmp_path):
    folder = drawn(tmp_path / "rules")
    tiny.draw(folder, "cloud.svg")
    ours = tmp_path / "ours"
    ours.mkdir()
    tiny.draw(ours, "cloud.svg", tiny.svg("<g/>"))
    assert load([folder, ours]).drawings == {"cloud.svg": tiny.svg("<g/>")}


def test_a_drawing_that_is_missing(tmp_path):
    folder = drawn(tmp_path / "rules", "clout.svg")
    tiny.draw(folder, "cloud.svg")
    message = refusal(folder)
    assert "key findings.tint.drawings.milky: 'clout.svg' does not exist" in message
    assert "'cloud.svg'" in message


def test_a_drawing_of_an_answer_that_is_missing(tmp_path):
    folder = drawn(tmp_path / "rules", answer="misty")
    tiny.draw(folder, "cloud.svg")
    assert "'misty' does not exist" in refusal(folder)


@pytest.mark.parametrize("file", ["../cloud.svg", "/etc/hostname", "sub/cloud.svg", ".."])
def test_a_drawing_is_named_without_a_path(tmp_path, file):
    folder = drawn(tmp_path / "rules", file)
    (tmp_path / "cloud.svg").write_text(tiny.svg())
    message = refusal(folder)
    assert "key findings.tint.drawings.milky" in message
    assert "no plain file name" in message or "does not exist" in message


def test_a_link_to_a_drawing_outside(tmp_path):
    folder = drawn(tmp_path / "rules")
    outside = tmp_path / "outside.svg"
    outside.write_text(tiny.svg())
    (folder / "drawings").mkdir()
    (folder / "drawings" / "cloud.svg").symlink_to(outside)
    assert "points outside" in refusal(folder)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (tiny.svg("<script>alert(1)</script>"), "the element <script>"),
        (tiny.svg('<script href="x.js"/>'), "the element <script>"),
        (tiny.svg("<foreignObject/>"), "the element <foreignObject>"),
        (tiny.svg('<image href="http://a.example/x.png"/>'), "the element <image>"),
        (tiny.svg('<use href="#a"/>'), "the element <use>"),
        (tiny.svg('<a href="javascript:alert(1)"><g/></a>'), "the element <a>"),
        (tiny.svg("<style>*{}</style>"), "the element <style>"),
        (tiny.svg('<animate attributeName="href"/>'), "the element <animate>"),
        (tiny.svg("<svg/>"), "the element <svg>"),
        (tiny.svg('<g xmlns=""/>'), "the element <g>"),
        (tiny.svg('<h:g xmlns:h="http://www.w3.org/1999/xhtml"/>'), "the element"),
        (tiny.svg('<g href="#a"/>'), "the attribute 'href'"),
        (tiny.svg(f'<g {LINK} xlink:href="#a"/>'), "xlink}href'"),
        (tiny.svg('<g onclick="alert(1)"/>'), "the attribute 'onclick'"),
        (tiny.svg('<g style="fill: red"/>'), "the attribute 'style'"),
        (tiny.svg('<g id="a"/>'), "the attribute 'id'"),
        (tiny.svg('<g fill="url(#a)"/>'), "the value 'url(#a)'"),
        (tiny.svg('<g fill="URL(//a.example)"/>'), "the value"),
        (tiny.svg('<g fill="&quot;&gt;"/>'), "the value"),
        (tiny.svg("<text>nick</text>"), "the element <text>"),
        (tiny.svg("<g>nick</g>"), "text in <g>"),
        (tiny.svg("<g/>nick"), "text in <g>"),
        ('<!DOCTYPE svg [<!ENTITY a "b">]>' + tiny.svg("&a;"), "a declaration"),
        ('<?xml-stylesheet href="x.css"?>' + tiny.svg(), "a declaration"),
        (tiny.svg("<!-- hidden -->"), "a declaration"),
        (tiny.svg("<g>"), "no well-formed SVG"),
        ("", "no well-formed SVG"),
        ('<svg viewBox="0 0 120 80"/>', "not an SVG of the right size"),
        (tiny.svg().replace("120", "900"), "not an SVG of the right size"),
        (tiny.svg("<g/>" * MOST_BYTES), "bytes"),
    ],
)
def test_what_is_more_than_plain_shapes_is_refused(tmp_path, text, why):
    folder = drawn(tmp_path / "rules")
    path = tiny.draw(folder, "cloud.svg", text)
    message = refusal(folder)
    assert message.startswith(f"{path}: ")
    assert why in message
    assert "\n" not in message


def test_other_encodings_are_refused(tmp_path):
    """A parser that guesses the encoding could read what the check did not see."""
    folder = drawn(tmp_path / "rules")
    for encoding in ("utf-16", "utf-7"):
        hidden = tiny.svg("<script/>").encode(encoding)
        tiny.draw(folder, "cloud.svg").write_bytes(hidden)
        assert "cloud.svg: " in refusal(folder)


def chunk(kind, body):
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png(*between, side=4):
    """A grey square as a PNG file, with more chunks between header and pixels."""
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0))
    pixels = chunk(b"IDAT", zlib.compress(b"".join(b"\0" + b"\x80" * side for _ in range(side))))
    return PNG + head + b"".join(between) + pixels + chunk(b"IEND", b"")


def pictured(folder, data):
    """The tiny rules with a picture of one answer, and where that picture stands."""
    drawn(folder, "grain.png")
    path = tiny.draw(folder, "grain.png")
    path.write_bytes(data)
    return path


def test_a_picture_of_pixels_loads_beside_the_drawings(tmp_path):
    pictured(tmp_path / "rules", png())
    rules = load([tmp_path / "rules"])
    assert rules.findings["tint"].drawings == {"milky": "grain.png"}
    kept = rules.drawings["grain.png"]
    assert base64.b64decode(kept) == content("grain.png", kept) == png()


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"GIF89a", "not a PNG"),
        (png()[:-9], "cut off"),
        (png()[:20], "cut off"),
        (PNG, "does not end"),
        (png().replace(b"IDAT", b"IDAX"), "damaged"),
        (png(chunk(b"tEXt", b"Comment\0a name")), "the chunk 'tEXt'"),
        (png(chunk(b"iCCP", b"profile")), "the chunk 'iCCP'"),
        (png(chunk(b"IHDR", b"")), "header does not come first"),
        (PNG + chunk(b"IDAT", b"") + png()[8:], "header does not come first"),
        (PNG + chunk(b"IHDR", b"") + png()[8:], "too large"),
        (png() + b"<script>", "does not end where it says"),
        (png(side=5000), "too large"),
        (png(chunk(b"IDAT", bytes(MOST_PNG_BYTES))), "bytes"),
    ],
)
def test_what_is_more_than_plain_pixels_is_refused(tmp_path, data, why):
    path = pictured(tmp_path / "rules", data)
    message = refusal(tmp_path / "rules")
    assert message.startswith(f"{path}: ")
    assert why in message
    assert "\n" not in message


def test_the_shipped_drawings_are_those_that_are_shown():
    rules = load()
    shown = {file for f in rules.findings.values() for file in f.drawings.values()}
    assert shown == set(rules.drawings)
    assert {"seal_look", "glass_rim", "glow", "film_spread", "where_it_is", "target_face"} <= {
        f.id for f in rules.findings.values() if f.drawings
    }


def curve(rules, name):
    """The points of the bold line of a drawn curve, upwards."""
    lines = re.findall(r'<polyline points="([^"]*)" stroke-width="2.5"', rules.drawings[name])
    return [(float(x), -float(y)) for x, y in (p.split(",") for p in lines[0].split())]


def slopes(points):
    return [(b - a) / (x - w) for (w, a), (x, b) in itertools.pairwise(points)]


def test_a_drawn_curve_does_what_its_answer_says(rules):
    """Straight is straight, what bends over slows down, what stops is flat above the usual base."""
    straight = slopes(curve(rules, "rise_straight.svg"))
    bends = slopes(curve(rules, "rise_bends.svg"))
    assert max(straight) == pytest.approx(min(straight), rel=0.01)
    assert all(later <= earlier for earlier, later in itertools.pairwise(bends))
    assert bends[0] > 8 * bends[-1] > 0
    names = ("usual", "slow", "creeps", "stops", "bursts")
    ends = {name: curve(rules, f"fall_{name}.svg") for name in names}
    usual = ends["usual"]
    assert {p[0][1] for p in ends.values()} == {usual[0][1]}
    middle = len(usual) // 2
    for name, points in ends.items():
        falls = [s <= 1e-6 for s in slopes(points)]
        assert all(falls) is (name != "bursts")
        if name not in ("usual", "bursts"):
            assert points[middle][1] > usual[middle][1] + 5
    late = {name: slopes(points)[-6:] for name, points in ends.items()}
    assert max(map(abs, late["stops"])) < 1e-3
    assert max(late["creeps"]) < -0.01
    assert sum(s > 1 for s in slopes(ends["bursts"])) >= 3
