"""Small rule bases made up for tests, built from typed objects without any file."""

import itertools
import random
from dataclasses import asdict
from functools import cache

from troubleshoot.knowledge import model
from troubleshoot.knowledge.load import load

STATES = {
    "pumped": {"vented": 4.0},
    "vented": {"pumped": 12.0},
    "in_sem": {"vented": 15.0, "pumped": 30.0},
}
RECHECK = {
    "gone": {"cured": 0.9, "better": 0.06, "unchanged": 0.03, "worse": 0.01},
    "fewer": {"cured": 0.05, "better": 0.6, "unchanged": 0.3, "worse": 0.05},
    "same": {"cured": 0.03, "better": 0.1, "unchanged": 0.8, "worse": 0.07},
    "more": {"cured": 0.02, "better": 0.05, "unchanged": 0.33, "worse": 0.6},
    "never_was": {"cured": 0.35, "better": 0.15, "unchanged": 0.47, "worse": 0.03},
}


@cache
def _shipped() -> dict:
    return asdict(load().settings)


def settings(**changes) -> model.Settings:
    """Settings with the numbers below; one that no test here turns on is the shipped one."""
    values = {
        **_shipped(),
        "id": "settings",
        "source": "made up",
        "presence_per_share": 0.004,
        "odds_cap_up": 20.0,
        "odds_cap_down": 50.0,
        "sticky": 0.7,
        "fairly_sure": 0.85,
        "waiting_weight": 0.25,
        "service_minutes": 600.0,
        "minutes_a_bit": 12.0,
        "fetch_minutes": {"student": 0.0, "experienced": 10.0, "in_charge": 20.0, "service": 450.0},
        "spare_minutes": 90.0,
        "try_from": 0.0,
        "accept_from": 0.5,
        "accept_normal_minutes": 10.0,
        "proof_minutes": 6.0,
        "intermittent_passes": 0.3,
        "recheck": RECHECK,
    }
    return model.Settings.model_validate({**values, **changes})


def finding(name: str, kind: str, background: dict[str, float], **more) -> model.Finding:
    return model.Finding.model_validate(
        {
            "id": name,
            "source": "made up",
            "name": name,
            "ask": "?",
            "kind": kind,
            "answers": dict.fromkeys(background, "so"),
            "background": background,
            **more,
        }
    )


def cause(name: str, share: float = 2.0, strength: float | None = 0.8, **more) -> model.Cause:
    return model.Cause.model_validate(
        {
            "id": name,
            "source": "made up",
            "name": name,
            "what": name,
            "subsystem": "any",
            "nature": "fault",
            "share": share,
            "complaints": {} if strength is None else {"trouble": strength},
            "remedies": [],
            "today": {"verdict": "coat", "note": "so"},
            **more,
        }
    )


def action(name: str, kind: str = "check", **more) -> model.Action:
    values = {
        "id": name,
        "source": "made up",
        "kind": kind,
        "name": name,
        "say": "do it",
        "steps": ["do it"],
        "state": "any",
        "minutes": {"hands": 5.0},
    }
    return model.Action.model_validate({**values, **more})


def complaint(**changes) -> model.Complaint:
    values = {
        "id": "trouble",
        "source": "made up",
        "name": "trouble",
        "says": ["trouble"],
        "counts_when": "always",
        "place": "coater",
        "normal_share": 0.1,
        "unlisted_share": 0.08,
        "normal": "so",
        "still_there": "still?",
    }
    return model.Complaint.model_validate({**values, **changes})


def group(name: str, findings: list[str], chance: float = 0.1) -> model.Group:
    return model.Group.model_validate(
        {"id": name, "source": "made up", "name": name, "findings": findings, "chance": chance}
    )


def rule_base(
    causes=(), findings=(), actions=(), groups=(), complaints=None, **setting
) -> model.RuleBase:
    """A rule base of these entries (one complaint, `trouble`, unless told otherwise)."""
    empty = {
        k: {}
        for k in (
            "mechanisms",
            "cautions",
            "signs",
            "circumstances",
            "workarounds",
            "derivations",
        )
    }
    return model.RuleBase(
        hash="made_up",
        complaints={c.id: c for c in (complaints or [complaint()])},
        findings={f.id: f for f in findings},
        groups={g.id: g for g in groups},
        causes={c.id: c for c in causes},
        actions={a.id: a for a in actions},
        states={
            name: model.MachineState(id=name, source="made up", name=name, to=to)
            for name, to in STATES.items()
        },
        settings=settings(**setting),
        **empty,
    )


def shares(rng: random.Random, names: list[str], total: float = 1.0) -> dict[str, float]:
    """Random probabilities of `names` summing to `total`, none tiny."""
    raw = [rng.uniform(0.05, 1.0) for _ in names]
    return {n: total * x / sum(raw) for n, x in zip(names, raw, strict=True)}


KINDS = {
    "yes_no": [["yes", "no"]],
    "graded": [["none", "slight", "strong"], ["a0", "a1", "a2", "a3"], ["fine", "bad"]],
    "two_sided": [["low", "usual", "high"]],
    "choice": [["red", "green", "blue"], ["here", "there"]],
    "cure_test": [["gone", "same"], ["gone", "less", "same"]],
}


def random_finding(rng: random.Random, name: str, kind: str | None = None, **more):
    kind = kind or rng.choice(list(KINDS))
    answers = rng.choice(KINDS[kind])
    return finding(name, kind, shares(rng, answers), **more)


def random_rules(rng: random.Random, most_causes: int = 5, most_findings: int = 6):
    """A small random rule base with every feature that belief has to deal with."""
    n_findings = rng.randint(2, most_findings)
    names = [f"f_{n}" for n in range(n_findings)]
    findings = []
    for n, name in enumerate(names):
        replaces = [names[n - 1]] if n and rng.random() < 0.25 else []
        findings.append(random_finding(rng, name, replaces=replaces))
    causes = []
    for n in range(rng.randint(1, most_causes)):
        shows = {
            f.id: (
                rng.uniform(0.02, 0.98)
                if f.kind == "yes_no" and rng.random() < 0.5
                else shares(rng, list(f.answers))
            )
            for f in findings
            if rng.random() < 0.6
        }
        causes.append(
            cause(
                f"c_{n}",
                share=rng.uniform(0.2, 20.0),
                strength=rng.choice([None, rng.uniform(0.05, 0.95), rng.uniform(0.3, 0.95)]),
                intermittent=rng.random() < 0.4,
                shows=shows,
            )
        )
    if not any(c.complaints for c in causes):
        causes[0] = causes[0].model_copy(update={"complaints": {"trouble": 0.6}})
    rng.shuffle(names)
    cut = rng.randint(0, len(names))
    groups = [
        group(f"g_{n}", part, rng.uniform(0.02, 0.4))
        for n, part in enumerate((names[:cut], names[cut : cut + 2]))
        if part
    ]
    return rule_base(
        causes,
        findings,
        groups=groups,
        complaints=[
            complaint(
                normal_share=rng.uniform(0.02, 0.4),
                unlisted_share=rng.uniform(0.02, 0.3),
            )
        ],
        sticky=rng.uniform(0.3, 0.95),
        intermittent_passes=rng.uniform(0.1, 0.6),
    )


def subsets(items, most=None):
    """Every subset of `items` with at most `most` members, smallest first."""
    items = list(items)
    top = len(items) if most is None else min(most, len(items))
    for size in range(top + 1):
        yield from itertools.combinations(items, size)
