"""`troubleshoot cases`: list, show and close what is kept."""

import json

import pytest

from troubleshoot.advice.phrases import lower_first
from troubleshoot.case.journal import Entry, append
from troubleshoot.casebook.store import Store
from troubleshoot.coater.machine import Machine

AT = "2026-01-05T09:00:00"
SLOW = ("complaint", {"complaint": "pressure_not_reached"})
PARKED = ("parked", {"action": "warm_up", "until": "2026-01-05T11:00"})
SEAL = ("finding", {"finding": "seal_look", "answer": "dust_or_flakes"})


@pytest.fixture
def kept(rules):
    """Keep a case of these entries and give its number."""

    def keep(*entries, name=""):
        store = Store()
        case = store.new_case(name, AT, Machine())
        opened = ("opened", {"name": name, "rules": rules.hash, "machine": Machine().hash})
        journal = ()
        for kind, data in (opened, *entries):
            journal = append(journal, AT, kind, rules, **data)
            store.save(case, journal[-1])
        return case

    return keep


def test_nothing_kept_says_how_to_start(run):
    ended = run("cases", "list")
    assert ended.status == 0
    assert "troubleshoot diagnose" in ended.out


def test_the_list_says_where_each_case_stands(run, kept):
    kept(SLOW)
    kept(SLOW, PARKED)
    kept(SLOW, ("closed", {"outcome": "cured", "cause": "seal_dirty"}))
    kept()
    lines = run("cases", "list").out.splitlines()
    assert lines[0].split()[:3] == ["No.", "Opened", "Coater"]
    assert [line.split()[0] for line in lines[1:4]] == ["3", "2", "1"]
    assert "Dirty seal (not proved); put right" in lines[1]
    assert "parked until 2026-01-05 11:00" in lines[2]
    assert "Working pressure not reached" in lines[3]
    assert "open" in lines[3]
    assert lines[4].startswith("Left before a complaint was given: 1")
    assert "no complaint yet" in run("cases", "list", "--all").out


def test_the_list_as_one_object(run, kept):
    kept(SLOW, PARKED, name="damp")
    ended = run("cases", "list", "--json")
    (case,) = json.loads(ended.out)["cases"]
    assert case["status"] == "parked"
    assert (case["id"], case["name"], case["complaint"]) == (1, "damp", "pressure_not_reached")


def test_show_prints_the_journal_and_where_it_stands(run, kept):
    number = kept(SLOW, SEAL)
    ended = run("cases", "show", number)
    assert ended.status == 0
    assert "Look of the seals: Dust, grit or metal flakes" in ended.out
    assert "Next: " in ended.out
    raw = run("cases", "show", number, "--journal").out.splitlines()
    assert [line.split()[3] for line in raw] == ["opened", "complaint", "finding"]
    assert "answer dust_or_flakes, finding seal_look" in raw[2]


def test_show_as_one_object(run, kept):
    number = kept(SLOW, SEAL)
    whole = json.loads(run("cases", "show", number, "--json").out)
    assert set(whole) == {"case", "machine", "journal", "diagnosis"}
    assert [e["kind"] for e in whole["journal"]] == ["opened", "complaint", "finding"]
    assert whole["diagnosis"]["complaint"] == "pressure_not_reached"


@pytest.mark.parametrize("more", [(), ("--json",)])
def test_a_case_that_was_left_before_its_complaint_can_be_shown(run, kept, more):
    ended = run("cases", "show", kept(), *more)
    assert (ended.status, ended.err) == (0, "")


def test_a_kept_case_is_found_again_without_a_terminal(run, kept):
    number = kept(SLOW, SEAL)
    for args in (("--resume",), ("--resume", "--case", number)):
        found = json.loads(run("diagnose", *args, "--json").out)
        assert found["complaint"] == "pressure_not_reached"
        assert [e["finding"] for e in found["evidence"]] == ["seal_look"]


