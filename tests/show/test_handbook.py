"""The handbook: every link leads somewhere, nothing is fetched, no step without its cautions."""

import base64
import hashlib
import json
import re
from html.parser import HTMLParser
from posixpath import dirname, normpath

import pytest
from click.testing import CliRunner

from troubleshoot.__main__ import cli
from troubleshoot.show.handbook.site import site
from troubleshoot.training.figures import on_the_gauge

VOID = {"meta", "link", "img", "br", "hr", "input", "source", "base"}


class Page(HTMLParser):
    """What a browser without scripts would see of a page."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.links, self.ids, self.loads, self.text, self.open = [], set(), [], "", []
        self.headings, self.labels = [], []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        at = dict(attrs)
        if tag not in VOID:
            self.open.append(tag)
        if "id" in at:
            assert at["id"] not in self.ids
            self.ids.add(at["id"])
        if tag == "a":
            self.links.append(at["href"])
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        self.loads += [v for k, v in at.items() if k in ("src", "srcset", "data", "action")]
        self.labels += [at[k] for k in ("aria-labelledby", "for") if k in at]

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if not {"style", "script"} & set(self.open):
            self.text += data


@pytest.fixture(scope="module")
def pages(handbook):
    return handbook


@pytest.fixture(scope="module")
def seen(pages):
    return {path: Page(text) for path, text in pages.items()}


def test_every_entry_that_people_look_up_has_its_page(rules, pages):
    for kind in ("complaints", "causes"):
        assert {f"{kind}/{name}.html" for name in getattr(rules, kind)} <= pages.keys()
    for action in rules.actions.values():
        folder = "checks" if action.kind == "check" else "remedies"
        assert f"{folder}/{action.id}.html" in pages


def test_every_link_leads_to_a_place_that_exists(seen):
    broken = []
    for path, page in seen.items():
        for link in page.links:
            there, _, anchor = link.partition("#")
            target = normpath(f"{dirname(path)}/{there}" if there else path).lstrip("/")
            if target not in seen or (anchor and anchor not in seen[target].ids):
                broken.append((path, link))
    assert broken == []


def test_every_page_can_be_reached_by_links_from_the_first(seen):
    reached, open_ = {"index.html"}, ["index.html"]
    while open_:
        here = open_.pop()
        for link in seen[here].links:
            there = normpath(f"{dirname(here)}/{link.partition('#')[0]}").lstrip("/")
            if link[0] != "#" and there not in reached:
                reached.add(there)
                open_.append(there)
    assert reached == seen.keys()


def test_no_page_asks_for_anything_from_elsewhere(pages, seen):
    for path, page in seen.items():
        assert all(load.startswith("data:image/") for load in page.loads), path
        assert not any(re.match(r"[a-z]+:|//", link) for link in page.links), path
        policy = re.search(r'Content-Security-Policy" content="([^"]+)"', pages[path])[1]
        assert policy.startswith("default-src 'none';")
        style = re.search(r"<style>(.*?)</style>", pages[path], flags=re.S)[1]
        assert _digest(style) in policy
        scripts = re.findall(r"<script>(.*?)</script>", pages[path], flags=re.S)
        assert [f"'sha256-{_digest(s)}'" in policy for s in scripts] == [True] * len(scripts)
        assert ("script-src" in policy) == (path == "search.html") == bool(scripts)


def _digest(text):
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def test_headings_go_down_by_one_and_labels_name_what_is_there(seen):
    for path, page in seen.items():
        assert page.headings[0] == 1, path
        assert page.headings.count(1) == 1, path
        steps = zip(page.headings, page.headings[1:], strict=False)
        assert all(after - before <= 1 for before, after in steps), path
        assert set(page.labels) <= page.ids, path


def test_steps_stand_below_their_cautions(rules, pages):
    for action in rules.actions.values():
        folder = "checks" if action.kind == "check" else "remedies"
        text = pages[f"{folder}/{action.id}.html"]
        steps = text.index('<ol class="steps">')
        for name in action.hazards:
            assert -1 < text.find(f"cautions.html#{name}") < steps, (action.id, name)


def test_the_same_rules_give_the_same_bytes(small_rules):
    assert site(small_rules) == site(small_rules)


def test_what_a_lab_added_is_in_it_and_cannot_break_out(small_rules):
    (name, cause), *_ = small_rules.causes.items()
    ours = cause.model_copy({"lesson": "Look <script>alert(1)</script> & below."})
    rules = small_rules.model_copy({"causes": {**small_rules.causes, name: ours}})
    pages = site(rules, [f"causes.{name}"])
    text = pages[f"causes/{name}.html"]
    assert "Look &lt;script&gt;alert(1)&lt;/script&gt; &amp; below." in text
    assert f"changed: causes.{name}" in text
    (rows,) = re.findall(
        r'<script type="application/json" id="index">(.*?)</script>', pages["search.html"]
    )
    words = {row["address"]: row["words"] for row in json.loads(rows)}
    assert "alert" in words[f"causes/{name}.html"]


def test_the_command_writes_the_pages(tmp_path, monkeypatch, small_rules):
    monkeypatch.setattr("troubleshoot.cli.setup.load_with_changes", lambda _: (small_rules, ()))
    done = CliRunner().invoke(cli, ["handbook", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output
    assert {
        str(p.relative_to(tmp_path / "out")) for p in (tmp_path / "out").rglob("*.html")
    } == set(site(small_rules))


def test_a_place_that_cannot_be_written_is_said_in_one_sentence(tmp_path):
    (tmp_path / "taken").write_text("")
    from troubleshoot.errors import UserError

    done = CliRunner().invoke(cli, ["handbook", str(tmp_path / "taken")])
    assert isinstance(done.exception, UserError)
    assert "taken" in str(done.exception)


def test_without_scripts_the_whole_index_stands_on_the_page(rules, seen):
    text = seen["search.html"].text
    assert all(cause.name in text for cause in rules.causes.values())


def test_causes_that_can_be_simulated_are_drawn_on_the_gauge(rules, pages):
    """A leak ends higher than the sound coater beside it, and rises faster."""
    drawn = {name for name in rules.causes if "simulated coater" in pages[f"causes/{name}.html"]}
    assert {"seal_dirty", "specimen_wet", "virtual_leak", "pump_worn", "hose_collapsed"} <= drawn
    assert "beam_kv_high" not in drawn
    figure = on_the_gauge("seal_dirty")
    for curve, sound in zip(figure.curves, figure.sound, strict=True):
        assert curve.values[-1] > 2 * sound.values[-1]


def test_lessons_stand_on_the_pages_they_speak_of(rules, seen):
    lesson = rules.lessons["ballast_left_open"]
    for path in ("causes/gas_ballast_open.html", "complaints/pressure_not_reached.html"):
        assert f"../learn/{lesson.id}.html" in seen[path].links
