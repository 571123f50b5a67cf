"""A case inside a page: read back as it was, and any other page refused in one sentence."""

import json
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from troubleshoot.advice.page import page_of
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.embedded import as_data, read_page
from troubleshoot.case.journal import append, as_records
from troubleshoot.cli.setup import demo_files
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.errors import UserError
from troubleshoot.show.html.pages import render

AT = "2026-03-02T09:00:00"
MADE = "2026-03-02 17:40"
HOSTILE = "</script><script>alert(1)</script><!-- <script> ]]> & \u2028 \\u003c"


def written(folder, rules, journal, machine):
    path = folder / "report.html"
    shown = page_of(Bench(rules, machine).assess(journal), journal)
    path.write_text(render(shown, made_at=MADE), encoding="utf-8")
    return path


@pytest.mark.first_quick(3)
@pytest.mark.parametrize("demo", demo_files(), ids=lambda p: p.stem)
def test_a_report_opens_its_case_again(demo, rules, tmp_path):
    case = read_case(demo, rules, AT)
    found = read_page(written(tmp_path, rules, case.journal, case.machine), rules)
    assert as_records(found.journal) == as_records(case.journal)
    assert (found.name, found.machine.hash) == (case.name, case.machine.hash)


def test_another_machine_goes_before_that_of_the_page(rules, tmp_path):
    case = read_case(demo_files()[0], rules, AT)
    path = written(tmp_path, rules, case.journal, case.machine)
    assert read_page(path, rules, Machine()).machine == Machine()


@given(st.text(max_size=80))
def test_nothing_that_was_typed_ends_the_element(rules, tmp_path_factory, text):
    machine = machine_from({"name": f"m {text}".replace("\n", " ")}, "x")
    journal = append((), AT, "complaint", rules, complaint="slow_pump_down")
    for said in (text, HOSTILE):
        journal = append(journal, AT, "note", rules, text=said)
    data = as_data(journal, machine)
    assert not re.search("[<>&\u2028\u2029]", data)
    assert json.loads(data)["journal"] == as_records(journal)
    path = tmp_path_factory.mktemp("pages") / "r.html"
    page = f'<!doctype html><script type="application/json" id="case">{data}</script>'
    path.write_text(page, encoding="utf-8", errors="surrogatepass")
    assert as_records(read_page(path, rules).journal) == as_records(journal)


def refused(path, rules):
    with pytest.raises(UserError) as caught:
        read_page(path, rules)
    message = str(caught.value)
    assert message.startswith(f"{path}: ")
    assert "\n" not in message
    return message


def test_a_page_cut_off_anywhere_is_refused(rules, tmp_path):
    case = read_case(demo_files()[0], rules, AT)
    path = written(tmp_path, rules, case.journal, case.machine)
    whole = path.read_bytes()
    end = whole.rindex(b"</script>")
    for length in (*range(0, end, len(whole) // 40), end - 1, end, end + 5):
        path.write_bytes(whole[:length])
        assert re.search("holds no case|is cut off", refused(path, rules)), length


def script(data, more=""):
    return f'<script type="application/json" id="case">{data}</script>{more}'


GOOD = {"format": 1, "machine": {"name": "m"}, "journal": []}
ENTRY = {"number": 0, "at": AT, "kind": "note", "data": {"text": "x"}}


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "holds no case"),
        ("<html><p>Hello</p>", "holds no case"),
        ("\x00\xff" * 50, "holds no case"),
        (script("{}", script("{}")), "more than one"),
        (script("[" * 100_000), "damaged"),
        (script('{"format": NaN}'), "damaged"),
        (script("9" * 10_000), "damaged|no case"),
        (script("[]"), "is no case"),
        (script(json.dumps(GOOD | {"more": 1})), "is no case"),
        (script(json.dumps(GOOD | {"format": 99})), "another version"),
        (script(json.dumps(GOOD)), "is empty"),
        (script(json.dumps(GOOD | {"journal": {}})), "no list"),
        (script(json.dumps(GOOD | {"journal": [7]})), "damaged"),
        (script(json.dumps(GOOD | {"journal": [ENTRY | {"number": 1}]})), "missing"),
        (script(json.dumps(GOOD | {"journal": [ENTRY | {"at": "soon"}]})), "damaged"),
        (script(json.dumps(GOOD | {"journal": [ENTRY | {"data": 3}]})), "damaged"),
        (script(json.dumps(GOOD | {"journal": [ENTRY | {"kind": ["x"]}]})), "damaged"),
        (script(json.dumps(GOOD | {"journal": [ENTRY | {"kind": "spell"}]})), "unknown journal"),
        (script(json.dumps(GOOD | {"journal": [ENTRY | {"data": {"text": {}}}]})), "text"),
        (script(json.dumps(GOOD | {"machine": []})), "no machine"),
        (script(json.dumps(GOOD | {"machine": {"name": "m", "volume": "big"}})), "volume"),
        (
            script(json.dumps(GOOD | {"journal": [
                ENTRY | {"kind": "complaint", "data": {"complaint": "headache"}}]})),
            "does not fit these rules",
        ),
    ],
)  # fmt: skip
def test_a_hostile_page_is_refused_in_one_sentence(text, why, rules, tmp_path):
    path = tmp_path / "page.html"
    path.write_text(text, encoding="utf-8")
    assert re.search(why, refused(path, rules))
