"""A case file becomes a journal, or one clear sentence that says where and what to mend."""

import re

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from troubleshoot.case.casefile import read_case
from troubleshoot.cli.setup import demo_files
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError

NOW = "2026-01-05T09:00:00"


def write(folder, text):
    path = folder / "case.yaml"
    if isinstance(text, bytes):
        path.write_bytes(text)
    else:
        path.write_text(text, encoding="utf-8")
    return path


def read(folder, rules, text, **more):
    return read_case(write(folder, text), rules, NOW, **more)


WHOLE = """
name: damp Monday
opened: 2026-03-02T09:10
machine: {name: ours, isolation_valve: "yes", usual_base: 0.02 mbar}
role: experienced
specimen: irreplaceable
state: pumped
since: this morning
signs: [smell]
complaint: slow
words: it takes for ever
circumstances: [dusty_room]
journal:
  - made_safe: smoke
  - finding: base
    quantity: 0.35 Torr
  - finding: seal
    answer: dusty
    sure: fairly
    at: 2026-03-02T09:30
  - finding: seal
    answer: clean
    replaces: yes
  - circumstance: vent_touched
  - sign: smell
    present: false
  - cannot: press_specimen
    why: no needle
  - not_now: wait_an_hour
  - action: wipe_seal
    complaint_now: better
    value: 0.35 to 0.2 Torr
  - new_epoch: next day
  - state: vented
  - workaround: wait_longer
  - note: the room is dusty
  - outcome: cured
    cause: dust_on_seal
    proved_by: seen
outcome: {causes: [dust_on_seal], cured: true}
"""


def test_every_key_becomes_its_entry(tmp_path, small_rules):
    case = read(tmp_path, small_rules, WHOLE)
    assert case.name == "damp Monday"
    assert case.machine.facts == {"isolation_valve": "yes"}
    assert case.outcome == {"causes": ["dust_on_seal"], "cured": True}
    assert [e.kind for e in case.journal] == [
        "opened", "role", "state", "since", "specimen", "sign", "complaint", "circumstance",
        "made_safe", "finding", "finding", "finding", "circumstance", "sign", "cannot", "later",
        "action", "epoch", "state", "workaround", "note", "closed",
    ]  # fmt: skip
    assert case.journal[11].data == {"finding": "seal", "answer": "clean", "replaces": 10}


def test_times_run_on_from_the_last_one_given(tmp_path, small_rules):
    case = read(tmp_path, small_rules, WHOLE)
    assert case.journal[9].at == "2026-03-02T09:10:00"
    assert {e.at for e in case.journal[10:]} == {"2026-03-02T09:30:00"}


def test_without_a_time_it_is_the_one_given(tmp_path, small_rules):
    case = read(tmp_path, small_rules, "complaint: slow\n")
    assert {e.at for e in case.journal} == {NOW}
    assert case.name == "case"


def test_the_journal_pins_rules_and_machine(tmp_path, small_rules):
    case = read(tmp_path, small_rules, WHOLE)
    assert case.journal[0].data["rules"] == small_rules.hash
    assert case.journal[0].data["machine"] == case.machine.hash


def test_another_machine_can_be_named_instead(tmp_path, small_rules):
    mine = Machine(name="mine")
    assert read(tmp_path, small_rules, WHOLE, machine=mine).machine is mine


def test_the_outcome_is_no_evidence(tmp_path, small_rules, small_bench):
    bare = WHOLE[: WHOLE.rindex("outcome:")]
    with_it, without = (read(tmp_path, small_rules, t).journal for t in (WHOLE, bare))
    assert with_it == without


def test_empty_lists_may_be_left_empty(tmp_path, small_rules):
    case = read(tmp_path, small_rules, "complaint: slow\nsigns:\ncircumstances:\njournal:\n")
    assert [e.kind for e in case.journal] == ["opened", "complaint"]


@pytest.mark.parametrize("path", demo_files(), ids=lambda p: p.stem)
def test_every_demo_can_be_read(path, rules):
    case = read_case(path, rules, NOW)
    assert case.outcome
    assert case.journal[0].at == case.journal[1].at != NOW


def test_what_is_not_quite_known_is_kept_as_it_was_written(tmp_path, small_rules):
    text = """
complaint: slow
journal:
  - finding: base
    quantity: 60-70 mTorr
  - finding: knob
    answer: [shut, open]
  - circumstance: dusty_room
    sure: fairly
"""
    base, knob, dusty = read(tmp_path, small_rules, text).journal[-3:]
    assert base.data == {"finding": "base", "quantity": "60-70 mTorr"}
    assert knob.data == {"finding": "knob", "answer": ["shut", "open"]}
    assert dusty.data == {"circumstance": "dusty_room", "answer": "yes", "sure": "fairly"}


