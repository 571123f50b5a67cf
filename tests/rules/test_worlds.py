"""What a careful colleague at the coater would never ask, kind by kind, and what they still would.

Each case is bench practice: what was answered, what that takes the sense out of, and what not.
"""

import itertools

import pytest

from troubleshoot.case.relevance import no_sense, other_trouble

COATER_COMPLAINTS = ("slow_pump_down", "pressure_not_reached", "no_strike", "unstable_current")
MICROSCOPE_ONLY = (
    "where_it_is", "picture_drift", "tv_rate", "teeth_on_edges", "low_kv", "tilt_effect",
    "known_metal_ok", "control_ok", "stub_gripped", "detector_settings", "holder_earth",
    "adhesive_insulating", "neighbour_uncoated",
)  # fmt: skip
PUMPING_ONLY = (
    "curve_shape", "load_contrast", "rise_rate", "rise_against_base", "rise_shape",
    "long_pump_recovers", "loan_pump_helps", "trap_out_helps", "quarter_turn_changes",
    "port_blank_helps", "new_part_inside", "hose_long_narrow",
)  # fmt: skip

# complaint, what was answered, what is no question any more, what still is, why
KINDS = [
    ("no_strike", {}, ["glow_colour", "flashes", "glow_centred", "current_over_time",
     "presputter_clears"], ["glow", "permit_lamp", "hv_controls", "cylinder_valve"],
     "the complaint itself says that nothing burns"),
    ("no_strike", {"glow": "faint_or_patchy"}, [], ["ring_glow", "glow_colour"],
     "a faint glow is a glow: its ring and its colour can be looked at"),
    ("no_strike", {"pump_sound": "silent"}, ["glow", "needle_nudge", "hv_volts", "base_loaded"],
     ["pump_sound"], "without a pump there is no vacuum to strike in"),
    ("unstable_current", {"glow": "none"}, ["glow_colour", "flashes", "current_over_time"],
     ["hv_contact", "permit_lamp", "needle_nudge"], "it went out and stays out"),
    ("too_thin", {"hv_volts": "zero"}, ["glow_colour", "slip_density", "dummy_film_ok"],
     ["hv_controls", "insulator_state"], "without volts nothing is coated"),
    ("too_thin", {"slip_density": "none"}, ["film_hue", "slip_ohms", "film_spread", "edx_metal"],
     ["shutter_opens", "current_at_reference"], "no film has no colour and no resistance"),
    ("images_charge", {"slip_density": "none"}, ["film_hue", "slip_ohms", "film_grain",
     "fresh_cracks", "film_fault"], ["shutter_opens", "coated_as_mounted", "stub_gripped"],
     "no film has no grain and no cracks"),
    ("no_strike", {"cylinder_valve": "shut"}, ["cylinder_contents", "regulator_outlet",
     "needle_response", "line_holds", "needle_nudge", "pressure_hold"], ["gas_proven", "glow"],
     "a shut cylinder lets nothing flow past its dials"),
    ("no_strike", {"cylinder_contents": "low_or_zero"}, ["regulator_outlet", "needle_response"],
     ["cylinder_valve"], "an empty cylinder gives nothing; or was it only shut?"),
    ("unstable_current", {"needle_response": "none"}, ["pressure_hold", "needle_nudge",
     "current_sweep"], ["cylinder_contents", "cylinder_valve", "regulator_outlet"],
     "gas that does not come in cannot be turned up"),
    ("pressure_not_reached", {"pump_sound": "hums_not_turning"}, ["base_loaded", "curve_shape",
     "rise_rate", "blank_off", "hose_end_worse", "press_lid_catches", "exhaust_off_helps"],
     ["pump_heat", "oil_level", "loan_pump_helps"], "a pump that stands still pumps nothing"),
    ("pressure_not_reached", {"gauge_at_atmosphere": "dead"}, ["base_loaded", "base_empty",
     "rise_rate", "second_gauge", "vent_bung_helps"], ["gauge_wiggle", "hiss", "pump_sound"],
     "a dead gauge gives no numbers; ears and the cable are left"),
    ("no_strike", {"base_loaded": "very_high"}, ["glow", "hv_volts", "permit_lamp"],
     ["seal_look", "hiss", "vent_knob"], "at such a pressure nothing is permitted or strikes"),
    ("no_strike", {"base_loaded": "usual"}, ["seal_look", "hiss", "press_lid_catches",
     "vent_bung_helps"], ["glass_rim", "permit_lamp"],
     "a usual base has no leak; a chip in the glass is looked for all the same"),
    ("unstable_current", {}, ["seal_look", "vent_bung_helps", "port_blank_helps"],
     ["base_loaded"], "a leak is hunted once somebody has seen a high base"),
    ("unstable_current", {"base_loaded": "raised"}, [], ["seal_look", "vent_bung_helps"],
     "a raised base opens the hunt"),
    ("slow_pump_down", {"base_loaded": "usual"}, ["long_pump_recovers", "vent_bung_helps",
     "load_contrast", "needle_knob"], ["pump_down_time", "hose_long_narrow", "drying"],
     "a usual base needs no bringing back; slow it may be all the same"),
    ("pressure_not_reached", {"load_contrast": "same_empty"}, ["drying", "fresh_paint",
     "adhesive_large", "load_larger", "sem_pumps_slowly"], ["seal_look", "oil_look", "wall_state"],
     "what is as bad with an empty chamber is not the load"),
    ("pressure_not_reached", {"load_contrast": "usual_empty"}, ["blank_off", "loan_pump_helps",
     "port_blank_helps", "trap_out_helps"], ["drying", "seal_look", "warm_pump_recovers"],
     "pump and ports are the same empty or loaded; a lid is reseated and a pump warms meanwhile"),
    ("pressure_not_reached", {"rise_rate": "small"}, ["rise_shape", "rise_line_shut"],
     ["valve_shuts"], "what does not rise has no shape"),
    ("pump_noise_oil", {"pump_sound": "quiet"}, ["knock_with_ballast", "pump_stand"],
     ["oil_level", "mist_filter", "oil_under_pump"], "then it is the oil and not a noise"),
    ("pump_noise_oil", {"pump_sound": "grinds"}, ["knock_with_ballast"], ["pump_stand"],
     "a grinding is no knock"),
    ("vent_trouble", {"vent_time": "gust"}, ["vent_inlet", "vent_click", "pump_when_vented"],
     ["things_moved"], "what vents in a gust is not blocked"),
    ("vent_trouble", {"vent_time": "never"}, ["things_moved"], ["vent_inlet", "vent_click",
     "pump_when_vented", "seal_look"], "where no air comes in nothing is blown about"),
    ("specimen_damage", {"damage": "none"}, ["damage_when", "dried_how", "handled",
     "mounted_taut", "shape_changes", "vent_time", "long_run"], [],
     "a specimen that is whole was damaged by nothing"),
    ("specimen_damage", {"damage_when": "before_coater"}, ["vent_time", "things_moved", "long_run",
     "stage_warm", "distance", "shape_changes"], ["dried_how", "handled", "mounted_taut"],
     "the coater did not do what was there before it"),
    ("specimen_damage", {"damage_when": "pump_or_vent"}, ["long_run", "stage_warm", "current_set",
     "kv_used"], ["vent_time", "things_moved", "drying"], "no discharge, no heat"),
    ("specimen_damage", {"damage_when": "under_beam"}, ["vent_time", "long_run"],
     ["probe_current", "shape_changes"], "what happens while one watches is the beam's"),
    ("uneven_coat", {"film_spread": "one_side"}, ["bare_fingers", "residue_seen", "film_fault"],
     ["glow_centred", "specimen_level"], "a step over the whole stage is not dirt on a specimen"),
    ("carbon_coat_bad", {"carbon_tone": "none"}, ["carbon_fault", "carbon_surface"],
     ["carbon_glow", "carbon_tip", "carbon_heat_mark"], "no carbon has no flakes and no specks"),
    ("grids_stay_water_shy", {"grid_drop": "flat"}, ["treated_since", "grids_old", "plastic_wets"],
     [], "what wets was treated well"),
    ("picture_unsharp", {"through_focus": "even"}, ["stig_stays"], ["refocus_helps", "wd_used"],
     "what is not stretched needs no stigmator"),
    ("picture_unsharp", {"sharp_where": "one_height"}, ["refocus_helps", "magnification_beyond"],
     ["wd_used"], "one height is sharp, so the probe is"),
    ("too_thin", {"monitor_ended_run": "yes"}, ["timer_check"], ["dose"],
     "a timer that did not end the run did not shorten it"),
    ("programme_aborts", {"programme_stage": "pumping"}, ["cylinder_valve", "gas_valve_opens",
     "glow", "hv_controls", "shield_gap", "target_face"],
     ["base_loaded", "pump_sound", "programme_limits"],
     "what stops while it pumps has not come to gas or high voltage"),
    ("programme_aborts", {"programme_stage": "coating"}, ["seal_look", "vent_bung_helps",
     "press_lid_catches"], ["glow", "hv_controls", "crystal_life"],
     "what comes as far as the discharge has pumped down"),
    ("programme_aborts", {"programme_stage": "gas"}, ["hv_controls", "seal_look"],
     ["cylinder_valve", "gas_valve_opens"], "it stops for want of gas"),
    ("low_pressure", {"low_when": "only_at_base"}, ["cylinder_valve", "needle_response"],
     ["unit_shown", "gauge_at_atmosphere"], "low with the argon shut is not for want of argon"),
    ("slow_pump_down", {"oil_level": "between"}, ["dry_pump_dust"], ["oil_look", "hose_look"],
     "a pump with oil in its sight glass is not dry"),
    ("monitor_odd", {}, ["seal_look", "pump_sound", "glow_colour"], ["crystal_life",
     "monitor_metal_set"], "a crystal that jumps is no leak"),
    ("no_strike", {"permit_lamp": "unlit"}, ["hv_volts", "needle_nudge", "current_sweep", "glow",
     "shield_gap", "pressure_set"], ["hv_controls", "base_loaded", "gauge_wiggle", "pump_sound"],
     "a dark permit lamp lets no high voltage through, whatever the head looks like"),
    ("unstable_current", {"permit_lamp": "unlit"}, [], ["hv_volts", "glow", "needle_nudge"],
     "a lamp that goes off again and again is the trouble itself"),
    ("discoloured", {"same_on_slip": "no"}, ["glow", "gas_proven", "target_matches", "base_loaded"],
     ["residue_seen", "nonstick_surface", "bare_fingers", "dose"],
     "a slip beside the specimen gets the same coat, so the coater is sound"),
    ("uneven_coat", {"same_on_slip": "no"}, ["glow_centred", "flashes", "load_larger"],
     ["relief", "turned", "specimen_level"], "then it is how the specimen stood and what it is"),
    ("too_thick", {"uncoated_shows_it": "yes"}, ["pressure_hold", "dose", "timer_check",
     "distance"], ["sister_ok"], "what is there without a coat was not made by it"),
    ("pressure_not_reached", {"hose_look": "cracked_or_loose"}, ["hose_end_worse"],
     ["hiss", "blank_off"], "what is seen to be broken need not be measured"),
    ("slow_pump_down", {}, ["glow_colour"], ["base_loaded", "pump_sound"],
     "a glow is asked for once the pressure has come down"),
    ("slow_pump_down", {"base_loaded": "raised"}, [], ["glow_colour"],
     "at a raised base it burns, and pink is air"),
    ("images_charge", {"dummy_film_ok": "yes"}, ["shutter_opens"], ["stub_gripped", "relief"],
     "the shutter was open: there is a coat"),
    ("images_charge", {"film_fault": "cracked"}, ["shutter_opens"], ["fresh_cracks"],
     "what has cracked is there"),
    ("images_charge", {"tv_rate": "gone"}, ["teeth_on_edges"], ["scan_square", "low_kv"],
     "what shakes the beam shakes it at any scan"),
    ("too_thin", {}, ["monitor_metal_set", "gas_inside"], ["monitor_ended_run", "gas_proven"],
     "a monitor that did not end the run did not set the thickness; argon flows while one coats"),
    ("too_thin", {"monitor_ended_run": "yes"}, [], ["monitor_metal_set"],
     "now the density in it matters"),
    ("turbo_not_up_to_speed", {}, ["glow", "slip_density", "tv_rate"], ["backing_alone",
     "turbo_sound", "hose_look"], "what keeps a rotor from its speed is gas, drive or bearing"),
]  # fmt: skip


