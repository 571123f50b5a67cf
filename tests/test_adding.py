"""The worked examples of docs/adding.md hold: its rules pass, its Python runs."""

import doctest
import re
import sys
import types
from inspect import signature
from pathlib import Path

import pytest

from troubleshoot import __main__
from troubleshoot.case import casefile, entries
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append
from troubleshoot.coater import fields
from troubleshoot.knowledge.lint import run
from troubleshoot.knowledge.load import load, shipped

PAGE = Path(__file__).parent.parent / "docs" / "adding.md"
TABLES = (
    __main__.COMMANDS,
    casefile.ITEMS,
    casefile.RENAMED,
    fields.FACTS,
    fields.FIELDS,
    entries.KINDS,
)
"""What an example adds a line to, as its author would do in the file."""


def fenced(language):
    text = PAGE.read_text(encoding="utf-8")
    return re.findall(rf"^```{language}\n(.*?)^```", text, flags=re.M | re.S)


def is_case(block):
    return block.startswith("complaint:")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The rules of the page, a file a block."""
    folder = tmp_path_factory.mktemp("our_rules")
    for number, block in enumerate(b for b in fenced("yaml") if not is_case(b)):
        (folder / f"example_{number}.yaml").write_text(block, encoding="utf-8")
    return folder


@pytest.mark.slow
def test_the_rules_pass_the_check_on_top_of_the_shipped_ones(folder):
    assert run.check([shipped(), folder]) == []


def test_the_rules_pass_the_check_of_style(folder):
    assert run.check([folder], ["style"]) == []


def test_the_rules_load_and_the_case_is_explained(folder, tmp_path):
    ours = load([shipped(), folder])
    (block,) = filter(is_case, fenced("yaml"))
    path = tmp_path / "explains.yaml"
    path.write_text(block, encoding="utf-8")
    case = read_case(path, ours, "2026-01-05T09:00:00")
    belief = Bench(ours, case.machine).assess(case.journal).belief
    (cause,) = case.outcome["causes"]
    assert cause in sorted(belief.present, key=belief.present.get)[-2:]


def test_the_caution_bans_what_it_says(folder):
    ours = load([shipped(), folder])
    machine = fields_told(rotation="yes")
    told = append((), "2026-01-05T09:00:00", "complaint", ours,
                          complaint="pressure_not_reached")  # fmt: skip
    seen = append(told, "2026-01-05T09:01:00", "finding", ours,
                          finding="stage_motor_smell", answer="yes")  # fmt: skip
    bench = Bench(ours, machine)
    assert bench.deduce(told).may("turn_stage_under_vacuum")
    assert bench.deduce(seen).stop == "stage_motor_hot"
    assert not bench.deduce(seen).may("turn_stage_under_vacuum")


def fields_told(**facts):
    from troubleshoot.coater.profile import machine_from

    return machine_from(facts, "here")


@pytest.fixture
def tables_restored():
    kept = [dict(table) for table in TABLES]
    yield
    for table, rows in zip(TABLES, kept, strict=True):
        table.clear()
        table.update(rows)


def test_every_block_of_python_runs_as_the_file_that_it_names(
    rules, tmp_path, monkeypatch, tables_restored
):
    fixtures = {"rules": rules, "tmp_path": tmp_path, "monkeypatch": monkeypatch}
    ran = []
    for block in fenced("python"):
        name = re.match(r"# (\S+)\.py\n", block)[1].replace("/", ".")
        module = types.ModuleType(name)
        monkeypatch.setitem(sys.modules, name, module)
        exec(compile(block, name, "exec"), vars(module))
        for test in [value for key, value in vars(module).items() if key.startswith("test_")]:
            test(**{p: fixtures[p] for p in signature(test).parameters})
            ran.append(test.__name__)
        assert doctest.testmod(module).failed == 0
    assert len(ran) == sum(block.count("def test_") for block in fenced("python")) > 0


def test_no_block_is_of_another_language():
    opened = set(re.findall(r"^```(\w+)", PAGE.read_text(encoding="utf-8"), flags=re.M))
    assert opened == {"python", "yaml"}
