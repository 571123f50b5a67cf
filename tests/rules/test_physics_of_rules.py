"""What the rules say, held against the physics that it rests on.

Each test computes the physics or cites it, and then asks of the whole kind of rules that they
agree.
Thresholds are judgement.
"""

import math
import re

import pytest

from tests.rules.test_review_points import journal
from troubleshoot.case.diagnose import Bench
from troubleshoot.coater.profile import machine_from
from troubleshoot.physics.elements import element_named
from troubleshoot.physics.gauges import true_pressure


@pytest.fixture(scope="module")
def present(rules):
    """Belief on a described machine after a complaint and answers."""

    def present(machine, complaint, *answers):
        bench = Bench(rules, machine_from(machine, "a test"))
        return bench.assess(journal(rules, complaint, answers)).belief.present

    return present


def acting_by(rules, mechanism):
    return [c for c in rules.causes.values() if mechanism in c.mechanisms]


def bad_base(rules, cause):
    """P(base high or very high)."""
    row = rules.rows[cause.id, "base_loaded"]
    return row["high"] + row["very_high"]


def instructions(rules):
    """Every sentence that tells somebody to do something, and where it stands."""
    for doing in (*rules.actions.values(), *rules.workarounds.values()):
        for text in (*doing.steps, getattr(doing, "say", "")):
            for sentence in re.split(r"(?<=[.;:?!])\s+", text):
                yield doing.id, sentence


# --- the vacuum -----------------------------------------------------------------------------------


def test_trapped_air_must_be_much_before_a_rotary_pump_notices(rules):
    """`trapped_air` (`test_computations.py`): half an hour at +0.05 mbar takes 60 cm3."""
    cause = rules.causes["virtual_leak"]
    assert cause.share <= 0.05
    assert "30 cm³ or more" in cause.what


def test_oil_and_grease_by_themselves_do_not_lift_the_base(rules):
    """`oil_below_base`: a thousandth of the base that they were blamed for."""
    blamed = acting_by(rules, "oil_takes_up_water")
    assert {c.id for c in blamed} == {"oil_film", "oil_suckback", "seal_overgreased"}
    for cause in blamed:
        assert bad_base(rules, cause) < 0.1, cause.id
        assert rules.rows[cause.id, "base_empty"]["usual"] > 0.6, cause.id
        assert cause.complaints["slow_pump_down"] < 0.3, cause.id
    wet = [c for c in acting_by(rules, "vapour_load") if c.nature == "fault" and c.share > 1]
    assert wet
    assert all(bad_base(rules, c) > 0.2 for c in wet)


def test_what_oil_spoils_is_the_coat(rules):
    """A film of oil lies between metal and specimen and cracks in the discharge."""
    for cause in ("oil_film", "oil_suckback"):
        assert rules.causes[cause].complaints["discoloured"] > 0.2
    assert rules.rows["oil_film", "film_wipe"]["wipes_off"] > 0.6


def test_metals_that_oxidise_are_not_coated_at_a_raised_base(rules):
    """`water_meets_chromium` (`test_computations.py`): thousands of molecules an atom."""
    steps = " ".join(rules.workarounds["coat_at_raised_base"].steps)
    assert "Chromium, tungsten, titanium and silver are not coated like this" in steps
    assert not [where for where, said in instructions(rules) if "tenth for metals" in said]


# --- solvents and paint ---------------------------------------------------------------------------


def test_no_solvent_on_rubber(rules):
    """Acetone swells nitrile and FKM; vacuum handbooks warn against solvent on O-rings at all."""
    wet = [
        (where, said)
        for where, said in instructions(rules)
        if re.search(r"\b(isopropanol|acetone|alcohol|damp)\b", said, re.IGNORECASE)
    ]
    assert len(wet) > 8
    for where, said in wet:
        for rubber in re.finditer(r"\b(seals?|O-rings?|rubber|disc)\b", said):
            assert re.search(r"\b(dry|no solvent)\b", said, re.IGNORECASE), (where, said, rubber[0])


