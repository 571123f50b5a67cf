"""A verdict from a few numbers without a curve."""

import hashlib
from collections.abc import Mapping

from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings.pressure.numbers import gas_share
from troubleshoot.readings.pressure.parts import READER
from troubleshoot.readings.pressure.soft import above, add, against_base, in_bands
from troubleshoot.readings.pressure.telling import CONTRAST, CONTRAST_SPREAD, beside_good_day
from troubleshoot.readings.reading import TYPED, Estimate, Reading


def read_few(
    findings: Mapping[str, Finding],
    machine: Machine | None = None,
    *,
    loaded: float | None = None,
    empty: float | None = None,
    rise: float | None = None,
) -> Reading:
    """A verdict from the base pressure loaded and empty (Pa) and the rise (Pa/s), or some of them.

    Raises `UserError` if fewer than two are given, or none is a pressure.
    """
    machine = machine or Machine()
    given = {"base": loaded, "base_empty": empty, "rise_in_one_minute": rise}
    unit_of = {"base": "Pa", "base_empty": "Pa", "rise_in_one_minute": "Pa/s"}
    numbers = {
        k: Estimate(v, BY_EYE * abs(v), unit_of[k]) for k, v in given.items() if v is not None
    }
    if len(numbers) < 2 or any(e.value < 0 for e in numbers.values()):
        raise UserError(
            "Give at least two of: base pressure loaded, base pressure empty, rise in a minute "
            "(none of them below zero)."
        )
    soft: dict[str, tuple[float, ...]] = {}
    kinds = {"base": "base_loaded", "base_empty": "base_empty", "rise_in_one_minute": "rise_rate"}
    for name, number in numbers.items():
        if kinds[name] in findings:
            soft[kinds[name]] = in_bands(findings[kinds[name]], number, machine)
    base = numbers.get("base_empty") or numbers["base"]
    said = []
    beside = (
        ("base, empty," if "base_empty" in numbers else "base", base, "usual_base"),
        ("rise", numbers.get("rise_in_one_minute"), "usual_rise"),
    )
    for words, measured, usual in beside:
        good = beside_good_day(measured, machine.numbers.get(usual))
        said += [f"the {words} is {good}"] if good else []
    if "rise_in_one_minute" in numbers:
        numbers["rise_at_start"] = numbers["rise_in_one_minute"]
        told = []
        for number in (numbers[k] for k in ("base", "base_empty") if k in numbers):
            share = gas_share(None, {**numbers, "pressure_when_shut": number}, machine)
            bands = in_bands(findings["base_loaded"], number, machine)
            told.append((share, against_base(share, bands, soft["rise_rate"])))
        best = {max(against, key=against.__getitem__) for _, against in told}
        if len(best) == 1:
            numbers["gas_share_of_base"], against = told[-1]
            add(soft, findings, "rise_against_base", against)
            said.append(AGAINST[best.pop()])
        else:
            said.append(EITHER_STATE)
    if loaded is not None and empty is not None:
        contrast = _contrast(loaded, empty, soft)
        add(soft, findings, "load_contrast", contrast)
        said.append(CONTRASTS[max(contrast, key=contrast.__getitem__)])
    text = repr(sorted(given.items()))
    return Reading(
        kind=TYPED,
        source="typed",
        sha256=hashlib.sha256(text.encode()).hexdigest(),
        reader=READER,
        sentence="; ".join(said).capitalize() + ".",
        numbers=numbers,
        findings={k: v for k, v in soft.items() if machine.allows(findings[k].machine)},
    )


EITHER_STATE = (
    "whether the rise explains the base depends on which was read: loaded or empty; give it with "
    "the base of the same state alone"
)


BY_EYE = 0.05
"""Of a number read off a dial and typed: judgement."""
AGAINST = {
    "fits_usual": "base and rise are both about as usual",
    "gas_comes_in": "the rise explains the base, so gas comes in",
    "too_small_for_base": (
        "the rise is too small to explain the base, so look at the pump, its hose and the gauge"
    ),
}


CONTRASTS = {
    "same_empty": "empty and loaded the base is the same, so the load is not to blame",
    "lower_empty": (
        "empty the base is lower but still not as usual, so perhaps two things are wrong at once"
    ),
    "usual_empty": "empty the base is as usual, so what you took out gives off the gas",
}


def _contrast(
    loaded: float, empty: float, soft: Mapping[str, tuple[float, ...]]
) -> dict[str, float]:
    lower = above(loaded / max(empty, 1e-9), CONTRAST, CONTRAST_SPREAD)
    bands = soft["base_empty"]
    usual = bands[0] / sum(bands)
    return {
        "same_empty": 1 - lower,
        "lower_empty": lower * (1 - usual),
        "usual_empty": lower * usual,
    }
