"""`calc`: every command answers in JSON and in a sentence, and refuses in one sentence."""

import json
import math
import subprocess
import sys

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from troubleshoot.cli.calc import calc
from troubleshoot.cli.calc.needs import NEEDS
from troubleshoot.errors import UserError
from troubleshoot.physics.leaks import PERMEABILITY
from troubleshoot.physics.pumping import USUAL_RATE
from troubleshoot.physics.purging import CLEAN_ENOUGH

# One way to ask for each command, with what one key must be (None: only that it answers).
ASKED = {
    "other-metal --to platinum --seconds 60": (
        "time_s",
        60 * (2.163 * 196.967 / 19.30) / (1.252 * 195.084 / 21.45),
    ),
    "monitor --shown 10nm --set-to gold --metal chromium --tooling 0.9": (
        "thickness_m",
        10e-9 * 19.30 / 7.19 * 0.9,
    ),
    "yield --metal gold --energy 1keV": ("atoms_per_ion", 3.315),
    "yield --metal Pt --energy 600eV": ("atoms_per_ion", 1.425),
    "yield --metal gold --energy 10eV": ("atoms_per_ion", 0),
    "thickness --metal gold --current 10mA --voltage 1kV --time 1min --distance 50mm": (
        "thickness_m",
        6.6e-9,
    ),
    "thickness --metal gold --current 20mA --time 2min --voltage 2.5kV --distance 5cm "
    "--calibration 0.75nm/mA/min": ("thickness_m", 30e-9),
    "thickness --metal gold --current 10mA --time 30s --calibration 12nm,60s,10mA": (
        "low_m",
        6e-9 / 1.2,
    ),
    "time-for --metal gold --thickness 10nm --current 10mA --calibration 1nm/mA/min": (
        "time_s",
        60,
    ),
    "uniformity --target-radius 28.5mm --distance 50mm --offset 12.5mm": (
        "relative_thickness",
        0.9313,
    ),
    "uniformity --source ring --target-radius 30mm --distance 50mm --offset 12.5mm": (
        "relative_thickness",
        0.97861,
    ),
    "uniformity --source face --distance 50mm --offset 25mm": ("relative_thickness", 0.64),
    "uniformity --source point --distance 50mm --offset 25mm": ("relative_thickness", 0.7155),
    "shaded --distance 50mm": ("relative_low", 0.114),
    "shaded --tilt 60": ("relative_low", 0.5),
    "shaded --width 2um --depth 1um": ("relative_low", math.sin(math.pi / 4)),
    "arrival --metal gold --pressure 0.1Torr": ("arrival", "drifting"),
    "target-loss --metal gold --current 1mA --time 1h --voltage 2kV": ("mass_kg", 24.4e-6),
    "coat-mass --metal gold --thickness 1nm": ("mass_kg", 1.93e-9),
    "sheet-resistance --metal gold --thickness 10nm": ("ohm_per_square", 11.95),
    "sheet-resistance --metal gold --thickness 7nm": ("film", "doubtful"),
    "sheet-resistance --metal gold --thickness 3nm": ("ohm_per_square", None),
    "heat --metal gold --thickness 10nm --time 1min": ("flux_high_W_per_m2", 315),
    "range --material copper --energy 30keV": ("range_m", 2.8767e-6),
    "range --material gold --energy 1keV": ("range_m", 10.1e-9),
    "range --material oxygen --energy 20kV": ("range_m", 7.77e-3),
    "charging --material pmma --energy 5keV": ("sign", "negative"),
    "charging --material PTFE --energy 15keV --tilt 60": ("E2_eV", 4 * 1820),
    "charging --material gold --energy 1keV": ("sign", "positive"),
    "charging --material polypropylene --energy 1keV": ("sign", "either"),
    "charging --material graphite --energy 400eV": ("sign", "negative"),
    "charging --material diamond --energy 1keV": ("E2_high_eV", None),
    "pump-down --volume 5L --speed 1L/s --from 1atm --to 0.1mbar --ultimate 0.02mbar": (
        "time_s",
        5 * math.log((101325 - 2) / (10 - 2)),
    ),
    "pressure-after --volume 5L --speed 1L/s --from 1000Pa --seconds 5": (
        "pressure_Pa",
        1000 / math.e,
    ),
    "speed-needed --volume 0.2m3 --from 1atm --to 0.1hPa --seconds 3min": (
        "speed_m3_per_s",
        0.2 / 180 * math.log(10132.5),
    ),
    "ballast --ballast-flow 0.3m3/h --speed 3m3/h --pump-temperature 20degC --humidity 0.1": (
        "water_vapour_tolerance_Pa",
        0.1 * 2339 * (101325 - 0.1 * 1.33e5) / (1.33e5 - 2339),
    ),
    "ultimate --speed 1L/s --gas-load 1Pa_m3/s --blank-off 1Pa --ballast": ("ultimate_Pa", 1010),
    "outgassing --material glass --area 1m2 --after 2h --rate 1e-5": (
        "throughput_Pa_m3_per_s",
        5e-6,
    ),
    "outgassing --material elastomer --area 100cm2 --after 4h": ("throughput_Pa_m3_per_s", 2e-5),
    "leak-rate --volume 5L --from 5Pa --to 20Pa --seconds 1:00": (
        "throughput_Pa_m3_per_s",
        1.25e-3,
    ),
    "molar-leak-rate --volume 2L --from 25.3kPa --to 50.6kPa --seconds 70": (
        "leak_mol_per_s",
        2.9657e-4,
    ),
    "rise --cause leak --volume 5L --from 5Pa --seconds 60 --flow 0.01mbar_L/s": (
        "pressure_Pa",
        17,
    ),
    "rise --cause walls --from 5Pa --seconds 600 --pumped 600 --flow 1e-3mbar_L/s": (
        "pressure_Pa",
        5 + 12 * math.log(2),
    ),
    "rise --cause seals --from 5Pa --seconds 600 --pumped 600 --flow 1e-3mbar_L/s": (
        "pressure_Pa",
        5 + 24 * (math.sqrt(2) - 1),
    ),
    "rise --cause pocket --from 0Pa --seconds 1e6 --pocket-volume 1cm3 --conductance 1e-6L/s": (
        "pressure_Pa",
        101325 / 5001,
    ),
    "rise --cause liquid --from 0Pa --seconds 60 --saturation 2339Pa --time-constant 60": (
        "pressure_Pa",
        2339 * (1 - 1 / math.e),
    ),
    "effective-speed --volume 5L --rise 1.2Pa/s --base 10Pa --blank-off 2Pa": (
        "speed_m3_per_s",
        0.75e-3,
    ),
    "conductance --gas air --diameter 1cm --length 1m --pressure 1e-6Pa": (
        "conductance_m3_per_s",
        # Clausing's factor of a tube of 100 bores lies 2.7 % below that of a long one.
        math.pi * 462.9 * 1e-6 / 12 * 0.973,
    ),
    "conductance --gas argon --diameter 16mm --length 1m --pressure 10Pa --pump-speed 1L/s": (
        "regime",
        "transitional",
    ),
    "opening --diameter 10mm --pressure 1e-3Pa": (
        "conductance_m3_per_s",
        math.pi * 0.01**2 / 16 * 462.9,
    ),
    "in-series 10L/s 5L/s": ("conductance_m3_per_s", 1e-2 / 3),
    "mean-free-path --gas argon --pressure 0.1Torr --temperature 20degC": (
        "mean_free_path_m",
        0.518e-3,
    ),
    "mean-free-path --gas xenon --pressure 1Pa --size 5cm": ("regime", "transitional"),
    "breakdown --gas argon --pressure 0.5Torr --gap 50mm": ("breaks_down", True),
    "breakdown --gas argon --pressure 0.1mbar --gap 50mm": ("voltage_high_V", None),
    "breakdown --gas argon --pressure 1Pa --gap 50mm": ("breaks_down", False),
    "breakdown --gas air --pressure 1Torr --gap 1cm": (
        "easiest_pressure_high_Pa",
        133.322 * math.e * math.log(101) / 15,
    ),
    "gauge --gas argon --indicated 0.05mbar": ("true_Pa", 8.5),
    "gauge --gas xenon --indicated 1Pa": ("true_high_Pa", 3.6),
    "gauge --gas Ar --true 0.1mbar": ("indicated_Pa", 10 / 1.7),
    "purge --low 0.2Torr --high 0.35Torr --cycles 3": ("air_fraction", (0.2 / 0.35) ** 3),
    "purge --volume 3L --speed 0.7L/s --seconds 12 --cycles 3": (
        "air_fraction",
        math.exp(-0.7 / 3 * 36),
    ),
    "purge-cycles --low 6mmHg --high 760mmHg --start 0.21 --target 5e-6": ("cycles", 3),
    "purge-cycles --low 0.5atm --high 1atm --start 0.21 --target 0.01 --volume 2L": (
        "argon_m3_at_1_atm",
        5e-3,
    ),
    "leak-allowed --pressure 0.1mbar --speed 0.7L/s": ("throughput_Pa_m3_per_s", 7e-4),
    "leak-allowed --pressure 0.1mbar --speed 0.7L/s --share 0.2 --volume 7L": (
        "rate_of_rise_Pa_per_s",
        0.2,
    ),
    "leak-convert --leak 0.01mbar_L/s": ("mass_kg_per_s", 4.278e-5 / 3600),
    "leak-convert --leak 1mbar_L/s --gas argon --to helium": (
        "molecular_Pa_m3_per_s",
        0.1 * math.sqrt(39.948 / 4.0026),
    ),
    "permeation --material nitrile --length 1m --humidity 1e-9": (
        "throughput_Pa_m3_per_s",
        2.8e-12 * 101325,
    ),
    "permeation --material FKM --length 50cm --speed 0.7L/s": (
        "pressure_Pa",
        0.5 * (4.7e-13 * (101325 - 0.6 * 2339) + 4e-11 * 0.6 * 2339) / 0.7e-3,
    ),
    "air-share --leak 1sccm --argon-flow 9sccm": ("air_fraction", 0.1),
    "air-share --leak 1sccm --argon-flow 9sccm --volume 5L --speed 1L/s --seconds 0": (
        "air_fraction",
        1,
    ),
    "vapour --temperature 20degC": ("vapour_pressure_Pa", 2339),
    "oxygen --cylinder 50L --fill-pressure 200bar --room 50m3": (
        "oxygen_fraction",
        0.2095 * (1 - 10.45 / 50),
    ),
    "ventilation --leak 1m3/h --fresh-air 9m3/h --room 50m3": ("oxygen_fraction", 0.18855),
    "ventilation --leak 1m3/h --fresh-air 9m3/h --room 50m3 --seconds 0": (
        "oxygen_fraction",
        0.2095,
    ),
    "glow --voltage 800V --current 10mA --pressure 10Pa --new-pressure 12Pa": (
        "current_A",
        0.0144,
    ),
    "glow --voltage -800V --current 10mA --pressure 10Pa --new-pressure 10Pa --second-voltage 1kV "
    "--second-current 20mA --second-pressure 10Pa --new-voltage 1kV": ("current_A", 0.02),
    "glow --voltage 800V --current 10mA --pressure 10Pa --new-pressure 10Pa --second-voltage 1kV "
    "--second-current 20mA --second-pressure 10Pa --new-current 20mA": ("voltage_V", 1000),
    "dark-space --seen 10mm --pressure 10Pa --new-pressure 5Pa": ("thickness_m", 0.02),
    "lid-force --diameter 15cm": ("force_N", 101325 * math.pi * 0.15**2 / 4),
    "convert 0.2Torr Pa": ("value", 26.6645),
    "convert 0.2 Torr Pa": ("value", 26.6645),
    "convert 5um micron": ("value", 5),
    "convert 5micron mTorr": ("value", 5),
    "convert 30keV J": ("si", 4.80653e-15),
}


