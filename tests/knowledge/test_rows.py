"""How a row that lists some answers is completed, and how mechanisms hand rows down."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.knowledge import tiny
from troubleshoot.errors import UserError
from troubleshoot.knowledge.load import load, shipped
from troubleshoot.knowledge.model import Finding
from troubleshoot.knowledge.rows import FLOOR, complete, resolve


def finding(kind, background):
    return Finding.model_validate(
        {
            "id": "f_x",
            "source": "made up",
            "name": "x",
            "ask": "?",
            "kind": kind,
            "answers": dict.fromkeys(background, "so"),
            "background": background,
        }
    )


YES_NO = finding("yes_no", {"yes": 0.1, "no": 0.9})
CHOICE = finding("choice", {"clear": 0.6, "dark": 0.3, "milky": 0.1})
GRADED = finding("graded", {"a0": 0.7, "a1": 0.1, "a2": 0.1, "a3": 0.1})
GONE = finding("cure_test", {"gone": 0.2, "less": 0.2, "same": 0.6})


def approx(**row):
    return pytest.approx(row, abs=1e-12)


def test_a_number_is_the_probability_of_yes():
    """And "no" gets the rest."""
    assert complete(YES_NO, 0.7) == approx(yes=0.7, no=0.3)


def test_a_whole_row_stays_as_it_is():
    """Nothing is left to share out."""
    assert complete(CHOICE, {"clear": 0.2, "dark": 0.5, "milky": 0.3}) == approx(
        clear=0.2, dark=0.5, milky=0.3
    )


def test_the_rest_of_a_choice_follows_the_background():
    """0.2 left to clear and milky, which stand 6 to 1 in the background."""
    assert complete(CHOICE, {"dark": 0.8}) == approx(clear=0.2 * 6 / 7, dark=0.8, milky=0.2 / 7)


def test_the_rest_of_a_cure_test_follows_the_background():
    """0.1 left to less and same, which stand 1 to 3."""
    assert complete(GONE, {"gone": 0.9}) == approx(gone=0.9, less=0.025, same=0.075)


def test_the_rest_of_a_graded_row_goes_to_neighbours():
    """Worse by one step 1/2, better by one step 1/4, by two 1/16; here they share 0.3."""
    total = 1 / 16 + 1 / 4 + 1 / 2
    assert complete(GRADED, {"a2": 0.7}) == approx(
        a0=0.3 / 16 / total, a1=0.3 / 4 / total, a2=0.7, a3=0.3 / 2 / total
    )


def test_two_listed_grades_both_pull_the_rest():
    """a1 (0.5) and a2 (0.3): a0 gets 0.5/4 + 0.3/16, a3 gets 0.5/4 + 0.3/2 of the 0.2 left."""
    low, high = 0.5 / 4 + 0.3 / 16, 0.5 / 4 + 0.3 / 2
    assert complete(GRADED, {"a1": 0.5, "a2": 0.3}) == approx(
        a0=0.2 * low / (low + high), a1=0.5, a2=0.3, a3=0.2 * high / (low + high)
    )


def test_no_answer_is_ruled_out():
    """Less than the floor is raised to it, and the row is normalised again."""
    got = complete(YES_NO, 0.9999)
    assert got == approx(yes=0.9999 / 1.0039, no=FLOOR / 1.0039)


@given(
    st.sampled_from([YES_NO, CHOICE, GRADED, GONE]),
    st.lists(st.floats(1e-6, 1.0), min_size=4, max_size=4),
    st.integers(1, 15),
    st.floats(0.01, 1.0),
)
def test_every_row_is_a_distribution(f, raw, which, total):
    """It sums to 1, rules nothing out, and keeps the proportions of what was listed."""
    names = [a for n, a in enumerate(f.answers) if which >> n & 1] or list(f.answers)[:1]
    listed = {a: total * x / sum(raw[: len(names)]) for a, x in zip(names, raw, strict=False)}
    listed = {a: min(p, 1 - 1e-9) for a, p in listed.items()}
    row = complete(f, listed)
    assert list(row) == list(f.answers)
    assert sum(row.values()) == pytest.approx(1.0, abs=1e-12)
    assert min(row.values()) >= FLOOR / (1 + FLOOR * len(row)) - 1e-12
    big = [a for a in names if listed[a] > FLOOR]
    for a, b in itertools.pairwise(big):
        assert row[a] / row[b] == pytest.approx(listed[a] / listed[b], rel=1e-9)


# --- mechanisms ---------------------------------------------------------------------------------


def rules(tmp_path, mechanisms, cause):
    data = tiny.rules()
    data["mechanisms"] = {
        name: {"source": "judgement", "name": name, "what": name, **entry}
        for name, entry in mechanisms.items()
    }
    data["causes"]["lid_loose"] |= cause
    return load([tiny.write(tmp_path, data)])


def test_a_cause_inherits_and_refines_its_mechanism(tmp_path):
    """A row of the cause's own replaces the mechanism's as a whole."""
    base = rules(
        tmp_path,
        {"leak": {"shows": {"hiss": 0.7, "tint": {"dark": 0.9}}}},
        {"mechanisms": ["leak"], "shows": {"tint": {"milky": 0.8}}},
    )
    rows = base.rows
    assert rows["lid_loose", "hiss"] == approx(yes=0.7, no=0.3)
    assert rows["lid_loose", "tint"] == complete(base.findings["tint"], {"milky": 0.8})


def test_a_mechanism_inherits_from_what_it_is_like(tmp_path):
    """Grandparent, parent, child: the nearest that says something wins."""
    rows = rules(
        tmp_path,
        {
            "air": {"shows": {"hiss": 0.2, "tint": {"dark": 0.9}}},
            "leak": {"like": "air", "shows": {"hiss": 0.6}},
            "big_leak": {"like": "leak", "shows": {"hiss": 0.9}},
        },
        {"mechanisms": ["big_leak"], "shows": {}},
    ).rows
    assert rows["lid_loose", "hiss"]["yes"] == pytest.approx(0.9)
    assert rows["lid_loose", "tint"]["dark"] == pytest.approx(0.9)


def test_the_later_of_two_mechanisms_wins(tmp_path):
    """In the order in which the cause names them."""
    both = {"dry": {"shows": {"hiss": 0.2}}, "leak": {"shows": {"hiss": 0.8}}}
    for order, wanted in ((["dry", "leak"], 0.8), (["leak", "dry"], 0.2)):
        rows = rules(tmp_path, both, {"mechanisms": order, "shows": {}}).rows
        assert rows["lid_loose", "hiss"]["yes"] == pytest.approx(wanted)


def test_mechanisms_that_are_like_each_other_are_refused(tmp_path):
    """A circle of `like` has no beginning: loading names both places."""
    with pytest.raises(UserError, match=r"leak\.like.*circle(.|\n)*air\.like.*circle"):
        rules(
            tmp_path,
            {"leak": {"like": "air", "shows": {"hiss": 0.6}}, "air": {"like": "leak"}},
            {"mechanisms": ["leak"], "shows": {}},
        )


def test_only_what_is_listed_has_a_row(tmp_path):
    """A cause has no say on what neither it nor its mechanisms list."""
    rows = rules(tmp_path, {"leak": {"shows": {"hiss": 0.6}}}, {"mechanisms": ["leak"]}).rows
    assert ("lid_loose", "tint") not in rows
    assert ("bulb_dark", "hiss") not in rows


def test_shipped_rows_are_distributions():
    """Every row of the shipped rules: all answers, none below about the floor, sum 1."""
    base = load([shipped()])
    rows = resolve(base)
    assert rows.keys() == base.rows.keys()
    for (_, name), row in rows.items():
        assert list(row) == list(base.findings[name].answers)
        assert sum(row.values()) == pytest.approx(1.0, abs=1e-12)
        assert min(row.values()) > 0.9 * FLOOR
