"""A drill on the simulated coater: the numbers that are read on it, and the curves that are drawn.

What a check shows is physics (`training.practice`) where all that is hidden can be simulated, and
where what follows from it is what the drill begins with.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from troubleshoot import units
from troubleshoot.knowledge.model import Action, RuleBase
from troubleshoot.training.answers import ANSWERS, image, pumping
from troubleshoot.training.drill.trouble import Trouble
from troubleshoot.training.figures import Curve, Micrograph
from troubleshoot.training.micrograph import micrograph
from troubleshoot.training.observed import HALF_AN_HOUR, TEN_MINUTES, Floats, Observed
from troubleshoot.training.pictures import STRENGTH
from troubleshoot.training.practice import FAULTS, Practice, start

TRIES = 6
"""So many coaters are tried until the physics gives rise to the complaint."""
NOT_SHOWN = ("pump_noise_oil", "programme_aborts", "vent_trouble", "low_pressure")
"""Complaints that no physics of the simulator gives rise to, or that come beside another."""
VACUUM = ("pressure_not_reached", "slow_pump_down")
MBAR = 100.0


@dataclass(frozen=True)
class AtTheCoater:
    """The simulated coater of a drill."""

    practice: Practice

    @property
    def at(self) -> Observed:
        """What is read and seen as things stand now."""
        return self.practice.at

    def with_only(self, causes: Iterable[str]) -> "AtTheCoater":
        """The same coater with these causes left."""
        return AtTheCoater(replace(self.practice, causes=list(causes), _at=None))

    @property
    def normal(self) -> dict[str, str]:
        """What is usual on this coater, as keys of its profile."""
        return {
            "usual_base": f"{_mbar(self.at.usual_base)} mbar",
            "usual_time": f"{max(self.at.usual_time, 10.0) / 60:.2g} min",
            "usual_rise": f"{max(60 * pumping.usual_rise(self.at) / MBAR, 1e-3):.2g} mbar/min",
            "usual_pressure": f"{_mbar(self.at.wanted)} mbar",
            "usual_current": f"{1e3 * self.at.usual_amps:.2g} mA",
        }

    def answer(self, finding: str) -> str | None:
        """A quantity as it was read, or an answer; None where physics cannot say."""
        read = READ.get(finding)
        if read is not None:
            return read(self.at)
        made = ANSWERS.get(finding)
        return made(self.at) if made is not None else None


def on_the_coater(trouble: Trouble, rules: RuleBase) -> AtTheCoater | None:
    """A simulated coater with the trouble of a drill; None where no physics shows it."""
    if trouble.known or any(c not in FAULTS for c in trouble.causes):
        return None
    for n in range(TRIES):
        practice = start(trouble.machine, trouble.causes, TRIES * trouble.seed + n, rules)
        if _begins(practice, trouble):
            return AtTheCoater(practice)
    return None


def _begins(practice: Practice, trouble: Trouble) -> bool:
    """Whether a drill may begin with what the physics shows."""
    shown, wanted = practice.complaint, trouble.complaint
    if not trouble.causes:
        return shown is None
    if wanted == "images_charge":  # who coats too thin may see it at the microscope first
        return image.picture(practice.at) != "clean"
    return shown == wanted or wanted in NOT_SHOWN or {shown, wanted} <= set(VACUUM)


def _mbar(pascal: float) -> str:
    return f"{max(pascal / MBAR, 1e-4):.2g}"


def _pressure(of: Callable[[Observed], float]) -> Callable[[Observed], str]:
    return lambda at: f"{_mbar(of(at))} mbar"


def _time(of: Callable[[Observed], float], unit: str) -> Callable[[Observed], str]:
    def read(at: Observed) -> str:
        seconds = of(at)
        if seconds > HALF_AN_HOUR:
            return "over 30 min"
        return f"{max(seconds, 10.0) / units.to_si(1, unit, 'time'):.2g} {unit}"

    return read


READ: Mapping[str, Callable[[Observed], str]] = {
    "base_loaded": _pressure(lambda at: at.base),
    "base_empty": _pressure(lambda at: at.base_empty),
    "pump_down_time": _time(lambda at: at.time_to(at.waited_for), "min"),
    "time_to_ten_mbar": _time(lambda at: at.time_to(1000.0), "s"),
    "rise_rate": lambda at: f"{max(60 * pumping.rise_in_a_minute(at) / MBAR, 1e-3):.2g} mbar/min",
}
"""Finding -> the number that is read off gauge and clock."""


def curve_of(check: str, at: Observed) -> Mapping[str, Curve]:
    """What a check draws: its heading and its curve."""
    t, pascal = at.log
    match check:
        case "timed_pump_down":
            down = t <= TEN_MINUTES
            return {"The last decades of the pump-down": _fall(t[down], pascal[down])}
        case "empty_pump_down":
            every = np.arange(0.0, TEN_MINUTES, 5.0)
            shown = np.array([at.reading(at.pumped_empty, s) for s in every])
            return {"The empty pump-down": _fall(every, shown)}
        case "rate_of_rise":
            up = t >= TEN_MINUTES
            rise = (t[up] - TEN_MINUTES, pascal[up] / MBAR)
            return {"The rise": _curve("after the valve was shut", *rise)}
        case "two_minute_hold" if at.glows:
            seconds, _ = at.watched
            amps = _curve("after it was switched on", seconds, 1e3 * at.amps, "mA")
            return {"The current": amps}
    return {}


def micrograph_of(check: Action, at: Observed) -> Micrograph | None:
    """The picture that follows from the coat, where a check looks at one."""
    if "picture_shows" not in check.reveals:
        return None
    kind = image.picture(at)
    pixels = micrograph(kind, seed=at.seed, strength=STRENGTH.get(kind, 1.0))
    return Micrograph("The picture, slow scan", pixels)


def _curve(name: str, seconds: Floats, values: Floats, unit: str = "mbar") -> Curve:
    return Curve(name, tuple(seconds.tolist()), tuple(values.tolist()), unit)


def _fall(seconds: Floats, pascal: Floats) -> Curve:
    """From where it falls below ten times the last reading."""
    kept = pascal <= 10 * max(float(pascal[-1]), 1e-2)
    return _curve("after the pump was started", seconds[kept], pascal[kept] / MBAR)
