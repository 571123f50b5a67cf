"""How to coat a specimen for a picture: one plan with its reasons, steps, cautions and losses."""

from collections.abc import Iterator
from dataclasses import dataclass

from troubleshoot.advice.coat_choice import Bare, Coating, Wish, bare, coating, finer, fit_of
from troubleshoot.advice.dose import seconds
from troubleshoot.advice.instruction import Box, Site, boxes
from troubleshoot.advice.phrases import lower_first
from troubleshoot.knowledge.model import Coat, RuleBase
from troubleshoot.physics.coat_heat import ENERGY_AN_ATOM, heat_flux, radiative_rise
from troubleshoot.physics.electron_range import HIGHEST, LOWEST, electron_range
from troubleshoot.physics.materials import material_named
from troubleshoot.physics.metals import metal_named
from troubleshoot.physics.uniformity import disc_thickness
from troubleshoot.units import format_number

ALWAYS = ("glass_under_vacuum", "high_voltage")
BESIDE = 12.5e-3
"""m off the axis: the rim of a usual stub."""
STOPS = 0.5
"""Share of the beam's range in the metal from which a coat is what one sees: judgement."""
DEEP_KV = 10e3
"""eV above which electrons get deep below any coat of an insulator (cause beam_kv_high)."""


@dataclass(frozen=True)
class Plan:
    """What to do, in sentences, with the numbers behind it. `coat` is None where none is needed."""

    verdict: str
    coat: Coating | None
    bare: Bare | None
    todo: tuple[str, ...]
    reasons: tuple[str, ...]
    slip: str
    lost: tuple[str, ...]
    calibrate: tuple[str, ...]
    cautions: tuple[Box, ...]


def plan(rules: RuleBase, wish: Wish, xray: bool = False) -> Plan:
    """The plan for what is wished. `xray`: X-ray work is planned too."""
    specimen = wish.specimen
    site = Site(rules, wish.machine)
    if specimen.conducts:
        return Plan(
            f"No coat: {lower_first(specimen.name)} conducts. Give it a path to the stub.",
            None, None, tuple(specimen.advice),
            ("What conducts and is earthed does not charge, and a coat hides its surface.",),
            "", tuple(specimen.lost), (), boxes(site, specimen.hazards),
        )  # fmt: skip
    coat, without = coating(rules, wish), bare(wish)
    entry = rules.coats.get(coat.target)
    hazards = [*ALWAYS, *specimen.hazards, *(entry.hazards if entry else ())]
    return Plan(
        _verdict(wish, coat, without),
        coat,
        without,
        tuple(_steps(wish, coat, entry)),
        tuple(_reasons(rules, wish, coat, without)),
        _slip(entry, coat),
        tuple(_lost(wish, coat, entry, xray)),
        tuple(_calibrate(wish, coat)) if wish.own is None else (),
        boxes(site, hazards),
    )


def _verdict(wish: Wish, coat: Coating, without: Bare | None) -> str:
    first = {
        "dry": "",
        "wet": "Do not pump it yet: it has to be dried first. Then: ",
        "oily": "Do not pump it yet: oil and grease come off first. Then: ",
    }[wish.specimen.vacuum]
    given = f"{_coat(coat)}, {_times(coat)} at {_ampere(wish.current)} and {_mm(coat.at.distance)}"
    if without is not None and without.now:
        return (
            f"{first}At {_kv(wish.beam)} look first without any coat; only if it still charges "
            f"give the thinnest that joins, {given}."
        )
    return f"{first}{given[0].upper()}{given[1:]}."


def _coat(coat: Coating) -> str:
    how = f" in {coat.runs} runs from different sides" if coat.runs > 1 else ""
    return f"{_nm(coat.thickness)} of {coat.metal.name}{how}"


def _times(coat: Coating) -> str:
    time = coat.time
    return f"about {seconds(time.value)} in all ({seconds(time.low)} to {seconds(time.high)})"


