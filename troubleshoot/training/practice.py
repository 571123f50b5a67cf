"""The simulated coater as somebody works at it: start it with hidden causes, look, do, read.

    practice = start(machine, ["seal_dirty"], seed=3, rules=rules)
    practice.complaint                  # what it would be brought in for, or None: nothing is wrong
    seen = practice.look("rate_of_rise")
    seen.answers                        # {"rise_rate": "fast", ...}: finding -> answer, by physics
    seen.unsaid                         # findings of this check that the simulator cannot say
    practice.log()                      # a log as a logger writes it (CSV)
    practice.do("wipe_and_reseat_seals").now   # "cured": of that complaint, "better" or "unchanged"
    practice.minutes                    # spent so far, as the rules reckon them

Nothing here reads a probability of the rule base: of its remedies, only which causes they are for.
Nothing is written anywhere.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import Action, RuleBase
from troubleshoot.training.answers import ANSWERS, argon, coat, discharge, gauge, image, pumping
from troubleshoot.training.answers.bands import CLEARLY
from troubleshoot.training.faults.glow import GLOW
from troubleshoot.training.faults.looks import LOOKS
from troubleshoot.training.faults.vacuum import VACUUM, Fault
from troubleshoot.training.log import pressure_log
from troubleshoot.training.observed import Observed
from troubleshoot.training.plant import Plant, sound_plant

Now = Literal["cured", "better", "unchanged"]

FAULTS: Mapping[str, Fault] = {**VACUUM, **GLOW}
"""Cause ID -> what it does to a plant: the causes that the simulator can express."""


@dataclass(frozen=True)
class Seen:
    """What came of a check or a remedy. `answers`: finding ID -> answer ID. `unsaid`: findings that
    the simulator cannot say. `now`: what a remedy made of the complaint. `minutes` it took."""

    answers: Mapping[str, str] = field(default_factory=dict)
    unsaid: tuple[str, ...] = ()
    now: Now | None = None
    minutes: float = 0.0


@dataclass
class Practice:
    """A coater with hidden causes, and the minutes spent at it. `start` makes one."""

    rules: RuleBase
    machine: Machine
    causes: list[str]
    seed: int
    sound: Plant
    minutes: float = 0.0
    _at: Observed | None = None

    @property
    def at(self) -> Observed:
        """What is read and seen as things stand now."""
        if self._at is None:
            plant = self.sound
            for cause in self.causes:
                # Each cause is as bad as it was, whatever else is mended.
                rng = np.random.default_rng([self.seed, *cause.encode()])
                plant = FAULTS[cause](plant, rng)
                plant = replace(plant, seen={**LOOKS.get(cause, {}), **plant.seen})
            self._at = Observed(plant, self.sound, self.seed)
        return self._at

    @property
    def complaint(self) -> str | None:
        """The complaint that the physics gives rise to, the plainest first; None: all is well."""
        return complaint_of(self.at)

    def look(self, check: str) -> Seen:
        """Do a check. Raises `UserError` for one that is not in the rules."""
        action = self._action(check)
        said, unsaid = {}, []
        for finding in action.reveals:
            made = ANSWERS.get(finding)
            answer = made(self.at) if made is not None else None
            if answer is None:
                unsaid.append(finding)
            else:
                said[finding] = answer
        return Seen(said, tuple(unsaid), None, self._spend(check))

    def do(self, remedy: str) -> Seen:
        """Do a remedy: the causes that it is for are mended."""
        mends = self._action(remedy).cures
        before = self.at
        self.causes = [c for c in self.causes if not mends.get(c)]
        self._at = None
        return Seen(now=changed(before, self.at), minutes=self._spend(remedy))

    def log(self, unit: str = "mbar") -> str:
        """A log of ten minutes of pumping and five with the valve shut, as a logger writes it."""
        seconds, pascal = self.at.log
        return pressure_log(seconds, pascal, unit)

    def _action(self, name: str) -> Action:
        if name not in self.rules.actions:
            raise UserError(f"{name!r} is no check or remedy of these rules.")
        return self.rules.actions[name]

    def _spend(self, name: str) -> float:
        spent = self.rules.actions[name].minutes
        minutes = spent.hands + spent.wait
        self.minutes += minutes
        return float(minutes)


def start(machine: Machine, causes: Sequence[str], seed: int, rules: RuleBase) -> Practice:
    """A coater after a profile with hidden causes.

    Raises `UserError` for a cause that the simulator cannot show.
    """
    for cause in causes:
        if cause not in FAULTS:
            raise UserError(f"The simulator cannot show {cause!r}.")
    sound = sound_plant(np.random.default_rng(seed), machine)
    return Practice(rules, machine, list(causes), seed, sound)


def changed(before: Observed, after: Observed) -> Now:
    """What somebody would say of the complaint after something was done."""
    was, now = complaint_of(before), complaint_of(after)
    how_bad = {
        "pressure_not_reached": lambda at: at.base,
        "slow_pump_down": lambda at: at.time_to(at.waited_for),
    }
    if was == "pressure_not_reached" and now == "slow_pump_down":
        return "better"
    if was != now:
        return "cured"
    number = how_bad.get(was or "")
    better = number is not None and number(after) * CLEARLY < number(before)
    return "better" if better else "unchanged"


def complaint_of(at: Observed) -> str | None:
    """What somebody would complain of, from what they would notice first."""
    base, time = pumping.base_loaded(at), pumping.pump_down_time(at)
    if base in ("high", "very_high") or time == "never":
        return "pressure_not_reached"
    if time == "much_longer":
        return "slow_pump_down"
    if not at.glows:
        return "no_strike"
    if discharge.current_over_time(at) in ("drifts_down", "drifts_up", "flickers", "cuts_out"):
        return "unstable_current"
    if coat.film_hue(at) == "brown_or_sooty":
        return "discoloured"
    if coat.film_spread(at) == "one_side":
        return "uneven_coat"
    density = coat.slip_density(at)
    if density in ("none", "lighter"):
        return "too_thin"
    if density == "darker":
        return "too_thick"
    if argon.low_reading(at) in ("far_lower", "zero_or_below"):
        return "low_pressure"
    if image.picture(at) != "clean":
        return "images_charge"
    odd = gauge.second_gauge(at) != "agrees" or gauge.gauge_response(at) != "prompt"
    return "gauge_odd" if odd else None
