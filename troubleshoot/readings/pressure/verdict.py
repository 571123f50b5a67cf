"""Which stories the curves leave possible, and how likely each is."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from troubleshoot.readings.pressure.numbers import SPEED_UNSURE
from troubleshoot.readings.pressure.parts import DECISIVE, Part, still_falls
from troubleshoot.readings.reading import Estimate

GAS_SHARE, PUMP_SHARE = 0.5, 0.25
"""Gas explains a base of which it makes at least half; the pump, one of which gas makes less than a
quarter. Judgement."""
PURE = ("leak", "vapour", "virtual_leak")


@dataclass(frozen=True)
class Account:
    """`story` is None when `rivals` (best first) cannot be told apart, or when there are none."""

    story: str | None
    rivals: tuple[str, ...]
    log_likelihoods: Mapping[str, float] = field(default_factory=dict)


def verdict_of(pump: Part | None, rise: Part | None, numbers: Mapping[str, Estimate]) -> Account:
    """The stories that the curves leave possible. Where there is a rise, the rise decides.

    A leak together with vapour must fit better by `DECISIVE` than either alone, and a tail after
    the fall counts only if the pressure is still falling: else the simpler story stands.
    """
    if rise is not None:
        kinds = rise.comparison.kinds()
        shapes = {k: v for k, v in kinds.items() if k in PURE}
        best = max(shapes.values(), default=0.0)
        if kinds.get("leak_and_vapour", -math.inf) - best >= DECISIVE:
            shapes, best = {"leak_and_vapour": 0.0}, 0.0
        gas, weak = share_likelihoods(numbers["gas_share_of_base"])
        told = {story: value - best + gas for story, value in shapes.items()}
        told["weak_pump"] = weak
    elif pump is not None:
        kinds = pump.comparison.kinds()
        told = {"leak": kinds["settles"], "weak_pump": kinds["settles"]}
        tails = [kinds[k] for k in ("vapour", "virtual_leak") if k in kinds]
        if tails and still_falls(pump.comparison.best, float(pump.data.seconds[-1])):
            # A tail is a tail: what feeds it a fall alone does not say.
            told |= dict.fromkeys(("vapour", "virtual_leak"), max(tails))
    else:
        return Account(None, ())
    top = max(told.values())
    told = {k: v - top for k, v in sorted(told.items(), key=lambda item: -item[1])}
    rivals = tuple(k for k, v in told.items() if v > -DECISIVE)
    return Account(rivals[0] if len(rivals) == 1 else None, rivals, told)


def share_likelihoods(share: Estimate) -> tuple[float, float]:
    """ln-likelihood of "gas makes the base" and of "the pump makes it" from the gas share."""
    value = max(share.value, 1e-6)
    spread = max(share.sigma / value, SPEED_UNSURE)
    if spread > 1:  # the rise is lost in the noise: only an upper limit is known
        value, spread = value + share.sigma, 0.7
    gas = max(0.0, math.log(GAS_SHARE / value)) / spread
    weak = max(0.0, math.log(value / PUMP_SHARE)) / spread
    return -0.5 * gas**2, -0.5 * weak**2


def odds_of(rise: Part, numbers: Mapping[str, Estimate]) -> dict[str, float]:
    """P(story) by the weights of the curves and by how much gas explains, stories alike before."""
    gas, weak = (math.exp(x) for x in share_likelihoods(numbers["gas_share_of_base"]))
    kinds = {k: rise.comparison.probability(k) for k in (*PURE, "leak_and_vapour")}
    told = {k: p * gas for k, p in kinds.items()} | {"weak_pump": sum(kinds.values()) * weak}
    total = sum(told.values()) or 1.0
    return {k: p / total for k, p in told.items()}