@pytest.mark.parametrize(("complaint", "seen", "never", "still", "why"), KINDS)
def test_kinds(complaint, seen, never, still, why, rules):
    none = no_sense(rules, complaint, seen.items())
    assert set(never) <= set(none), why
    assert not set(still) & set(none), why
    assert all(text.endswith(".") for text in none.values())


RATHER = [
    ("no_strike", {"base_loaded": "very_high"}, "pressure_not_reached"),
    ("no_strike", {"base_loaded": "usual", "permit_lamp": "unlit"}, None),
    ("too_thick", {"uncoated_shows_it": "yes"}, "picture_unsharp"),
    ("picture_unsharp", {"uncoated_shows_it": "yes"}, None),
    ("unstable_current", {"current_over_time": "steady"}, "gauge_odd"),
    ("unstable_current", {"current_over_time": "flickers"}, None),
    ("specimen_damage", {"damage": "none"}, "images_charge"),
]


@pytest.mark.parametrize(("complaint", "seen", "other"), RATHER)
def test_an_answer_that_the_trouble_cannot_give_points_to_another(complaint, seen, other, rules):
    """No vacuum: no discharge to strike. There without a coat: not the coat. And so on."""
    assert other_trouble(rules, complaint, seen.items(), []) == other


def test_every_presupposition_is_denied_in_some_case_above(rules):
    told = {name for _, seen, *_ in KINDS for name in seen}
    for it in rules.presuppositions.values():
        ways = [set(together) - {"complaint"} for together in it.denied_by]
        ways = [way for way in ways if way != {"circumstance"}]  # below
        assert not ways or any(way <= told for way in ways), it.id


