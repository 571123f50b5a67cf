"""A log of five million rows: processor time of `read_log` over that of the csv module alone.

    python tests/benchmarks/reading.py [ROWS]

Both read the same file in the same run, alternately; the least of three times counts. Peak memory
is measured in a separate run, because measuring it slows reading down.
"""

import csv
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np

from troubleshoot.sources.log_file import read_log

ROWS = 5_000_000


def write_log(path: Path, rows: int, *, stamps: bool, comma: bool, broken: int) -> None:
    """Two pump-downs with rises, a reading a second, with noise; every `broken`-th unreadable."""
    rng = np.random.default_rng(7)
    with path.open("w", encoding="utf-8") as stream:
        stream.write("time;pressure (mbar)\n" if comma else "time (s),pressure (mbar)\n")
        for start in range(0, rows, 100_000):
            t = np.arange(start, min(start + 100_000, rows))
            within = t % (rows // 2)
            p = 0.03 + 1000 * np.exp(-within / 40) + 1e-6 * np.maximum(within - rows // 3, 0)
            p = p * np.exp(0.01 * rng.standard_normal(len(t)))
            if stamps:
                times = np.datetime_as_string(np.datetime64("2026-01-05T08:00:00") + t).tolist()
            else:
                times = [str(i) for i in t.tolist()]
            values = [f"{x:.5g}" for x in p.tolist()]
            if broken:
                values[7::broken] = ["OVER"] * len(values[7::broken])
            lines = zip(times, values, strict=True)
            if comma:
                stream.writelines(f"{a};{b.replace('.', ',')}\n" for a, b in lines)
            else:
                stream.writelines(f"{a},{b}\n" for a, b in lines)


def csv_alone(path: Path) -> None:
    """Every row through the csv module, nothing done with it."""
    with path.open(newline="", encoding="utf-8") as stream:
        for _ in csv.reader(stream, delimiter=";" if "comma" in path.stem else ","):
            pass


def seconds(work: Callable[[], object]) -> float:
    """Time of one call."""
    begin = time.process_time()
    work()
    return time.process_time() - begin


def main() -> None:
    """Print a line for each way of writing the log."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else ROWS
    kinds = {
        "seconds": {"stamps": False, "comma": False, "broken": 0},
        "stamps": {"stamps": True, "comma": False, "broken": 0},
        "comma": {"stamps": True, "comma": True, "broken": 0},
        "1 in 1000": {"stamps": False, "comma": False, "broken": 1000},
        "1 in 10": {"stamps": False, "comma": False, "broken": 10},
    }
    print(f"{rows} rows   csv alone   read_log   ratio   peak memory")
    with tempfile.TemporaryDirectory() as folder:
        for name, how in kinds.items():
            path = Path(folder) / f"{name}.csv"
            write_log(path, rows, **how)
            pairs = [
                (seconds(lambda: csv_alone(path)), seconds(lambda: read_log(path)))  # noqa: B023
                for _ in range(3)
            ]
            alone, ours = min(a for a, _ in pairs), min(b for _, b in pairs)
            tracemalloc.start()
            read_log(path)
            peak = tracemalloc.get_traced_memory()[1]
            tracemalloc.stop()
            print(
                f"{name:>9}   {alone:7.2f} s   {ours:7.2f} s   {ours / alone:5.2f}   "
                f"{peak / 1e6:6.0f} MB"
            )
            path.unlink()


if __name__ == "__main__":
    main()
