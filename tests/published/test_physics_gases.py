"""Mean free path, flow regime, gauges and vapour pressure against published numbers."""

import pytest

from troubleshoot.physics.gas_kinetics import (
    knudsen,
    mean_free_path,
    mean_free_path_hard_sphere,
    regime,
)
from troubleshoot.physics.gases import gas_named
from troubleshoot.physics.gauges import gauge_factor
from troubleshoot.physics.vapour import vapour_pressure

TORR_CM = 133.322 * 0.01


@pytest.mark.parametrize(
    ("gas", "nanometres"),
    [
        ("argon", 72.2),
        ("nitrogen", 67.6),
        ("oxygen", 73.6),
        ("carbon dioxide", 45.1),
        ("helium", 200),
        ("hydrogen", 126),
    ],
)
def test_hard_sphere_paths(gas, nanometres):
    # CRC Handbook of Chemistry and Physics, 100th edition, mean free path at 25 degC and 100 kPa,
    # as quoted at launchloop.com/MeanFreePath.
    path = mean_free_path_hard_sphere(gas_named(gas), 1e5, 298.15)
    assert path * 1e9 == pytest.approx(nanometres, rel=0.005)


@pytest.mark.parametrize(
    ("gas", "millimetre_pascal"),
    [
        ("hydrogen", 11.5),
        ("nitrogen", 5.9),
        ("oxygen", 6.5),
        ("helium", 17.5),
        ("neon", 12.7),
        ("argon", 6.4),
        ("air", 6.7),
        ("krypton", 4.9),
        ("xenon", 3.6),
    ],
)
def test_handbook_paths_at_0_degrees(gas, millimetre_pascal):
    # Tabulated lambda x p at 0 degC: common practice, no source. Definitions differ by up to 12 %.
    assert mean_free_path(gas_named(gas), 1.0, 273.15) * 1e3 == pytest.approx(
        millimetre_pascal, rel=0.12
    )


def test_air_by_a_documented_example():
    # uncscode.github.io/particula/Discussions/Technical/mean_free_path: air at 298.15 K and
    # 101325 Pa, 6.647342e-8 m; viscosity tables differ by some tenths of a per cent.
    assert mean_free_path(gas_named("air"), 101325, 298.15) == pytest.approx(6.6473e-8, rel=0.005)


def test_air_rule_of_thumb():
    # common practice, no source: 6.8 cm at 1e-3 mbar and 20 degC; 68 nm at 1 atm and
    # 25 degC (S. G. Jennings, J. Aerosol Sci. 19 (1988) 159, gives the formula).
    air = gas_named("air")
    assert mean_free_path(air, 0.1) == pytest.approx(0.068, rel=0.04)
    assert mean_free_path(air, 101325, 298.15) == pytest.approx(68e-9, rel=0.04)


def test_limits_of_the_regimes_in_tubes():
    # ja.scribd.com/document/343359118/Conductance: air is viscous above 0.5 Torr cm and molecular
    # below 0.01 Torr cm, in the terms of the Knudsen number 0.01 and 0.5.
    path_times_pressure = mean_free_path(gas_named("air"), 1.0)
    assert knudsen(path_times_pressure, 0.5 * TORR_CM) == pytest.approx(0.01, rel=0.02)
    assert knudsen(path_times_pressure, 0.01 * TORR_CM) == pytest.approx(0.5, rel=0.02)


@pytest.mark.parametrize(
    ("number", "name"), [(0.009, "viscous"), (0.02, "transitional"), (0.6, "molecular")]
)
def test_names_of_the_regimes(number, name):
    # Vacuum handbook text at th4.ilovetranslation.com: Knudsen flow between 0.01 and 0.5.
    assert regime(number) == name


@pytest.mark.parametrize(
    ("gas", "heat_capacity_ratio"),
    [("argon", 5 / 3), ("neon", 5 / 3), ("krypton", 5 / 3), ("xenon", 5 / 3)],
)
def test_gauge_factors_against_kinetic_theory(gas, heat_capacity_ratio):
    # The factors are common practice, no source. Free-molecular heat loss goes as
    # (g + 1)/(g - 1)/sqrt(M) (kinetic theory), which must come within 15 % for the noble gases;
    # light gases and water give their heat up too badly for it.
    def loss(ratio, molar_mass):
        return (ratio + 1) / (ratio - 1) / molar_mass**0.5

    air = loss(1.4, gas_named("air").molar_mass)
    other = loss(heat_capacity_ratio, gas_named(gas).molar_mass)
    assert gauge_factor(gas) == pytest.approx(air / other, rel=0.15)


@pytest.mark.parametrize(
    ("gas", "factor"),
    [
        ("helium", 0.8),
        ("hydrogen", 0.5),
        ("carbon dioxide", 0.9),
        ("water vapour", 0.5),
        ("air", 1),
        ("nitrogen", 1),
        ("oxygen", 1),
    ],
)
def test_gauge_factors_of_other_gases(gas, factor):
    # common practice, no source
    assert gauge_factor(gas) == factor


@pytest.mark.parametrize(
    ("substance", "celsius", "kilopascal", "tolerance"),
    [
        # Wexler, J. Res. Natl. Bur. Stand. A 80A (1976) 775: triple point.
        ("water", 0.01, 0.611657, 1e-5),
        # CRC Handbook of Chemistry and Physics 1992-93, lcm91.tripod.com/documents/vp_H2O.htm.
        ("water", 10, 1.2281, 1e-3),
        ("water", 20, 2.3388, 1e-3),
        ("water", 25, 3.1690, 1e-3),
        ("water", 30, 4.2455, 1e-3),
        ("water", 40, 7.3814, 1e-3),
        # Appendix B.2 of a thermodynamics text (scribd.com/document/607396429), other constants:
        # ln(p/kPa) = 14.3145 - 2756.22/(t + 228.060) and 16.8958 - 3795.17/(t + 230.918).
        ("acetone", 20, 24.616, 0.01),
        ("acetone", 25, 30.659, 0.01),
        ("ethanol", 20, 5.875, 0.01),
        ("ethanol", 25, 7.895, 0.01),
        # scribd.com/document/671755888/AntoneConstant; published fits scatter by 5 %.
        ("isopropanol", 20, 4.41, 0.05),
        ("isopropanol", 25, 6.02, 0.05),
    ],
)
def test_vapour_pressures(substance, celsius, kilopascal, tolerance):
    pressure = vapour_pressure(substance, celsius + 273.15)
    assert pressure / 1e3 == pytest.approx(kilopascal, rel=tolerance)
