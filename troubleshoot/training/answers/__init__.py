"""What a check of the rule base shows on a simulated coater: an answer made by physics, or nothing.

Each finding that physics can make has one function in one of these modules, from what is read or
seen (`Observed`) to the ID of an answer. What the physics does not hold, such as what somebody
remembers, the simulator cannot say. No probability of the rule base is looked at, only the edges
between its answers.
"""

from collections.abc import Callable, Mapping
from functools import partial

from troubleshoot.training.answers import argon, coat, discharge, gauge, image, parts, pumping
from troubleshoot.training.faults.looks import SOUND
from troubleshoot.training.observed import Observed

Answer = Callable[[Observed], str | None]

ANSWERS: Mapping[str, Answer] = {
    made.__name__: made
    for made in (
        pumping.base_loaded,
        pumping.base_empty,
        pumping.pump_down_time,
        pumping.time_to_ten_mbar,
        pumping.curve_shape,
        pumping.load_contrast,
        pumping.rise_rate,
        pumping.rise_against_base,
        pumping.rise_shape,
        pumping.long_pump_recovers,
        pumping.valve_shuts,
        parts.vent_bung_helps,
        parts.port_blank_helps,
        parts.loan_pump_helps,
        parts.trap_out_helps,
        parts.exhaust_off_helps,
        parts.warm_pump_recovers,
        parts.blank_off,
        parts.hose_end_worse,
        parts.pump_suction,
        parts.pump_sound,
        parts.tracer_where,
        parts.moving_lifts_pressure,
        parts.vent_knob,
        parts.needle_knob,
        parts.isolation_knob,
        parts.ballast_knob,
        parts.hiss,
        gauge.gauge_at_atmosphere,
        gauge.gauge_response,
        gauge.second_gauge,
        gauge.gauge_wiggle,
        argon.needle_response,
        argon.cylinder_contents,
        argon.cylinder_valve,
        argon.regulator_outlet,
        argon.line_holds,
        argon.rise_line_shut,
        argon.low_reading,
        argon.gas_proven,
        argon.flushes,
        argon.pressure_hold,
        discharge.permit_lamp,
        discharge.hv_controls,
        discharge.hv_volts,
        discharge.glow,
        discharge.glow_colour,
        discharge.ring_glow,
        discharge.flashes,
        discharge.current_at_reference,
        discharge.current_over_time,
        discharge.current_sweep,
        discharge.returns_after_rest,
        discharge.glow_against_gauge,
        discharge.insulation,
        discharge.hv_contact,
        discharge.shield_gap,
        discharge.insulator_state,
        discharge.needle_nudge,
        discharge.presputter_clears,
        coat.pressure_set,
        coat.current_set,
        coat.timer_check,
        coat.distance,
        coat.target_matches,
        coat.dose,
        coat.slip_density,
        coat.film_hue,
        coat.film_spread,
        coat.half_turn,
        image.picture_shows,
        image.stripes_along_scan,
        image.changes_with_time,
        image.top_to_stub,
    )
} | {finding: partial(parts.look, finding) for finding in SOUND}
"""Finding ID -> what physics answers."""
