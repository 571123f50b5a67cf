"""The commands on cases as a lab uses them: entered, found, corrected, joined, reported."""

import json
import re

import pytest

from troubleshoot.casebook.store import Store
from troubleshoot.cli import setup

TEN = (
    # complaint, cause, what cured it, day, coater, title, proved
    ("pressure not reached", "seal_dirty", "wipe_and_reseat_seals", "2026-01-12", "east",
     "flakes on the lower seal", "fault seen"),
    ("pressure not reached", "seal_dirty", "wipe_and_reseat_seals", "2026-02-03", "east",
     "flakes again", "complaint gone after the remedy"),
    ("pressure not reached", "vent_not_closed", "close_vent", "2026-02-17", "west", "",
     "fault seen"),
    ("slow pump-down", "specimen_wet", None, "2026-02-20", "west", "sponge", "fault seen"),
    ("slow pump-down", "pump_oil_dirty", None, "2026-03-02", "east", "", "said by service"),
    ("slow pump-down", "chamber_damp", None, "2026-03-09", "east", "Monday", None),
    ("no_strike", "hv_control_zero", None, "2026-03-10", "west", "knob at zero", "fault seen"),
    ("no_strike", "argon_supply_off", None, "2026-03-11", "west", "bottle shut", "fault seen"),
    ("pressure not reached", "unlisted", None, "2026-03-12", "east", "odd one", None),
    ("slow pump-down", "pump_oil_dirty", None, "2026-03-30", "east", "oil once more", "fault seen"),
)  # fmt: skip


@pytest.fixture
def ten(run, monkeypatch):
    """Ten cases entered without a question, in the last three months."""
    monkeypatch.setattr(setup, "now", lambda: "2026-04-01T09:00:00")
    for complaint, cause, cure, day, coater, title, proved in TEN:
        more = [x for pair in (("--cured-by", cure), ("--title", title), ("--proved-by", proved))
                if pair[1] for x in pair]  # fmt: skip
        ended = run("cases", "add", "--complaint", complaint, "--cause", cause, "--when", day,
                    "--coater", coater, "--minutes", 20, "--by", "in_charge", *more)  # fmt: skip
        assert (ended.status, "is kept" in ended.out) == (0, True), ended.err
    return run


NOON = "2026-03-29T12:00:00"
CLOCKS = {
    "summer time begins": ("2026-03-29T01:59:50", "2026-03-29T03:00:10"),
    "summer time ends": ("2026-10-25T02:59:50", "2026-10-25T02:00:10"),
    "a day back": (NOON, "2026-03-28T12:00:00"),
    "a year back": (NOON, "2025-03-29T12:00:00"),
    "lost": (NOON, "1970-01-01T00:00:20"),
    "a year ahead": (NOON, "2027-03-29T12:00:00"),
}


LEARNING = (("learned",), ("again", 1))


@pytest.mark.first_quick(2)
@pytest.mark.parametrize("name", CLOCKS)
def test_whatever_the_clock_does_in_a_case_its_order_stands_and_no_minutes_are_negative(
    run, monkeypatch, tmp_path, name
):
    """It jumps after the second answer, and back before the last; what cannot be is said."""
    before, after = CLOCKS[name]
    at = dict(enumerate((before, before, after, after, before, before)))
    back = "back" in name or name in ("lost", "a year ahead")
    for turn, args in enumerate(
        (
            ("add", "--complaint", "pressure not reached", "--cause", "seal_dirty"),
            ("reopen", 1, "--why", "it is back"), ("note", 1, "so"), ("title", 1, "Monday"),
            ("close", 1, "--cause", "seal_dry"), ("note", 1, "and that"),
        )
    ):  # fmt: skip
        monkeypatch.setattr(setup, "now", lambda turn=turn: at[turn])
        assert run("cases", *args).status == 0
    book = Store()
    (row,) = book.cases()
    journal = book.journal(1)
    assert [e.number for e in journal] == list(range(len(journal)))
    assert {e.at for e in journal} == {before, after}
    assert row.minutes is None or 0 <= row.minutes <= 20 * len(journal)
    page = tmp_path / "report.html"
    for args in (
        ("list",), ("stats",), ("line", 1), ("show", 1), ("report", 1, page), ("list", "--json"),
        ("export", tmp_path / "book.jsonl"), *(LEARNING if name == "lost" else ()),
    ):  # fmt: skip
        ended = run("cases", *args)
        assert ended.status == 0, ended.err
        assert not re.search(r"-\d+(\.\d+)? (min|h|days)\b", ended.out + page_text(page))
    assert ("The clock went back by hours" in run("cases", "show", 1).out) == back
    assert ("The clock went back by hours" in page_text(page)) == back


