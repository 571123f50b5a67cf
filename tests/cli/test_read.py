"""`read`: logs and typed numbers at the command line."""

import json

import pytest
from click.testing import CliRunner

from tests.readings.simulated import AIR, log_of
from troubleshoot.cli.read import read
from troubleshoot.errors import UserError
from troubleshoot.readings.pressure import curve_models as cm


def run(*args, given=None):
    result = CliRunner().invoke(read, [str(a) for a in args], input=given)
    if result.exception and not isinstance(result.exception, SystemExit | UserError):
        raise result.exception
    return result


def refused(*args):
    result = run(*args)
    assert isinstance(result.exception, UserError)
    message = str(result.exception)
    assert "\n" not in message
    return message


@pytest.fixture
def log(tmp_path):
    fall, rise = (lambda t: cm.settles(t, 22, AIR, 6)), (lambda t: cm.leak(t, 22, 3.3))
    made = log_of([(fall, 600), (rise, 300)], noise=0.01)
    path = tmp_path / "monday_mbar.csv"
    rows = zip(made.seconds, made.pascal / 100, strict=True)
    path.write_text("time (s);pressure\n" + "".join(f"{t:g};{p:.5g}\n" for t, p in rows))
    return path


def test_a_log_in_a_sentence(log):
    result = run(log)
    assert result.exit_code == 0
    first = result.output.splitlines()[0]
    assert first.startswith("With the pump on the pressure falls")
    assert "as through a leak" in first
    assert "Curves that fit while shut off: leak" in result.output


def test_json_is_one_object(log):
    record = json.loads(run(log, "--json", "--volume", "5L").output)
    assert record["verdict"]["story"] == "leak"
    assert record["kind"] == "pressure log"
    assert len(record["sha256"]) == 64
    assert record["numbers"]["gas_load"]["unit"] == "Pa m3/s"
    assert [s["kind"] for s in record["segments"]] == ["pumping", "isolated"]
    for models in record["models"].values():
        assert sum(m["probability"] for m in models) == pytest.approx(1)


def test_plot(log, tmp_path):
    out = tmp_path / "curve.svg"
    assert run(log, "--plot", out).exit_code == 0
    assert out.read_text().startswith("<svg")


def test_points_and_lines_say_the_same(log):
    text = "0 min 0.2 mbar; 1 min 1.0 mbar; 2 min 1.8 mbar; 3 min 2.6 mbar; 4 min 3.4 mbar"
    by_option = run("--points", text)
    by_line = run("--typed", given=text.replace("; ", "\n") + "\n")
    assert by_option.output == by_line.output
    assert "rises in a straight line" in by_option.output


def test_few_numbers():
    result = run("--base", "0.2mbar", "--base-empty", "0.03mbar")
    assert "what you took out" in result.output
    record = json.loads(run("--base", "0.2mbar", "--rise", "2mbar/min", "--json").output)
    assert record["findings"]["rise_against_base"]


def test_machine_gives_unit_and_bands(log, tmp_path):
    profile = tmp_path / "coater.yaml"
    profile.write_text("name: the test coater\ngauge_unit: Pa\nusual_base: 100 Pa\n")
    bare = tmp_path / "bare.csv"
    bare.write_text("t (s);p\n" + "".join(f"{i};{20 + i}\n" for i in range(120)))
    result = run(bare, "--machine", profile)
    assert "read in Pa, as the test coater has" in result.output


def test_form():
    assert "PRESSURE BY HAND" in run("--form").output


def test_refusals(log, tmp_path):
    assert "LOG.csv" in refused()
    assert "LOG.csv" in refused(log, "--points", "0 s 1 mbar")
    assert "at least two" in refused("--base", "0.2mbar")
    assert "--plot" in refused("--base", "1Pa", "--rise", "1Pa/s", "--plot", tmp_path / "x.svg")
    assert "does not exist" in refused(tmp_path / "nothing.csv")
    assert "furlong" in refused(log, "--unit", "furlong")
    bare = tmp_path / "bare.csv"
    bare.write_text("t (s);p\n0;1\n1;2\n2;3\n")
    assert "--unit" in refused(bare)


