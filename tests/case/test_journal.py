"""The journal: append only, retractable, replaceable, and refusing what cannot stand."""

import dataclasses
import math

import pytest

from tests.case.records import from_records
from troubleshoot.case.entries import KINDS, keys
from troubleshoot.case.journal import (
    MOST,
    Entry,
    append,
    as_records,
    check_all,
    latest_in_epoch,
    standing,
)
from troubleshoot.case.journal import from_records as read_back
from troubleshoot.case.known import replay
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError

AT = "2026-01-05T09:00:00"


def journal(rules, *entries):
    out = ()
    for kind, data in entries:
        out = append(out, AT, kind, rules, **data)
    return out


def seal(answer="clean", **more):
    return "finding", {"finding": "seal", "answer": answer, **more}


WIPED = ("action", {"action": "wipe_seal", "complaint_now": "unchanged"})


def test_entries_are_numbered_and_never_changed(small_rules):
    first = journal(small_rules, seal())
    second = append(first, AT, "note", small_rules, text="so")
    assert [e.number for e in second] == [0, 1]
    assert second[:1] == first


def test_a_retracted_entry_no_longer_stands(small_rules):
    j = journal(small_rules, seal(), ("note", {"text": "so"}), ("retract", {"entry": 0}))
    assert [e.number for e in standing(j)] == [1]
    assert len(j) == 3


def test_a_retracted_retraction_lets_the_first_stand_again(small_rules):
    j = journal(small_rules, seal(), ("retract", {"entry": 0}), ("retract", {"entry": 1}))
    assert [e.number for e in standing(j)] == [0]


@pytest.mark.parametrize("target", [1, 2, -1, "0", None])
def test_only_an_earlier_entry_can_be_retracted(small_rules, target):
    with pytest.raises(UserError, match="retract"):
        journal(small_rules, seal(), ("retract", {"entry": target}))


def test_a_second_answer_in_one_epoch_must_say_that_it_replaces(small_rules):
    with pytest.raises(UserError, match=r"seal: it was already answered .*entry 0.*replaces"):
        journal(small_rules, seal(), seal("dusty"))
    j = journal(small_rules, seal(), seal("dusty", replaces=0))
    assert latest_in_epoch(j, "seal").number == 1


def test_it_must_name_the_one_that_stands_last(small_rules):
    with pytest.raises(UserError, match="entry 1"):
        journal(small_rules, seal(), seal("dusty", replaces=0), seal("torn", replaces=0))


@pytest.mark.parametrize("between", [WIPED, ("epoch", {"why": "next day"})])
def test_in_a_later_epoch_it_is_a_new_answer(small_rules, between):
    j = journal(small_rules, seal(), between, seal("dusty"))
    assert [e.data["answer"] for e in standing(j) if e.kind == "finding"] == ["clean", "dusty"]


def test_a_check_does_not_end_the_epoch(small_rules):
    with pytest.raises(UserError, match="already answered"):
        journal(small_rules, seal(), ("action", {"action": "look_at_seal"}), seal("dusty"))


def test_after_a_retraction_the_answer_can_be_given_anew(small_rules):
    j = journal(small_rules, seal(), ("retract", {"entry": 0}), seal("dusty"))
    assert latest_in_epoch(j, "seal").number == 2


GOOD = {
    "opened": {"rules": "r", "machine": "m"},
    "book": {"hash": "h", "cases": 1, "here": {}, "lab": {"slow": {"vent_open": 1}}, "cures": {}},
    "opening": {"done": "signs"},
    "machine": {"name": "n", "hash": "h"},
    "reading": {
        "what": "pressure log",
        "source": "rise.csv",
        "sha256": "0",
        "reader": "1",
        "sentence": "It rises.",
        "findings": {"seal": [0.2, 0.7, 0.1]},
    },
    "role": {"role": "student"},
    "specimen": {"irreplaceable": True},
    "state": {"state": "vented"},
    "sign": {"sign": "smell", "present": True},
    "complaint": {"complaint": "slow"},
    "circumstance": {"circumstance": "dusty_room", "answer": "yes"},
    "since": {"text": "Monday"},
    "finding": {"finding": "seal", "answer": "clean"},
    "action": {"action": "look_at_seal"},
    "cannot": {"action": "look_at_seal"},
    "later": {"action": "wipe_seal"},
    "epoch": {"why": "next day"},
    "parked": {"action": "wait_an_hour", "until": AT},
    "workaround": {"workaround": "wait_longer"},
    "made_safe": {"caution": "smoke"},
    "repaired": {"caution": "implosion", "role": "in_charge"},
    "go_on": {"although": "accept"},
    "note": {"text": "so"},
    "title": {"text": "so"},
    "file": {"name": "seal.jpg", "sha256": "0", "size": 3},
    "closed": {"outcome": "cured"},
}


def test_the_table_of_good_entries_is_complete():
    assert {*GOOD, "retract", "corrected"} == set(KINDS)


@pytest.mark.parametrize("kind", GOOD)
def test_every_kind_stands_with_what_it_must_have(small_rules, kind):
    assert journal(small_rules, (kind, GOOD[kind]))[0].kind == kind