def run(line):
    # An underscore stands for the blank inside a unit.
    words = [word.replace("_", " ") for word in line.split()]
    return CliRunner().invoke(calc, words)


@pytest.mark.parametrize("line", ASKED)
def test_numbers(line):
    key, expected = ASKED[line]
    result = run(f"{line} --json")
    assert result.exception is None
    record = json.loads(result.output)
    assert isinstance(record["notes"], list)
    if isinstance(expected, str | bool | None):
        assert record[key] == expected
    else:
        assert record[key] == pytest.approx(expected, rel=5e-3)


@pytest.mark.parametrize("line", ASKED)
def test_sentences(line):
    result = run(line)
    assert result.exception is None
    assert result.output.count("\n") == 1
    assert result.output.rstrip().endswith(".")


@pytest.mark.parametrize(
    ("argon", "says"), [("19sccm", "clean enough"), ("6sccm", "worth"), ("2sccm", "before coating")]
)
def test_the_air_share_is_judged(argon, says):
    assert says in run(f"air-share --leak 1sccm --argon-flow {argon}").output


def test_every_command_is_tried():
    assert {line.split()[0] for line in ASKED} == set(calc.commands)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("pump-down --volume 5L --speed 0.7L --to 1mbar", "--speed: 'L' is a unit of volume"),
        ("pump-down --volume 5 --speed 0.7L/s --to 1mbar", "--volume: '5' has no unit"),
        ("pump-down --volume 5L --speed 0.7L/s --to 2atm", "below the start"),
        ("effective-speed --volume 5L --rise 1Pa/s --base 5Pa --blank-off 3Pa", "twice the blank"),
        ("leak-rate --volume 5L --from 5Pa --to 1Pa --seconds 60", "falls"),
        ("purge --low 1Torr", "Give either --low and --high"),
        ("purge --low 1Torr --high 2Torr --seconds 5", "Give either"),
        ("rise --cause leak --from 5Pa --seconds 60", "--flow is needed"),
        ("leak-rate --volume 5L --from 0Pa --to 1atm --seconds 60", "less and less"),
        ("pump-down --volume 5L --speed 0.7L/s --to 1e-12Pa", "Check the exponent"),
        ("pressure-after --volume 5L --speed 0.7L/s --seconds 1h", "--ultimate"),
        ("ballast --ballast-flow 2L/s --speed 1L/s --pump-temperature 60degC", "a tenth is usual"),
        ("breakdown --pressure 10Pa --gap 5cm --temperature 5K", "200 to 1000 K"),
        ("breakdown --pressure 10Pa --gap 5cm --temperature 1e6K", "200 to 1000 K"),
        ("glow --voltage 0V --current 1A --pressure 1Pa --new-pressure 1Pa", "zero is no glow"),
        ("oxygen --cylinder 5000L --fill-pressure 200bar --room 40m3", "volume of water"),
        ("oxygen --cylinder 10L --fill-pressure 0.5bar --room 40m3", "pressure when full"),
        ("gauge --gas air --indicated 1bar", "tells air from vacuum"),
        ("ultimate --speed 0.7L/s --gas-load 1000mbar.L/s", "the atmosphere it comes from"),
        (
            "molar-leak-rate --volume 5L --from 9Pa --to 9Pa --seconds 60 --to-temperature 80degC",
            "did not get so warm",
        ),
        ("purge-cycles --low 1Pa --high 2Pa --target 1e-300", "purer"),
        ("glow --voltage 1kV --current 9mA --pressure 8Pa --new-pressure 1bar", "no glow"),
        ("dark-space --seen 10mm --pressure 10Pa --new-pressure 1atm", "a run nearer by"),
        ("mean-free-path --pressure 1e-30Pa", "nobody ever measured"),
        ("lid-force --diameter 15cm --difference 20bar", "but the air outside"),
        ("oxygen --cylinder 10L --fill-pressure 200bar --room 1L", "holds nobody"),
        ("ventilation --leak 1L/min --fresh-air 1L/min --room 1L", "holds nobody"),
        ("thickness --metal gold --current 10A --time 1h", "mA"),
        ("time-for --metal gold --thickness 1m", "no specimen"),
        ("permeation --material FKM --length 50cm --temperature 200degC", "5 to 40 degC"),
        ("gauge --gas argon", "Give either --indicated or --true"),
        ("gauge --gas argon --indicated 2mbar", "1 mbar"),
        ("gauge --gas argn --indicated 1Pa", "did you mean argon"),
        ("convert 0.2Torr L", "unit of pressure"),
        ("convert 0.2Torr mbra", "did you mean"),
        (
            "glow --voltage 1V --current 1A --pressure 1Pa --new-pressure 1Pa --new-voltage 2V",
            "second",
        ),
        (
            "glow --voltage 1V --current 1A --pressure 1Pa --new-pressure 1Pa --second-voltage 2V "
            "--second-current 2A --second-pressure 1Pa --new-voltage 2V --new-current 1A",
            "not both",
        ),
        ("leak-allowed --pressure 1Pa --speed 1L/s --volume 0L", "volume must be above zero"),
        ("yield --metal gold --energy 200keV", "fitted up to there only"),
        ("yield --metal unobtainium --energy 1keV", "is not a coating metal known here"),
        ("thickness --metal gold --current 10mA --voltage 20V --time 60s", "no coater's glow"),
        ("thickness --metal gold --current 1mA --time 1s --calibration 5nm", "no rate"),
        ("time-for --metal gold --thickness 0nm", "thickness must be above zero"),
        ("shaded --tilt 30 --width 1um --depth 1um", "Give either --tilt"),
        ("range --material gold --energy 60keV", "give 0.5 to 50 keV"),
        ("range --material unobtainium --energy 10keV", "is no material known here"),
        ("charging --material calcite --energy 5keV", "No crossover energies"),
        ("lid-force --diameter 1e200m", "too far from any real coater"),
        ("pump-down --speed 1L/s --to 1mbar", "Missing option '--volume'"),
        ("outgassing --area 1m2 --after 2h", "Choose from: metal, glass, elastomer"),
        ("outgassing --material metal --area 1m2 --after 2h --rate inf", "must be a number"),
        ("purge-cycles --low 1Pa --high 2Pa --target 0", "--target"),
        ("purge --low 1Pa --high 2Pa --cycles 2.5", "not a valid whole number"),
        ("purge --low 1Pa --high 2Pa --bogus 1", "No such option"),
        ("nonsense", "No such command 'nonsense'"),
    ],
)
def test_refusals(line, says):
    error = run(line).exception
    assert isinstance(error, UserError)
    assert says in str(error)