def test_a_slip_of_another_recipe_is_no_reference(rules):
    """Thin gold is blue and lighter than a slip of the thick recipe before, and right."""
    held = no_sense(rules, "discoloured", [], ["other_recipe"])
    plain = no_sense(rules, "discoloured", [])
    assert {"slip_density", "dummy_film_ok"} == held.keys() - plain.keys()
    assert held["slip_density"].startswith("The recipe is new here")


def test_of_a_carbon_coat_nothing_is_asked_that_belongs_to_sputtering(rules):
    """Carbon is evaporated by a current of its own: no target, argon or glow (common practice)."""
    head = {"target_matches", "target_face", "glow", "flashes", "gas_proven", "dose", "flushes"}
    for complaint in ("discoloured", "too_thin", "images_charge", "specimen_damage"):
        plain = no_sense(rules, complaint, [])
        held = no_sense(rules, complaint, [], ["carbon_coat"])
        assert held.keys() - plain.keys() >= {f for f in head if f not in plain}, complaint
        assert {"film_wipe", "low_kv", "sister_ok", "damage"} & held.keys() <= plain.keys()


@pytest.mark.parametrize(
    ("complaint", "seen", "other"),
    [
        ("discoloured", {}, "carbon_coat_bad"),
        ("too_thin", {}, "carbon_coat_bad"),
        ("uneven_coat", {}, "carbon_coat_bad"),
        ("images_charge", {}, None),  # a good carbon coat charges too where a piece has no path
        ("images_charge", {"slip_ohms": "conducts"}, None),
        ("images_charge", {"slip_ohms": "open"}, "carbon_coat_bad"),
        ("specimen_damage", {}, None),  # it may have shrunk in drying
    ],
)
def test_what_is_wrong_with_a_carbon_coat_is_a_trouble_of_its_own(complaint, seen, other, rules):
    assert other_trouble(rules, complaint, seen.items(), ["carbon_coat"]) == other
    assert other_trouble(rules, complaint, seen.items(), []) is None