def page_text(page):
    return page.read_text(encoding="utf-8") if page.exists() else ""


def test_a_day_to_come_is_no_day_on_which_something_was_solved(run, monkeypatch):
    monkeypatch.setattr(setup, "now", lambda: NOON)
    solved = ("cases", "add", "--complaint", "no_strike", "--cause", "seal_dry", "--when")
    ended = run(*solved, "2026-03-30")
    assert (ended.status, "still to come" in ended.err) == (2, True)
    assert run(*solved, "1994-05-01").status == run(*solved, "2026-03-29").status == 0
    ended = run(*solved, "0026-03-02")
    assert (ended.status, "write the year whole" in ended.err) == (2, True)


def numbers(text):
    return [int(line.split()[0]) for line in text.splitlines() if re.match(r" *\d+  20", line)]


def test_ten_cases_are_entered_found_corrected_joined_and_reported(ten, tmp_path, rules):
    run = ten
    assert numbers(run("cases", "list").out) == list(range(10, 0, -1))
    assert numbers(run("cases", "list", "--coater", "west").out) == [8, 7, 4, 3]
    assert numbers(run("cases", "list", "--cause", "seal_dirty", "--until", "2026-01-31").out) == [
        1
    ]
    assert numbers(run("cases", "list", "--complaint", "slow pump", "--words", "monday").out) == [6]
    # A word of the rules' own names finds what only has an ID in the book.
    assert numbers(run("cases", "search", "old", "oil").out) in ([5, 10], [10, 5])
    assert numbers(run("cases", "search", "flak").out) in ([1, 2], [2, 1])
    assert "No case holds" in run("cases", "search", "unicorn").out

    like = run("cases", "like", 1).out
    assert like.startswith("3 earlier cases are like this one: ")
    assert "1 x dirty seal" in like.splitlines()[0]
    (flakes,) = [line for line in like.splitlines() if "case 2" in line]
    assert "by: wipe the seals and seat them again" in flakes

    said = run("cases", "correct", 9, "--set", "cause=seal_dry", "--set", "proved_by=fault seen",
               "--why", "seen under the lens", "--by", "service")  # fmt: skip
    assert said.status == 0, said.err
    page = run("cases", "show", 9).out
    assert f"Cause: {rules.causes['seal_dry'].name}" in page
    said = " ".join(page.split())
    assert "How it ended: cause dry, hard or flattened seal, proved by fault seen" in said
    assert "(it said: cause something not in the rule base)" in said
    assert "Says qualified service: seen under the lens" in said
    assert Store().case(9).proved

    second = tmp_path / "second.db"
    lab = ("--casebook", second)
    run(*lab, "cases", "add", "--complaint", "no_strike", "--cause", "shield_shorted",
        "--title", "theirs")  # fmt: skip
    run(*lab, "cases", "export", tmp_path / "theirs.jsonl")
    joined = run("cases", "import", tmp_path / "theirs.jsonl")
    assert joined.out == "Taken in: 1 new case.\nNew here: case 11.\n"
    again = run("cases", "import", tmp_path / "theirs.jsonl").out
    assert again == "Taken in: nothing new.\nHere already: 1 case.\n"
    assert numbers(run("cases", "search", "theirs").out) == [11]

    for number in (1, 9, 11):
        assert run("cases", "report", number, tmp_path / f"{number}.html").status == 0
        html = (tmp_path / f"{number}.html").read_text()
        assert "How it ended" in html
        assert "Do this next" not in html
        assert "Can I still coat today" not in html
    assert "seen under the lens" in (tmp_path / "9.html").read_text()
    assert "flakes on the lower seal" in (tmp_path / "1.html").read_text()

    line = run("cases", "line", 1).out
    assert line == (
        "2026-01-12 | east | Working pressure not reached | Dirty seal; put right | "
        "by: wipe the seals and seat them again | 20 min | case 1\n"
    )
    run("cases", "export", "--csv", tmp_path / "list.csv", "--status", "closed")
    assert len((tmp_path / "list.csv").read_text().splitlines()) == 12


def test_a_backup_is_put_back_by_one_command(ten, tmp_path):
    assert ten("cases", "export", tmp_path / "backup.jsonl").status == 0
    new = ("--casebook", tmp_path / "new.db")
    assert ten(*new, "cases", "import", tmp_path / "backup.jsonl").status == 0
    assert Store(str(tmp_path / "new.db")).cases() == Store().cases()