BAD = {
    "empty.csv": b"",
    "picture.csv": b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR",
    "words.csv": b"name,colour\ngold,yellow\nplatinum,grey\n",
    "negative.csv": b"t (s),p (mbar)\n0,-5\n1,-4\n2,-3\n",
    "unit.csv": b"t (s),p (furlong)\n0,5\n1,4\n2,3\n",
    "one_column.csv": b"p (mbar)\n5\n4\n3\n",
}


@pytest.mark.parametrize("name", BAD)
def test_bad_files_end_with_status_2_and_one_line(tmp_path, monkeypatch, capsys, name):
    from troubleshoot import __main__

    monkeypatch.setitem(__main__.COMMANDS, "read", ("troubleshoot.cli.read", "read"))
    path = tmp_path / name
    path.write_bytes(BAD[name])
    with pytest.raises(SystemExit) as caught:
        __main__.main(["read", str(path)])
    assert caught.value.code == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(f"Error: {path}: ")
    assert err.count("\n") == 1


def discharge(tmp_path, head="time (s),current (mA),pressure (mbar)", amps=12.0):
    path = tmp_path / "coating.csv"
    rows = (f"{i},{amps * (1 - i / 400):.3f},0.1\n" for i in range(180))
    path.write_text(f"{head}\n{''.join(rows)}")
    return path


def test_a_log_of_a_discharge_is_known_by_its_current(tmp_path):
    result = run(discharge(tmp_path))
    assert result.exit_code == 0
    assert "the current sinks" in result.output
    record = json.loads(run(discharge(tmp_path), "--json").output)
    assert record["kind"] == "current log"
    assert record["numbers"]["change_in_two_minutes"]["value"] < -0.2
    assert set(record["findings"]) == {"current_over_time", "pressure_hold"}


def test_its_pressures_are_read_when_they_are_named(tmp_path):
    message = refused(discharge(tmp_path), "--column", "pressure")
    assert "neither falls nor rises" in message


def test_no_current_at_all_is_a_log_of_pressures(tmp_path):
    assert "neither falls nor rises" in refused(discharge(tmp_path, amps=0.0))


def test_a_current_without_a_unit_is_no_pressure(tmp_path):
    profile = tmp_path / "coater.yaml"
    profile.write_text("gauge_unit: mbar\n")
    path = discharge(tmp_path, head="time (s),current,drive")
    assert "(mA)" in refused(path, "--machine", profile)


def test_a_log_of_a_discharge_is_drawn(tmp_path):
    out = tmp_path / "current.svg"
    result = run(discharge(tmp_path), "--plot", out)
    assert result.exit_code == 0
    drawing = out.read_text()
    assert drawing.startswith("<svg")
    assert "current in mA" in drawing
    assert "pressure in mbar" in drawing


def test_a_log_of_a_discharge_gives_its_numbers(tmp_path):
    told = run(discharge(tmp_path)).output
    assert "Mean current: 9.3" in told  # 12 mA less 22 % on average
    assert "Mean pressure: 0.1" in told
    assert "in two minutes" in told


def test_a_lag_is_told_with_its_sign():
    from troubleshoot.cli.read_telling import _lag
    from troubleshoot.readings.reading import Estimate

    assert "6.0 \u00b1 1.0 s after" in _lag(Estimate(6.0, 0.51, "s"))
    assert "6.0 \u00b1 1.0 s before" in _lag(Estimate(-6.0, 0.51, "s"))
    assert "within 2.5 s" in _lag(Estimate(0.5, 1.02, "s"))


def test_at_a_terminal_a_column_is_picked_by_its_number(tmp_path, monkeypatch):
    monkeypatch.setattr("troubleshoot.cli.setup.interactive", lambda: True)
    path = tmp_path / "two.csv"
    rows = "".join(f"{t},{5 + t / 10},{9 + t / 10}\n" for t in range(0, 200, 2))
    path.write_text(f"time (s),Gauge 1 (mbar),Gauge 2 (mbar)\n{rows}")
    result = run(path, given="2\n")
    assert "2  Gauge 2 (mbar)" in result.output
    assert "pressure from column 'Gauge 2 (mbar)'" in result.output
