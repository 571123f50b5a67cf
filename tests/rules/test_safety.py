"""What is offered never contradicts a caution in force, in any state of the machine.

Proved from the rules for every action that may be offered (not only the one that is proposed), over
the demo cases and ten thousand random situations; no probability is involved. The usual
precautions are common practice; where a published one stands behind a rule it is named there.
"""

import random
import re
from pathlib import Path

import pytest

from troubleshoot.cli.setup import demo_files
from troubleshoot.investigation import advice
from troubleshoot.investigation.casefile import read_case
from troubleshoot.investigation.journal import append
from troubleshoot.investigation.state import Bench
from troubleshoot.knowledge.machine import FACTS, Machine

AT = "2026-01-05T09:00:00"
UNDER_VACUUM = ("pumped", "coating")
DAMAGED = ("chip_on_seal_face", "crack_or_scratch")
ELECTRICAL = (
    "smell_or_smoke", "crackle_outside", "tingle_or_shock", "glow_outside", "bridged_interlock",
    "liquid_inside",
)  # fmt: skip


def offered(bench, base):
    """Every action that may be offered."""
    planner = bench.planner(base.known.complaint)
    return planner.offered(bench.situation(base))


def check(bench, base):
    """All that must hold of what is offered in one situation."""
    known = base.known
    now = {s.finding: s.answer for s in base.seen if s.epoch == known.epoch}
    damaged = now.get("glass_rim") in DAMAGED or known.signs.get("chip_or_crack")
    electrical = any(known.signs.get(s) for s in ELECTRICAL)
    for action in offered(bench, base):
        if damaged:
            assert action.state not in UNDER_VACUUM, f"{action.id} pumps damaged glass"
            assert action.leaves not in UNDER_VACUUM, f"{action.id} pumps damaged glass"
        if electrical and action.role != "service":
            assert "high_voltage" not in action.hazards, f"{action.id} after an electrical sign"
            assert action.state != "coating", f"{action.id} after an electrical sign"
        if known.irreplaceable:
            assert action.specimen == "safe", f"{action.id} marks what must not be marked"
        assert bench.machine.allows(action.machine), f"{action.id} is not for this machine"
    if base.cautions and any(
        bench.rules.cautions[c].stop_now and c not in known.made_safe for c in base.cautions
    ):
        assert base.stop is not None
        assert advice.next_step(base).kind == "stop"


FIELD = sorted((Path(__file__).parent.parent / "field").glob("case-*.yaml"))


@pytest.mark.parametrize("path", [*demo_files(), *FIELD], ids=lambda p: p.stem)
def test_demo_and_field_cases_offer_nothing_that_a_caution_forbids(path: Path, rules):
    case = read_case(path, rules, AT)
    bench = Bench(rules, case.machine)
    for length in range(len(case.journal) + 1):
        base = bench.deduce(case.journal[:length])
        if base.known.complaint is not None:
            check(bench, base)


def random_machine(rng):
    """A coater of which a random part is known."""
    return Machine(facts={k: rng.choice(v) for k, v in FACTS.items() if rng.random() < 0.6})


def random_journal(rules, rng):
    """A journal drawn at random: signs, state, specimen, role, findings, anything."""
    journal = ()

    def add(kind, **data):
        nonlocal journal
        journal = append(journal, AT, kind, rules, **data)

    if rng.random() < 0.3:
        add("sign", sign=rng.choice(list(rules.signs)), present=True)
    add("complaint", complaint=rng.choice(list(rules.complaints)))
    if rng.random() < 0.8:
        add("state", state=rng.choice([s for s in rules.states if s != "any"]))
    if rng.random() < 0.4:
        add("specimen", irreplaceable=True)
    add("role", role=rng.choice(["student", "experienced", "in_charge"]))
    if rng.random() < 0.4:
        for caution in (c for c in rules.cautions.values() if c.stop_now):
            add("made_safe", caution=caution.id)
    names = rng.sample(list(rules.findings), rng.randint(0, 6))
    if rng.random() < 0.3 and "glass_rim" not in names:
        names.append("glass_rim")
    for name in names:
        add("finding", finding=name, answer=rng.choice(list(rules.findings[name].answers)))
    return journal


def test_ten_thousand_random_situations_offer_nothing_that_a_caution_forbids(rules):
    rng = random.Random(20260301)
    benches = [Bench(rules, random_machine(rng)) for _ in range(40)]
    for _ in range(10_000):
        bench = rng.choice(benches)
        check(bench, bench.deduce(random_journal(rules, rng)))


def test_a_live_discharge_is_never_near_solvent(rules):
    for action in rules.actions.values():
        if "solvents" in action.hazards:
            assert action.state != "coating", action.id


def test_a_pump_is_never_stopped_without_its_anti_suck_back_step(rules):
    for action in rules.actions.values():
        if "pump_off" in (action.state, action.leaves):
            assert "oil_suck_back" in action.hazards, action.id
    words = rules.cautions["oil_suck_back"].precaution.lower()
    assert "isolation valve" in words
    assert "stop the pump" in words


def test_going_from_discharge_to_open_says_that_the_high_voltage_goes_off(rules):
    for name in ("vented", "unplugged"):
        words = rules.states[name].name.lower()
        assert "high voltage off" in words or "mains plug out" in words


def test_work_behind_covers_and_on_regulators_is_never_a_users(rules):
    for action in rules.actions.values():
        text = " ".join([action.say, *action.steps]).lower()
        opens = re.search(r"\b(open|take off|remove|undo) (the )?(cabinet|cover|back panel)", text)
        stops = re.search(r"\b(do not|never|stop|leave)\b", text)
        if opens and not stops:
            assert action.role == "service", action.id


def test_every_action_with_high_voltage_demanded_says_so(rules):
    for action in rules.actions.values():
        if action.state == "coating":
            assert "high_voltage" in action.hazards, action.id


def test_nothing_ever_says_that_a_machine_is_safe(rules):
    claim = re.compile(
        r"\b(machine|coater|unit|glass|it) (is|are|will be) (now |then )?safe\b", re.I
    )
    for action in rules.actions.values():
        assert not claim.search(" ".join([action.say, *action.steps, action.if_not])), action.id
    for caution in rules.cautions.values():
        assert not claim.search(caution.hazard + caution.precaution), caution.id
