"""What is typed for a quantity, as evidence on its answers: numbers, ranges and bounds."""

import itertools
import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import integrate, stats

from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import Bands, Finding
from troubleshoot.readings.quantity import (
    LEAST,
    amounts_to,
    in_gauge_unit,
    likeliest,
    likelihood,
    read_quantity,
    yardstick,
)
from troubleshoot.units import format_in, parse, units_of

ANSWERS = ("usual", "raised", "high", "very_high")
SEEN = (0.7, 0.2, 0.06, 0.04)
COATER = Machine()


def finding(dimension="pressure", unit="mbar", edges=(0.05, 0.1, 0.5), spread=0.2):
    quantity = Bands(dimension=dimension, unit=unit, edges=list(edges), spread=spread)
    return Finding(
        id="made_up", source="made up", name="Made up", ask="What does it read?", kind="graded",
        answers={a: a.replace("_", " ") for a in ANSWERS},
        background=dict(zip(ANSWERS, SEEN, strict=True)), quantity=quantity,
    )  # fmt: skip


BASE = finding()
TIME = finding("time", "min", (7.5, 15, 30), 0.15)
RISE = finding("pressure rate", "mbar/min", (0.05, 0.3, 3))
DISTANCE = finding("length", "mm", (30, 50, 70), 0.05)
PRESSURES = st.floats(1e-3, 1e3)


def of(text, what=BASE):
    return likelihood(what, text, COATER)


def same(one, other, what=BASE):
    assert of(one, what) == pytest.approx(of(other, what), rel=1e-9), (one, other)


# --- ranges ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "60-70 mTorr", "60 - 70 mTorr", "60 mTorr to 70 mTorr", "60–70 mTorr", "60 mTorr-0.07 Torr",
        "between 60 and 70 mTorr", "from 60 to 70 mTorr", "60 and 70 mTorr", "60 or 70 mTorr",
        "60 ... 70 mTorr", "70 to 60 mTorr", "6e-2-7e-2 Torr", "6x10-2 to 7x10^-2 Torr",
        "0,06 to 0,07 Torr", "60 to 70 micron", "60 mTorr to 70",
    ],
)  # fmt: skip
def test_ranges_are_read_however_they_are_written(text):
    same(text, "60 to 70 mTorr")


def test_the_ranges_of_other_things():
    same("45 and 60 mm", "4.5 to 6 cm", DISTANCE)
    same("1:00 to 1:30", "60 to 90 s", TIME)
    same("2 min 30 to 3 min", "150 to 180 s", TIME)
    same("5-10 min", "between 5 and 10 min", TIME)
    same("2 minutes and 30 seconds", "150 s", TIME)


@pytest.mark.parametrize("ends", [(0.02, 0.3), (0.06, 0.07), (0.09, 0.11), (0.4, 8.0)])
def test_an_answer_gets_its_share_of_the_range(ends):
    """By numerical integration: readings spread evenly in ln p, each with its own uncertainty."""
    low, high = map(math.log, ends)
    marks = [-math.inf, *map(math.log, (0.05, 0.1, 0.5)), math.inf]

    def share(a, b):
        def at(u):
            return stats.norm.cdf((b - u) / 0.2) - stats.norm.cdf((a - u) / 0.2)

        return integrate.quad(at, low, high)[0] / (high - low)

    expected = [max(share(a, b), LEAST) for a, b in itertools.pairwise(marks)]
    assert of(f"{ends[0]} to {ends[1]} mbar") == pytest.approx(expected, abs=1e-7)


@given(PRESSURES, st.floats(1.0, 1.02))
def test_a_range_narrower_than_the_spread_behaves_as_its_middle(low, factor):
    """It moves no share by more than a hundredth where it is a tenth as wide as the spread."""
    high = low * factor
    middle = math.sqrt(low * high)
    assert of(f"{low!r} to {high!r} mbar") == pytest.approx(of(f"{middle!r} mbar"), abs=0.01)


@given(PRESSURES, st.floats(1.0, 1e4))
def test_the_shares_of_a_range_sum_to_one(low, factor):
    assert sum(of(f"{low!r} to {low * factor!r} mbar")) == pytest.approx(1, abs=4 * LEAST)


def test_about_is_half_as_sharp_as_a_reading():
    wide = finding(spread=0.4)
    for word in ("about ", "~", "ca. ", "approx. ", "roughly "):
        assert of(f"{word}0.1 mbar") == pytest.approx(of("0.1 mbar", wide)), word
    assert of("about 0.06 to 0.07 mbar") == pytest.approx(of("0.06 to 0.07 mbar", wide))


# --- bounds ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "other", "what"),
    [
        ("< 0.1 Torr", "below 0.1 Torr", BASE),
        ("<0.1Torr", "under 0.1 Torr", BASE),
        ("0 to 0.1 Torr", "up to 0.1 Torr", BASE),
        ("not more than 0.1 Torr", "less than 100 mTorr", BASE),
        ("≤ 0.1 Torr", "at most 0.1 Torr", BASE),
        ("OVER 1000 mbar", "> 1 bar", BASE),
        ("above 30 min", "more than 0.5 h", TIME),
        ("no less than 20 min", "longer than 20 min", TIME),
        ("at least 20:00", "≥ 1200 s", TIME),
    ],
)
def test_bounds_are_read_however_they_are_written(one, other, what):
    same(one, other, what)


