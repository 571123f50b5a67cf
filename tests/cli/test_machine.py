"""`troubleshoot machine`: a profile read from a file, kept and shown."""

import json
import re

import pytest

from tests.readings.simulated import AIR, log_of
from troubleshoot.readings.pressure import curve_models as cm

PROFILE = """
name: ours
gauge_unit: Torr
isolation_valve: "yes"
usual_base: 0.03 Torr
usual_time: 6 min
"""


def profile(tmp_path, text=PROFILE):
    path = tmp_path / "ours.yaml"
    path.write_text(text)
    return path


def test_read_and_show(run, tmp_path):
    assert run("machine", "read", profile(tmp_path)) == (0, "Kept: ours\n", "")
    assert "Usual base pressure: 0.03 Torr [usual_base]" in run("machine", "show").out
    assert json.loads(run("machine", "show", "--json").out) == {
        "machines": [
            {
                "name": "ours", "gauge_unit": "Torr", "isolation_valve": "yes",
                "usual_base": "0.03 Torr", "usual_time": "6 min",
            }
        ]
    }  # fmt: skip


def test_read_again_takes_its_place(run, tmp_path):
    run("machine", "read", profile(tmp_path))
    run("machine", "read", profile(tmp_path, PROFILE.replace("6 min", "9 min")))
    (kept,) = json.loads(run("machine", "show", "--json").out)["machines"]
    assert kept["usual_time"] == "9 min"


def test_nothing_kept_says_how_to_tell_it(run):
    ended = run("machine", "show")
    assert ended.status == 0
    assert "troubleshoot machine new" in ended.out


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("usual_bse: 1 mbar", "'usual_base'"),
        ("usual_base: 3 min", "key usual_base"),
        ("usual_base: -1 mbar", "negative"),
        ("isolation_valve: maybe", "yes, no"),
        ("gauge_unit: furlong", "furlong"),
        ("- ours", "keys"),
        ("", "is empty"),
    ],
)
def test_what_cannot_be_used_is_refused_and_nothing_is_kept(run, tmp_path, text, said):
    ended = run("machine", "read", profile(tmp_path, text))
    assert ended.status == 2
    assert "ours.yaml" in ended.err
    assert said in ended.err
    assert json.loads(run("machine", "show", "--json").out) == {"machines": []}


def test_new_needs_a_terminal(run):
    ended = run("machine", "new")
    assert ended.status == 2
    assert "machine read FILE" in ended.err


def test_defaults_are_shown_as_such(run, tmp_path):
    text = "name: ours\nusual_pressure: 0.1 mbar\ndefaults: {volume: 3 L, gauge_kind: heat_loss}\n"
    run("machine", "read", profile(tmp_path, text))
    shown = run("machine", "show").out
    assert "Chamber volume: 3 L (default, not measured)" in shown
    assert "Usual coating pressure: 0.1 mbar [usual_pressure]\n" in shown
    (kept,) = json.loads(run("machine", "show", "--json").out)["machines"]
    assert kept["defaults"] == {"volume": "3 L", "gauge_kind": "heat_loss"}


def test_what_follows_from_a_profile_is_shown_and_asked_about(run, tmp_path):
    text = (
        "name: ours\nusual_pressure: 0.1 mbar\ngauge_kind: heat_loss\ngauge_gas: air\n"
        "process_gas: argon\ncylinder: 50 L\nfill_pressure: 200 bar\nroom: 50 m3\n"
        "volume: 3 L\npump_speed: 200 L/s\n"
    )
    run("machine", "read", profile(tmp_path, text))
    ended = run("machine", "show")
    assert "about 0.17 mbar of argon" in ended.out
    # 50 L at 200 bar: 10.5 m3 in 50: 20.95 % (1 - 0.21) = 16.6 %
    assert "the oxygen would fall to about 16.6 %" in ended.out
    assert "very large for 3 L" in ended.err


# One value


def kept(run):
    (machine,) = json.loads(run("machine", "show", "--json").out)["machines"]
    return machine


def test_one_number_is_changed(run, tmp_path):
    run("machine", "read", profile(tmp_path))
    ended = run("machine", "set", "usual-base", "0.05")
    assert ended == (0, "ours, usual_base: 0.03 Torr -> 0.05 Torr\n", "")
    assert run("machine", "set", "distance", "5", "cm").status == 0
    assert run("machine", "set", "target", "gold-palladium").status == 0
    assert kept(run) == {
        "name": "ours", "gauge_unit": "Torr", "isolation_valve": "yes", "usual_base": "0.05 Torr",
        "usual_time": "6 min", "distance": "5 cm", "target": "gold_palladium",
    }  # fmt: skip


def test_a_value_takes_the_place_of_a_default_and_can_be_forgotten(run, tmp_path):
    run("machine", "read", profile(tmp_path, "name: ours\ndefaults: {volume: 3 L, room: 40 m3}\n"))
    assert "3 L -> 5 L" in run("machine", "set", "volume", "5 L").out
    assert kept(run)["defaults"] == {"room": "40 m3"}
    assert "5 L -> not known" in run("machine", "set", "volume", "--forget").out
    assert run("machine", "set", "room", "--forget").status == 0
    assert kept(run) == {"name": "ours"}