@pytest.mark.parametrize("kind", GOOD)
def test_every_kind_refuses_a_key_it_does_not_know(small_rules, kind):
    with pytest.raises(UserError, match=f"{kind}: unknown key 'colour'"):
        journal(small_rules, (kind, {**GOOD[kind], "colour": "red"}))


@pytest.mark.parametrize(
    ("kind", "key"), [(k, key) for k in GOOD for key in sorted(keys(KINDS[k])[0])]
)
def test_every_kind_refuses_to_stand_without_what_it_must_have(small_rules, kind, key):
    rest = {k: v for k, v in GOOD[kind].items() if k != key}
    for data in (rest, {**rest, key: None}):
        with pytest.raises(UserError, match=f"{kind}: the key '{key}' is missing"):
            journal(small_rules, (kind, data))


@pytest.mark.parametrize(
    ("kind", "data", "said"),
    [
        ("findin", {}, "did you mean 'finding'"),
        ("finding", {"finding": "seel", "answer": "clean"}, "did you mean 'seal'"),
        ("finding", {"finding": "seal", "answer": "clear"}, "did you mean 'clean'"),
        ("finding", {"finding": "seal"}, "either an answer or a quantity"),
        ("finding", {"finding": "base", "answer": "high", "quantity": "1 mbar"}, "not both"),
        ("finding", {"finding": "seal", "quantity": "1 mbar"}, "not a number"),
        ("finding", {"finding": "base", "quantity": "1 minute"}, "a unit of time"),
        ("finding", {"finding": "base", "quantity": "-1 bar"}, "write so, such as -0.9 barg"),
        ("finding", {"finding": "base", "quantity": "OVER"}, "end of the scale"),
        ("finding", {"finding": "base", "quantity": "10-3 mbar"}, "two ways"),
        ("finding", {"finding": "seal", "answer": ["clean", "clean"]}, "two or three different"),
        ("finding", {"finding": "seal", "answer": ["clean", "dsty"]}, "did you mean 'dusty'"),
        ("finding", {"finding": "seal", "answer": ["clean", "unknown"]}, "'unknown' is not one"),
        ("finding", {"finding": "seal", "answer": ["clean", "dusty", "torn"]}, "answer: unknown"),
        ("finding", {"finding": "seal", "answer": []}, "takes one value"),
        ("finding", {"finding": "seal", "answer": [["clean"], "dusty"]}, "is not one of its answ"),
        ("circumstance", {"circumstance": "dusty_room", "answer": ["yes", "no"]}, "one value"),
        ("circumstance", {"circumstance": "dusty_room", "answer": "yes", "sure": "x"}, "sureness"),
        ("finding", {"finding": "base", "quantity": "1"}, "has no unit"),
        ("finding", {"finding": "base", "quantity": "lots"}, "expected a number and a unit"),
        ("finding", {"finding": "seal", "answer": ["clean"]}, "takes one value"),
        ("finding", {"finding": "seal", "answer": "clean", "sure": "farly"}, "mean 'fairly'"),
        ("finding", {"finding": "seal", "answer": "clean", "check": "x"}, "check or remedy 'x'"),
        ("action", {"action": "wipe_seel"}, "did you mean 'wipe_seal'"),
        ("action", {"action": "wipe_seal", "complaint_now": "curd"}, "did you mean 'cured'"),
        ("complaint", {"complaint": "slwo"}, "did you mean 'slow'"),
        ("role", {"role": "studnt"}, "did you mean 'student'"),
        ("state", {"state": "vnted"}, "did you mean 'vented'"),
        ("sign", {"sign": "smel", "present": True}, "did you mean 'smell'"),
        ("sign", {"sign": "smell", "present": "no"}, "write true or false"),
        ("specimen", {"irreplaceable": "no"}, "write true or false"),
        ("circumstance", {"circumstance": "dusty_rom", "answer": "yes"}, "mean 'dusty_room'"),
        ("circumstance", {"circumstance": "dusty_room", "answer": "ye"}, "did you mean 'yes'"),
        ("made_safe", {"caution": "smok"}, "did you mean 'smoke'"),
        ("workaround", {"workaround": "wait_long"}, "did you mean 'wait_longer'"),
        ("closed", {"outcome": "curd"}, "did you mean 'cured'"),
        ("closed", {"outcome": "cured", "minutes": math.nan}, "minutes: nan cannot be"),
        ("closed", {"outcome": "cured", "downtime": 1e300}, "downtime: 1e+300 cannot be"),
        ("closed", {"outcome": "cured", "cost": -1}, "cost: -1 cannot be"),
        ("closed", {"outcome": "cured", "cause": "vent_opn"}, "did you mean 'vent_open'"),
        ("closed", {"outcome": "cured", "cause": ["dust_on_seal", "vent_opn"]}, "'vent_open'"),
    ],
)
def test_what_cannot_stand_is_refused_with_the_nearest_name(small_rules, kind, data, said):
    with pytest.raises(UserError) as error:
        journal(small_rules, (kind, data))
    assert said in str(error.value)
    assert "\n" not in str(error.value)