HEAD = "complaint: slow\njournal:\n"
BAD = {
    "unknown top key": ("complaint: slow\njurnal: []\n", "line 2", "key jurnal", "'journal'"),
    "no complaint": ("name: x\n", "'complaint' is missing", "slow, noisy"),
    "empty complaint": ("complaint:\n", "line 1", "key complaint", "missing"),
    "unknown complaint": ("complaint: slwo\n", "line 1", "key complaint", "'slow'"),
    "complaints in a list": ("complaint: [slow]\n", "line 1", "key complaint", "one value"),
    "unknown finding": (HEAD + "  - finding: seel\n    answer: clean\n", "line 3", "'seal'"),
    "unknown answer": (HEAD + "  - finding: seal\n    answer: clear\n", "line 4", "'clean'"),
    "answer in a list": (HEAD + "  - {finding: seal, answer: [clean]}\n", "line 3", "one value"),
    "a bare no": (HEAD + "  - {finding: seal, answer: no}\n", "'no' is not one", "clean, dusty"),
    "no answer": (HEAD + "  - finding: seal\n", "line 3", "answer or a quantity"),
    "no finding": (HEAD + "  - finding:\n    answer: clean\n", "line 3", "'finding' is missing"),
    "unknown unit": (HEAD + "  - {finding: base, quantity: 3 tor}\n", "line 3", "Torr"),
    "no unit": (HEAD + "  - {finding: base, quantity: 0.3}\n", "line 3", "no unit", "write"),
    "wrong unit": (HEAD + "  - {finding: base, quantity: 3 min}\n", "line 3", "mbar"),
    "negative pressure": (HEAD + "  - {finding: base, quantity: -1 bar}\n", "line 3", "negative"),
    "infinite pressure": (HEAD + "  - {finding: base, quantity: 1e999 mbar}\n", "line 3", "base"),
    "not a quantity": (HEAD + "  - {finding: seal, quantity: 1 mbar}\n", "line 3", "clean, dusty"),
    "unknown sureness": (
        HEAD + "  - {finding: seal, answer: clean, sure: farly}\n", "line 3", "'fairly'"
    ),
    "answered twice": (
        HEAD + "  - {finding: seal, answer: clean}\n  - {finding: seal, answer: dusty}\n",
        "line 4", "item 2 of journal", "already answered", "replaces",
    ),
    "unknown remedy": (HEAD + "  - action: wipe_seel\n", "line 3", "'wipe_seal'"),
    "no remedy": (HEAD + "  - action:\n", "line 3", "'action' is missing"),
    "unknown result": (
        HEAD + "  - {action: wipe_seal, complaint_now: curd}\n", "line 3", "'cured'"
    ),
    "unknown key of an item": (
        HEAD + "  - {finding: seal, answr: clean}\n", "line 3", "'answer'"
    ),
    "two things in one item": (
        HEAD + "  - {finding: seal, action: wipe_seal}\n", "line 3", "exactly one of"
    ),
    "an item that is text": (HEAD + "  - seal\n", "line 3", "exactly one of"),
    "no list": ("complaint: slow\njournal: seal\n", "line 2", "key journal", "list"),
    "unknown sign": ("complaint: slow\nsigns: [smel]\n", "line 2", "item 1 of signs", "'smell'"),
    "a sign that is yes": (HEAD + "  - {sign: smell, present: yes}\n", "line 3", "true or false"),
    "unknown circumstance": (
        "complaint: slow\ncircumstances: [dusty_rom]\n", "line 2", "'dusty_room'"
    ),
    "unknown role": ("complaint: slow\nrole: studnt\n", "line 2", "key role", "'student'"),
    "unknown state": ("complaint: slow\nstate: vnted\n", "line 2", "key state", "'vented'"),
    "unknown kind of specimen": (
        "complaint: slow\nspecimen_kind: soup\n", "line 2", "kind of specimen 'soup'"),
    "unknown specimen": ("complaint: slow\nspecimen: rare\n", "line 2", "irreplaceable"),
    "bad time": ("complaint: slow\nopened: Monday\n", "line 2", "key opened", "2026-03-02T09:10"),
    "bad time of an item": (HEAD + "  - {note: x, at: noon}\n", "line 3", "item 1", "key at"),
    "unknown cause": (
        "complaint: slow\noutcome: {causes: [vent_opn]}\n", "line 2", "outcome.causes",
        "'vent_open'",
    ),
    "unknown cause at the end": (
        HEAD + "  - {outcome: cured, cause: vent_opn}\n", "line 3", "'vent_open'"
    ),
    "unknown outcome": (HEAD + "  - {outcome: curd}\n", "line 3", "'cured'"),
    "unknown stop": ("complaint: slow\noutcome: {stop: smok}\n", "line 2", "'smoke'"),
    "unknown key of the outcome": (
        "complaint: slow\noutcome: {cause: [vent_open]}\n", "line 2", "'causes'"
    ),
    "outcome as text": ("complaint: slow\noutcome: cured\n", "line 2", "nothing_wrong"),
    "outcome yes": ("complaint: slow\noutcome: {cured: yes}\n", "line 2", "true or false"),
    "one cause without a list": ("complaint: slow\noutcome: {causes: x}\n", "line 2", "list"),
    "missing machine": ("complaint: slow\nmachine: ours.yaml\n", "line 2", "ours.yaml", "exist"),
    "unknown key of the machine": (
        "complaint: slow\nmachine: {isolation: yes}\n", "line 2", "'isolation'", "isolation_valve"
    ),
    "unknown choice of the machine": (
        "complaint: slow\nmachine: {isolation_valve: maybe}\n", "line 2", "yes, no"
    ),
    "unit of the machine": (
        "complaint: slow\nmachine: {usual_base: 3 min}\n", "line 2", "usual_base", "mbar"
    ),
    "a list at the top": ("- slow\n", "complaint:"),
    "text at the top": ("slow\n", "complaint:"),
    "twice the same key": ("complaint: slow\ncomplaint: noisy\n", "line 2", "twice"),
    "bad indentation": ("complaint: slow\n  journal: []\n", "line 2", "not valid YAML"),
    "empty file": ("", "is empty"),
    "blanks": ("  \n\n", "is empty"),
    "binary file": (b"\x89PNG\r\n\x1a\n\x00\x01", "UTF-8"),
    "zero bytes": (b"complaint: slow\0\n", "binary"),
    "bomb": (
        "a: &a [x, x, x, x, x, x]\nb: &b [*a, *a, *a, *a, *a]\ncomplaint: slow\n", "line 1",
        "anchors",
    ),
    "deep": ("[" * 40 + "]" * 40, "line 1", "nested deeper"),
    "very deep": ("[" * 3000, "line 1", "nest"),
    "many": (
        "complaint: slow\njournal:\n" + "  - {note: so}\n" * 1000, "line 1001",
        "item 999 of journal", "at most 1000 entries",
    ),
    "huge": ("# " + "x" * 2_100_000, "larger than"),
    "tag": ("complaint: !!python/object/apply:os.system [ls]\n", "line 1", "tag"),
    "two documents": ("complaint: slow\n---\ncomplaint: slow\n", "line 2", "one YAML document"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_one_clear_sentence(name, tmp_path, small_rules):
    text, *parts = BAD[name]
    with pytest.raises(UserError) as error:
        read(tmp_path, small_rules, text)
    said = str(error.value)
    assert said.startswith(str(tmp_path / "case.yaml")), said
    assert "\n" not in said
    assert len(said) < 600
    for part in parts:
        assert part in said, f"{part!r} is not in {said!r}"


def test_a_file_that_is_not_there(tmp_path, small_rules):
    with pytest.raises(UserError, match=r"nothing\.yaml does not exist"):
        read_case(tmp_path / "nothing.yaml", small_rules, NOW)


def test_a_folder_is_not_a_file(tmp_path, small_rules):
    with pytest.raises(UserError, match="is a folder"):
        read_case(tmp_path, small_rules, NOW)


def test_a_machine_file_names_itself_and_the_case(tmp_path, small_rules):
    (tmp_path / "ours.yaml").write_text("name: ours\nusual_base: wet\n")
    with pytest.raises(UserError) as error:
        read(tmp_path, small_rules, "complaint: slow\nmachine: ours.yaml\n")
    assert re.search(
        r"case\.yaml, line 2, key machine: .*ours\.yaml, key usual_base", str(error.value)
    )


SCALARS = st.one_of(
    st.none(), st.booleans(), st.integers(-9, 9), st.floats(allow_nan=False), st.text(max_size=6),
    st.sampled_from(["slow", "seal", "base", "clean", "wipe_seal", "0.3 mbar", "yes", "cured"]),
)  # fmt: skip
VALUES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["finding", "answer", "action", "x"]), inner, max_size=3)
    ),
    max_leaves=6,
)
KEYS = st.sampled_from(
    ["finding", "answer", "quantity", "sure", "replaces", "action", "complaint_now", "cannot",
     "not_now", "new_epoch", "state", "sign", "present", "circumstance", "workaround", "note",
     "made_safe", "outcome", "cause", "at", "check", "value", "why"]
)  # fmt: skip


@pytest.mark.slow
@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    head=st.dictionaries(
        st.sampled_from(["name", "opened", "machine", "role", "specimen", "state", "signs",
                         "words", "since", "circumstances", "outcome"]), VALUES, max_size=2,
    ),
    items=st.lists(st.dictionaries(KEYS, VALUES, min_size=1, max_size=3), max_size=3),
)  # fmt: skip
@example(head={"machine": {"finding": None}}, items=[])
def test_nothing_in_a_file_breaks_the_reader(tmp_path, small_rules, small_bench, head, items):
    """Whatever stands in a case file, it is read and assessed, or refused with a sentence."""
    import json

    text = json.dumps({"complaint": "slow", **head, "journal": items}, ensure_ascii=True)
    try:
        case = read(tmp_path, small_rules, text)
    except UserError:
        return
    small_bench.assess(case.journal)
