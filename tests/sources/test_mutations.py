"""Fixtures of logs with faults put in: whatever comes, it is read or refused in one sentence."""

import functools
import random
import warnings
from pathlib import Path

import pytest
from click.testing import CliRunner

from troubleshoot.cli.read import read
from troubleshoot.cli.setup import load_rules
from troubleshoot.errors import UserError

FOLDER = Path(__file__).parent / "fixtures"
LOGS = sorted(path for path in FOLDER.iterdir() if path.suffix != ".yaml")
ODD = (b"", b",", b";", b"\t", b'"', b"\n", b"\r", b"\0", b"-", b"nan", b"1e308", b"-1e-320",
       b"1e30", b"OVER", b"\xff\xfe", b"mbar", b"12:00", b"0", b"99999999999999999999", b"#",
       b"\xc3\xa9")  # fmt: skip
OPTIONS = ([], [], [], ["--unit", "mbar"], ["--time-unit", "s"], ["--time-unit", "mm:ss"],
           ["--column", "2"], ["--every", "5 s"], ["--valve", "shut"], ["--valve", "open"],
           ["--empty"], ["--target", "1 mbar"], ["--volume", "5 L"],
           ["--gauge-scale", "1e-3 mbar at 0 V, 1 decade/V"], ["--json"])  # fmt: skip


def mutated(content, rng):
    """One to four faults: bytes, cells and lines lost, doubled, moved or changed."""
    for _ in range(rng.randint(1, 4)):
        lines = content.split(b"\n")
        fault, at = rng.randrange(9), rng.randrange(len(content) + 1)
        line, other = rng.randrange(len(lines)), rng.randrange(len(lines))
        if fault == 0:
            content = content[:at] + rng.choice(ODD) + content[at:]
        elif fault == 1:
            content = content[:at] + content[at + rng.randint(1, 40) :]
        elif fault == 2:
            content = content[:at]
        elif fault == 3:
            content = b"\n".join([*lines[:line], *lines[line + rng.randint(1, 60) :]])
        elif fault == 4:
            lines[line], lines[other] = lines[other], lines[line]
            content = b"\n".join(lines)
        elif fault == 5:
            content = b"\n".join([*lines[:line], *lines[other : other + 20], *lines[line:]])
        elif fault == 6:
            old = rng.choice([b",", b";", b".", b":", b"mbar", b"e", b"0", b" ", b"2026"])
            content = content.replace(old, rng.choice(ODD), rng.choice([1, 5, -1]))
        elif fault == 7:
            content = b"\n".join(lines[:line] + lines[line:][::-1])
        elif content:
            at = min(at, len(content) - 1)
            content = content[:at] + bytes([rng.randrange(256)]) + content[at + 1 :]
    return content


def read_mutations(folder, seeds):
    """As `_read_mutations`, with the rules loaded once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("troubleshoot.cli.setup.load_rules", rules_once)
        return _read_mutations(folder, seeds)


@functools.cache
def rules_once(overlays):
    return load_rules(overlays)


def _read_mutations(folder, seeds):
    """How often a mutation was read and refused; a crash says which it was."""
    ended = {"read": 0, "refused": 0}
    for seed in seeds:
        rng = random.Random(seed)
        log = rng.choice(LOGS)
        path = folder / log.name
        path.write_bytes(mutated(log.read_bytes(), rng))
        words = [str(path), *rng.choice(OPTIONS)]
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            result = CliRunner().invoke(read, words)
        if isinstance(result.exception, UserError):
            assert str(result.exception).count("\n") == 0, (seed, log.name, words[1:])
            ended["refused"] += 1
        else:
            assert result.exception is None, (seed, log.name, words[1:], repr(result.exception))
            ended["read"] += 1
    return ended


@pytest.mark.slow
def test_some_mutated_logs_are_read_or_refused(tmp_path):
    ended = read_mutations(tmp_path, range(60))
    assert min(ended.values()) > 8


@pytest.mark.long
def test_twenty_thousand_mutated_logs_are_read_or_refused(tmp_path):
    ended = read_mutations(tmp_path, range(1000, 21_000))
    assert min(ended.values()) > 2000