def test_dont_know_and_unlisted_are_always_valid(small_rules):
    journal(small_rules, seal("unknown"), ("closed", {"outcome": "unsolved", "cause": "unlisted"}))


def test_a_kept_journal_that_fits_no_more_names_the_entry_and_its_rules(small_rules):
    kept = [("opened", {"rules": "0a1b", "machine": "m"}), seal()]
    j = journal(small_rules, *kept)
    gone = dataclasses.replace(small_rules, findings={})
    with pytest.raises(UserError, match=r"Entry 1 does not fit .*with the rules 0a1b"):
        check_all(j, gone)


def test_a_name_that_the_rules_know_no_longer_is_put_right_by_a_correction(small_rules):
    """Else a case of years ago could never be read again."""
    known = dataclasses.replace(
        small_rules, causes={**small_rules.causes, "old": small_rules.causes["vent_open"]}
    )
    end = ("closed", {"outcome": "cured", "cause": "old"})
    with pytest.raises(UserError, match="correct that entry"):
        check_all(journal(known, end), small_rules)
    for mend in (corrected(0, outcome="cured", cause="vent_open"), ("retract", {"entry": 0})):
        check_all(journal(known, end, mend), small_rules)
    worse = corrected(0, outcome="cured", cause="old")
    with pytest.raises(UserError, match="unknown cause 'old'"):
        check_all(journal(known, ("closed", {"outcome": "cured"}), worse), small_rules)


def test_a_kept_correction_of_a_danger_sign_is_no_correction(small_rules):
    sign = ("sign", {"sign": "smell", "present": True})
    taken_in = from_records([
        {"number": n, "at": AT, "kind": kind, "data": data}
        for n, (kind, data) in enumerate([sign, corrected(0, sign="smell", present=False)])
    ])  # fmt: skip
    with pytest.raises(UserError, match="cannot be corrected"):
        check_all(taken_in, small_rules)


def test_records_give_the_same_journal_back(small_rules):
    j = journal(small_rules, seal(), WIPED, seal("dusty"), ("retract", {"entry": 2}))
    assert from_records(as_records(j)) == j


def test_a_full_case_takes_no_more_but_its_end(small_rules):
    full = tuple(Entry(n, AT, "note", {"text": "so"}) for n in range(MOST))
    assert read_back(as_records(full)) == full
    with pytest.raises(UserError, match=f"at most {MOST} entries: close this one"):
        append(full, AT, "note", small_rules, text="so")
    over = (*full, Entry(MOST, AT, "note", {"text": "so"}))
    with pytest.raises(UserError, match=f"at most {MOST} entries"):
        read_back(as_records(over))
    closed = append(full, AT, "closed", small_rules, outcome="unsolved", cause="unlisted")
    assert read_back(as_records(closed)) == closed


def test_the_time_of_an_entry_is_its_own():
    assert Entry(0, "2026-03-02T09:10:00", "note", {"text": ""}).time.hour == 9


# --- corrections -------------------------------------------------------------------------------


def corrected(entry, why="a slip", **to):
    return ("corrected", {"entry": entry, "to": to, "why": why})


def test_a_corrected_entry_stands_in_its_own_place_and_the_first_words_are_kept(small_rules):
    j = journal(
        small_rules, seal("dusty"), ("action", {"action": "wipe_seal", "complaint_now": "better"}),
        seal("clean"), corrected(0, finding="seal", answer="torn"),
    )  # fmt: skip
    assert [e.data["answer"] for e in standing(j) if e.kind == "finding"] == ["torn", "clean"]
    assert j[0].data["answer"] == "dusty"
    seen = replay(j, small_rules, Machine()).seen
    assert [(s.epoch, s.answer) for s in seen] == [(0, "torn"), (1, "clean")]


def test_the_last_correction_holds_and_can_be_taken_back(small_rules):
    two = [corrected(0, finding="seal", answer=a) for a in ("torn", "clean")]
    j = journal(small_rules, seal(), *two)
    assert standing(j)[0].data["answer"] == "clean"
    j = journal(small_rules, seal(), *two, ("retract", {"entry": 2}))
    assert standing(j)[0].data["answer"] == "torn"


@pytest.mark.parametrize(
    ("first", "better", "said"),
    [
        (seal(), corrected(0, finding="seal", answer="clear"), "did you mean 'clean'"),
        (seal(), corrected(0, finding="base", answer="raised"), "a finding stays what it is"),
        (seal(), corrected(1, finding="seal", answer="clean"), "no earlier entry number 1"),
        (seal(), corrected(0, answer="clean"), "the key 'finding' is missing"),
        (("sign", {"sign": "smell", "present": True}),
         corrected(0, sign="smell", present=False), "entry 0 cannot be corrected"),
        (("repaired", {"caution": "implosion", "role": "in_charge"}),
         corrected(0, caution="implosion", role="service"), "cannot be corrected"),
    ],
)  # fmt: skip
def test_a_correction_that_cannot_be(small_rules, first, better, said):
    with pytest.raises(UserError, match=said):
        journal(small_rules, first, better)
