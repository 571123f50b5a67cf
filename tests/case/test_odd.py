"""What a journal says that cannot be is said; each kind once, and what is usual is not."""

from dataclasses import replace

import pytest

from troubleshoot.case.casefile import read_case
from troubleshoot.case.deduce import deduce
from troubleshoot.case.odd import oddities
from troubleshoot.cli.setup import demo_files
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError

AT = "2026-03-02T09:00:00"
ODD = {
    "a circumstance of another complaint": (
        "complaint: slow_pump_down\ncircumstances: [touched_bare_hands]\n",
        "line 2, item 1 of circumstances", "is not asked of this complaint",
    ),
    "a finding of another complaint": (
        "complaint: specimen_damage\njournal:\n  - {finding: scan_square, answer: dark_stays}\n",
        "line 3, item 1 of journal", "says nothing of this complaint",
    ),
    "a remedy without its outcome": (
        "complaint: slow_pump_down\njournal:\n  - action: wipe_and_reseat_seals\n",
        "line 3, item 1 of journal", "add complaint_now",
    ),
    "a check that is said to cure": (
        "complaint: slow_pump_down\njournal:\n  - {action: listen, complaint_now: cured}\n",
        "line 3, item 1 of journal", "only looks",
    ),
    "a finding that the machine cannot have": (
        "complaint: slow_pump_down\nmachine: {isolation_valve: no}\njournal:\n"
        "  - {finding: rise_shape, answer: straight}\n",
        "line 4, item 1 of journal", "cannot be seen on this coater",
    ),
    "told beside a log": (
        "complaint: slow_pump_down\njournal:\n  - points: \"0 s 0.2 mbar; 60 s 0.4 mbar; "
        "120 s 0.6 mbar; 240 s 1.0 mbar\"\n    valve: shut\n"
        "  - {finding: rise_shape, answer: bends_over}\n",
        "line 5, item 2 of journal", "told and read from a log",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", ODD)
def test_what_cannot_be_is_said_with_its_place(tmp_path, rules, case):
    text, place, words = ODD[case]
    path = tmp_path / "case.yaml"
    path.write_text(text)
    read = read_case(path, rules, AT)
    assert any(place in odd and words in odd for odd in read.odd), read.odd
    said = deduce(read.journal, rules, read.machine).contradictions
    assert any(words in sentence for sentence in said)


def test_a_demo_says_nothing_that_cannot_be(rules):
    for path in demo_files():
        assert read_case(path, rules, AT).odd == (), path.name


def test_what_was_taken_back_is_not_odd(tmp_path, rules):
    path = tmp_path / "case.yaml"
    path.write_text(ODD["a remedy without its outcome"][0])
    journal = read_case(path, rules, AT).journal
    assert oddities(journal, rules, Machine())
    last = journal[-1]
    gone = replace(last, number=last.number + 1, kind="retract", data={"entry": last.number})
    assert not oddities((*journal, gone), rules, Machine())


@pytest.mark.parametrize("name", ["../secret.yaml", "/etc/hostname", "sub/../../secret.yaml"])
@pytest.mark.parametrize("key", ["machine", "reading"])
def test_a_case_reads_nothing_outside_its_folder(tmp_path, rules, key, name):
    folder = tmp_path / "case"
    (folder / "sub").mkdir(parents=True)
    (tmp_path / "secret.yaml").write_text("volume: 5 L\n")
    (folder / "case.yaml").write_text(
        f"complaint: slow_pump_down\nmachine: {name}\n"
        if key == "machine"
        else f"complaint: slow_pump_down\njournal:\n  - reading: {name}\n"
    )
    with pytest.raises(UserError, match="outside the folder of the case"):
        read_case(folder / "case.yaml", rules, AT)
    (folder / "here").symlink_to(tmp_path)
    if name.startswith(".."):
        linked = (folder / "case.yaml").read_text().replace("..", "here")
        (folder / "case.yaml").write_text(linked)
        with pytest.raises(UserError, match="outside the folder of the case"):
            read_case(folder / "case.yaml", rules, AT)


def test_a_case_that_is_trusted_reads_elsewhere(tmp_path, rules):
    folder = tmp_path / "case"
    folder.mkdir()
    (tmp_path / "ours.yaml").write_text("volume: 5 L\n")
    (folder / "case.yaml").write_text("complaint: slow_pump_down\nmachine: ../ours.yaml\n")
    assert read_case(folder / "case.yaml", rules, AT, anywhere=True).machine.numbers