def _steps(wish: Wish, coat: Coating, entry: Coat | None) -> Iterator[str]:
    specimen = wish.specimen
    if specimen.vacuum == "wet":
        yield "Dry it by the way its owner names before anything else; nothing wet is pumped."
    if specimen.vacuum == "oily":
        yield "Take off what is oily as its owner allows, and let every trace of solvent go."
    if wish.irreplaceable:
        yield (
            "It cannot be replaced, and a coat cannot be taken off again: only with the leave of "
            "its owner, and on a piece that has a second first."
        )
    yield from specimen.advice
    if not any(word in line.lower() for line in specimen.advice for word in ("bridge", "path")):
        yield (
            "Bridge it to the stub with conductive tape or dry paint before it is coated: without "
            "a path to earth the best coat charges."
        )
    share = disc_thickness(coat.at.radius, coat.at.distance, BESIDE)
    yield (
        f"Put it under the middle of the target, {_mm(coat.at.distance)} below it; "
        f"{_mm(BESIDE)} off the axis it gets {100 * share:.0f} %. A clean glass slip, half of it "
        "masked, beside it."
    )
    if specimen.relief != "smooth":
        yield _turning(wish, coat)
    if coat.bursts > 1:
        each = seconds(coat.time.value / coat.runs / coat.bursts)
        run = "it" if coat.runs == 1 else "each run"
        yield (
            f"It is soft: give {run} in {coat.bursts} bursts of about {each}, a minute of rest "
            "between them."
        )
    if entry is not None and entry.remark:
        yield entry.remark
    if wish.own is None:
        each = f"{seconds(coat.time.low / coat.runs)} from each side" if coat.runs > 1 else ""
        yield (
            f"Nobody knows this coater's rate: give {each or seconds(coat.time.low)} first, look "
            "at the slip, and add as much again until it looks as said below."
        )


def _turning(wish: Wish, coat: Coating) -> str:
    several = "one run" if coat.runs == 1 else f"{coat.runs} runs"
    each = f"{several} of {seconds(coat.time.value / coat.runs)}"
    if wish.machine.facts.get("rotation") == "yes":
        tilted = ", tilted anew between" if coat.runs > 1 else ""
        return f"Let the stage turn, tilted by 30 to 45 degrees if it can: {each}{tilted}."
    how = "turn it by half a turn and tilt it" if coat.runs == 2 else "lay the stub on another side"
    return f"{each}: high voltage off and vented, {how} after each."


def _reasons(rules: RuleBase, wish: Wish, coat: Coating, without: Bare | None) -> Iterator[str]:
    specimen, metal = wish.specimen, coat.metal
    detail, (fine, coarse) = wish.detail, metal.growth.grain
    seen = f"At {wish.magnification:g} times the eye tells {_nm(detail)} apart"
    grain = f"grains of {metal.name} are {format_number(fine * 1e9)} to {_nm(coarse)} wide"
    yield {
        "fits": f"{seen}; {grain} and stay out of sight.",
        "shows": f"{seen}; {grain}, so some will show.",
        "hides": f"{seen}; {grain}: that coat does not stay out of sight.",
    }[coat.fit]
    better = finer(rules, wish)
    if coat.fit != "fits" and better is not None:
        yield f"{better} would be fine enough, on a coater that has it."
    elif coat.fit != "fits":
        yield "No coat stays out of sight there: look without one at low voltage as well."
    head = wish.machine.facts.get("target", "other")
    if wish.metal is None and head not in ("other", coat.target):
        name = metal_named(head).name.capitalize()
        yield f"{name}, which is in the head, would hide what you want to see."
    elif wish.metal is None and head == "other":
        coarse_gold = fit_of(metal_named("gold"), detail) != "fits"
        why = "gold is too coarse here, and " if coarse_gold else ""
        yield (
            f"The metal in the head is not known: {why}this is the easiest that does; --metal asks "
            "for another."
        )
    joined = f"On glass or polymer {metal.name} joins up at {_nm(metal.growth.joined)}"
    extra = {
        "smooth": "; more would only bury detail.",
        "rough": "; faces that look away get less, so half as much again.",
        "undercut": "; sides and undercuts get a tenth to a half, so twice that, in several runs.",
    }[specimen.relief]
    yield joined + (
        extra if coat.thickness > metal.growth.joined * 1.01 else "; no more is needed."
    )
    yield from _beam(wish, without)
    if specimen.heat == "soft":
        flux = [heat_flux(metal, coat.thickness / coat.time.value, e) for e in ENERGY_AN_ATOM]
        low, high = (radiative_rise(f) for f in flux)
        yield (
            f"It is soft: farther from the target and in bursts; in one go it could get "
            f"{low:.0f} to {high:.0f} K warmer, and hotter still close to the glow."
        )
    if wish.own is None:
        yield (
            "Published rates at like settings differ fivefold, hence the wide times; one run with "
            "a slip narrows them to a fifth."
        )


