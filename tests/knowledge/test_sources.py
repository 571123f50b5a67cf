"""What a source rests on, and how many entries rest on what."""

import pytest

from tests.knowledge import tiny
from troubleshoot.knowledge.load import load
from troubleshoot.knowledge.sources import GROUNDS, computations, counted, ground, sourced


@pytest.mark.parametrize(
    "source",
    [
        "Sauerbrey 1959",
        "a crystal weighs what lands on it (Sauerbrey, Z. Phys. 155 (1959) 206); judgement",
        "Goldstein et al. 2018",
        "Goldstein et al., Scanning Electron Microscopy and X-Ray Microanalysis, 4th ed., 2018",
        "O'Hanlon, A User's Guide to Vacuum Technology, 3rd ed., 2003, from memory",
        "Jousten (ed.), Handbook of Vacuum Technology, 2nd ed. 2016",
        "as Kanaya & Okayama 1972 have it",
        "de Vries, J. Phys. F 17 (1987) 1945",
        "Gusnard and Kirschner 1977, J. Microsc. 110, 51",
        "Öztürk 2011",
        "names in ISO 3529-1",
        "ISO/TS 24597:2011",
        "29 CFR 1910.146",
        "ASTM E595",
        "Directive 2013/35/EU",
        "https://example.org/page",
        "doi 10.1000/xyz123",
        "arXiv 2410.23390",
        "example.org/a/page, read in spring",
        "common practice, no source; 20 to 30 % (Braet et al. 1997); numbers are judgement",
    ],
)
def test_author_and_year_a_standard_or_an_address_is_a_citation(source):
    assert ground(source) == "citation"


@pytest.mark.parametrize(
    ("source", "rests_on"),
    [
        ("handbooks, from memory", "judgement"),
        ("Handbooks of SEM preparation, 2009 and later", "judgement"),
        ("standard vacuum technique (e.g. O'Hanlon), from memory; numbers: judgement", "judgement"),
        ("Goldstein et al., from memory; numbers are judgement", "judgement"),
        ("Paschen's law, from memory", "judgement"),
        ("Platinum is finer than gold: judgement", "judgement"),
        ("Iron, at 2000 V; judgement", "judgement"),
        ("Copper 1500 V; judgement", "judgement"),
        ("our log book, June 2019", "judgement"),
        ("In 2019 it was so; judgement", "judgement"),
        ("Since May 2021, seen thrice", "judgement"),
        ("2000 litres at 200 bar; judgement", "judgement"),
        ("the ISO name; judgement", "judgement"),
        ("10.5 g/cm3 and 12/13 of it; judgement", "judgement"),
        ("e.g./i.e. a seal; judgement", "judgement"),
        ("p = Q/S (computed); numbers: judgement", "judgement"),
        ("Common practice, no source; 12 runs in 2019", "practice"),
        ("common practice, no source; share is judgement", "practice"),
        ("common practice,\n  no source", "practice"),
        ("computation trapped_air: p = Q/S; rest common practice, no source", "computation"),
        ("computation by hand; judgement", "judgement"),
        ("judgement", "judgement"),
    ],
)
def test_what_only_looks_like_a_citation_is_none(source, rests_on):
    assert ground(source) == rests_on


def test_a_computation_is_named_in_the_source():
    said = "p = Q/S (computation trapped_air; computation\n  speed_behind_hose); numbers: judgement"
    assert computations(said) == ["trapped_air", "speed_behind_hose"]


def test_every_entry_is_counted_once_under_the_kind_of_its_file(tmp_path):
    data = tiny.rules()
    data["findings"]["hiss"]["source"] = "Sauerbrey 1959"
    counts = counted(load([tiny.write(tmp_path, data)]))
    assert {kind: count.total() for kind, count in counts.items()} == {
        kind: 1 if kind == "settings" else len(entries) for kind, entries in data.items()
    }
    assert counts["findings"] == {"citation": 1, "judgement": 1}


def test_no_shipped_entry_is_left_out(rules):
    entries = list(sourced(rules))
    assert len({(kind, entry.id) for kind, entry in entries}) == len(entries)
    assert sum(count.total() for count in counted(rules).values()) == len(entries)
    assert {kind for kind, _ in entries} >= {"causes", "checks", "remedies", "derivations", "care"}
    assert set().union(*counted(rules).values()) <= set(GROUNDS)


def test_at_least_half_of_the_causes_rest_on_a_citation_or_a_computation(rules):
    causes = counted(rules)["causes"]
    assert 2 * (causes["citation"] + causes["computation"]) >= causes.total()