def test_a_value_is_checked_as_when_it_is_told(run, tmp_path):
    run("machine", "read", profile(tmp_path, PROFILE + "volume: 3 L\n"))
    ended = run("machine", "set", "pump_speed", "200 L/s")
    assert ended.status == 0
    assert "Please check: A pump of 200 L/s is very large for 3 L" in ended.err
    again = run("machine", "set", "usual_time", "7 min")
    assert again.err == ""


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("volum", "3 L"), "'volume'"),
        (("volume", "3 mbar"), "volume: "),
        (("volume", "0"), "not above zero"),
        (("volume", "-3 L"), "negative"),
        (("volume",), "--forget"),
        (("volume", "3 L", "--forget"), "--forget"),
        (("gauge_unit", "furlong"), "furlong"),
        (("shutter", "maybe"), "yes, no"),
        (("name", "other"), "name stays"),
        (("volume", "3 L", "--machine", "theirs"), "no machine called 'theirs' (one of "),
    ],
)
def test_what_cannot_be_set(run, tmp_path, args, said):
    run("machine", "read", profile(tmp_path))
    before = kept(run)
    ended = run("machine", "set", *args)
    assert ended.status == 2
    assert said in ended.err
    assert kept(run) == before


def test_setting_needs_a_machine(run):
    ended = run("machine", "set", "volume", "3 L")
    assert ended.status == 2
    assert "machine new" in ended.err


# A good day


def log_file(tmp_path, *pieces, noise=0.01):
    made = log_of(pieces, noise=noise)
    path = tmp_path / "log.csv"
    rows = zip(made.seconds, made.pascal / 100, strict=True)
    path.write_text("time (s);pressure (mbar)\n" + "".join(f"{t:g};{p:.5g}\n" for t, p in rows))
    return path


def falls(base=3.0):
    return (lambda t: cm.settles(t, base, AIR, 6), 700)


def rises(per_minute, base=3.0):
    """A leak's rise, mbar/min."""
    return (lambda t: cm.leak(t, base, per_minute * 100 / 60), 300)


def test_a_rise_of_a_good_day_is_kept_and_read_against(run, tmp_path):
    run("machine", "read", profile(tmp_path, 'name: ours\nisolation_valve: "yes"\n'))
    ended = run("machine", "good-day", log_file(tmp_path, falls(), rises(0.1)), "--yes",
                "--target", "0.1mbar")  # fmt: skip
    assert ended.status == 0, ended.err
    assert re.search(r"usual rise: [0-9.]+ \u00b1 [0-9.]+ mbar/min", ended.out)
    numbers = kept(run)
    assert float(numbers["usual_rise"].removesuffix(" mbar/min")) == pytest.approx(0.1, rel=0.03)
    assert float(numbers["usual_base"].removesuffix(" mbar")) == pytest.approx(0.03, rel=0.05)
    assert numbers["usual_time"].endswith("min")
    later = run("read", log_file(tmp_path, rises(0.3)))
    assert "3 times that of a good day" in later.out


def test_a_rise_alone_says_what_its_base_is(run, tmp_path):
    log = log_file(tmp_path, rises(0.1))
    ended = run("machine", "good-day", log, "--yes")
    assert ended.status == 2
    assert "pumped for ten minutes by then?" in ended.err
    assert "--anyway" in ended.err
    assert json.loads(run("machine", "show", "--json").out) == {"machines": []}
    assert run("machine", "good-day", log, "--anyway").status == 0
    assert {"usual_base", "usual_rise"} <= set(kept(run))


def test_a_day_that_was_not_good_is_refused(run, tmp_path):
    ended = run("machine", "good-day", log_file(tmp_path, falls(40.0), rises(4.0, 40.0)), "--yes")
    assert ended.status == 2
    assert "Not everything here is as usual" in ended.err


def test_a_rise_of_a_loaded_chamber_is_no_normal(run, tmp_path):
    log = log_file(tmp_path, falls(), rises(0.1))
    assert run("machine", "good-day", log, "--loaded", "--yes", "--target", "0.1mbar").status == 0
    assert "usual_rise" not in kept(run)


def test_no_rise_is_kept_where_none_can_be_read(run, tmp_path):
    log = log_file(tmp_path, falls(), rises(0.1))
    run("machine", "read", profile(tmp_path, "name: ours\ngauge_side: pump\n"))
    ended = run("machine", "good-day", log, "--anyway")
    assert "cannot be read on this coater" in ended.out
    assert "usual_rise" not in kept(run)
    run("machine", "read", profile(tmp_path, 'name: ours\nisolation_valve: "no"\n'))
    run("machine", "good-day", log, "--anyway")
    assert "usual_rise" not in kept(run)


def test_a_rise_that_got_worse_is_doubted(run, tmp_path):
    run("machine", "read", profile(tmp_path, "name: ours\nusual_rise: 0.05 mbar/min\n"))
    ended = run("machine", "good-day", log_file(tmp_path, falls(), rises(0.1)), "--yes")
    assert ended.status == 2
    assert "The rise is clearly higher" in ended.err
