"""What a lamp shows on the part that is at fault, and what is known of the load: true by the cause.

A hair across a seal is a hair, a kinked hose is kinked, a wet specimen was not dried. How often
somebody overlooks it is no physics, and the rows of the rules are not looked at.
"""

from collections.abc import Mapping

SOUND: Mapping[str, str] = {
    "seal_look": "clean_sound",
    "lid_level": "yes",
    "glass_rim": "whole",
    "hose_look": "sound",
    "hose_long_narrow": "no",
    "oil_level": "between",
    "oil_look": "clear",
    "pump_heat": "warm",
    "wall_state": "clean_or_thin",
    "new_part_inside": "no",
    "target_face": "matt_metal",
    "drying": "through",
    "load_larger": "no",
    "adhesive_large": "no",
    "fresh_paint": "no",
    "material_inside": "fit",
    "gauge_warmed": "yes",
    "gauge_scale_known": "yes",
    "shutter_opens": "yes",
    "specimen_level": "yes",
}
"""Finding -> what is seen of it on a sound plant."""

LOOKS: Mapping[str, Mapping[str, str]] = {
    "seal_dirty": {"seal_look": "dust_or_flakes"},
    "hair_on_seal": {"seal_look": "hair_or_fibre"},
    "seal_dry": {"seal_look": "dry_flat_cracked"},
    "seal_nicked": {"seal_look": "nick_or_cut"},
    "seal_misseated": {"seal_look": "out_of_place", "lid_level": "no"},
    "seal_wrong_part": {"seal_look": "out_of_place"},
    "seal_overgreased": {"seal_look": "greasy"},
    "lid_misseated": {"lid_level": "no"},
    "glass_chipped": {"glass_rim": "chip_on_seal_face"},
    "chamber_dirty": {"wall_state": "oily_or_brown"},
    "oil_film": {"wall_state": "oily_or_brown"},
    "virtual_leak": {"new_part_inside": "yes"},
    "specimen_wet": {"drying": "not_through"},
    "specimen_damp_again": {"drying": "stored_since"},
    "stage_overloaded": {"load_larger": "yes"},
    "adhesive_outgassing": {"adhesive_large": "yes"},
    "solvent_not_dry": {"fresh_paint": "yes"},
    "unsuited_material": {"material_inside": "doubtful"},
    "hose_collapsed": {"hose_look": "flat_or_kinked"},
    "hose_leak": {"hose_look": "cracked_or_loose"},
    "hose_restrictive": {"hose_long_narrow": "yes"},
    "pump_oil_low": {"oil_level": "low"},
    "pump_oil_dirty": {"oil_look": "dark"},
    "pump_oil_wet": {"oil_look": "milky_or_drops"},
    "pump_cold": {"pump_heat": "cold"},
    "pump_drive_fault": {"pump_heat": "cold"},
    "exhaust_clogged": {"pump_heat": "too_hot"},
    "gauge_cold_start": {"gauge_warmed": "no"},
    "gauge_wrong_gas": {"gauge_scale_known": "no"},
    "shutter_closed": {"shutter_opens": "no"},
    "stage_tilted_or_tall": {"specimen_level": "no"},
    "stage_off_centre": {"specimen_level": "no"},
    "target_contaminated": {"target_face": "stain_or_soot"},
}
"""Cause -> finding -> what is seen of it."""