def _beam(wish: Wish, without: Bare | None) -> Iterator[str]:
    material = material_named(wish.specimen.material)
    if LOWEST <= wish.beam <= HIGHEST:
        depth = electron_range(material, wish.beam)
        yield f"Electrons of {_kv(wish.beam)} get about {_length(depth)} deep into it."
    if wish.beam > DEEP_KV:
        yield (
            "That is far below any coat: 3 to 5 kV show its surface better and charge it less, "
            "so look there before you coat thicker."
        )
    if without is not None and not without.now:
        yield (
            f"Without a coat it wants {without.low / 1e3:.2g} to {without.high / 1e3:.2g} kV, "
            "where as many electrons leave as arrive."
        )


def _slip(entry: Coat | None, coat: Coating) -> str:
    if entry is None:
        return ""
    end = f"with {_nm(coat.thickness)} on it, on white paper: {_look(entry, coat.thickness)}."
    if coat.runs == 1:
        return end[0].upper() + end[1:]
    first = coat.thickness / coat.runs
    return (
        f"After the first run, with {_nm(first)} on it: {_look(entry, first)}. The slip lies flat "
        f"through all runs, so after the last, {end}"
    )


def _look(entry: Coat, thickness: float) -> str:
    return [look.looks for look in entry.witness if look.above * 1e-9 <= thickness * 1.001][-1]


def _lost(wish: Wish, coat: Coating, entry: Coat | None, xray: bool) -> Iterator[str]:
    yield from wish.specimen.lost
    wide = 2 * coat.thickness
    yield (
        f"Everything gets wider by up to {_nm(wide)}, and pores narrower than that close; say so "
        "where sizes are measured."
    )
    if coat.fit != "fits":
        yield "At this magnification the coat's own texture is part of the picture."
    if LOWEST <= wish.beam <= HIGHEST and not coat.metal.parts:
        through = electron_range(material_named(coat.metal.name), wish.beam)
        if coat.thickness > STOPS * through:
            yield (
                f"At {_kv(wish.beam)} the beam gets {_nm(through)} deep into {coat.metal.name}: "
                "you look at the coat and hardly at what lies below."
            )
    if xray and entry is not None:
        yield f"X-ray lines of {entry.covers} lie under those of the coat."
        yield "For X-ray work a coat of carbon is usual: it covers nothing but carbon."


def _calibrate(wish: Wish, coat: Coating) -> Iterator[str]:
    yield (
        "Coat a clean glass slip, half of it masked, where the specimen stands, for 60 s at "
        f"{_ampere(wish.current)}; nothing else is in."
    )
    yield (
        "Measure what it got: the step at the mask's edge, the weight of a foil before and after, "
        "the ohms of a square (closed films only), or what a thickness monitor beside it shows."
    )
    yield (
        f"Tell it once: troubleshoot machine rate --metal {coat.target} --current "
        f"{_ampere(wish.current).replace(' ', '')} --time 60s --step 12nm (or --mass 0.2mg --area "
        "1cm2, --resistance 12ohm, --monitor 12nm). From then on times are this coater's own."
    )


def _nm(metres: float) -> str:
    return f"{metres * 1e9:.2g} nm" if metres < 99.5e-9 else _length(metres)


def _length(metres: float) -> str:
    return f"{float(f'{metres * 1e9:.2g}'):g} nm" if metres < 0.95e-6 else f"{metres * 1e6:.2g} um"


def _mm(metres: float) -> str:
    return f"{format_number(metres * 1e3)} mm"


def _kv(volts: float) -> str:
    return f"{format_number(volts / 1e3)} kV"


def _ampere(amperes: float) -> str:
    return f"{format_number(amperes * 1e3)} mA"
