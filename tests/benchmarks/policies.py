"""What our planner is compared with: other ways to get through a case on the whole rule base.

All of them repair by probability over cost, the belief kept up to date, and call service when no
remedy is worth its minutes any more. They differ in what they ask before.
"""

import math
from functools import cache

import numpy as np

from tests.benchmarks.sessions import Policy, follow_plan, opened
from troubleshoot.case.diagnose import Bench, Diagnosis
from troubleshoot.reasoning.planner import (
    ACCEPT,
    MOST_OUTCOMES,
    MOSTLY,
    SERVICE,
    Option,
    Planner,
)

SURE = 0.8  # above this probability of one cause "bits a minute" stops asking

# What a good checklist asks first: judgement.
FIRST_FOUR = {
    "slow_pump_down": ("timed_pump_down", "rate_of_rise", "look_at_seals", "read_knobs"),
    "pressure_not_reached": ("timed_pump_down", "rate_of_rise", "look_at_seals", "read_knobs"),
    "no_strike": ("read_panel", "look_at_glow", "pressure_sweep", "read_cylinder"),
    "unstable_current": ("look_at_glow", "two_minute_hold", "timed_pump_down", "read_cylinder"),
    "uneven_coat": ("measure_geometry", "slip_map", "backscatter_map", "read_settings"),
    "images_charge": ("watch_live", "read_sem_settings", "ohm_to_stub", "read_settings"),
    "too_thin": ("read_settings", "witness_slip", "measure_geometry", "look_at_head"),
    "too_thick": ("read_settings", "ask_run", "witness_slip", "grain_magnification"),
    "discoloured": ("look_at_coat", "look_at_glow", "timed_pump_down", "look_at_head"),
    "specimen_damage": ("look_at_damage", "ask_handling", "vent_by_the_clock", "feel_stub"),
    "pump_noise_oil": ("listen", "look_at_pump", "look_round_pump", "read_knobs"),
    "gauge_odd": ("gauge_at_air", "move_gauge_cable", "second_gauge_check", "read_knobs"),
    "vent_trouble": (
        "ask_venting",
        "vent_by_the_clock",
        "look_at_vent_inlet",
        "listen_for_vent_valve",
    ),
}


def parts(bench: Bench, case: Diagnosis) -> tuple[Planner, np.ndarray]:
    """The planner of the case and the weight of each hypothesis."""
    assert case.known.complaint is not None
    assert case.belief is not None
    planner = bench.planner(case.known.complaint)
    w = planner.weights(case.belief)
    return planner, w / w.sum()


def offered(case: Diagnosis) -> dict[str, Option]:
    """The checks on offer, those that were done before a remedy left out."""
    assert case.plan is not None
    done = {action for _, action in case.known.checked}
    checks = (o for o in case.plan.options if o.kind == "check" and o.action not in done)
    return {o.action: o for o in checks if o.action is not None}


def repair(bench: Bench, case: Diagnosis) -> Option:
    """The remedy with most probability over cost; service when it is not worth its minutes.

    Before service they look once more whether it is gone, as our planner does.
    """
    assert case.plan is not None
    planner, w = parts(bench, case)
    fixes = {a.id: planner.fixes[n] for n, a in enumerate(planner.actions)}
    service = bench.rules.settings.service_minutes
    best, ratio = Option(SERVICE, None, service, service), 1.0 / service
    for option in case.plan.options:
        if option.kind == ACCEPT:
            gain = float(w[0])
        elif option.kind == "remedy" and option.action is not None:
            gain = float(fixes[option.action] @ w)
        else:
            continue
        if gain / option.cost > ratio:
            best, ratio = option, gain / option.cost
    if best.kind == SERVICE and w[0] >= MOSTLY and ACCEPT not in case.situation.closed:
        best = Option(ACCEPT, None, service, bench.rules.settings.accept_normal_minutes)
    return best


def ask_then_repair(bench: Bench, case: Diagnosis, checks: tuple[str, ...]) -> Option:
    """The next of `checks` that still tells something, else the next remedy."""
    on_offer = offered(case)
    return next((on_offer[c] for c in checks if c in on_offer), None) or repair(bench, case)


def first_four(bench: Bench, case: Diagnosis) -> Option:
    """The four first checks of the complaint, then repairs."""
    assert case.known.complaint is not None
    return ask_then_repair(bench, case, FIRST_FOUR[case.known.complaint])


def full_checklist(bench: Bench, case: Diagnosis) -> Option:
    """The four first checks, then every other check that bears on the complaint, cheapest first."""
    assert case.known.complaint is not None
    return ask_then_repair(bench, case, checklist(bench, case.known.complaint))


@cache
def checklist(bench: Bench, complaint: str) -> tuple[str, ...]:
    """All checks that tell something when the complaint comes in, in a fixed order."""
    rest = sorted(offered(bench.assess(opened(bench, complaint))).values(), key=lambda o: o.cost)
    first = FIRST_FOUR[complaint]
    return (*first, *(o.action for o in rest if o.action is not None and o.action not in first))


def bits_a_minute(bench: Bench, case: Diagnosis) -> Option:
    """The check with most bits a minute until one hypothesis is above `SURE`, then repairs."""
    planner, w = parts(bench, case)
    checks = offered(case)
    if not checks or w.max() > SURE:
        return repair(bench, case)
    assert case.situation is not None
    answered = case.situation.answered
    return max(checks.values(), key=lambda o: bits(planner, w, o.action, answered) / o.cost)


def bits(planner: Planner, w: np.ndarray, action: str | None, answered: frozenset[str]) -> float:
    """Mutual information between the joint outcome of an action and the hypothesis."""
    assert action is not None
    joint = np.ones((1, len(w)))
    for f in planner.rules.actions[action].reveals:
        if f not in planner.net.findings or f in answered:
            continue
        p = planner.answers(f)
        if len(joint) * len(p) > MOST_OUTCOMES:
            break
        joint = (joint[:, None, :] * p).reshape(-1, len(w))
    return information(joint, w)


def information(joint: np.ndarray, w: np.ndarray) -> float:
    """Bits that an outcome with chances `joint` (outcomes, hypotheses) tells of the hypothesis."""
    mean = joint @ w
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = np.where(joint > 0, joint * np.log2(joint / mean[:, None]), 0.0)
    return float((terms @ w).sum())


def entropies(bench: Bench, complaint: str) -> tuple[float, float]:
    """Bits to tell the hypotheses apart when the complaint comes in, and to tell the remedies.

    No plan that asks yes/no questions and then knows which cause it is needs fewer questions on
    average than the first number (Shannon 1948); with causes of the same best remedy taken
    together, than the second. A remedy tried is an answer too.
    """
    planner, w = parts(bench, bench.assess(opened(bench, complaint)))
    groups: dict[int, float] = {}
    for h, p in enumerate(w):
        best = int(planner.fixes[:, h].argmax()) if planner.fixes[:, h].any() else -1 - h
        groups[best] = groups.get(best, 0.0) + float(p)
    return entropy(w.tolist()), entropy(list(groups.values()))


def entropy(p: list[float]) -> float:
    """In bits."""
    return -sum(x * math.log2(x) for x in p if x > 0)


POLICIES: dict[str, Policy] = {
    "our planner": follow_plan,
    "four checks, then repairs": first_four,
    "fixed checklist, then repairs": full_checklist,
    "bits a minute": bits_a_minute,
}