def test_notes_titles_and_files_are_kept_with_a_case(ten, tmp_path):
    (tmp_path / "seal.jpg").write_bytes(b"\xff\xd8 picture")
    ten("cases", "note", 3, "the", "second", "this", "month")
    ten("cases", "title", 3, "vent", "again")
    ten("cases", "attach", 3, tmp_path / "seal.jpg", "--note", "before wiping")
    page = ten("cases", "show", 3).out
    for text in ("Case 3: vent again", "the second this month", "seal.jpg (10 bytes): before"):
        assert text in page
    ten("cases", "files", 3, "--to", tmp_path / "out")
    assert (tmp_path / "out" / "seal.jpg").read_bytes() == b"\xff\xd8 picture"
    assert numbers(ten("cases", "search", "wiping").out) == [3]


def test_a_file_with_a_path_for_a_name_is_written_into_the_folder_only(ten, tmp_path):
    """Such a name can come with an import."""
    ten("cases", "export", tmp_path / "all.jsonl")
    book = (tmp_path / "all.jsonl").read_text().splitlines()
    record = json.loads(book[1])
    sha = "2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881"  # of "x"
    record["case"] = "f" * 32
    record["journal"].append(
        {"number": len(record["journal"]), "at": "2026-01-12T00:00:00", "kind": "file",
         "data": {"name": "../../evil", "sha256": sha, "size": 1}}
    )  # fmt: skip
    lines = [book[0], json.dumps({"file": sha, "content": "eA=="}), json.dumps(record)]
    (tmp_path / "evil.jsonl").write_text("\n".join(lines))
    assert ten("cases", "import", tmp_path / "evil.jsonl").status == 0
    assert ten("cases", "files", 11, "--to", tmp_path / "a" / "b").status == 0
    assert (tmp_path / "a" / "b" / "evil").read_text() == "x"
    assert not (tmp_path / "evil").exists()


def test_a_wrong_answer_is_corrected_in_its_place(run):
    run("cases", "add", "--complaint", "pressure not reached", "--cause", "seal_dirty",
        "--seen", "seal_look=greasy")  # fmt: skip
    ended = run(
        "cases", "correct", 1, "--entry", 2, "--set", "answer=dust_or_flakes", "--why", "slip"
    )
    assert ended.status == 0, ended.err
    page = run("cases", "show", 1).out
    assert "Look of the seals: Dust, grit or metal flakes" in page
    mute = run("cases", "correct", 1, "--entry", 2, "--set", "answer=clean", "--why", " ")
    assert mute.status == 2
    assert "it is empty: a few words are kept" in " ".join(mute.err.split())
    bad = run("cases", "correct", 1, "--entry", 2, "--set", "answer=dusty", "--why", "slip")
    assert bad.status == 2
    assert "is not one of its answers" in bad.err
    dropped = run("cases", "correct", 1, "--entry", 2, "--drop", "--why", "other coater")
    assert dropped.status == 0
    assert "What was found" not in run("cases", "show", 1).out


def test_reopen_and_close_with_all_that_it_cost(ten):
    assert ten("cases", "reopen", 1, "--why", "it is back", "--by", "student").status == 0
    assert Store().case(1).status == "open"
    ended = ten(
        "cases", "close", 1, "--cause", "seal_dry", "--proved-by", "fault seen", "--minutes", 45,
        "--downtime", 3, "--part", "a seal", "--cost", 12, "--note", "from the drawer",
    )  # fmt: skip
    assert ended.status == 0, ended.err
    page = ten("cases", "show", 1).out
    for text in ("Minutes spent: 45", "Coater stood still: 3 h", "Part used: a seal", "Cost: 12"):
        assert text in page
    again = ten("cases", "close", 1, "--outcome", "cured")
    assert again.status == 2
    assert "cases reopen 1" in again.err


def test_worked_round_is_no_cure(ten):
    ten("cases", "reopen", 3, "--why", "not so")
    ten("cases", "close", 3, "--outcome", "workaround")
    assert "The cause is still there: it was only got round." in ten("cases", "show", 3).out
    assert not Store().case(3).proved


