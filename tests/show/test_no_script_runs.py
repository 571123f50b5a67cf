"""Script in every text of a lab's own rules, of its cases and of its coater: no page runs it.

The pages are opened in a browser that is told to overlook their policy (`script-src`), so that what
holds is the escaping alone. What was put in would set `window.ran`, at once (an element of HTML or
of SVG) or on an image that cannot be fetched.
"""

from dataclasses import fields, is_dataclass, replace
from typing import get_args, get_origin, get_type_hints

import numpy as np
import pytest
from PIL import Image

from tests.casebook.made import AT, CLOSED, SLOW, keep
from tests.show.browser import PROGRAM
from troubleshoot.advice.page import page_of
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.entries import Reading
from troubleshoot.case.journal import append, enter
from troubleshoot.casebook.drills import Kept
from troubleshoot.casebook.statistics import statistics
from troubleshoot.casebook.store import Store
from troubleshoot.coater.profile import machine_from
from troubleshoot.knowledge.model import Bands, Text
from troubleshoot.readings.door import read_any
from troubleshoot.show import curves
from troubleshoot.show.handbook.site import site
from troubleshoot.show.html import pages
from troubleshoot.show.sheets import decision
from troubleshoot.show.sheets.checklist import checklist
from troubleshoot.show.sheets.exam import exam_sheet
from troubleshoot.show.sheets.files import as_svg
from troubleshoot.show.sheets.pictures import picture_sheet
from troubleshoot.show.statistics import Rightness, sections
from troubleshoot.sources.log_file import Told
from troubleshoot.training.chart import Reckoning
from troubleshoot.training.figures import Curve, Curves
from troubleshoot.training.policy import compiled

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(PROGRAM is None, reason="needs Chromium"),
]
SCRIPT = "<script>window.ran=1</script><img src=x onerror=window.ran=1>]]>\"'{{7*7}}"

REFERENCES = ("drawing", "drawings")
"""Names of files, refused where there is none of that name."""


def hostile(value, of):
    """`value` of the type `of` with the script behind every text that a lab's rules may write."""
    if of == Text or (value is not None and Text in get_args(of) and isinstance(value, str)):
        return value + SCRIPT
    if isinstance(value, Bands):  # a dimension and a unit, refused where they are not known
        return value
    if is_dataclass(value):
        kinds = get_type_hints(type(value), include_extras=True)
        new = {
            f.name: hostile(getattr(value, f.name), kinds[f.name])
            for f in fields(value)
            if f.name not in REFERENCES
        }
        return replace(value, **new)
    for kind in (of, *get_args(of)):
        inner, kept = get_args(kind), get_origin(kind)
        if kept in (list, tuple) and isinstance(value, kept):
            return kept(hostile(v, inner[0]) for v in value)
        if isinstance(value, dict) and len(inner) == 2 and kept is not None:
            return {k: hostile(v, inner[1]) for k, v in value.items()}
    return value


