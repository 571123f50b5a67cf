"""Steps without their caution, effects that are not declared, jobs for the wrong hands.

The words that give a hazard away live here and not in the rules, so that a folder of rules cannot
switch off the check of its own cautions.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from troubleshoot.knowledge import model
from troubleshoot.knowledge.effects import EFFECTS, WITH, Effect, by_state, by_text
from troubleshoot.knowledge.lint.remarks import Check, Found, RulesSeen


@dataclass(frozen=True)
class Hazard:
    """What an action's state or words give away, and the cautions of which one has to be named."""

    what: str
    cautions: frozenset[str]
    words: str = ""
    states: frozenset[str] = frozenset()


def _hazard(what: str, cautions: str, words: str = "", states: str = "") -> Hazard:
    return Hazard(what, frozenset(cautions.split()), words, frozenset(states.split()))


# Words are regular expressions. A sentence that forbids a thing does not do it.
HAZARDS = (
    _hazard(
        "a discharge under high voltage",
        "high_voltage",
        r"\bdemand\b|\bhigh voltage (demanded|on)\b",
        states="coating",
    ),
    _hazard("work with the mains plug out", "lock_out", states="unplugged"),
    _hazard("a pump at standstill", "oil_suck_back", states="pump_off"),
    _hazard(
        "a solvent",
        "solvents wet_paint",
        r"\b(isopropanol|acetone|ethanol|alcohol|solvents?)\b",
    ),
    _hazard("glass under vacuum", "glass_under_vacuum", r"\bguard (stays |is )?(on|in place)\b"),
    _hazard("pump oil", "used_pump_oil", r"\b(drain|flush) [^.]*\b(oil|pump|can)\b"),
    _hazard(
        "a gas cylinder",
        "compressed_gas argon_in_room argon_overpressure regulator_creep",
        r"\b(open|change|move|undo) the (argon )?(cylinder|regulator)\b",
    ),
    _hazard("a hot pump", "hot_pump", r"\bhand near the pump\b|\bpump (is |until it is )?hot\b"),
    _hazard("metal dust", "metal_dust", r"\b(wipe|lift|take|brush)\b[^.]*\bflakes\b"),
    _hazard("heat", "hot_specimen", r"\b(warm|heat) it\b|\boven\b"),
    _hazard("a heavy load", "manual_handling", r"\b(carry|lift) the (pump|cylinder)\b"),
)


def hazard_without_caution(view: RulesSeen) -> Iterator[Found]:
    """What is dangerous has to name its caution."""
    for action in view.rules.actions.values():
        for hazard in HAZARDS:
            if _runs_into(action, hazard) and not hazard.cautions & set(action.hazards):
                yield Found(
                    view.at(action),
                    f"{action.id!r} means {hazard.what} and names no caution for it",
                    f"add {' or '.join(sorted(hazard.cautions))} to its `hazards`",
                )


def _runs_into(action: model.Action, hazard: Hazard) -> bool:
    return action.state in hazard.states or runs_into(_told(action), hazard)


def runs_into(text: str, hazard: Hazard) -> bool:
    """Whether a text tells one to do what the words of a hazard give away."""
    return bool(hazard.words and _says(text, hazard.words))


def _told(action: model.Action) -> str:
    return " ".join([action.say, *action.steps])


def _says(text: str, words: str) -> bool:
    """Whether a sentence tells one to do it (and does not forbid it)."""
    for sentence in re.split(r"[.;!?]\s", text):
        hit = re.search(words, sentence, re.IGNORECASE)
        forbids = r"\b(no|not|never|without|nor)\b"
        if hit and not re.search(forbids, sentence[: hit.start()], re.IGNORECASE):
            return True
    return False


Doing = model.Action | model.Workaround


def _doings(view: RulesSeen) -> Iterator[Doing]:
    yield from view.rules.actions.values()
    yield from view.rules.workarounds.values()


def _given_away(doing: Doing) -> frozenset[Effect]:
    """What text and machine state give away of what it does; in the microscope nothing."""
    if isinstance(doing, model.Action):
        if doing.state == "in_sem" and doing.leaves is None:
            return frozenset()
        return by_text([doing.say, *doing.steps]) | by_state(doing.state, doing.leaves)
    return by_text(doing.steps)