def test_delete_without_a_terminal_wants_to_be_meant(ten):
    asked = ten("cases", "delete", 4)
    assert asked.status == 2
    assert "--yes" in asked.err
    assert ten("cases", "delete", 4, "--yes").status == 0
    assert numbers(ten("cases", "list").out) == [10, 9, 8, 7, 6, 5, 3, 2, 1]


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("add", "--complaint", "slow pump-down", "--cause", "oil"), "Name one by its ID"),
        (("add", "--complaint", "slow pump-down", "--cause", "moon"), "There is no cause 'moon'"),
        (("add", "--complaint", "slow pump-down", "--cause", "seal_dry", "--when", "soon"),
         "no time"),
        (("add", "--complaint", "slow pump-down", "--cause", "seal_dirty", "--seen", "seal"),
         "FINDING=ANSWER"),
        (("list", "--since", "Monday"), "2026-03-02"),
        (("show", 99), "no case 99"),
        (("note", 99, "x"), "no case 99"),
        (("attach", 1, "no_such_file"), "does not exist"),
        (("correct", 1, "--entry", 77, "--drop", "--why", "x"), "no entry 77"),
        (("correct", 1, "--why", "x"), "--set KEY=VALUE"),
        (("correct", 1, "--set", "minutes=many", "--why", "x"), "write a number"),
        (("correct", 1, "--set", "minutes=inf", "--why", "x"), "minutes: inf cannot be"),
        (("add", "--complaint", "no_strike", "--cause", "seal_dry", "--cost", "inf"), "cost: inf"),
        (("import", "no_such_file"), "does not exist"),
        (("report", 1, "/no/such/folder/x.html"), "cannot be written"),
        (("export", "/no/such/folder/x.jsonl"), "cannot be written"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_one_sentence(ten, args, said):
    before = Store().cases()
    ended = ten("cases", *args)
    assert ended.status == 2
    assert said in ended.err.splitlines()[-1]
    assert Store().cases() == before


def test_the_first_page_is_the_newest_and_says_how_many_there_are(ten, monkeypatch):
    monkeypatch.setattr("troubleshoot.cli.cases.look.FIRST_PAGE", 4)
    out = ten("cases", "list").out
    assert numbers(out) == [10, 9, 8, 7]
    assert "The newest 4 of 10" in out
    assert numbers(ten("cases", "list", "--all").out) == list(range(10, 0, -1))


# --- learning ----------------------------------------------------------------------------------


def test_what_is_learnt_is_shown_with_the_cases_behind_it_and_taken_back(ten, rules):
    def dirty_seal():
        told = json.loads(ten("cases", "learned", "--coater", "east", "--json").out)
        ends = {e["end"]: e for e in told["complaints"]["pressure_not_reached"]}
        return told, ends["seal_dirty"]

    told, end = dirty_seal()
    assert (told["cases"], told["coater"]) == (10, "east")
    assert end["here"] == 2.0  # proved, and of this year
    assert end["now"] > end["rules"]
    (cure,) = [r for r in told["remedies"] if r["remedy"] == "wipe_and_reseat_seals"]
    assert cure["tried"] == cure["cured"] > 1.5
    text = " ".join(ten("cases", "learned", "--coater", "east").out.split())
    assert "10 closed cases of this lab (book" in text
    assert "dirty seal" in text
    ten("cases", "delete", 2, "--yes")
    ten("cases", "reopen", 1, "--why", "it is back")
    told, end = dirty_seal()
    assert (told["cases"], end["here"]) == (8, 0.0)
    assert [r["remedy"] for r in told["remedies"]] == ["close_vent"]


def test_nothing_is_learnt_yet(run):
    assert "Nothing is learnt yet" in run("cases", "learned").out


def test_a_second_opinion_does_not_count_the_case_itself(ten, rules):
    told = json.loads(ten("cases", "again", 1, "--json").out)
    assert told["then"]["reckoned_with"] == "the rates of the rule base alone"
    assert "9 closed cases" in told["now"]["reckoned_with"]
    then, now = dict(told["then"]["first"]), dict(told["now"]["first"])
    assert now["seal_dirty"] > then["seal_dirty"]
    before = Store().journal(1)
    assert "It was: dirty seal." in ten("cases", "again", 1).out
    assert Store().journal(1) == before


# --- statistics --------------------------------------------------------------------------------


def test_what_fails_most_in_a_prep_rooms_words(ten, rules):
    page = " ".join(ten("cases", "stats").out.split())
    for text in ("10 cases", "east: 6 cases, one in", "What it was", "pump oil old or dirty",
                 "By month", "2026-03", "What to keep as spares"):  # fmt: skip
        assert text in page, text
    told = json.loads(ten("cases", "stats", "--coater", "west", "--json").out)
    assert [c["cases"] for c in told["coaters"]] == [4]
    assert "No case" in ten("cases", "stats", "--coater", "north").out


def test_how_often_the_tool_was_right_is_said_of_proved_cases_with_answers(ten):
    ten("cases", "add", "--complaint", "pressure_not_reached", "--cause", "seal_dirty", "--seen",
        "seal_look=dust_or_flakes", "--proved-by", "fault seen")  # fmt: skip
    page = " ".join(ten("cases", "stats").out.split())
    assert "In 1 of 1 closed and proved cases what it was came first" in page


def test_care_that_is_due_has_a_line_to_sign(ten):
    from troubleshoot.coater.machine import Machine
    from troubleshoot.upkeep.run import Run

    store = Store()
    store.save_machine(Machine(name="east"))
    store.save_run("east", Run("2024-01-01T09:00:00", "care", did=("oil",)))
    page = ten("cases", "stats").out
    assert "Care that is due" in page
    assert "____" in page


def test_statistics_as_a_page_say_what_the_terminal_says(ten, tmp_path):
    page = tmp_path / "stats.html"
    said = ten("cases", "stats", "--page", page)
    assert said.out == ""
    html = page.read_text(encoding="utf-8")
    told = [line.strip() for line in ten("cases", "stats").out.splitlines() if line.strip("─ ")]
    heads = [line for line in told if f">{line}</h2>" in html]
    assert {"What is complained of", "What it was", "By month"} <= set(heads)
    for row in (line for line in told if line.startswith("█")):
        _, number, name = row.split(maxsplit=2)
        assert name.replace("'", "&#39;") in html
        assert f'<td class="number">{number}</td>' in html
    assert "http" not in html.replace("http-equiv", "").replace("http://www.w3.org", "")


def test_what_was_told_when_a_case_was_closed_stands_in_its_report(ten, tmp_path):
    ten("cases", "add", "--complaint", "slow pump-down", "--cause", "seal_dry", "--part",
        "lid seal", "--minutes", 90, "--downtime", 4, "--cost", 35)  # fmt: skip
    (tmp_path / "seal.jpg").write_bytes(b"\xff\xd8 picture")
    ten("cases", "attach", 11, tmp_path / "seal.jpg", "--note", "before wiping")
    ten("cases", "title", 11, "the old lid seal")
    ten("cases", "report", 11, tmp_path / "11.html")
    html = (tmp_path / "11.html").read_text()
    for text in ("lid seal", ">90<", ">4 h<", ">35<", "the old lid seal",
                 "seal.jpg (10 bytes): before wiping"):  # fmt: skip
        assert text in html


def test_a_case_of_which_nothing_was_wrong_or_nobody_knows_needs_no_cause(ten):
    for outcome, words in (("normal", "nothing was wrong"), ("unsolved", "without an answer")):
        added = ten("cases", "add", "--complaint", "no_strike", "--outcome", outcome)
        assert added.status == 0, added.err
        number = int(re.findall(r"Case (\d+)", added.out)[0])
        assert words in ten("cases", "show", number).out
    assert "Say what it was" in ten("cases", "add", "--complaint", "no_strike").err
    both = ten("cases", "add", "--complaint", "no_strike", "--outcome", "normal",
               "--cause", "seal_dry")  # fmt: skip
    assert "leave --cause out" in both.err


@pytest.mark.parametrize(
    ("option", "value", "offered"),
    [
        ("--complaint", "no glow", "no_strike"),
        ("--cause", "argon shut valve", "argon_supply_off"),
        ("--cause", "seal_drty", "did you mean 'seal_dirty'"),
    ],
)
def test_a_name_that_is_none_is_answered_with_what_may_be_meant(ten, option, value, offered):
    given = {"--complaint": "no_strike", "--cause": "seal_dry"} | {option: value}
    ended = ten("cases", "add", *(x for pair in given.items() for x in pair))
    assert (ended.status, offered in ended.err) == (2, True), ended.err


def test_a_search_that_finds_more_than_a_page_says_so(ten, monkeypatch):
    monkeypatch.setattr("troubleshoot.cli.cases.look.FIRST_PAGE", 3)
    assert "The best 3 of 6: more words leave fewer." in ten("cases", "search", "east").out
    assert "best" not in ten("cases", "search", "flakes").out


@pytest.mark.parametrize("named", ["sqlite://", "sqlite:///:memory:"])
def test_a_casebook_that_would_keep_nothing_is_refused(named, run, monkeypatch):
    monkeypatch.setenv("TROUBLESHOOT_CASEBOOK", named)
    said = run("cases", "list")
    assert said.status == 2
    assert f"{named} keeps nothing once the program ends" in " ".join(said.err.split())