def test_paint_dries_for_hours_before_it_meets_vacuum(rules):
    """A university microscopy page asks for 24 h in gentle heat; half an hour leaves it wet."""
    for name in ("bridge_with_paint", "let_solvent_go", "reach_undercuts", "dry_next_through"):
        action = rules.actions[name]
        assert action.minutes.wait >= 240, name
        assert any("hours" in step for step in action.steps), name
    for where, said in instructions(rules):
        if re.search(r"\b(paint|glue|track|blob)\b", said):
            assert not re.search(r"\b(minutes|twenty|half an hour|an hour)\b", said), (where, said)


# --- the specimen ---------------------------------------------------------------------------------


@pytest.mark.parametrize("dried", ["critical_point", "chemical"])
def test_gentle_drying_shrinks_evenly_by_itself(dried, rules, present):
    """25 to 30 % of the diameter (Gusnard & Kirschner 1977), silazane like it (Braet 1997)."""
    assert rules.causes["even_shrinkage"].nature == "normal"
    even = present({}, "specimen_damage", ("damage", "shrunk_evenly"), ("dried_how", dried))
    assert even["even_shrinkage"] > 0.7
    folded = present({}, "specimen_damage", ("damage", "shrunk_or_collapsed"), ("dried_how", dried))
    assert folded["even_shrinkage"] < folded["drying_collapse"]


def test_what_has_boiled_is_not_cured_by_drying_it(rules):
    """A burst wall stays burst: only the next one can be dried before it is pumped."""
    cures = {a.id: a for a in rules.actions.values() if "boiled_in_vacuum" in a.cures}
    assert set(cures) == {"dry_next_through"}
    assert cures["dry_next_through"].specimen == "spends"


# --- the microscope -------------------------------------------------------------------------------


def test_a_floating_piece_stays_white_at_any_scan_speed(rules):
    """`charge_of_floating_piece`: 10 V in 10 ms, well within one frame at TV rate."""
    floating = acting_by(rules, "no_path_to_ground")
    assert len(floating) >= 5
    for cause in floating:
        row = rules.rows[cause.id, "tv_rate"]
        assert row["same"] > 2 * row["gone"], cause.id
    for cause in ("dwell_too_long", "beam_kv_high", "coat_too_thin"):
        assert rules.rows[cause, "tv_rate"]["gone"] > rules.rows[cause, "tv_rate"]["same"]


def test_the_electron_range_is_quoted_only_where_its_formula_holds(rules):
    """Kanaya & Okayama fits above 10 kV only (Hovington 1997): 8 um in polymer at 20 kV."""
    carbon, density = (12.011, 6), 1.2
    microns = 0.0276 * carbon[0] * 20**1.67 / (carbon[1] ** 0.889 * density)
    assert microns == pytest.approx(8, abs=0.5)
    entries = (*rules.causes.values(), *rules.mechanisms.values(), *rules.actions.values())
    quoting = [e for e in entries if "Kanaya" in e.source]
    assert len(quoting) >= 3
    for entry in quoting:
        assert "above 10 kV" in " ".join(entry.source.split())
        assert all(float(kv) >= 10 for kv in re.findall(r"([\d.]+) kV", entry.source))


def test_fast_scanning_is_no_certain_cure(rules):
    """The study that averaged fast frames had to filter and to align them (Scanning 2020)."""
    action = rules.actions["scan_fast_and_average"]
    assert action.cures["dwell_too_long"] <= 0.8
    assert any("align" in step for step in action.steps)


# --- metals and gas lines -------------------------------------------------------------------------


def test_platinum_needs_half_the_thickness_of_gold(rules):
    """Platinum Metals Rev. 23 (1979) 15."""
    assert "half the thickness of gold" in " ".join(rules.actions["use_finer_metal"].steps)
    assert "platinum at half of that" in " ".join(rules.causes["coat_too_thin"].what.split())


def test_only_coarse_metals_are_too_coarse(rules, present):
    """Platinum shows no grain below 200 000 times (10.1017/S0424820100152379)."""
    fine = present({"target": "platinum"}, "too_thick", ("needs_high_magnification", "yes"))
    gold = present({"target": "gold"}, "too_thick", ("needs_high_magnification", "yes"))
    assert "metal_too_coarse" not in fine
    assert gold["metal_too_coarse"] > 0.1


