"""`calc` takes from the coater's profile what it was not given, and says so."""

import json

import pytest

PROFILE = "name: ours\nvolume: 5 L\npump_speed: 0.7 L/s\ntarget: gold_palladium\ndistance: 45 mm\n"
PUMPING = ("calc", "pump-down", "--to", "0.1mbar", "--json")
COATING = ("calc", "thickness", "--current", "10mA", "--voltage", "1kV", "--time", "1min", "--json")


@pytest.fixture
def profile(tmp_path):
    path = tmp_path / "ours.yaml"
    path.write_text(PROFILE)
    return path


def answer(run, *args):
    ended = run(*args)
    assert (ended.status, ended.err) == (0, "")
    return json.loads(ended.out)


def test_a_number_that_is_needed_is_taken_from_the_only_coater(run, profile):
    run("machine", "read", profile)
    typed = answer(run, *PUMPING, "--volume", "5L", "--speed", "0.7L/s")
    found = answer(run, *PUMPING)
    assert found["time_s"] == typed["time_s"]
    assert "Taken from the profile of ours: volume 5 L, speed 0.7 L/s." in found["notes"]
    assert not any("Taken" in note for note in typed["notes"])


def test_what_is_typed_goes_before_the_profile(run, profile):
    typed = answer(run, *PUMPING, "--volume", "3L", "--speed", "0.7L/s")
    found = answer(run, *PUMPING, "--machine", profile, "--volume", "3L")
    assert found["time_s"] == typed["time_s"]
    assert "Taken from the profile of ours: speed 0.7 L/s." in found["notes"]


def test_a_named_profile_goes_before_a_default_and_an_unnamed_one_does_not(run, profile):
    """The distance is 50 mm by default and 45 mm on this coater; no thickness needs it."""
    run("machine", "read", profile)
    typed = answer(run, *COATING, "--metal", "gold-palladium")
    near = answer(run, *COATING, "--metal", "gold-palladium", "--distance", "45mm")
    assert answer(run, *COATING)["thickness_m"] == typed["thickness_m"]
    named = answer(run, *COATING, "--machine", "ours")
    assert named["thickness_m"] == near["thickness_m"] > typed["thickness_m"]
    assert named["notes"][-1] == (
        "Taken from the profile of ours: metal gold palladium, distance 45 mm."
    )


def test_without_a_profile_the_option_is_missing_and_no_casebook_is_made(run, tmp_path):
    ended = run("--casebook", tmp_path / "none.db", *PUMPING)
    assert ended.status == 2
    assert "--volume" in ended.err
    assert not (tmp_path / "none.db").exists()


def test_of_two_coaters_none_is_guessed(run, profile, tmp_path):
    run("machine", "read", profile)
    other = tmp_path / "other.yaml"
    other.write_text(PROFILE.replace("ours", "theirs").replace("5 L", "9 L"))
    run("machine", "read", other)
    assert run(*PUMPING).status == 2
    assert "volume 9 L" in answer(run, *PUMPING, "--machine", "theirs")["notes"][-1]


def test_a_coater_that_is_not_kept_is_one_sentence(run):
    ended = run(*PUMPING, "--machine", "nobody")
    assert ended.status == 2
    assert "no machine called 'nobody'" in ended.err
