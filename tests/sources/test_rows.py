"""Rows read fast are the rows read cell by cell, whatever is wrong with them."""

import math
from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from troubleshoot.errors import UserError
from troubleshoot.sources import cells, log_file, rows


def row_by_row(path, dialect, words):
    """What `rows.blocks` gives, by its definition: every cell read on its own."""
    with path.open(encoding=dialect.encoding, newline=None) as stream:
        lines = list(stream)[len(dialect.head) :]
    table = [row for line in lines for row in rows.split([line], dialect.delimiter)]
    heads = list(rows.split(dialect.head, dialect.delimiter))
    table = [row for row in table if any(cell.strip() for cell in row) and row not in heads]

    def cell(row, column):
        return row[column] if column < len(row) else ""

    def seconds(row):
        text = cell(row, dialect.time)
        if dialect.stamps is None:
            return said(text, "time", dialect.factor) * dialect.factor
        day = "" if dialect.date is None else cell(row, dialect.date) + " "
        return dialect.stamps.seconds(day + text)

    def said(text, dimension, factor):
        found = cells.value(text, dimension, factor)
        if text.strip() and not math.isfinite(found) and not is_float(text):
            words.add(text.replace(",", ".").strip() if dialect.comma else text.strip())
        return found

    times = [seconds(row) for row in table]
    values = [[said(cell(row, v.column), v.dimension, v.factor) for v in dialect.values]
              for row in table]  # fmt: skip
    yield np.array(times), np.array(values).reshape(len(table), len(dialect.values))


def is_float(text):
    try:
        float(text)
    except ValueError:
        return False
    return True


JUNK = (
    "---",
    "OVER",
    "",
    "nan",
    "1.2e",
    "1,2e",
    "Ω",
    "5.01 mbar",
    "5,01 mbar",
    "7mbar",
    "3 s",
    "x" * 50,
)
STAMPS = {
    "seconds": lambda at, n: str(n),
    "fractions": lambda at, n: f"{n / 7:.3f}",
    "clock": lambda at, n: at.strftime("%H:%M:%S"),
    "clock in thousandths": lambda at, n: at.isoformat(timespec="milliseconds")[11:],
    "clock of twelve hours": lambda at, n: at.strftime("%I:%M:%S %p").lstrip("0"),
    "minutes": lambda at, n: at.strftime("%H:%M"),
    "iso": lambda at, n: at.isoformat(" "),
    "iso in millionths": lambda at, n: at.isoformat("T", "microseconds"),
    "iso with Z": lambda at, n: at.isoformat() + "Z",
    "iso with a zone": lambda at, n: at.isoformat() + ("+01:00" if n < 60 else "+02:00"),
    "date with dots": lambda at, n: at.strftime("%d.%m.%Y %H:%M:%S"),
    "date with strokes": lambda at, n: f"{at.month}/{at.day}/{at:%y %I:%M:%S %p}",
    "date without seconds": lambda at, n: at.strftime("%d.%m.%Y %H:%M"),
}


@st.composite
def messy_tables(draw):
    """A table full of faults as text, and how its times are written."""
    rng = draw(st.randoms(use_true_random=False))
    kind = draw(st.sampled_from(sorted(STAMPS)))
    delimiter = draw(st.sampled_from([",", ";", "\t", ", "]))
    comma = draw(st.booleans())
    quotes = (comma and delimiter[0] == ",") or draw(st.booleans())
    pressure_first = draw(st.booleans())
    extra = draw(st.sampled_from([None, "ok", "", "with, comma; and more", '5 "fine"']))
    junk = [draw(st.sampled_from(JUNK))] if draw(st.booleans()) else JUNK
    every = draw(st.sampled_from([3, 10, 40]))
    unit = draw(st.sampled_from(["", "", " mbar"]))

    def line(cells_of_row):
        if pressure_first:
            cells_of_row = [*cells_of_row[1::-1], *cells_of_row[2:]]
        escaped = [cell.replace('"', '""') for cell in cells_of_row]
        return delimiter.join(
            f'"{cell}"' if quotes or delimiter[0] in cell or '"' in cell else cell
            for cell in escaped
        )

    current = draw(st.booleans())
    notes = [] if extra is None else [extra]
    heads = ["time (s)", "pressure (mbar)", *(["current (mA)"] if current else []), *notes]
    head = line(heads)
    lines = [head]
    start = datetime(2026, 3, 28, rng.randrange(24), 55, 50)
    # The first lines are good, for they tell how the table is written.
    for n in range(150):
        stamp = STAMPS[kind](start + timedelta(seconds=n * 1.25 if "in " in kind else n), n)
        pressure = f"{1000 / (n + 1):.4g}"
        if comma:
            pressure = pressure.replace(".", ",")
            stamp = stamp.replace(".", ",") if kind != "date with dots" else stamp
        row = [stamp, pressure + unit, *([str(n % 9)] if current else []), *notes]
        good = line(row)
        if n < 125 or rng.randrange(every):
            lines.append(good)
            continue
        fault = rng.randrange(8)
        if fault < 4:
            row[(0, 1, 1, 1 + current)[fault]] = rng.choice(junk)
            lines.append(line(row))
        else:
            cut = good[: rng.randrange(len(good))]
            cut += '"' * (cut.count('"') % 2)
            blank = rng.choice(["", "  ", delimiter[0], delimiter[0] * 2 + " "])
            lines.append({4: head, 5: cut, 6: blank, 7: line([rng.choice(junk)] * 2)}[fault])
    return "\n".join(lines) + draw(st.sampled_from(["", "\n"])), kind


@pytest.mark.slow
@settings(max_examples=200, deadline=None)
@given(table=messy_tables())
def test_a_messy_table_reads_as_cell_by_cell(table, tmp_path_factory):
    """Pieces of a few lines: what one teaches is put to use, and seams fall anywhere."""
    text, kind = table
    path = tmp_path_factory.mktemp("messy") / "log.csv"
    path.write_text(text, encoding="utf-8")
    told = log_file.Told("mbar", "hh:mm" if kind == "minutes" else None)

    def outcomes():
        try:
            log = log_file.read_log(path, told)
            lists = (log.seconds, log.pascal, log.rows_each, log.step)
            yield log.rows, log.notes, log.breaks, *(numbers.tolist() for numbers in lists)
        except UserError as error:
            yield str(error)
        try:
            table = log_file.read_table(path, told)
            if table is not None:
                yield (
                    table.notes,
                    table.seconds.tolist(),
                    str({k: v.tolist() for k, v in table.columns.items()}),
                )
        except UserError as error:
            yield str(error)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(log_file, "blocks", row_by_row)
        expected = list(outcomes())
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(rows, "PIECE", 400)
        assert list(outcomes()) == expected
