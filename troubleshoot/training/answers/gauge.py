"""How the gauge shows what is there."""

from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.training.answers.bands import CLEARLY, banded, yes
from troubleshoot.training.observed import TEN_MINUTES, Observed


def gauge_at_atmosphere(at: Observed) -> str:
    gauge = at.plant.gauge
    shows = ATMOSPHERE * gauge.scale + gauge.zero
    if gauge.top < ATMOSPHERE / 2:
        shows = gauge.top
    return "correct" if 0.6 < shows / ATMOSPHERE < 1.7 else "short"


def gauge_response(at: Observed) -> str:
    gauge = at.plant.gauge
    if gauge.noise > 0.15:
        return "erratic"
    return "sluggish" if gauge.lag > 4 else "prompt"


def second_gauge(at: Observed) -> str:
    known = at.reading(at.pumped, TEN_MINUTES, at.sound.gauge)
    ratio = at.base / max(known, 1e-3)
    return banded(ratio, (1 / CLEARLY, CLEARLY), ("coater_low", "agrees", "coater_high"))


def gauge_wiggle(at: Observed) -> str:
    return yes(at.plant.gauge.noise > 0.15)
