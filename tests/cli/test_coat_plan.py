"""`coat-plan` and `machine rate` as people type them."""

import json

import pytest
from click.testing import CliRunner

from troubleshoot.__main__ import cli
from troubleshoot.errors import UserError

PLAN = "coat-plan --specimen diatoms --magnification 20000 --kv 5kV"


def run(line, *more):
    return CliRunner().invoke(cli, [*line.split(), *more])


@pytest.fixture(autouse=True)
def _own_casebook(tmp_path, monkeypatch):
    monkeypatch.setenv("TROUBLESHOOT_CASEBOOK", str(tmp_path / "book.sqlite"))


def test_a_plan_as_json_and_as_text():
    record = json.loads(run(f"{PLAN} --json").output)
    assert record["specimen"] == "diatoms"
    assert record["coat"]["time_low_s"] < record["coat"]["time_s"] < record["coat"]["time_high_s"]
    assert not record["coat"]["own_rate"]
    text = run(PLAN).output
    assert text.index("Careful") < text.index("\nDo\n") < text.index("The witness slip")
    assert max(map(len, text.splitlines())) <= 96


@pytest.mark.parametrize("columns", ["-5", "0", "1", "20"])
def test_a_plan_goes_into_any_width(columns, monkeypatch):
    monkeypatch.setenv("COLUMNS", columns)
    assert run(PLAN).exit_code == 0


def test_a_rate_is_kept_and_used(tmp_path):
    profile = tmp_path / "ours.yaml"
    profile.write_text("name: Ours\ntarget: gold\nusual_current: 10 mA\n")
    assert run("machine read", str(profile)).exit_code == 0
    kept = run("machine rate --current 10mA --time 60s --step 8nm")
    assert "0.8 nm/mA/min" in kept.output
    record = json.loads(run(f"{PLAN} --json").output)["coat"]
    assert record["own_rate"]
    assert record["time_s"] == pytest.approx(record["thickness_m"] / 8e-9 * 60, rel=1e-6)
    told = run("machine set distance 60 mm").output
    assert "found before this change" in told


# 10 nm of gold: 19.3 microgram on a square centimetre; 12 ohm a square.
@pytest.mark.parametrize(
    "way",
    ["--step 10nm", "--mass 0.0193mg --area 1cm2", "--monitor 10nm", "--resistance 11.95ohm"],
)
def test_four_ways_to_one_rate(way):
    record = json.loads(
        run(f"machine rate --metal gold --current 10mA --time 1min {way} --json").output
    )
    assert record["thickness_m"] == pytest.approx(10e-9, rel=0.01)
    assert record["rate_m_per_As"] == pytest.approx(10e-9 / 0.6, rel=0.01)
    assert record["kept"] is False


def test_a_case_gives_the_coater_and_the_beam():
    record = json.loads(
        run("coat-plan tall_larva_that_flares --specimen larva --magnification 800 --json").output
    )
    assert record["beam_eV"] == pytest.approx(5000)
    assert "leave of its owner" in record["steps"][0]  # this one cannot be replaced


@pytest.mark.parametrize(
    ("told", "kind"),
    [
        ("specimen_kind: diatoms\n", "diatoms"),
        ("words: our frustules charge at the rim\n", "diatoms"),
        ("specimen_kind: fibres\nwords: the diatoms were fine\n", "fibres"),
    ],
)
def test_a_case_gives_the_kind_of_specimen(tmp_path, told, kind):
    """Written down, or named in its own words; what is typed goes before both."""
    path = tmp_path / "case.yaml"
    path.write_text(f"complaint: images_charge\n{told}")
    line = f"coat-plan {path} --magnification 800 --kv 5kV --json"
    assert json.loads(run(line).output)["specimen"] == kind
    assert json.loads(run(f"{line} --specimen larva").output)["specimen"] == "plankton_dried"


@pytest.mark.parametrize("words", ["it charges", "the diatoms and the fibres charge"])
def test_words_that_name_no_specimen_or_several_settle_none(tmp_path, words):
    path = tmp_path / "case.yaml"
    path.write_text(f"complaint: images_charge\nwords: {words}\n")
    error = run(f"coat-plan {path} --magnification 800 --kv 5kV").exception
    assert "give --specimen" in str(error)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("coat-plan", "give --specimen and --magnification and --kv"),
        ("coat-plan --specimen soup --magnification 100 --kv 5kV", "no kind of specimen"),
        (f"{PLAN} --metal mud", "not a coating metal"),
        (f"{PLAN} --rate 1nm/mA/min", "say of which metal"),
        (f"{PLAN} --metal gold --rate 5kg", "not understood"),
        (f"{PLAN} --distance 0mm", "above zero"),
        ("coat-plan smell_of_burning --specimen fibres --magnification 500 --kv 5kV",
         "nothing is coated on this coater now"),
        ("machine rate --current 10mA --time 60s --metal gold", "Give one of --step"),
        ("machine rate --current 10mA --time 60s --step 5nm", "Which metal"),
        ("machine rate --current 10mA --time 60s --metal gold --mass 1mg", "belong together"),
        ("machine rate --current 10mA --time 60s --metal Au --resistance 1Mohm", "no closed coat"),
        ("machine rate --current 0mA --time 60s --metal gold --step 5nm", "above zero"),
    ],
)  # fmt: skip
def test_refusals(line, says):
    error = run(line).exception
    assert isinstance(error, UserError)
    assert says in str(error)
    assert "\n" not in str(error)


def test_the_list_names_every_kind(rules):
    listed = run("coat-plan --list").output
    assert all(kind in listed for kind in rules.specimens)