def test_a_bound_says_nothing_about_the_answers_on_its_side():
    assert of("below 0.3 mbar") == pytest.approx((1, 1, 1, 0.005), abs=0.006)
    assert of("above 0.02 mbar") == pytest.approx((1, 1, 1, 1), abs=1e-4)
    assert of("above 20 min", TIME) == pytest.approx((LEAST, 0.028, 1, 1), abs=0.005)


@given(PRESSURES, PRESSURES)
def test_a_higher_bound_leaves_more_below_and_less_above(one, other):
    low, high = sorted((one, other))
    below = zip(of(f"below {low!r} mbar"), of(f"below {high!r} mbar"), strict=True)
    assert all(a <= b + 1e-12 for a, b in below)
    above = zip(of(f"above {low!r} mbar"), of(f"above {high!r} mbar"), strict=True)
    assert all(a >= b - 1e-12 for a, b in above)


@given(PRESSURES)
def test_the_answers_on_the_far_side_of_a_bound_grow_no_likelier(bound):
    below, above = of(f"below {bound!r} mbar"), of(f"above {bound!r} mbar")
    assert sorted(below, reverse=True) == pytest.approx(below, abs=1e-12)
    assert sorted(above) == pytest.approx(above, abs=1e-12)


def test_what_a_bound_amounts_to():
    """At the edge of a band it leaves no room there; of several answers the commonest stands."""
    assert amounts_to(TIME, "above 30 min", COATER) == ["very_high"]
    assert amounts_to(TIME, "above 20 min", COATER) == ["high", "very_high"]
    assert amounts_to(BASE, "below 0.05 mbar", COATER) == ["usual"]
    assert likeliest(BASE, of("below 0.3 mbar")) == "usual"
    assert likeliest(TIME, of("above 20 min", TIME)) == "high"
    assert likeliest(BASE, of("0.3 mbar")) == "high"


# --- numbers -----------------------------------------------------------------------------------


def test_a_pressure_for_a_rate_is_the_rise_in_one_minute():
    for text in ("0.2 mbar", "0.1 to 0.2 Torr", "below 0.05 mbar", "0.2-0.3 mbar"):
        same(text, f"{text}/min", RISE)
        assert read_quantity(RISE, text).notes == ("Taken as the rise in one minute.",)
    assert read_quantity(RISE, "0.2 mbar in one minute").notes == ()


def test_a_gauge_pressure_is_told_to_have_an_atmosphere_added():
    stated = read_quantity(BASE, "-0.95 barg")
    assert stated.low == stated.high == pytest.approx(101325 - 95000)
    assert "101325 Pa" in stated.notes[0]


@pytest.mark.parametrize("text", ["-0.002 mbar", "-0.002 to -0.001 mbar", "0 mbar"])
def test_a_reading_that_is_not_positive_lies_below_every_edge(text):
    assert of(text) == (1, LEAST, LEAST, LEAST)
    assert ("zero" in "".join(read_quantity(BASE, text).notes)) == text.startswith("-")


@pytest.mark.parametrize("text", ["-5 mbar", "-5 to -2 mbar", "about -5 mbar"])
def test_a_gauge_whose_zero_is_off_by_far_tells_no_answer_from_another(text):
    """It hides all that lies below as much above zero."""
    assert of(text) == pytest.approx(of("below 5 mbar"))
    assert max(of(text)) == pytest.approx(min(of(text)), rel=0.01)


@given(
    st.floats(1e-6, 1e6),
    st.sampled_from(
        [(BASE, u) for u in units_of("pressure")] + [(TIME, u) for u in units_of("time")]
    ),
)
def test_what_is_shown_is_read_again_as_the_same(si, what_and_unit):
    """To the three figures that are shown."""
    what, unit = what_and_unit
    dimension = what.quantity.dimension
    shown = format_in(si, unit, dimension)
    assert parse(shown, dimension).si == pytest.approx(si, rel=0.005)
    assert read_quantity(what, shown).low == parse(shown, dimension).si


@given(PRESSURES, PRESSURES, st.sampled_from(["mbar", "mTorr", "Pa", "inHg"]))
def test_a_range_that_is_shown_is_read_again_as_the_same(one, other, unit):
    low, high = sorted((one, other))
    assume(high > 1.01 * low)
    shown = read_quantity(BASE, f"{low!r} to {high!r} mbar").shown(unit, "pressure")
    again = read_quantity(BASE, shown)
    assert (again.low, again.high) == pytest.approx((low * 100, high * 100), rel=0.005)
    for word in ("below", "above"):
        bound = read_quantity(BASE, f"{word} {low!r} mbar").shown(unit, "pressure")
        again = read_quantity(BASE, bound)
        assert again.is_bound
        assert bound.startswith(word)
        assert min(again.low, again.high, key=abs) == pytest.approx(low * 100, rel=0.005)