def test_not_every_plastic_line_breathes(rules):
    """Polyethylene and fluoropolymer passed practically no moisture (ASTM JTE103318)."""
    cause = rules.causes["gas_line_breathes"]
    assert "hardly" in cause.what
    assert "Polyurethane" in cause.what
    assert cause.share < rules.causes["few_flushes"].share / 3
    assert "polyethylene or fluoropolymer" in rules.actions["replace_gas_line"].say


# --- what the machine cannot have -----------------------------------------------------------------

HEAT_LOSS = {"gauge_cold_start", "argon_fills_chamber"}
ARGON_SUPPLY = {
    "argon_line_leak", "gas_line_breathes", "argon_supply_off", "regulator_disturbed", "wrong_gas",
    "regulator_creeps", "few_flushes", "argon_fills_chamber", "argon_lifts_lid",
}  # fmt: skip


def test_heat_loss_rules_do_not_reach_a_membrane(rules, present):
    """A membrane reads every gas alike; a heat-loss gauge shows argon 1.7 times too low."""
    assert true_pressure("argon", 10.0).value == pytest.approx(17, abs=1)
    membrane = set(present({"gauge_kind": "capacitance"}, "gauge_odd"))
    wire = set(present({"gauge_kind": "heat_loss"}, "gauge_odd"))
    assert not HEAT_LOSS & membrane
    assert wire >= HEAT_LOSS
    lifted = set(present({"gauge_kind": "capacitance"}, "vent_trouble"))
    assert "argon_lifts_lid" in lifted
    assert "argon_lifts_lid" not in set(present({"gauge_kind": "heat_loss"}, "vent_trouble"))


def test_a_recipe_does_not_go_from_one_kind_of_gauge_to_another(rules):
    """0.05 mbar on an air-scaled heat-loss gauge is 0.085 mbar of argon on a membrane."""
    assert true_pressure("argon", 5.0).value == pytest.approx(8.3, abs=0.4)
    text = " ".join(rules.actions["write_target_as_indicated"].steps)
    assert "Multiply by 1.7" in text
    assert "Divide by 1.7" in text
    assert not rules.causes["gauge_wrong_gas"].machine


def test_who_coats_in_air_has_no_argon_supply(present):
    gone = set(present({"process_gas": "argon", "gauge_kind": "capacitance"}, "no_strike")) - set(
        present({"process_gas": "air", "gauge_kind": "capacitance"}, "no_strike")
    )
    assert gone == ARGON_SUPPLY - HEAT_LOSS


# --- carbon and sizes -----------------------------------------------------------------------------


def test_soot_is_of_a_poor_vacuum_and_a_shadow_of_a_good_one(rules):
    """Carbon flies straight where its path is longer than its way (computation carbon_in_gas)."""
    shown = rules.rows["carbon_vacuum_poor", "carbon_pressure"]
    assert shown["higher"] + shown["much_higher"] > 0.8
    assert rules.rows["carbon_shadow", "carbon_pressure"]["as_recipe"] > 0.9


def test_a_coat_shifts_sizes_by_an_amount_and_a_scale_by_a_factor(present):
    """2t whatever the size, against a tenth of whatever size."""
    amount = present({}, "size_changed", ("size_shift", "by_an_amount"))
    factor = present({}, "size_changed", ("size_shift", "by_a_factor"))
    assert amount["coat_counts_in_size"] > 5 * factor["coat_counts_in_size"]
    assert factor["scale_wrong"] > 5 * amount["scale_wrong"]


def test_what_an_uncoated_sister_shows_is_not_the_coat(present):
    """The same thing without its coat parts what the coat did from what was there before it."""
    for complaint, coat, before in (
        ("size_changed", "coat_counts_in_size", "even_shrinkage"),
        ("specimen_damage", "specimen_overheated", "drying_collapse"),
        ("picture_unsharp", "coat_too_thick", "magnification_empty"),
    ):
        yes = present({}, complaint, ("uncoated_shows_it", "yes"))
        no = present({}, complaint, ("uncoated_shows_it", "no"))
        assert no[coat] > 3 * yes[coat], complaint
        assert yes[before] > 3 * no[before], complaint


