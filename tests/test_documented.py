"""What people may write is documented: keys of the rules, of case files, of journals; the rooms."""

import re
import tomllib
from dataclasses import fields
from pathlib import Path

import pytest

from troubleshoot.case.casefile import HEAD, ITEMS, OUTCOME, READING_KEYS
from troubleshoot.case.entries import KINDS as SAID
from troubleshoot.case.entries import keys
from troubleshoot.coater.fields import NUMBERS, ROWS
from troubleshoot.coater.profile import machine_from
from troubleshoot.knowledge import model
from troubleshoot.knowledge.build import KINDS
from troubleshoot.knowledge.derivation import Derivation

ROOT = Path(__file__).parent.parent
RULES = (ROOT / "docs" / "rules.md").read_text(encoding="utf-8")
JOURNAL = (ROOT / "docs" / "journal.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
INSIDE = {
    model.Finding: (model.Bands,),
    model.Cause: (model.Today,),
    model.Action: (model.Minutes,),
}
COMMON = {"id", "source", "name"}


def marked(text):
    """The words in backticks."""
    return {w for code in re.findall(r"`([^`\n]+)`", text) for w in re.findall(r"\w+", code)}


def keys_of(kind):
    return {f.name for part in (kind, *INSIDE.get(kind, ())) for f in fields(part)}


def section(kind):
    found = re.search(rf"^### {kind.__name__} \(([^)]*)\)\n(.*?)(?=^##)", RULES, flags=re.M | re.S)
    assert found, f"docs/rules.md has no section '### {kind.__name__} (`...`)'"
    return found


@pytest.mark.parametrize(
    "kind",
    sorted({*KINDS.values(), model.Settings, Derivation}, key=lambda k: k.__name__),
    ids=lambda k: k.__name__,
)
def test_every_key_of_a_kind_of_rule_is_documented_in_its_section(kind):
    assert keys_of(kind) - COMMON <= marked(section(kind)[2])


def test_what_all_kinds_have_is_documented():
    above = RULES[RULES.index("## The keys of each kind") : RULES.index("### Complaint")]
    assert marked(above) >= COMMON


def test_every_heading_of_a_file_of_rules_is_documented():
    named = {word for kind in KINDS.values() for word in marked(section(kind)[1])}
    assert named == set(KINDS)


def test_every_journal_entry_is_documented_with_just_its_keys():
    rows = re.findall(r"^\| `(\w+)` \|([^|]*)\|([^|]*)\|([^|]*)\|$", JOURNAL, flags=re.M)
    told = {kind: (marked(must), marked(may)) for kind, must, may, _ in rows}
    assert told == {kind: keys(said) for kind, said in SAID.items()}
    assert all(says.strip() for *_, says in rows)


def test_every_key_of_a_case_file_is_documented():
    text = JOURNAL[JOURNAL.index("## Keys of a case file") :]
    assert marked(text) >= {*HEAD, *ITEMS, *OUTCOME, *READING_KEYS}


def test_every_key_of_a_machine_profile_is_documented_with_its_choices():
    text = JOURNAL[JOURNAL.index("## Keys of a machine profile") :]
    rows = re.findall(r"^\| `(\w+)` \|([^|]*)\|([^|]*)\|$", text, flags=re.M)
    assert {key: marked(takes) for key, takes, _ in rows} == {
        row.key: set(row.choices) for row in ROWS
    }
    numbers = [(row, takes) for row in NUMBERS.values() for key, takes, _ in rows if key == row.key]
    for row, takes in numbers:
        dimension, example = re.fullmatch(r" an? ([\w ]+), such as (.+) ", takes).groups()
        assert dimension == row.dimension
        assert machine_from({row.key: example}, "here").numbers


def test_the_table_of_rooms_is_the_contract_of_imports():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    (contract,) = project["tool"]["importlinter"]["contracts"]
    layers = [[part.strip() for part in layer.split("|")] for layer in contract["layers"]]
    table = DEVELOPERS[DEVELOPERS.index("| room | what lives there |") :].split("\n\n")[0]
    rows = [re.findall(r"`(\w+)", row.split("|")[1]) for row in table.splitlines()[2:]]
    assert rows == layers
    package = ROOT / "troubleshoot"
    there = {p.stem for p in package.iterdir() if p.suffix == ".py" or (p / "__init__.py").exists()}
    assert there - {"__init__", "__main__"} == {room for row in rows for room in row}


def test_every_module_that_is_named_for_developers_exists():
    package = ROOT / "troubleshoot"
    rooms = "|".join(p.name for p in package.iterdir() if p.is_dir())
    pages = DEVELOPERS + (ROOT / "docs" / "decisions.md").read_text(encoding="utf-8")
    named = set(re.findall(rf"`((?:{rooms})/[\w/]*(?:\.py)?)`", pages))
    assert named
    for path in named:
        assert (package / path).exists(), path
    for path in re.findall(r"`((?:tests|docs|rules|cases_demo)/[\w/.]*)`", pages):
        assert (ROOT / path).exists(), path