# --- refusals ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "what", "kept"),
    [
        ("0,3", BASE, "0,3 Torr"),
        ("about 60 to 70", BASE, "about 60 to 70 Torr"),
        ("< 1e-1", BASE, "< 1e-1 Torr"),
        ("0.3 mbar", BASE, "0.3 mbar"),
        ("0.4", RISE, "0.4 Torr/min"),  # how far in one minute is what is asked
    ],
)
def test_a_bare_pressure_is_kept_in_the_unit_of_the_gauge(text, what, kept):
    assert in_gauge_unit(what, text, "Torr") == kept
    assert read_quantity(what, kept) == read_quantity(what, in_gauge_unit(what, kept, "Pa"))


@pytest.mark.parametrize(
    ("text", "what", "unit", "says"),
    [
        ("0.3", BASE, None, "has no unit"),
        ("5", TIME, "Torr", "has no unit: write for instance 5 min."),  # no gauge says which
        ("10-3", BASE, "Torr", "can be read two ways"),
        ("lots", BASE, "Torr", "a number and"),
    ],
)
def test_no_gauge_helps_what_cannot_be_read(text, what, unit, says):
    with pytest.raises(UserError, match=says):
        in_gauge_unit(what, text, unit)


@pytest.mark.parametrize(
    ("text", "what", "says"),
    [
        ("10-3 mbar", BASE, r"'10-3 mbar' can be read two ways.* 1e-3"),
        ("70-60 mTorr", BASE, "smaller number of a range first"),
        ("2.10^-2 mbar", BASE, "two ways: write 2e-2"),
        ("OVER", BASE, "the end of the scale.*OVER 1000 mbar"),
        ("below", TIME, "needs its number"),
        ("~0.1", BASE, "has no unit"),
        ("60 to 70", BASE, "has no unit"),
        ("2 to 2 min 30", TIME, "'2' has no unit"),
        ("-0.9 bar", BASE, "negative.*counts from the atmosphere.*-0.9 barg"),
        ("0.2 mbar/min", BASE, "'mbar/min' is a unit of pressure rate, but a pressure is expected"),
        ("3 min", RISE, "a pressure rate is expected, in mbar/min"),
        ("0.2 barg", RISE, "counts from the atmosphere"),
        ("below 60-70 mTorr", BASE, "two numbers"),
        ("1 to 3e-2 mbar", BASE, "two ways: write the power of ten at both ends"),
        ("-0.9 ± 0.05 barg", BASE, "write its two ends"),
        ("± 3 mbar", BASE, "a number and"),
        ("5 IPA", BASE, "'IPA' is not a unit of pressure"),
        ("60 to lots", BASE, "not a unit"),
        ("1 mbar" + " " * 60, BASE, "characters"),
    ],
)
def test_refusals_say_what_to_do(text, what, says):
    with pytest.raises(UserError, match=says):
        read_quantity(what, text)


@pytest.mark.parametrize(
    ("text", "what", "low", "high"),
    [
        ("0.05 ± 0.01 mbar", BASE, 4, 6),
        ("5e-2 +/- 1e-2 mbar", BASE, 4, 6),
        ("0.01 ± 0.05 mbar", BASE, -math.inf, 6),
        ("5 ± 1 min", TIME, 240, 360),
        ("20 min ± 90 s", TIME, 1110, 1290),
        ("1.2 ± 0.6 mbar", RISE, 1, 3),  # in one minute
        ("3⋅10-2 mbar", BASE, 3, 3),
        ("3 × 10–2 mbar", BASE, 3, 3),
        ("３e-2 mbar", BASE, 3, 3),  # as a Chinese or Japanese keyboard writes it
    ],
)
def test_give_or_take_and_signs_of_other_keyboards(text, what, low, high):
    stated = read_quantity(what, text)
    assert (stated.low, stated.high) == (pytest.approx(low), pytest.approx(high))


@given(
    st.lists(
        st.sampled_from(
            ["60", "±", "1e-3", "-", "to", "and", "between", "below", "over", "about", "~", "<",
             "mTorr", "mbar", "barg", "mbar/min", "min", "s", ":", "30", "10^-3", "x10-2", ","]
        ),
        max_size=7,
    ),
    st.sampled_from([BASE, TIME, RISE, DISTANCE]),
    st.sampled_from(["", " "]),
)  # fmt: skip
def test_anything_is_weighed_or_refused_in_one_sentence(words, what, gap):
    try:
        vector = of(gap.join(words), what)
    except UserError as refusal:
        said = str(refusal)
        assert said[-1] in ".?"
        assert said.isprintable()
    else:
        assert all(LEAST <= p <= 1 + 1e-9 for p in vector)


def test_what_is_called_usual_says_by_which_yardstick_unless_it_is_the_coaters_own(rules):
    finding = rules.findings["base_loaded"]
    assert yardstick(finding, Machine()) == (
        "usual is taken as 0.03 mbar, as this coater's own is not known"
    )
    assert "0.0225 Torr" in yardstick(finding, machine_from({"gauge_unit": "Torr"}, "ours"))
    assert yardstick(finding, machine_from({"usual_base": "0.02 Torr"}, "ours")) == ""