def test_a_case_that_the_rules_no_longer_fit_is_said_to_be_so(run, kept, rules):
    """A finding of an older rule base: its name is gone from these rules."""
    number = kept(SLOW, SEAL)
    store = Store()
    entry = Entry(3, AT, "finding", {"finding": "seal_looks", "answer": "dust"})
    store.save(number, entry)
    for args in (("cases", "show", number), ("diagnose", "--resume", "--json"),
                 ("cases", "close", number, "--outcome", "cured")):  # fmt: skip
        ended = run(*args)
        assert ended.status == 2, args
        assert "Entry 3" in ended.err
        assert "did you mean 'seal_look'" in ended.err
        assert rules.hash in ended.err
    assert run("cases", "list").status == 0


def test_close_with_options(run, kept):
    number = kept(SLOW, SEAL)
    ended = run(
        "cases", "close", number, "--cause", "seal_dirty", "--outcome", "cured",
        "--proved-by", "fault seen", "--json",
    )  # fmt: skip
    assert ended.status == 0
    assert json.loads(ended.out) == {
        "case": number,
        "closed": {
            "outcome": "cured", "cause": "seal_dirty", "proved_by": "fault seen", "by": "student",
        },
    }  # fmt: skip
    (case,) = Store().cases()
    assert (case.status, case.cause) == ("closed", "seal_dirty")
    again = run("cases", "close", number, "--cause", "seal_dirty")
    assert again.status == 2
    assert "closed already" in again.err


def test_a_case_can_be_closed_with_two_causes_and_its_page_names_both(run, kept, rules, tmp_path):
    number, page = kept(SLOW, SEAL), tmp_path / "page.html"
    causes = ("seal_dirty", "vent_not_closed")
    ended = run("cases", "close", number, *(w for c in causes for w in ("--cause", c)), "--json")
    assert ended.status == 0, ended.err
    assert json.loads(ended.out)["closed"]["cause"] == list(causes)
    ended = run("diagnose", "--resume", "--case", number, "--report", page)
    assert ended.status == 0, ended.err
    html = page.read_text()
    told = " and ".join(lower_first(rules.causes[c].name) for c in causes)
    assert f"It was: {told}." in html
    names = ", ".join(rules.causes[c].name for c in causes)
    assert names in run("cases", "list").out


def test_close_without_a_terminal_says_which_options(run, kept):
    ended = run("cases", "close", kept(SLOW))
    assert ended.status == 2
    assert "--outcome cured --cause" in ended.err
    assert Store().cases()[0].status == "open"


@pytest.mark.parametrize(
    ("option", "value", "said"),
    [("--cause", "seal_drty", "'seal_dirty'"), ("--outcome", "curd", "'cured'")],
)
def test_close_refuses_what_is_not_there(run, kept, option, value, said):
    ended = run("cases", "close", kept(SLOW), option, value)
    assert ended.status == 2
    assert said in ended.err
    assert Store().cases()[0].status == "open"


def test_a_store_that_cannot_be_used_is_status_2(run, data_folder):
    data_folder.mkdir()
    (data_folder / "cases.db").write_text("a letter, and no database at all, of some length " * 9)
    for args in (("cases", "list"), ("diagnose", "--resume"), ("machine", "show")):
        ended = run(*args)
        assert ended.status == 2, args
        assert "no casebook, or is damaged" in ended.err
        assert "backup" in ended.err


def test_a_case_as_a_mail_and_its_report_unfolded(run, kept, tmp_path):
    number, page = kept(SLOW), tmp_path / "page.html"
    ended = run("cases", "mail", number)
    assert (ended.status, ended.err) == (0, "")
    assert ended.out.startswith("Subject: ")
    assert run("cases", "report", number, page).status == 0
    folded = page.read_text()
    assert run("cases", "report", number, page, "--print-all").status == 0
    assert "<details" in folded
    assert 'class="more" id="origin" open' in page.read_text()
    assert 'class="more" id="origin" open' not in folded
