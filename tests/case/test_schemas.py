"""JSON Schemas for editors: what the readers take they take, what the readers refuse for its names
they refuse. Judged by the reference library for JSON Schema 2020-12."""

import copy

import pytest
from jsonschema import Draft202012Validator as Validator

from troubleshoot.case.casefile import HEAD, OUTCOME, read_case
from troubleshoot.case.schemas import case_schema, machine_schema
from troubleshoot.cli.setup import demo_files
from troubleshoot.errors import UserError
from troubleshoot.knowledge.load import shipped
from troubleshoot.knowledge.schema import rules_schema
from troubleshoot.strict_yaml import read

AT = "2026-03-02T09:00:00"


@pytest.fixture(scope="module")
def case(rules):
    Validator.check_schema(case_schema(rules))
    return Validator(case_schema(rules))


def test_a_case_file_has_the_keys_that_the_reader_knows(rules):
    keys = case_schema(rules)["properties"]
    assert tuple(keys) == HEAD
    assert tuple(keys["outcome"]["properties"]) == OUTCOME


def test_every_demo_fits(case):
    for path in demo_files():
        assert not list(case.iter_errors(read(path).data)), path.name


def test_the_shipped_rules_fit():
    schema = rules_schema()
    Validator.check_schema(schema)
    validator = Validator(schema)
    for path in shipped().rglob("*.yaml"):
        assert not list(validator.iter_errors(read(path).data)), path.name


def test_a_profile_fits_by_the_same_names():
    validator = Validator(machine_schema())
    machine = demo_files()[0].parent / "machine_sieve_room.yaml"
    data = read(machine).data
    assert not list(validator.iter_errors(data))
    assert list(validator.iter_errors({**data, "pumpspeed": "4 m3/h"}))
    assert list(validator.iter_errors({**data, "target": "lead"}))


FAULTS = {
    "a key at the top": lambda d: d.update(journl=[]),
    "no complaint": lambda d: d.pop("complaint"),
    "an unknown complaint": lambda d: d.update(complaint="no_such"),
    "an unknown sign": lambda d: d.update(signs=["smel"]),
    "an unknown fact": lambda d: d.update(circumstances=["dusty_rom"]),
    "an unknown role": lambda d: d.update(role="boss"),
    "an unknown finding": lambda d: d["journal"].append({"finding": "seel", "answer": "yes"}),
    "a key of a finding": lambda d: d["journal"].append({"finding": "hiss", "answr": "yes"}),
    "an unknown sureness": lambda d: d["journal"].append(
        {"finding": "hiss", "answer": "yes", "sure": "maybe"}
    ),
    "an unknown action": lambda d: d["journal"].append({"action": "wipe_seel"}),
    "an unknown result": lambda d: d["journal"].append(
        {"action": "wipe_and_reseat_seals", "complaint_now": "gone"}
    ),
    "two things in one line": lambda d: d["journal"].append(
        {"finding": "hiss", "action": "listen"}
    ),
    "a line of text": lambda d: d["journal"].append("seal"),
    "a wrong valve": lambda d: d["journal"].append({"points": "0 s 1 mbar", "valve": "ajar"}),
    "an unknown end": lambda d: d["journal"].append({"outcome": "fine"}),
    "an unknown cause": lambda d: d.update(outcome={"causes": ["vent_opn"]}),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_what_the_reader_refuses_for_its_names_the_schema_refuses(case, rules, tmp_path, fault):
    import yaml

    data = copy.deepcopy(read(demo_files()[0]).data)
    data.pop("machine", None)
    data["journal"] = [item for item in data["journal"] if "reading" not in item]
    path = tmp_path / "case.yaml"
    path.write_text(yaml.safe_dump(data))
    read_case(path, rules, AT)
    assert not list(case.iter_errors(data))
    FAULTS[fault](data)
    path.write_text(yaml.safe_dump(data))
    with pytest.raises(UserError):
        read_case(path, rules, AT)
    assert list(case.iter_errors(data))