WILD = ["0", "-1", "1e-300", "1e300", "1e400", "nan", "inf", "abc", "\u0665", "1,000", "9" * 99, ""]


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from(list(ASKED)),
    st.sampled_from(WILD),
    st.booleans(),
    st.integers(1, 20),
    st.sampled_from([[], ["--json"]]),
)
def test_wild_input_ends_in_an_answer_or_one_sentence(line, wild, with_unit, place, as_json):
    words = [word.replace("_", " ") for word in line.split()]
    place = 1 + place % (len(words) - 1)
    unit = words[place].lstrip("0123456789.e-+:") if with_unit else ""
    words[place] = f"{wild}{unit}"
    result = CliRunner().invoke(calc, [*words, *as_json])
    if result.exception is None:
        assert "nan" not in result.output.replace("nanometre", "")
        assert not as_json or json.loads(result.output, parse_constant=pytest.fail)
        return
    assert isinstance(result.exception, UserError)
    assert result.output == ""
    said = str(result.exception)
    assert said.isprintable()
    assert said[-1] in ".?"


@pytest.mark.parametrize("line", ASKED)
def test_an_option_left_out_ends_in_an_answer_or_one_sentence(line):
    words = [word.replace("_", " ") for word in line.split()]
    for place in range(1, len(words)):
        result = CliRunner().invoke(calc, words[:place] + words[place + 1 :])
        assert result.exception is None or isinstance(result.exception, UserError)


