"""Breaks the code on purpose, a line at a time, and says which breaks no test notices.

    python -m tests.mutation reasoning/planner.py --tests tests/reasoning/test_planner.py
    python -m tests.mutation advice case --most 40

Modules or folders of the package; each is held against the tests of its own folder unless
`--tests` names others. A mutant is one changed operator, comparison, constant or condition, tried
in a private copy of the package; it survives when the tests still pass. A survivor is a place to
look: a test that is missing, or code that does nothing. Nothing is asserted; the exit status is 0.
"""

import argparse
import ast
import copy
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "troubleshoot"
SECONDS = 120  # a mutant that takes longer has been noticed: the tests hang
SWAPS: dict[type, type] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot,
    ast.IsNot: ast.Is, ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.And: ast.Or, ast.Or: ast.And, ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr,
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One broken version of a module: where, what was done, and its source."""

    line: int
    what: str
    source: str


def mutants(source: str) -> Iterator[Mutant]:
    """Every mutant of a module, in the order of its lines."""
    tree = ast.parse(source)
    for number, node in enumerate(ast.walk(tree)):
        for what, change in _changes(node):
            broken = copy.deepcopy(tree)
            change(next(n for k, n in enumerate(ast.walk(broken)) if k == number))
            yield Mutant(getattr(node, "lineno", 0), what, ast.unparse(broken))


def _changes(node):  # type: ignore[no-untyped-def]
    """(what, change) for each way to break one node."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1 and type(node.ops[0]) in SWAPS:
        new = SWAPS[type(node.ops[0])]
        yield f"{_name(node.ops[0])} -> {new.__name__}", lambda n: n.ops.__setitem__(0, new())
    if isinstance(node, (ast.BinOp, ast.BoolOp, ast.AugAssign)) and type(node.op) in SWAPS:
        new = SWAPS[type(node.op)]
        yield f"{_name(node.op)} -> {new.__name__}", lambda n: setattr(n, "op", new())
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield "not dropped", lambda n: setattr(n, "operand", ast.UnaryOp(ast.Not(), n.operand))
    if isinstance(node, ast.Constant) and type(node.value) in (int, float):
        yield f"{node.value} -> {node.value + 1}", lambda n: setattr(n, "value", n.value + 1)
    if isinstance(node, (ast.If, ast.IfExp)):
        yield "condition always true", lambda n: setattr(n, "test", ast.Constant(True))
        yield "condition never true", lambda n: setattr(n, "test", ast.Constant(False))


def _name(operator: ast.AST) -> str:
    return type(operator).__name__


def survives(module: Path, mutant: Mutant, tests: list[str], home: Path) -> bool:
    """Whether the tests pass with the broken module."""
    target = home / module.relative_to(ROOT)
    whole = target.read_text(encoding="utf-8")
    target.write_text(mutant.source, encoding="utf-8")
    env = {**os.environ, "PYTHONPATH": str(home), "TROUBLESHOOT_CACHE": str(home / "cache")}
    call = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests]
    try:
        done = subprocess.run(call, cwd=home, env=env, capture_output=True, timeout=SECONDS)
    except subprocess.TimeoutExpired:
        return False
    finally:
        target.write_text(whole, encoding="utf-8")
    return done.returncode == 0


def modules(names: list[str]) -> Iterator[Path]:
    """The modules that are meant by names below the package."""
    for name in names:
        path = PACKAGE / name
        yield from sorted(path.rglob("*.py")) if path.is_dir() else [path]


def main() -> None:
    """Print every survivor, and how many there were of how many."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("names", nargs="+", help="modules or folders below troubleshoot/")
    parser.add_argument("--tests", nargs="+", help="tests to hold them against")
    parser.add_argument("--most", type=int, default=30, help="mutants a module, drawn at random")
    parser.add_argument("--seed", type=int, default=20260301)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        for name in ("troubleshoot", "rules", "tests", "cases_demo", "docs"):
            shutil.copytree(ROOT / name, home / name)
        for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
            shutil.copy(ROOT / name, home)
        tried = alive = 0
        for module in modules(given.names):
            every = list(mutants(module.read_text(encoding="utf-8")))
            some = random.Random(given.seed).sample(every, min(given.most, len(every)))
            tests = given.tests or [f"tests/{module.parent.name}"]
            for mutant in sorted(some, key=lambda m: m.line):
                tried += 1
                if survives(module, mutant, tests, home):
                    alive += 1
                    where = f"{module.relative_to(ROOT)}:{mutant.line}"
                    print(f"survives: {where}: {mutant.what}", flush=True)
        print(f"{alive} of {tried} survive")


if __name__ == "__main__":
    main()