def test_a_hand_on_the_lid_comes_after_a_look_at_the_glass_wherever_it_may_be_wanted(rules):
    for name in ("press_lid", "centre_lid", "turn_glass"):
        action = rules.actions[name]
        assert action.after == ["glass_rim"]
        causes = {*action.cures, *(c for c, f in rules.rows if f in action.reveals)}
        wanted = {t for c in causes for t in rules.causes[c].complaints}
        wanted = {
            t for t in wanted if not action.reveals or rules.is_in_world(action.reveals[0], t)
        }
        assert wanted <= set(rules.findings["glass_rim"].world), name


SEEN_FIRST = {
    "a setting is read before it is set": {
        "set_recipe_pressure": "pressure_set", "set_recipe_dose": "dose",
        "set_distance": "distance",
        "lower_beam_energy": "kv_used", "reduce_probe_current": "probe_current",
        "scan_fast_and_average": "dwell", "set_gauge_unit": "unit_shown",
        "shorten_working_distance": "wd_used",
    },
    "a part is looked at before it is renewed or taken off": {
        "replace_seals": "seal_look", "replace_hose": "hose_look", "reseat_hose": "hose_look",
        "replace_target": "target_face", "fix_rotation": "stage_turns",
    },
    "a base is read before it is put down to a seal, or to an interlock": {
        "wipe_and_reseat_seals": "base_loaded", "replace_seals": "base_loaded",
        "close_interlock": "base_loaded",
    },
    "a gauge is read in air before it is turned": {"adjust_gauge": "gauge_at_atmosphere"},
    "dials and label are read before gas is fetched": {
        "restore_argon": "cylinder_contents", "connect_right_argon": "gas_proven",
    },
    "what ended the run is known before more metal is put on": {
        "second_coat": "monitor_ended_run", "coat_new_by_recipe": "monitor_ended_run",
    },
}  # fmt: skip