def effect_not_declared(view: RulesSeen) -> Iterator[Found]:
    """Cautions ban by what an action declares that it does, so nothing may be missing there."""
    for doing in _doings(view):
        missing = _given_away(doing) - doing.effects - set(doing.spoken_of)
        for word in sorted(missing):
            if not any(word in WITH.get(other, ()) for other in missing):
                yield Found(
                    view.at(doing),
                    f"the text of {doing.id!r} sounds as if {EFFECTS[word]}, undeclared",
                    f"add {word!r} to its `does`, or the reason why not to `spoken_of`",
                )


def effect_declared_twice(view: RulesSeen) -> Iterator[Found]:
    """A word that follows from another, or from the machine state, only hides what matters."""
    for doing in _doings(view):
        states = by_state(doing.state, doing.leaves) if isinstance(doing, model.Action) else ()
        for word in doing.does:
            if word in states or any(word in WITH.get(other, ()) for other in doing.does):
                yield Found(
                    view.at(doing, "does"),
                    f"{word!r} of {doing.id!r} follows from the rest",
                    "leave it out",
                )


def spoken_of_in_vain(view: RulesSeen) -> Iterator[Found]:
    """An exception that nothing needs would hide a declaration that is missing later."""
    for doing in _doings(view):
        for word in doing.spoken_of:
            if word in doing.effects or word not in _given_away(doing):
                yield Found(
                    view.at(doing, "spoken_of", word),
                    f"nothing in {doing.id!r} needs the exception {word!r}",
                    "remove it",
                )


BRINGS: Mapping[Effect, frozenset[str]] = {
    "discharge": frozenset({"high_voltage"}),
    "under_vacuum": frozenset({"glass_under_vacuum"}),
    "guard_off": frozenset({"lock_out", "high_voltage", "damaged_glass", "glass_under_vacuum"}),
    "presses_glass": frozenset({"glass_under_vacuum", "damaged_glass"}),
}


def effect_without_caution(view: RulesSeen) -> Iterator[Found]:
    """What is done to the machine brings its hazard with it."""
    for doing in _doings(view):
        for word, cautions in BRINGS.items():
            there = cautions & set(view.rules.cautions)
            if word in doing.effects and there and not there & set(doing.hazards):
                yield Found(
                    view.at(doing),
                    f"{doing.id!r} means that {EFFECTS[word]} and names no caution for it",
                    f"add {' or '.join(sorted(there))} to its `hazards`",
                )


def stop_without_ban(view: RulesSeen) -> Iterator[Found]:
    """What stops everything has to forbid something afterwards, or "made safe" re-opens it all."""
    for caution in view.rules.cautions.values():
        if caution.stop_now and not caution.bans:
            yield Found(
                view.at(caution),
                f"the caution {caution.id!r} stops everything and bans nothing afterwards",
                "name under `bans` what must not be done before it is repaired and proved",
            )


def plug_out_for_student(view: RulesSeen) -> Iterator[Found]:
    """With the plug out one mends the machine itself: not a student's job alone (to look is)."""
    for action in view.rules.actions.values():
        if action.kind == "remedy" and action.state == "unplugged" and action.role == "student":
            yield Found(
                view.at(action),
                f"{action.id!r} needs the mains plug out and is given to a student",
                "give it the role `experienced` or higher",
            )


COVER = (
    r"\b(open|take|take off|remove|undo|unscrew|lift) (off )?(a|any|the|its) ([a-z]+ )?"
    r"(cover|cabinet|housing|casing)\b"
)


def cover_for_student(view: RulesSeen) -> Iterator[Found]:
    """Behind a cover is mains or high voltage."""
    for action in view.rules.actions.values():
        if action.role == "student" and _says(_told(action), COVER):
            yield Found(
                view.at(action, "steps"),
                f"{action.id!r} tells a student to open a cover",
                "give it to `in_charge` or `service`, or leave the cover on",
            )


SAFETY: tuple[Check, ...] = (
    hazard_without_caution,
    effect_not_declared,
    effect_declared_twice,
    spoken_of_in_vain,
    effect_without_caution,
    stop_without_ban,
    plug_out_for_student,
    cover_for_student,
)