@pytest.fixture(scope="module")
def folder(rules, tmp_path_factory):
    """Everything that the tool writes for a browser, of such rules, such a case, such a coater."""
    out = tmp_path_factory.mktemp("hostile")
    rules = hostile(rules, type(rules))
    assert SCRIPT in rules.causes["seal_dirty"].name
    machine = machine_from({"name": f"ours {SCRIPT}"}, "profile")
    journal = ()
    for kind, data in (
        ("opened", {"rules": SCRIPT, "machine": SCRIPT, "name": SCRIPT}),
        ("complaint", {"complaint": "slow_pump_down", "words": SCRIPT}),
        ("finding", {"finding": "curve_shape", "answer": "bursts"}),
        ("action", {"action": "close_vent", "complaint_now": "better", "value": SCRIPT}),
        ("note", {"text": SCRIPT}),
    ):
        journal = append(journal, AT, kind, rules, **data)
    drawings = {}
    for name, path in _read_from(out).items():
        found, drawings[f"{name}.svg"] = read_any(path, rules.findings, machine, Told())
        reading = Reading.of(found, path.name, drawings[f"{name}.svg"])
        journal = enter(journal, AT, reading, rules)
    page = page_of(Bench(rules, machine).assess(journal), journal)
    book = Store(str(out / "book.db"))
    keep(book, SLOW, ("note", {"text": SCRIPT}), CLOSED, title=SCRIPT, coater=f"ours {SCRIPT}")
    told = sections(statistics(book, None, None), rules, {SCRIPT: [SCRIPT]}, Rightness(()))
    book.close()
    drill = Kept(AT, "student", 1, 1, "slow_pump_down", True, 10.0, 8.0, 0, 0)
    written = {
        "report.html": pages.render(page, made_at=SCRIPT, print_all=True),
        "service.html": pages.service_sheet(page, made_at=SCRIPT),
        "forms.html": pages.forms(page),
        "index.html": pages.index([("report.html", page)]),
        "pictures.html": pages.picture_sheet(SCRIPT, [(SCRIPT, *d) for d in _drawn(rules)]),
        "statistics.html": pages.statistics(told, SCRIPT, made_at=SCRIPT),
        "start_up.svg": as_svg(checklist("start_up", rules, machine, "A4"), rules.drawings),
        "pictures.svg": as_svg(picture_sheet(rules, "A4"), rules.drawings),
        "exam.svg": as_svg(exam_sheet([drill], rules)),
        "decision.svg": as_svg(_decision(rules, machine), rules.drawings),
        "drill.svg": curves.as_svg(Curves(SCRIPT, (CURVE, CURVE), (CURVE, CURVE))),
        **drawings,
        **{f"handbook/{path}": text for path, text in site(rules, [SCRIPT]).items()},
    }
    for path, text in written.items():
        (out / path).parent.mkdir(parents=True, exist_ok=True)
        (out / path).write_text(text, encoding="utf-8")
    return out


CURVE = Curve(SCRIPT, (0.0, 60.0), (5.0, 1.0), SCRIPT)


def _decision(rules, machine):
    """The wall chart of a complaint, with all its lines that find room."""
    by = Reckoning(Bench(rules, machine), "too_thin")
    chart = decision.fitted(next(iter(compiled(by))), rules, machine)
    return decision.sheet(chart, rules, machine, SCRIPT)


def _read_from(folder):
    """A log of pressure, one of a discharge and a micrograph, the script in their names and heads.

    No name holds a stroke, so that the image that cannot be fetched is what would run there.
    """
    name, quoted = SCRIPT.replace("/", "-"), SCRIPT.replace('"', '""')
    pressure, current, picture = (folder / f"{n}{name}" for n in ("p", "c", "m"))
    rows = "".join(f"{t},{100 / (t + 1):.4g}\n" for t in range(0, 600, 5))
    pressure.write_text(f'time (s),"pressure (mbar) {quoted}"\n{rows}')
    rows = "".join(f"{t},{12 + t % 2},0.05\n" for t in range(60))
    current.write_text(f'time (s),"current (mA) {quoted}","pressure (mbar) {quoted}"\n{rows}')
    noise = np.random.default_rng(1).normal(120, 20, (256, 256))
    Image.fromarray(np.clip(noise, 0, 255).astype("uint8")).save(picture, format="PNG")
    return {"pressure": pressure, "current": current, "micrograph": picture}


def _drawn(rules):
    return list(rules.drawings.items())[:2]


def test_no_page_runs_a_script_that_stands_in_a_text(browser, folder):
    handbook = sorted(folder.glob("handbook/**/*.html"))
    assert len(handbook) > 100
    of_each = {path.parent: path for path in handbook}  # one of each kind, and those on top
    own = [path for path in folder.iterdir() if path.suffix in (".html", ".svg")]
    assert len(own) == 14
    seen = 0
    for path in (*own, *of_each.values(), *folder.glob("handbook/*.html")):
        browser.open(path)
        assert browser.run("window.ran === undefined"), path.name
        assert browser.asked == [], path.name
        seen += "window.ran" in str(browser.run("document.documentElement.textContent"))
    assert seen > 20  # it stands there, to be read


def test_a_script_that_is_not_escaped_would_be_seen(browser, tmp_path):
    (tmp_path / "page.html").write_text(f"<!doctype html><title>t</title><p>{SCRIPT}</p>")
    browser.open(tmp_path / "page.html")
    assert not browser.run("window.ran === undefined")
