"""`troubleshoot read PICTURE`."""

import json

import pytest
from click.testing import CliRunner

from troubleshoot.__main__ import cli
from troubleshoot.errors import UserError
from troubleshoot.knowledge.load import shipped

DEMOS = shipped().parent / "cases_demo"
SLOW, FAST, SPINES = (
    str(DEMOS / f"picture_{name}.png") for name in ("slow_scan", "fast_scan", "bright_spines")
)


def run(*args):
    got = CliRunner().invoke(cli, ["read", *args])
    if got.exception and not isinstance(got.exception, SystemExit):
        raise got.exception
    return got


def test_it_says_what_one_frame_carries_and_what_was_left_out():
    out = run(SPINES).output
    assert "not charging. Bright edges" in out
    assert "One saved frame has lost time" in out
    assert "information bar in rows 216 to 236 left out" in out


def test_json_holds_every_story_of_both_pictures():
    told = json.loads(run(SLOW, FAST, "--pair", "slow-fast", "--json").output)
    assert told["kind"] == "two micrographs"
    slow, fast = told["pictures"]
    assert "bands" in slow["found"]
    assert "bands" not in fast["found"]
    assert set(slow["stories"]) >= {"bands", "teeth", "grains"}
    assert told["change"]["down"] == pytest.approx(1.6, abs=0.2)
    assert told["change"]["right"] == pytest.approx(0.8, abs=0.2)


def test_plot_writes_the_marked_picture(tmp_path):
    run(SLOW, "--plot", str(tmp_path / "marked.svg"))
    drawing = (tmp_path / "marked.svg").read_text(encoding="utf-8")
    assert drawing.startswith("<svg")
    assert "A: bands along the scan" in drawing


@pytest.mark.parametrize(
    ("args", "said"),
    [
        ((SLOW, FAST), "say by --pair"),
        ((SLOW, "--pair", "kv"), "name the second one"),
        ((SLOW, SPINES, "--pair", "kv"), "do not show the same field"),
        ((SLOW, str(DEMOS.parent / "rules" / "drawings" / "made_soft.png"), "--pair", "kv"),
         "different sizes"),
        ((SLOW, "--pixel", "5 kg"), "5 kg"),
        ((str(DEMOS / "log_rise_straight.csv"), FAST, "--pair", "time"), "not a picture"),
    ],
)  # fmt: skip
def test_what_cannot_be_compared_is_one_sentence(args, said):
    with pytest.raises(UserError) as told:
        run(*args)
    assert said in str(told.value)
    assert "\n" not in str(told.value)
