"""`troubleshoot machine`: a profile read from a file, kept and shown."""

import json

import pytest

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
    assert "usual_base: 0.03 Torr" in run("machine", "show").out
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