def test_half_a_turn_of_the_stage_parts_the_head_from_the_stage(present):
    """What stays in the chamber is the head's, what goes round is the stage's."""
    stays = present({}, "uneven_coat", ("half_turn", "stays_in_chamber"))
    goes = present({}, "uneven_coat", ("half_turn", "goes_with_stage"))
    assert stays["discharge_one_sided"] > 5 * goes["discharge_one_sided"]
    assert goes["stage_tilted_or_tall"] > 3 * stays["stage_tilted_or_tall"]


def test_the_numbers_in_the_texts_are_those_that_are_computed(rules):
    """The widths of a drop, the shares of a coat, the falling off of carbon."""
    drop = rules.findings["grid_drop"].answers
    assert "3.3 mm" in drop["flat"]
    assert "2.5 mm" in drop["bead"]
    assert "2.5 mm wide" in rules.complaints["grids_stay_water_shy"].counts_when
    assert "10 nm of gold on a fibre of 80 nm is a fifth" in str(rules.findings["coat_share"].looks)
    assert "100 000 times asks for 2 nm" in str(rules.findings["magnification_beyond"].looks)
    steps = " ".join(rules.actions["carbon_in_short_bursts"].steps)
    assert "Twice the distance takes four times the carbon" in steps
    assert "A tenth farther gives a fifth less" in rules.findings["carbon_path"].looks["farther"]


# --- shares ---------------------------------------------------------------------------------------


PLAIN = {
    "turbo": "no", "programme": "no", "cooling": "no", "thickness_monitor": "no",
    "carbon_accessory": "no", "glow_treatment": "no", "cooled_stage": "no",
    "pump_kind": "rotary_two_stage", "target": "gold", "chamber": "glass",
}  # fmt: skip
OF_THE_PICTURE = {"picture_unsharp", "size_changed"}


def test_shares_are_per_cent(rules):
    """Of the faults of a plain coater; what only others have, or the picture, comes beside."""
    plain = machine_from(PLAIN, "a plain coater")
    here = [
        cause.share
        for cause in rules.causes.values()
        if plain.allows(cause.machine)
        and max(cause.complaints, key=cause.complaints.__getitem__) not in OF_THE_PICTURE
    ]
    assert math.fsum(here) == pytest.approx(100, abs=2)


@pytest.mark.parametrize(
    ("more", "less"),
    [
        ("sem_contamination", "detector_effect"),  # every specimen brings traces of oil
        ("oil_film", "virtual_leak"),  # p = Q/S, above
        ("target_worn", "target_wrong"),  # every target wears through, few labs have two
        ("pump_oil_low", "glass_chipped"),  # oil sinks in months, glass is chipped once in years
        ("target_contaminated", "target_worn"),
    ],
)
def test_shares_stand_believably_side_by_side(more, less, rules):
    assert rules.causes[more].share > 1.2 * rules.causes[less].share


# --- proofs ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("remedy", "proof"),
    [
        ("time_by_hand", "witness_slip"),  # the timer is as wrong as before, the coat is not
        ("second_coat", "witness_slip"),
        ("recoat_turning", "slip_map"),
        ("adjust_gauge", "empty_pump_down"),  # a dirty head reads right at atmosphere
        ("exchange_gauge_head", "empty_pump_down"),
        ("rinse_and_dry_again", "look_at_coat"),
    ],
)
def test_a_proof_looks_at_what_the_remedy_changes(remedy, proof, rules):
    """Proofs that a distance of rows cannot judge: what they look at was never at fault."""
    assert rules.actions[remedy].proof == proof


def test_the_densities_that_are_typed_into_a_monitor_are_those_of_the_handbook(rules):
    """CRC Handbook of Chemistry and Physics, as the table of elements has it."""
    told = [
        *rules.actions["correct_monitor"].steps,
        *rules.findings["monitor_metal_set"].looks.values(),
    ]
    pairs = re.findall(
        r"\b(gold|platinum|silver|palladium|iridium|chromium) (\d+\.\d+)", " ".join(told)
    )
    assert {"chromium", "gold", "iridium", "palladium", "platinum", "silver"} <= {
        m for m, _ in pairs
    }
    for metal, density in pairs:
        assert math.isclose(float(density) * 1000, element_named(metal).density, rel_tol=5e-3), (
            metal
        )
