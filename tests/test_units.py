"""The table of units against an independent one, round trips and refusals."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from troubleshoot.errors import UserError
from troubleshoot.units import (
    MAX_TEXT,
    dimension_of,
    dimensions,
    format_in,
    format_number,
    from_si,
    parse,
    si_unit,
    to_si,
    units_of,
)

REGISTRY = pint.UnitRegistry()

# Our spelling -> the judge's, where they differ. The judge has no sccm: it is an atmosphere times
# a cubic centimetre a minute.
JUDGES_NAME = {
    "Torr": "torr",
    "mTorr": "millitorr",
    "micron": "millitorr",
    "L": "liter",
    "mL": "milliliter",
    "in": "inch",
    "inHg": "inch_Hg",
    "ft": "foot",
    "d": "day",
    "h": "hour",
    "min": "minute",
    "sccm": "atm * cm**3 / minute",
    "slm": "atm * liter / minute",
    "cfm": "foot**3 / minute",
    "m2": "m**2",
    "cm2": "cm**2",
    "mm2": "mm**2",
    "in2": "inch**2",
    "m3": "m**3",
    "cm3": "cm**3",
    "mm3": "mm**3",
    "ft3": "foot**3",
    "mbar L/s": "mbar * liter / s",
    "Torr L/s": "torr * liter / s",
    "Pa m3/s": "Pa * m**3 / s",
    "L/s": "liter / s",
    "L/min": "liter / minute",
    "m3/h": "m**3 / hour",
    "m3/s": "m**3 / s",
    "Torr/min": "torr / minute",
    "mTorr/min": "millitorr / minute",
    "micron/h": "millitorr / hour",
    "mbar/min": "mbar / minute",
}
EVERY_UNIT = [(d, u) for d in dimensions() for u in units_of(d)]


@pytest.mark.parametrize(("dimension", "unit"), EVERY_UNIT)
def test_each_factor_against_an_independent_table(dimension, unit):
    name = "micrometer" if (dimension, unit) == ("length", "um") else JUDGES_NAME.get(unit, unit)
    expected = REGISTRY.Quantity(7.0, name).to(
        si_unit(dimension).replace("m3", "m**3").replace("m2", "m**2").replace(" ", " * ")
    )
    assert parse(f"7 {unit}", dimension).si == pytest.approx(expected.magnitude, rel=1e-8)


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("0.2 Torr", "pressure", 26.6645),
        ("200 mTorr", "pressure", 26.6645),
        ("0.2torr", "pressure", 26.6645),
        ("0.2TORR", "pressure", 26.6645),
        ("200 micron", "pressure", 26.6645),
        ("200 micron", "length", 200e-6),
        ("27 Pa", "pressure", 27),
        ("2e-1 mbar", "pressure", 20),
        ("0,05 mbar", "pressure", 5),
        ("1 mPa", "pressure", 1e-3),
        ("1 MPa", "pressure", 1e6),
        ("5 L", "volume", 5e-3),
        ("5l", "volume", 5e-3),
        ("50 mm", "length", 0.05),
        ("20 degC", "temperature", 293.15),
        ("20°C", "temperature", 293.15),
        ("-10 degC", "temperature", 263.15),
        ("68 degF", "temperature", 293.15),
        ("30 keV", "energy", 4.80653e-15),
        ("5eV", "energy", 8.01088e-19),
        ("5 m3/h", "volume flow", 5 / 3600),
        ("5 m³/h", "volume flow", 5 / 3600),
        ("0.7 l/s", "volume flow", 0.7e-3),
        ("6 mA", "current", 6e-3),
        ("1 mbar/min", "pressure rate", 100 / 60),
        ("90 s", "time", 90),
        ("2 min", "time", 120),
        ("1:30", "time", 90),
        ("1.2 kV", "voltage", 1200),
        ("-1.2 kV", "voltage", -1200),
        ("100 ohm", "resistance", 100),
        ("3 kΩ", "resistance", 3e3),
        ("20 Mohm", "resistance", 20e6),
        ("4 sccm", "throughput", 4 * 1.68875e-3),
        ("1 mbar l/s", "throughput", 0.1),
        ("1 mbar·L/s", "throughput", 0.1),
        ("1 Pa m3/s", "throughput", 1),
        ("3 cm2", "area", 3e-4),
        ("1 mbar.l/s", "throughput", 0.1),
        ("1 Pa.m3/s", "throughput", 1),
        ("1 inHg", "pressure", 3386.39),
        ("1 in. Hg", "pressure", 3386.39),
        ("50 µm Hg", "pressure", 6.66612),
        ("50 um Hg", "pressure", 6.66612),
        ("10 µbar", "pressure", 1),
        ("2 hPa", "pressure", 200),
        ("5 mTorr", "pressure", 0.666612),
        ("1 000 Pa", "pressure", 1000),
        ("1'000 Pa", "pressure", 1000),
        ("1,000.5 Pa", "pressure", 1000.5),
        ("1.000,5 Pa", "pressure", 1000.5),
        ("1 000,5 Pa", "pressure", 1000.5),
        ("1,000,000 Pa", "pressure", 1e6),
        ("1.000.000 Pa", "pressure", 1e6),
        ("1.000 Pa", "pressure", 1),
        ("0,2 mbar", "pressure", 20),
        ("0,200 mbar", "pressure", 20),
        ("10^-3 mbar", "pressure", 0.1),
        ("10⁻³ mbar", "pressure", 0.1),
        ("1e-3 mbar", "pressure", 0.1),
        ("5x10-2 mbar", "pressure", 5),
        ("5 × 10^−2 mbar", "pressure", 5),
        ("5·10⁻² mbar", "pressure", 5),
        ("5*10**-2 mbar", "pressure", 5),
        ("1:05:30", "time", 3930),
        ("1:30 min", "time", 90),
        ("2m30s", "time", 150),
        ("2 min 30", "time", 150),
        ("2 min 30 s", "time", 150),
        ("2 minutes and 30 seconds", "time", 150),
        ("1h30", "time", 5400),
        ("1 h 5 min 30 s", "time", 3930),
        ("90sec", "time", 90),
        ("5 min.", "time", 300),
        ("20 ℃", "temperature", 293.15),
        ("20 º C", "temperature", 293.15),
        ("0.3 mbar per minute", "pressure rate", 0.5),
        ("0.3 mbar in one minute", "pressure rate", 0.5),
    ],
)
def test_what_people_write(text, dimension, si):
    assert parse(text, dimension).si == pytest.approx(si, rel=1e-5)


@pytest.mark.parametrize(
    ("unit", "pascal"),
    [
        # NIST Special Publication 811 (2008), appendix B.8, figures from memory: inch of mercury,
        # conventional; psi; torr; millimetre of mercury, conventional; standard atmosphere; bar.
        ("inHg", 3.386389e3),
        ("psi", 6.894757e3),
        ("Torr", 1.333224e2),
        ("mmHg", 1.333224e2),
        ("atm", 1.01325e5),
        ("bar", 1e5),
        # SI brochure (9th edition), tables 7 and 8, from memory: prefixes; 1 bar = 100 kPa.
        ("hPa", 100),
        ("ubar", 0.1),
        # scribd.com/doc/30427951: 1 micrometre of mercury, "often referred to as micron".
        ("micron", 0.133322),
    ],
)
def test_pressures_against_published_factors(unit, pascal):
    assert to_si(1, unit, "pressure") == pytest.approx(pascal, rel=3e-6)


@pytest.mark.parametrize("unit", ["bar", "mbar", "kPa", "psi", "inHg"])
def test_a_gauge_pressure_has_an_atmosphere_added(unit):
    judged = REGISTRY.Quantity(-0.5, JUDGES_NAME.get(unit, unit)) + REGISTRY.Quantity(1, "atm")
    for written in (f"-0.5 {unit}g", f"-0.5{unit} gauge", f"-0.5 {unit}(g)"):
        assert parse(written, "pressure").si == pytest.approx(judged.to("Pa").magnitude, rel=1e-8)


def test_a_gauge_pressure_is_no_scale():
    """A scale or a difference in barg would be out by an atmosphere."""
    for refused in (lambda: to_si(1, "barg", "pressure"), lambda: from_si(1, "psig", "pressure")):
        with pytest.raises(UserError, match=r"counts from the atmosphere.*use Pa, mbar"):
            refused()


def test_a_pressure_below_zero_is_read_only_where_it_may_be():
    assert parse("-0.002 mbar", "pressure", signed=True).si == pytest.approx(-0.2)
    with pytest.raises(UserError, match="absolute"):
        parse("-0.002 mbar", "pressure")
    with pytest.raises(UserError, match="negative"):
        parse("-3 s", "time", signed=True)


@given(st.integers(1, 999), st.lists(st.integers(0, 999), min_size=1, max_size=2))
def test_grouped_thousands_are_what_they_are_without_marks(first, groups):
    value = int(f"{first}" + "".join(f"{g:03}" for g in groups))
    for mark, decimal in ((" ", "."), (" ", ","), (",", "."), (".", ",")):
        written = mark.join([str(first), *(f"{g:03}" for g in groups)]) + f"{decimal}25 Pa"
        assert parse(written, "pressure").si == value + 0.25, written


@given(st.integers(1, 9), st.integers(-9, 5))
def test_powers_of_ten_are_read_however_they_are_written(times, power):
    raised = str(power).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))
    for written in (f"{times}x10^{power}", f"{times} × 10^{power}", f"{times}·10{raised}"):
        assert parse(f"{written} Pa", "pressure").si == float(f"{times}e{power}"), written


@given(st.integers(0, 99), st.integers(0, 59), st.integers(0, 59))
def test_times_are_read_however_they_are_written(h, m, s):
    for written in (
        f"{h}:{m:02}:{s:02}",
        f"{h}h{m}m{s}s",
        f"{h} h {m} min {s}",
        f"{60 * h + m}:{s:02}",
    ):
        assert parse(written, "time").si == 3600 * h + 60 * m + s, written
    assert parse(f"{h} h {m}", "time").si == 3600 * h + 60 * m


def test_given_number_and_unit_are_kept():
    quantity = parse("200 mTorr", "pressure")
    assert (quantity.value, quantity.unit, quantity.shown()) == (200, "mTorr", "200 mTorr")
    assert quantity.to("Torr") == pytest.approx(0.2)
    with pytest.raises(UserError, match="unit of volume"):
        quantity.to("L")


def test_a_bare_number_takes_the_default_unit_or_is_refused():
    assert parse("0.2", "pressure", default_unit="Torr").si == pytest.approx(26.6645, rel=1e-5)
    with pytest.raises(UserError, match="no unit"):
        parse("0.2", "pressure")


@given(
    value=st.floats(min_value=1e-12, max_value=1e12),
    dimension_and_unit=st.sampled_from([(d, u) for d, u in EVERY_UNIT if d != "temperature"]),
)
def test_round_trip(value, dimension_and_unit):
    dimension, unit = dimension_and_unit
    si = to_si(value, unit, dimension)
    assert from_si(si, unit, dimension) == pytest.approx(value, rel=1e-12)
    shown = parse(f"{value!r} {unit}", dimension).shown()
    assert parse(shown, dimension).si == pytest.approx(si, rel=1e-5)


@given(
    value=st.floats(min_value=-250, max_value=1e4), unit=st.sampled_from(units_of("temperature"))
)
def test_temperatures_come_back(value, unit):
    si = to_si(value, unit, "temperature")
    assert from_si(si, unit, "temperature") == pytest.approx(value, rel=1e-9, abs=1e-9)


@given(st.text(max_size=100), st.sampled_from(dimensions()))
def test_any_text_is_read_or_refused_in_one_sentence(text, dimension):
    try:
        outcome = parse(text, dimension).si
    except UserError as refusal:
        outcome = str(refusal)
    if isinstance(outcome, str):
        assert outcome[-1] in ".?"
        assert outcome.isprintable()
    else:
        assert math.isfinite(outcome)


@pytest.mark.parametrize(
    ("text", "dimension", "says"),
    [
        ("1 Mbar", "pressure", "did you mean mbar"),
        ("1 mpa", "pressure", "mPa or MPa"),
        ("1 MTORR", "pressure", "mTorr"),
        ("1 tor", "pressure", "did you mean Torr"),
        ("1 MA", "current", "mA"),
        ("-1 bar", "pressure", "absolute"),
        ("-5 s", "time", "negative"),
        ("-5 L", "volume", "negative"),
        ("nan", "pressure", "expected a number"),
        ("nan Pa", "pressure", "expected a number"),
        ("inf Pa", "pressure", "expected a number"),
        ("1e999 Pa", "pressure", "too large"),
        ("", "energy", "^an energy is missing: expected a number"),
        ("soon", "area", "is not an area: expected a number"),
        ("5 mbar", "length", "mbar' is a unit of pressure"),
        ("1,000 Pa", "pressure", "1000 or 1.000"),
        ("-300 degC", "temperature", "absolute zero"),
        ("1:75", "time", "minutes:seconds"),
        ("1:72:03", "time", "minutes:seconds"),
        ("2 min 75", "time", "did you mean min"),
        ("5 m", "time", "expected, in s, min"),
        ("2.10^-2 mbar", "pressure", "two ways: write 2e-2"),
        ("2,10⁻² mbar", "pressure", "two ways: write 2e-2"),
        ("10-3 mbar", "pressure", "two numbers.*1e-3"),
        ("2x100 mbar", "pressure", "did you mean mbar"),
        ("5 IPA", "pressure", "'IPA' is not a unit of pressure: use Pa"),
        ("-2 barg", "pressure", "less than no pressure"),
        ("5 barg", "time", "counts from the atmosphere"),
        ("0.2 mbar/min", "pressure", "a pressure is expected"),
        ("1 xyz", "time", "use s, min"),
        ("1 mbra/min", "pressure rate", "mbar/min"),
        ("1 mbar l", "throughput", "mbar L/s"),
        ("9" * (MAX_TEXT + 1), "time", "characters"),
        ("1 Pa", "colour", "dimensions"),
    ],
)
def test_refusals_say_what_to_do(text, dimension, says):
    with pytest.raises(UserError, match=says):
        parse(text, dimension)


def test_numbers_are_shown_with_sensible_digits():
    assert format_in(26.6645, "Torr") == "0.2 Torr"
    assert format_in(26.6645, "Pa") == "26.7 Pa"
    assert format_in(101325, "mbar") == "1013 mbar"
    assert format_in(5e-6, "micron", "length") == "5 micron"
    assert format_in(0.1, "mbar L/s") == "1 mbar L/s"
    assert [
        format_number(x) for x in (0, 1.234e-5, 0.0499949, 999.7, math.nextafter(1e3, 0), 1e7, -0.5)
    ] == [
        "0",
        "1.23e-05",
        "0.05",
        "1000",
        "1000",
        "1e+07",
        "-0.5",
    ]


def test_a_unit_says_what_it_measures():
    assert dimension_of("mbar L/s") == "throughput"
    assert dimension_of("micron") == "pressure"
    with pytest.raises(UserError, match="did you mean"):
        dimension_of("mbra")
