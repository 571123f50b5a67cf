"""The tables of published checks name tests that exist, and every one of these is in them."""

import ast
import re
from pathlib import Path

from troubleshoot.knowledge.sources import computations, sourced

ROOT = Path(__file__).parents[2]
TABLES = [ROOT / "docs" / name for name in ("published_checks.md", "published_film.md")]
FILES = {
    "vacuum": "tests/published/test_physics_vacuum.py",
    "gases": "tests/published/test_physics_gases.py",
    "discharge": "tests/published/test_physics_discharge.py",
    "purging": "tests/published/test_physics_purging_and_safety.py",
    "metals": "tests/published/test_physics_metals.py",
    "coats": "tests/published/test_physics_coats.py",
    "sputtering": "tests/published/test_physics_sputtering.py",
    "film": "tests/published/test_physics_film.py",
    "charging": "tests/published/test_physics_charging.py",
    "formulas": "tests/physics/test_vacuum_formulas.py",
    "safety": "tests/physics/test_discharge_and_safety_formulas.py",
    "computations": "tests/rules/test_computations.py",
}


def functions_of(file):
    tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
    return {
        node.name
        for node in tree.body
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
    }


def named():
    text = "".join(table.read_text(encoding="utf-8") for table in TABLES)
    return set(re.findall(r"`(\w+)::(\w+)`", text))


def test_every_test_named_in_the_table_exists():
    assert {
        (short, name) for short, name in named() if name not in functions_of(FILES[short])
    } == set()


def test_every_published_check_stands_in_the_table():
    published = {
        (short, name)
        for short, file in FILES.items()
        if file.startswith("tests/published")
        for name in functions_of(file)
    }
    assert published - named() == set()


def test_every_computation_that_a_source_names_stands_in_the_table(rules):
    sources = [entry.source for _, entry in sourced(rules)]
    computed = {("computations", f"test_{name}") for s in sources for name in computations(s)}
    assert computed == {(short, name) for short, name in named() if short == "computations"}
