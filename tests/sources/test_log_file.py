"""Tables of time and pressure in every way a logger may write them."""

from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from troubleshoot import units
from troubleshoot.errors import UserError
from troubleshoot.sources.log_file import Told, read_log, read_table
from troubleshoot.sources.points import MOST_POINTS, display_step, merge
from troubleshoot.sources.times import NeedsTelling

UNITS = ("mbar", "Pa", "Torr", "mTorr", "micron", "hPa", "kPa")


@st.composite
def tables(draw):
    """A table as text, and the times and pressures that stand in it."""
    count = draw(st.integers(4, 30))
    steps = draw(st.lists(st.integers(1, 40), min_size=count, max_size=count))
    times = np.cumsum(steps) / 2
    unit = draw(st.sampled_from(UNITS))
    logs = draw(st.lists(st.floats(0, 5), min_size=count, max_size=count))
    pascal = np.sort(10 ** np.array(logs))[::-1]
    shown = [f"{units.from_si(p, unit, 'pressure'):.6g}" for p in pascal]
    kept = [units.to_si(float(s), unit, "pressure") for s in shown]

    delimiter = draw(st.sampled_from([",", ";", "\t", " "]))
    kind = draw(st.sampled_from(["s", "min", "ms", "clock", "iso"]))
    comma = delimiter != "," and draw(st.booleans())
    start = datetime(2026, 3, 28, 23, 58, 50)
    if kind == "clock":
        stamps = [(start + timedelta(seconds=t)).strftime("%H:%M:%S.%f")[:-4] for t in times]
    elif kind == "iso":
        glue = "T" if delimiter == " " else draw(st.sampled_from(["T", " "]))
        stamps = [(start + timedelta(seconds=t)).isoformat(glue, "milliseconds") for t in times]
    else:
        per = {"s": 1, "min": 60, "ms": 1e-3}[kind]
        stamps = [repr(float(t) / per) for t in times]
    if comma:
        shown = [s.replace(".", ",") for s in shown]
        stamps = [s if kind in ("clock", "iso") else s.replace(".", ",") for s in stamps]

    header = draw(st.sampled_from(["brackets", "stroke", "two lines", "none"]))
    extra = draw(st.booleans())
    rows = [[a, b] + (["ok"] if extra else []) for a, b in zip(stamps, shown, strict=True)]
    time_unit = kind if kind in ("s", "min", "ms") else ""
    status = ["status"] if extra else []
    if header == "brackets":
        rows.insert(0, [f"time[{time_unit}]" if time_unit else "time", f"p[{unit}]", *status])
    elif header == "stroke":
        rows.insert(0, [f"t/{time_unit}" if time_unit else "t", f"Pressure/{unit}", *status])
    elif header == "two lines":
        rows[0:0] = [["t", "gauge", *status], [time_unit or "-", unit, *(["-"] if extra else [])]]
    ending = draw(st.sampled_from(["\n", "\r\n"]))
    text = ending.join(delimiter.join(row) for row in rows) + draw(st.sampled_from(["", ending]))
    told = {"unit": unit, "time_unit": time_unit or None} if header == "none" else {}
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"]))
    return text.encode(encoding), told, times, np.array(kept)


@settings(max_examples=300, deadline=None)
@given(table=tables())
def test_every_dialect_gives_the_same_numbers(table, tmp_path_factory):
    content, told, times, pascal = table
    path = tmp_path_factory.mktemp("dialect") / "log.txt"
    path.write_bytes(content)
    log = read_log(path, Told(**told))
    assert log.rows == len(times)
    assert log.seconds == pytest.approx(times - times[0], abs=0.011)
    assert log.pascal == pytest.approx(pascal, rel=1e-9)


def written(tmp_path, text, name="log.csv"):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


