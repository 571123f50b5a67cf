"""Causes in argon supply, gauge and head, each as a changed part. Sizes are judgement."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.physics.gauges import gauge_factor
from troubleshoot.training.draw import spread
from troubleshoot.training.faults.vacuum import Fault
from troubleshoot.training.plant import Plant

Rng = np.random.Generator
TRUE_ARGON = gauge_factor("argon")
"""True pressure of argon over what a gauge scaled for air shows."""


def line(**parts: object) -> Fault:
    """The argon line changed."""

    def broken(plant: Plant, rng: Rng) -> Plant:
        changed = replace(plant.coater.line, **parts)  # type: ignore[arg-type]
        return replace(plant, coater=replace(plant.coater, line=changed))

    return broken


def head(**parts: object) -> Fault:
    """The head or its supply changed."""

    def broken(plant: Plant, rng: Rng) -> Plant:
        return replace(plant, head=replace(plant.head, **parts))  # type: ignore[arg-type]

    return broken


def gauge(**parts: object) -> Fault:
    """The gauge changed."""

    def broken(plant: Plant, rng: Rng) -> Plant:
        return replace(plant, gauge=replace(plant.gauge, **parts))  # type: ignore[arg-type]

    return broken


def run(**parts: object) -> Fault:
    """What the operator sets, changed."""

    def broken(plant: Plant, rng: Rng) -> Plant:
        return replace(plant, recipe=replace(plant.recipe, **parts))  # type: ignore[arg-type]

    return broken


def _needle_leaks(plant: Plant, rng: Rng) -> Plant:
    return line(shut=plant.head.pressure * plant.coater.pump.speed * spread(rng, 1, 5))(plant, rng)


def _breathes(plant: Plant, rng: Rng) -> Plant:
    """A soft tube of 2.5 to 4 mm by 1 to 3 m at 1.3 to 2 bar that stood over a weekend.

    No more air comes in than until its partial pressure is that of the room.
    """
    bore, length, pressure = rng.uniform(2.5e-3, 4e-3), rng.uniform(1, 3), rng.uniform(1.3, 2.0)
    stood = float(np.pi / 4 * bore**2 * length * pressure * ATMOSPHERE)
    return line(stale=stood, fouled=spread(rng, 0.2, 1.0) / pressure)(plant, rng)


def _needle_open(plant: Plant, rng: Rng) -> Plant:
    opened = plant.head.pressure * plant.coater.pump.speed * spread(rng, 2, 10)
    return line(shut=opened, open_valve=True)(plant, rng)


def _dirty_gauge(plant: Plant, rng: Rng) -> Plant:
    # Dirt on the wire takes heat away as gas does: it reads high, and answers slowly.
    changed = gauge(zero=spread(rng, 6, 30), lag=plant.gauge.lag + spread(rng, 1, 6))
    return changed(plant, rng)


def _off(plant: Plant, rng: Rng) -> Plant:
    return gauge(scale=spread(rng, 2, 4) if rng.random() < 0.5 else spread(rng, 0.2, 0.5))(
        plant, rng
    )


GLOW: Mapping[str, Fault] = {
    "argon_supply_off": line(most=0.0, full=False),
    "argon_blocked": line(most=1e-4),
    "wrong_gas": line(gas="air"),
    "gas_line_breathes": _breathes,
    "argon_line_leak": line(air=0.35),
    "regulator_creeps": line(creeps=0.25),
    "needle_valve_worn": _needle_leaks,
    "needle_valve_open": _needle_open,
    "gauge_contaminated": _dirty_gauge,
    "gauge_adjustment_lost": _off,
    "gauge_zero_low": gauge(zero=-3.0),
    "gauge_cable_loose": gauge(noise=0.4, memory=1.0),
    "gauge_cold_start": gauge(cold=15.0),
    "hv_control_zero": head(demand=0.0),
    "interlock_open": head(permitted=False),
    "hv_contact_fault": head(contact=False),
    "hv_supply_failed": head(voltage=0.0),
    "hv_supply_hot": head(trips=40.0),
    "shield_shorted": head(shorted=True),
    "insulator_metallised": head(leaks=0.01),
    "magnet_weak": head(magnet=0.3),
    "target_contaminated": head(dirt=-0.6, cleans=150.0),
    "dust_arcing": head(arcs=20.0),
    "pressure_too_high": run(pressure=2.0),
    "pressure_too_low": run(pressure=0.4),
    "current_too_low": run(demand=0.4),
    "current_too_high": run(demand=2.0),
    "timer_error": run(seconds=0.3),
    "timer_runs_long": run(seconds=3.0),
    "stage_off_centre": run(offset=0.03),
    "stage_too_near": run(distance=0.5),
    "stage_too_far": run(distance=1.8),
    "few_flushes": run(flushed=False),
    "ground_path_poor": run(grounded=False),
    "adhesive_gap": run(grounded=False),
    "gauge_wrong_gas": run(misread=1 / TRUE_ARGON),
    "stage_tilted_or_tall": run(tilt=0.5),
    "shutter_closed": run(shutter=False),
    "target_wrong": head(metal="platinum"),
}
