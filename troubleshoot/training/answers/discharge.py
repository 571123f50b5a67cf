"""The glow and the high voltage that feeds it."""

import numpy as np

from troubleshoot.training.answers.bands import CLEARLY, banded, yes
from troubleshoot.training.glow import PINK, strikes
from troubleshoot.training.observed import HOLD, Observed


def permit_lamp(at: Observed) -> str:
    return "lit" if at.head.permitted else "unlit"


def hv_controls(at: Observed) -> str:
    return "set" if at.head.demand > 0 else "zero_or_other_mode"


def hv_volts(at: Observed) -> str:
    head = at.head
    if not head.permitted or head.voltage * head.demand <= 0:
        return "zero"
    if head.shorted:
        return "low_high_current"
    return "usual" if at.glows else "high_no_current"


def glow(at: Observed) -> str:
    if not at.glows:
        return "none"
    return "full" if np.max(at.amps) - at.head.leaks > 0.4 * at.usual_amps else "faint_or_patchy"


def glow_colour(at: Observed) -> str | None:
    if not at.glows:
        return None
    # A pump gives back a little air on a good day too.
    good = Observed(at.sound, at.sound, at.seed).air_share[1]
    first, last = (share > PINK + good for share in at.air_share)
    return {(True, True): "pink", (True, False): "pink_then_usual"}.get((first, last), "usual")


def ring_glow(at: Observed) -> str | None:
    if not at.glows:
        return None
    return "even" if at.head.magnet > 0.6 else "weak_or_uneven"


def flashes(at: Observed) -> str | None:
    if not at.glows:
        return None
    return "target_or_shield" if at.head.arcs > 1 else "none"


def current_at_reference(at: Observed) -> str:
    share = at.at_reference / at.usual_amps
    return banded(share, (0.05, 0.65, 1.6), ("zero", "low", "usual", "high"))


def current_over_time(at: Observed) -> str | None:
    if not at.glows:
        return None
    if np.isfinite(at.head.trips) and at.head.trips < HOLD:
        return "cuts_out"
    if at.head.arcs > 1:
        return "flickers"
    first, last = float(np.median(at.amps[:20])), float(np.median(at.amps[-20:]))
    if first < 0.05 * at.usual_amps:
        return None  # it strikes only on the way
    return banded(last / first, (0.9, 1.1), ("drifts_down", "steady", "drifts_up"))


def current_sweep(at: Observed) -> str | None:
    if at.head.leaks > 0.1 * at.usual_amps or at.head.shorted:
        return "current_without_glow"
    return "smooth" if at.glows else None


def returns_after_rest(at: Observed) -> str | None:
    return "yes" if at.head.trips < HOLD and at.glows else "no"


def glow_against_gauge(at: Observed) -> str | None:
    """The dark layer goes with the true pressure: beside what is usual at this reading."""
    if not at.glows:
        return None
    true = float(at.watched[1].sum(axis=1).mean())
    shown = at.reading(at.gas, at.gas.seconds[-1])
    usual = at.sound.head.pressure / at.wanted
    ratio = true / max(shown, 1e-3) / usual
    return banded(ratio, (1 / CLEARLY, CLEARLY), ("looks_lower", "fits", "looks_higher"))


def insulation(at: Observed) -> str:
    return "shorted" if at.head.shorted else "leaky" if at.head.leaks else "sound"


def hv_contact(at: Observed) -> str:
    return "sound" if at.head.contact else "loose_or_burnt"


def shield_gap(at: Observed) -> str:
    return "bridged" if at.head.shorted else "clear"


def insulator_state(at: Observed) -> str:
    return "metallised" if at.head.leaks else "clean"


def needle_nudge(at: Observed) -> str:
    """Half as much argon again: does it strike, and stay?"""
    _, partial = at.watched
    more = partial[-1] + np.array([0.0, 0.0, 0.5 * partial[-1].sum()])
    if at.plant.coater.line.most < 0.01 * at.sound.coater.line.most:
        more = partial[-1]
    if not strikes(at.head, more):
        return "no_effect"
    return "strikes_and_stays" if at.head.trips > HOLD else "strikes_then_dies"


def presputter_clears(at: Observed) -> str | None:
    """Whether two or three minutes of the glow bring the current back."""
    if not at.glows or not at.head.dirt:
        return None
    return yes(abs(at.head.dirt) * float(np.exp(-180.0 / at.head.cleans)) < 0.1)