@pytest.mark.parametrize(
    ("text", "told", "says"),
    [
        ("", {}, "empty"),
        ("  \n \n", {}, "empty"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", {}, "not text"),
        (b"\x1f\x8b\x08" + bytes(range(1, 32)) * 20, {}, "not text"),
        ("name,colour\ngold,yellow\nplatinum,grey\n", {}, "no line holds a time and a pressure"),
        ("p (mbar)\n1\n2\n3\n", {}, "no line holds a time and a pressure"),
        ("t (s),p (mbar)\n0,-5\n1,-4\n2,3\n", {}, "below zero"),
        ("t (s),p (furlong)\n0,5\n1,4\n2,3\n", {}, "'furlong'"),
        ("t (s),p (mbar)\n0,5\n1,4\n2,3\n", {"unit": "furlong"}, "--unit"),
        ("t (s),p (mbar)\n0,5\n1,4\n2,3\n", {"time_unit": "furlong"}, "--time-unit"),
        ("t (s),p (mbar)\n0,5\n1,4\n", {}, "only 2 usable readings"),
        ("t,p\n0,5\n1,4\n2,3\n", {"time_unit": "s"}, "--unit mbar"),
        ("t,p (mbar)\n0,5\n1,4\n2,3\n", {}, "--time-unit s"),
        ("0:00,3 mbar\n0:01,4 mbar\n0:02,5 mbar\n", {}, "hh:mm"),
        ("0,5,1013,2\n1,5,500,3\n2,5,100,1\n", {"unit": "mbar"}, "semicolons"),
        ("t (s),p (mbar),q (mbar)\n0,5,5\n1,4,4\n2,3,3\n", {"column": "north"}, "'north'"),
        ("12:00:00,ok\n12:00:01,ok\n12:00:02,ok\n", {}, "no line holds"),
    ],
)
def test_bad_input_is_refused_in_one_sentence(tmp_path, text, told, says):
    path = written(tmp_path, text)
    with pytest.raises(UserError) as caught:
        read_log(path, Told(**told))
    message = str(caught.value)
    assert says in message
    assert message.count("\n") == 0
    assert str(path) in message or message.startswith("--")


def test_a_missing_file(tmp_path):
    with pytest.raises(UserError, match="does not exist"):
        read_log(tmp_path / "nothing.csv")


def test_what_must_be_asked_is_said(tmp_path):
    with pytest.raises(NeedsTelling) as caught:
        read_log(written(tmp_path, "t,p (mbar)\n0,5\n1,4\n2,3\n"))
    assert caught.value.what == "time"
    path = written(tmp_path, "12:00,3\n12:01,4\n12:02,5\n")
    log = read_log(path, Told("mbar", "hh:mm"))
    assert log.seconds.tolist() == [0, 60, 120]
    assert read_log(path, Told("mbar", "mm:ss")).seconds.tolist() == [0, 1, 2]


@pytest.mark.parametrize("name", ["rise_mbar.csv", "rise in mbar.txt"])
def test_the_unit_may_stand_in_the_name(tmp_path, name):
    assert read_log(written(tmp_path, "t (s);p\n0;5\n1;4\n2;3\n", name)).pascal[0] == pytest.approx(
        500
    )


def test_the_unit_may_stand_in_the_cells_or_the_preface(tmp_path):
    cells = "0 s;5 mbar\n1 s;4 mbar\n2 s;3 mbar\n"
    preface = "Logger 7\nUnit: mbar\n\ntime (s);reading\n0;5\n1;4\n2;3\n"
    for text in (cells, preface):
        assert read_log(written(tmp_path, text)).pascal.tolist() == pytest.approx([500, 400, 300])


def test_dates_that_are_not_iso(tmp_path):
    text = "28.03.2026 23:59:59;3 mbar\n29.03.2026 00:00:01;4 mbar\n29.03.2026 00:00:02;5 mbar\n"
    assert read_log(written(tmp_path, text)).seconds.tolist() == [0, 2, 3]
    text = "12/31/2026 11:59:59 PM;3 mbar\n1/1/2027 12:00:01 AM;4 mbar\n1/1/2027 12:00:02 AM;5\n"
    assert read_log(written(tmp_path, text)).seconds.tolist() == [0, 2, 3]


def test_a_time_zone_that_changes_makes_no_hour(tmp_path):
    text = (
        "2026-03-29T01:59:59+01:00,3 mbar\n2026-03-29T03:00:00+02:00,4 mbar\n"
        "2026-03-29T03:00:01+02:00,5 mbar\n"
    )
    assert read_log(written(tmp_path, text)).seconds.tolist() == [0, 1, 2]


def test_repeated_stamps_are_one_point(tmp_path):
    text = "t (s),p (Pa)\n" + "".join(f"{i // 3},{8 if i % 3 else 9}\n" for i in range(30))
    log = read_log(written(tmp_path, text))
    assert log.seconds.tolist() == list(range(10))
    assert log.rows_each.tolist() == [3] * 10
    assert log.pascal == pytest.approx(np.full(10, (9 * 8 * 8) ** (1 / 3)))


def test_a_clock_that_starts_anew_is_a_break(tmp_path):
    text = "t (s),p (mbar)\n" + "".join(f"{i},{100 - i}\n" for i in (*range(20), *range(20)))
    log = read_log(written(tmp_path, text))
    assert log.rows == 40
    assert len(log.breaks) == 1
    assert np.all(np.diff(log.seconds) > 0)
    assert "starts anew once" in " ".join(log.notes)


def test_what_is_left_out_is_told(tmp_path):
    rows = [f"{i},{100 - i}" for i in range(60)]
    rows[10], rows[20], rows[30], rows[40] = "10,0", "20,9e9", "30,OVER", "40,3000"
    log = read_log(written(tmp_path, "t (s),p (mbar)\n" + "\n".join(rows) + "\n"))
    assert log.rows == 60
    assert len(log.seconds) == 56
    notes = " ".join(log.notes)
    assert "4 rows off scale" in notes


def test_a_single_spike_is_a_glitch_but_a_step_is_not(tmp_path):
    p = np.full(100, 5.0)
    p[60:] = 50.0
    p[30] = 800.0
    text = "t (s),p (mbar)\n" + "".join(f"{i},{x}\n" for i, x in enumerate(p))
    log = read_log(written(tmp_path, text))
    assert len(log.seconds) == 99
    assert "1 row that jumped" in " ".join(log.notes)
    assert log.pascal[59:] == pytest.approx(5000)
    assert log.pascal[:59] == pytest.approx(500)


def test_one_bad_line_among_many_spoils_no_other(tmp_path, monkeypatch):
    lines = [f"{i},{1 + i % 7}" for i in range(4000)]
    lines[1234], lines[3456] = "broken", "3456,"
    path = written(tmp_path, "t (s),p (Pa)\n" + "\n".join(lines))
    log = read_log(path)
    assert log.rows == 4000
    assert log.rows_each.sum() == 3998 - sum("jumped" in n for n in log.notes)


def test_a_long_log_keeps_every_row_and_the_fast_fall(tmp_path):
    rng = np.random.default_rng(4)
    t = np.arange(120_000)
    p = (3 + 1e5 * np.exp(-np.maximum(t - 60_000, 0) / 6)) * np.exp(
        0.02 * rng.standard_normal(len(t))
    )
    path = written(
        tmp_path, "t (s),p (Pa)\n" + "".join(f"{a},{b:.5g}\n" for a, b in zip(t, p, strict=True))
    )
    log = read_log(path)
    assert len(log.seconds) <= MOST_POINTS
    assert log.rows_each.sum() == pytest.approx(120_000, abs=10)
    fall = (log.seconds > 60_000) & (log.seconds < 60_060)
    # Each second of the fall is still its own point.
    assert fall.sum() >= 55
    assert log.pascal[log.seconds > 61_000] == pytest.approx(3, rel=0.1)


@pytest.mark.slow
def test_memory_does_not_grow_with_the_log(tmp_path):
    import tracemalloc

    def peak(rows):
        path = tmp_path / f"{rows}.csv"
        with path.open("w") as stream:
            stream.write("t (s),p (Pa)\n")
            stream.writelines(f"{i},{3 + i % 5}\n" for i in range(rows))
        tracemalloc.start()
        read_log(path)
        used = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return used

    assert peak(1_200_000) < 1.3 * peak(400_000)


@given(
    values=st.lists(st.floats(-3, 12), min_size=2, max_size=60),
    fewer=st.integers(1, 40),
    odd=st.integers(0, 1),
)
def test_merging_keeps_rows_and_means(values, fewer, odd):
    if (len(values) - odd) // 2 < 1:
        return
    p = np.array(values)
    t, n = np.arange(len(p), dtype=float), np.arange(1.0, len(p) + 1)
    t2, p2, n2 = merge(t, p, n, fewer, odd)
    assert n2.sum() == n.sum()
    assert (n2 * p2).sum() == pytest.approx((n * p).sum(), abs=1e-6)
    assert np.all(np.diff(t2) > 0)


def test_the_step_of_a_display():
    coarse = np.array([0.03, 0.03, 0.02, 0.03, 0.02, 0.1, 0.1, 0.03])
    assert display_step(coarse)[0] == pytest.approx(0.01)
    assert display_step(np.full(5, 0.05)) == pytest.approx(np.full(5, 0.001))
    assert not display_step(np.random.default_rng(1).random(50)).any()


def test_seconds_since_1970_need_no_unit(tmp_path):
    log = read_log(
        written(tmp_path, "1774742400.0,5\n1774742401.5,4\n1774742403.0,3\n"), Told("mbar")
    )
    assert log.seconds.tolist() == [0, 1.5, 3]


@pytest.mark.parametrize(
    ("head", "row"),
    [
        ("No.,sec,mbar", "{n},{t},{p}"),
        ("epoch,mbar", "{ms},{p}"),
        ("time (s),setpoint (mbar),pressure (mbar)", "{t},0.1,{p}"),
        ("time (s),foreline (mbar),chamber (mbar)", "{t},0.02,{p}"),
        ("time (s),barometer (mbar),gauge (mbar)", "{t},1013,{p}"),
    ],
)
def test_the_columns_are_those_of_the_chamber_and_its_clock(tmp_path, head, row):
    lines = [
        row.format(n=n + 1, t=2 * n, ms=1_772_000_000_000 + 2000 * n, p=f"{5 + 0.01 * n:.3f}")
        for n in range(40)
    ]
    path = tmp_path / "log.csv"
    path.write_text("\n".join([head, *lines]), encoding="utf-8")
    log = read_log(path)
    assert log.seconds[-1] == pytest.approx(78)
    assert log.pascal[[0, -1]] == pytest.approx([500, 539])


def test_a_meter_that_changes_its_unit_from_row_to_row_is_followed(tmp_path):
    """Read as one unit, the end of this fall would be a thousand times too high."""
    cells = ["1000 mbar", "200 mbar", "10 mbar", "2 mbar", "500 ubar", "100 ubar", "90 ubar"]
    path = tmp_path / "log.csv"
    path.write_text(
        "seconds,p\n" + "".join(f"{10 * i},{cell}\n" for i, cell in enumerate(cells)),
        encoding="utf-8",
    )
    assert read_log(path).pascal == pytest.approx([1e5, 2e4, 1000, 200, 50, 10, 9])


def test_a_clock_that_goes_back_by_more_than_a_day_is_read_as_a_new_part(tmp_path):
    path = tmp_path / "log.csv"
    rows = ["time,pressure [mbar]", "09:00:00,100", "09:00:05,50", "48:52:00,25", "09:00:10,20"]
    rows += [f"09:00:{n:02},{10 - n / 10}" for n in range(15, 40, 5)]
    path.write_text("\n".join(rows) + "\n")
    assert (np.diff(read_log(path).seconds) > 0).all()


def straight_rise(stamp, shown, rows=61, step=5):
    """A rise of 600 ubar/min from 50 ubar, a row every 5 s."""
    told = [(n * step, 50 + 10 * n * step) for n in range(rows)]
    return "".join(f"{stamp(t)};{shown(p)}\n" for t, p in told)


def clock(start, form):
    begin = datetime.fromisoformat(start)
    return lambda t: (begin + timedelta(seconds=t)).strftime(form)


def pointed(number):
    return f"{number:,}".replace(",", ".")


def plainly(ubar):
    return f"{ubar}"


@pytest.mark.parametrize(
    ("head", "stamp", "shown"),
    [
        ("Time", clock("2026-03-02T12:57:30", "%I:%M:%S"), plainly),  # no am, no pm
        ("Time", clock("2026-03-02T11:58:00", "%I:%M:%S %p"), plainly),
        ("Time", clock("2026-03-02T11:57:30", "%M:%S.0"), plainly),  # the hour is not shown
        ("Stamp", clock("2026-03-02T11:58:00", "%Y%m%d%H%M%S"), plainly),
        ("Stamp", lambda t: str(1772452680000000 + t * 1000000), plainly),  # us since 1970
        ("t (ms)", lambda t: f"{t * 1000:,}", lambda p: f"{p:,}"),
        ("t (ms)", lambda t: pointed(t * 1000), pointed),
        ("Time", clock("2026-03-02T11:58:40", "%d.%m.%Y %H:%M"), plainly),  # no seconds
    ],
)  # fmt: skip
def test_what_a_spreadsheet_makes_of_times_and_numbers_is_read_as_it_was_meant(
    tmp_path, head, stamp, shown
):
    log = read_log(written(tmp_path, f"{head};p (ubar)\n{straight_rise(stamp, shown)}"))
    assert log.rows == 61
    assert log.breaks == ()
    assert log.seconds == pytest.approx(np.arange(61) * 5.0, abs=0.01)
    assert log.pascal == pytest.approx(5 + np.arange(61) * 5.0, rel=1e-9)


def test_numbers_with_three_decimals_hold_no_thousands(tmp_path):
    rows = "".join(f"{n}.125;{3 - n / 8:.3f}\n" for n in range(1, 9))
    log = read_log(written(tmp_path, f"t (s);p (mbar)\n0;3.125\n{rows}"))
    assert log.seconds[-1] == pytest.approx(8.125)
    assert log.pascal[0] == pytest.approx(312.5)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("t (s);p (10^-3 mbar)\n0;50\n5;100\n10;150\n", "--unit ubar"),
        ("t (s);p [10⁻³ mbar]\n0;50\n5;100\n10;150\n", "--unit ubar"),
        ("t (s);p x 1000 (mbar)\n0;50\n5;100\n10;150\n", "--unit ubar"),
        ("t (10-3 s);p (mbar)\n0;50\n5;100\n10;150\n", "--time-unit ms"),
        ("t (s);I x 10^-3 (A)\n0;5\n5;6\n10;7\n", "power of ten"),
        ("t (s),p (mbar)\n0,0,0500\n5,0,1000\n10,0,1500\n", "semicolons"),
        ("t (s);p (mbar);p (mbar)\n0;5;6\n5;4;5\n10;3;4\n", "--column '2'"),
        ("t (s);p (mbar)\n" + "".join(f"{t};{1 + t}\n" for t in sorted(range(0, 300, 5), key=str)),
         "sorted as text"),
    ],
)  # fmt: skip
def test_what_would_be_read_wrongly_is_refused_with_its_remedy(tmp_path, text, says):
    path = written(tmp_path, text)
    with pytest.raises(UserError) as caught:
        read_table(path) or read_log(path)
    assert says in str(caught.value)
    assert str(path) in str(caught.value)


def test_of_two_columns_of_one_name_the_number_says_which(tmp_path):
    path = written(tmp_path, "t (s);p (mbar);p (mbar)\n0;5;9\n5;4;8\n10;3;7\n")
    assert read_log(path, Told(column="3")).pascal[0] == pytest.approx(900)
    with pytest.raises(UserError, match=r"its number \(2 or 3\)"):
        read_log(path, Told(column="p"))


def test_what_is_told_of_a_head_with_a_power_of_ten_holds(tmp_path):
    path = written(tmp_path, "t (s);p (10^-3 mbar)\n0;50\n5;100\n10;150\n")
    assert read_log(path, Told("ubar")).pascal == pytest.approx([5, 10, 15])