def test_choices_are_those_of_the_formulas():
    # They stand in the command line a second time, so that --help loads no formulas.
    def option(command, name):
        return next(p for p in calc.commands[command].params if p.name == name)

    assert set(option("permeation", "material").type.choices) == set(PERMEABILITY)
    assert set(option("outgassing", "material").type.choices) == set(USUAL_RATE)
    assert option("leak-allowed", "share").default == CLEAN_ENOUGH


def test_asking_for_help_does_no_physics():
    code = (
        "import sys\n"
        "from troubleshoot.cli.calc import calc\n"
        "calc(['--help'], standalone_mode=False)\n"
        "assert not [m for m in sys.modules if m.startswith('troubleshoot.physics')]\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)


def test_a_number_may_begin_with_a_minus():
    for words in (["-40 degF", "degC"], ["-40degF", "degC"], ["-40", "degF", "degC"]):
        result = CliRunner().invoke(calc, ["convert", *words])
        assert result.output == "-40 degF is -40 degC.\n"


def test_the_minus_of_a_cathode_is_left_out_and_told():
    told = run("glow --voltage -800V --current 12mA --pressure 8Pa --new-pressure 10Pa").output
    assert "18.8 mA" in told
    assert "minus" in told


def test_a_gauge_above_its_range_is_told_coarse():
    assert "good to 50 %" in run("gauge --gas air --indicated 5mbar").output
    assert "good to 20 %" in run("gauge --gas air --indicated 0.5mbar").output


def test_a_hose_at_the_atmosphere_chokes():
    said = run("conductance --diameter 16mm --length 10cm --pressure 1atm").output
    assert "39.9 L/s" in said
    assert "chokes" in said


def test_calc_alone_lists_every_command_by_need_and_each_example_runs():
    listed = CliRunner().invoke(calc, []).output
    lines = [line for needs in NEEDS.values() for line in needs.values()]
    assert {line.split()[0] for line in lines} == set(calc.commands)
    for line in lines:
        assert f"troubleshoot calc {line}" in listed
        result = CliRunner().invoke(calc, line.split())
        assert result.exception is None, line