@pytest.mark.parametrize("why", SEEN_FIRST)
def test_what_an_expert_looks_at_comes_before_the_remedy(why, rules):
    for remedy, finding in SEEN_FIRST[why].items():
        assert finding in rules.actions[remedy].first, remedy


@pytest.mark.parametrize("complaint", COATER_COMPLAINTS)
def test_no_picture_is_asked_for_before_there_is_one(complaint, rules):
    """Who comes with a vacuum or a discharge that fails has no picture of this run."""
    assert set(MICROSCOPE_ONLY) <= set(no_sense(rules, complaint, []))


@pytest.mark.parametrize(
    "complaint", ["images_charge", "too_thick", "specimen_damage", "vent_trouble", "too_thin"]
)
def test_no_leak_is_hunted_for_a_picture_or_a_coat_that_is_there(complaint, rules):
    """A coat of any thickness was made under vacuum."""
    assert set(PUMPING_ONLY) <= set(no_sense(rules, complaint, []))


@pytest.mark.parametrize(
    ("finding", "world"),
    [
        ("damage_when", ["specimen_damage"]),
        ("dried_how", ["specimen_damage", "size_changed"]),  # every drying changes sizes
        ("handled", ["specimen_damage"]),
        ("mounted_taut", ["specimen_damage"]),
    ],
)
def test_the_history_of_a_damage_is_asked_of_damage_only(finding, world, rules):
    assert rules.findings[finding].world == world


@pytest.mark.parametrize("finding", ["vent_inlet", "vent_click", "pump_when_vented"])
def test_the_vent_is_looked_into_when_it_vents_badly(finding, rules):
    """A leak through it has questions of its own."""
    assert rules.findings[finding].world == ["vent_trouble"]


BASES = ("usual", "raised", "high", "very_high")
RISES = ("small", "ordinary", "fast", "very_fast")


@pytest.mark.parametrize("base", ["base_loaded", "base_empty"])
@pytest.mark.parametrize(("level", "rise"), list(itertools.product(BASES, RISES)))
def test_the_rise_is_never_asked_against_the_base_once_both_are_known(base, level, rise, rules):
    """It is arithmetic, whether or not the bands decide it."""
    seen = {base: level, "rise_rate": rise}
    assert "rise_against_base" in no_sense(rules, "pressure_not_reached", seen.items())
    assert "rise_against_base" not in no_sense(rules, "pressure_not_reached", [(base, level)])


@pytest.mark.parametrize(("loaded", "empty"), list(itertools.product(BASES, BASES)))
def test_two_readings_are_compared_by_the_tool(loaded, empty, rules):
    seen = {"base_loaded": loaded, "base_empty": empty}
    assert "load_contrast" in no_sense(rules, "pressure_not_reached", seen.items())


# A time, a place, a history, a kind of specimen, or whether a try at the microscope helps: none of
# their answers is the healthy one, or it is not the first.
NEUTRAL = {
    "damage_when", "dried_how", "relief", "where_it_is", "when_it_happens", "gas_inside",
    "tv_rate", "low_kv", "small_current", "sharp_where",
}  # fmt: skip


def test_every_choice_has_an_answer_for_as_it_should_be(rules):
    """It stands first and is the commonest on a sound coater."""
    choices = [f for f in rules.findings.values() if f.kind == "choice" and f.id not in NEUTRAL]
    for finding in choices:
        first = next(iter(finding.answers))
        assert finding.background[first] == max(finding.background.values()), finding.id


def test_a_coat_that_is_sound_can_be_said_to_be(rules):
    assert rules.findings["film_fault"].answers["colour_only"].startswith("nothing, or only")
