"""What is offered or printed never contradicts a caution in force, in any state of the machine.

Held against `tests/rules/danger.py`, which knows nothing of the declarations: over every danger
sign, complaint, role and state, over the demo and field cases, and over journals drawn at random
(many more with `pytest -m long`). The usual precautions are common practice; where a published one
stands behind a rule it is named there.
"""

import html
import itertools
import json
import random
import re
from functools import cache
from pathlib import Path

import pytest

from tests.rules.danger import (
    AT,
    DAMAGED,
    FORBIDDEN,
    IN_CHARGE,
    PROVES,
    REPAIRS,
    after,
    forbidden,
)  # fmt: skip
from troubleshoot.advice import verdict as verdicts
from troubleshoot.advice.page import page_of
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append
from troubleshoot.cli.setup import demo_files
from troubleshoot.coater.fields import FACTS
from troubleshoot.coater.machine import Machine
from troubleshoot.show.html.pages import forms, render, service_sheet
from troubleshoot.show.json import as_object
from troubleshoot.show.plain import show

ROLES = ("student", "experienced", "in_charge", "service")
MADE = "2026-01-05 10:00"
# A sign whose caution a finding brings up too.
BY_FINDING = {"glass_rim": (DAMAGED, "chip_or_crack")}


def test_every_sign_says_what_it_forbids_and_what_ends_that(rules):
    assert set(FORBIDDEN) == set(REPAIRS) == set(rules.signs)
    assert set(PROVES) == set().union(*REPAIRS.values())


def everything(rules):
    return [*rules.actions.values(), *rules.workarounds.values()]


def signs_of(case):
    """The dangers of a case as its journal tells them, lifted or not by what it records."""
    found = set(case.known.signs)
    for seen in case.known.seen:
        answers, sign = BY_FINDING.get(seen.finding, ((), ""))
        if seen.answer in answers:
            found.add(sign)
    lifted = set(case.known.repaired)
    return {s for s in found if case.rules.signs[s].caution not in lifted}


def done_in(case):
    """The remedies that were done."""
    return {t.action for t in case.known.treatments if t is not None}


def offers(case):
    """Every check, remedy and way round that the tool may still propose."""
    return [d for d in everything(case.rules) if case.may(d.id)]


def check_offers(case):
    """All that must hold of what may be offered."""
    signs, role, done = signs_of(case), case.known.role, done_in(case)
    for doing in offers(case):
        for sign in signs:
            assert not forbidden(sign, doing.id, role, done), f"{doing.id} after {sign} ({role})"
        if case.known.irreplaceable:
            assert doing.specimen == "safe", f"{doing.id} marks what must not be marked"
        assert case.machine.allows(getattr(doing, "machine", {})), (
            f"{doing.id} is not for this machine"
        )


@cache
def sentences(rules_hash, name, steps):
    """The steps of an action that are long enough to be known again in a text."""
    return [" ".join(step.split()) for step in steps if len(step) > 25]


def check_printed(case, text):
    """No step of anything that is forbidden stands in what is printed."""
    signs, role, done = signs_of(case), case.known.role, done_in(case)
    flat = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())
    allowed = {
        step for d in offers(case) for step in sentences(case.rules.hash, d.id, tuple(d.steps))
    }
    for doing in everything(case.rules):
        if any(forbidden(sign, doing.id, role, done) for sign in signs):
            for step in sentences(case.rules.hash, doing.id, tuple(doing.steps)):
                assert step in allowed or step not in flat, f"{doing.id} is printed: {step}"


def check_said(case):
    """The one object of a case: next step, today, verdict and danger."""
    page = page_of(case, ())
    whole = as_object(page)
    json.dumps(whole, allow_nan=False)
    assert {"kind", "id"} <= set(whole["next"])
    signs = signs_of(case)
    if signs or case.stop:
        assert whole["today"]["advice"] == "do_not"
        assert whole["today"]["ways_round"] == []
        assert whole["danger"]["id"] in case.rules.cautions
    if signs and not case.stop:
        assert whole["verdict"]["hypothesis"] == verdicts.DANGER
        names = {case.rules.cautions[c].name.lower() for c in case.dangers}
        assert any(name in whole["verdict"]["sentence"].lower() for name in names)
    if whole["today"]["advice"] == "do_not":
        assert whole["today"]["ways_round"] == []
    if case.known.irreplaceable:
        assert whole["today"]["advice"] != "coat"
    refusal = case.refused.get(whole["next"]["id"])
    if refusal is not None:  # what marks the one specimen there is: its owner's decision
        assert refusal.kind == "specimen"
        assert page.step.do.leave
        assert case.rules.actions[page.step.id].specimen == "marks"
    for way in whole["today"]["ways_round"]:
        assert case.may(way)


SAME = [
    pytest.param(sign, complaint, id=f"{sign}-{complaint}")
    for sign, complaint in itertools.product(
        FORBIDDEN,
        ("slow_pump_down", "no_strike", "too_thin", "images_charge", "vent_trouble",
         "pump_noise_oil", "uneven_coat", "specimen_damage"),
    )
]  # fmt: skip


@pytest.mark.slow
def test_every_sign_complaint_role_and_state(rules):
    """Nothing is on offer that the sign forbids, and a repair only to those who may do it."""
    bench = Bench(rules, Machine())
    assert set(FORBIDDEN) == set(rules.signs)
    states = [s for s in rules.states if s != "any"]
    for sign, complaint in itertools.product(rules.signs, rules.complaints):
        for role, state in itertools.product(ROLES, states):
            said = ("role", {"role": role}), ("state", {"state": state})
            case = bench.deduce(after(rules, sign, complaint, *said))
            assert case.stop is None
            assert case.dangers == (rules.signs[sign].caution,)
            check_offers(case)


@pytest.mark.first_quick(4)
@pytest.mark.parametrize(("sign", "complaint"), SAME)
def test_what_is_said_and_printed_after_a_sign(rules, sign, complaint, capsys):
    """With the real planner: the object, the terminal, the report, the forms, the service sheet."""
    bench = Bench(rules, Machine())
    for role in ("student", "in_charge"):
        journal = after(rules, sign, complaint, ("role", {"role": role}))
        case = bench.assess(journal)
        check_said(case)
        shown = page_of(case, journal)
        show(shown)
        check_printed(case, capsys.readouterr().out)
        check_printed(case, render(shown, made_at=MADE))
        check_printed(case, forms(shown))
        sheet = service_sheet(shown, made_at=MADE)
        check_printed(case, sheet)
        assert html.escape(rules.cautions[case.dangers[0]].name) in sheet


def test_only_the_record_of_the_right_person_lifts_a_danger(rules):
    bench = Bench(rules, Machine())
    for sign in rules.signs:
        caution = rules.signs[sign].caution
        before = bench.deduce(after(rules, sign, "slow_pump_down"))
        for role in IN_CHARGE:
            record = ("repaired", {"caution": caution, "role": role})
            lifted = bench.deduce(after(rules, sign, "slow_pump_down", record))
            assert lifted.dangers == ()
            assert len(lifted.refused) < len(before.refused)
        again = ("sign", {"sign": sign, "present": True})
        assert bench.deduce(after(rules, sign, "no_strike", record, again)).dangers == (caution,)
        gone = ("sign", {"sign": sign, "present": False})
        assert bench.deduce(after(rules, sign, "no_strike", gone)).dangers == (caution,)


def test_a_danger_outlives_remedies_and_later_looks(rules):
    """What was seen in the first minute still bans after a remedy, and after a kinder look."""
    bench = Bench(rules, Machine())
    later = (
        ("finding", {"finding": "glass_rim", "answer": "crack_or_scratch"}),
        ("made_safe", {"caution": "damaged_glass"}),
        ("action", {"action": "scan_fast_and_average", "complaint_now": "better"}),
        ("finding", {"finding": "glass_rim", "answer": "whole"}),
    )
    journal = append((), AT, "complaint", rules, complaint="images_charge")
    for kind, data in later:
        journal = append(journal, AT, kind, rules, **data)
        case = bench.deduce(journal)
        if kind != "complaint":
            assert case.dangers == ("damaged_glass",)
            check_offers(case)


FIELD = sorted((Path(__file__).parent.parent / "field").glob("case-*.yaml"))


@pytest.mark.first_quick(8)
@pytest.mark.parametrize("path", [*demo_files(), *FIELD], ids=lambda p: p.stem)
def test_demo_and_field_cases_offer_nothing_that_a_caution_forbids(path: Path, rules):
    case = read_case(path, rules, AT)
    bench = Bench(rules, case.machine)
    for length in range(len(case.journal) + 1):
        base = bench.deduce(case.journal[:length])
        if base.known.complaint is not None:
            check_offers(base)
    check_said(bench.assess(case.journal))


def random_machine(rng):
    """A coater of which a random part is known."""
    known = [fact for fact in FACTS.values() if rng.random() < 0.6]
    return Machine(facts={fact.key: rng.choice(list(fact.choices)) for fact in known})


def random_journal(rules, rng, machine):
    """A journal drawn at random: signs, state, specimen, role, findings, remedies, anything."""
    journal = ()

    def add(kind, **data):
        nonlocal journal
        journal = append(journal, AT, kind, rules, **data)

    for sign in rng.sample(list(rules.signs), rng.choice([0, 0, 1, 1, 2])):
        add("sign", sign=sign, present=True)
    add("complaint", complaint=rng.choice(verdicts.commonest_first(rules, machine)).id)
    if rng.random() < 0.8:
        add("state", state=rng.choice([s for s in rules.states if s != "any"]))
    if rng.random() < 0.4:
        add("specimen", irreplaceable=True)
    add("role", role=rng.choice(ROLES))
    names = rng.sample(list(rules.findings), rng.randint(0, 6))
    if rng.random() < 0.3 and "glass_rim" not in names:
        names.append("glass_rim")
    for name in names:
        add("finding", finding=name, answer=rng.choice(list(rules.findings[name].answers)))
    if rng.random() < 0.7:
        for caution in (c for c in rules.cautions.values() if c.stop_now):
            add("made_safe", caution=caution.id)
    for name in rng.sample(list(rules.actions), rng.choice([0, 0, 1, 2])):
        add("action", action=name, complaint_now=rng.choice(["unchanged", "better", "worse"]))
    if rng.random() < 0.15:
        caution = rng.choice([c.id for c in rules.cautions.values() if c.is_danger])
        add("repaired", caution=caution, role=rng.choice(IN_CHARGE))
    return journal


@pytest.mark.parametrize(
    "count",
    [pytest.param(3_000, marks=pytest.mark.slow), pytest.param(30_000, marks=pytest.mark.long)],
)
def test_random_situations_offer_nothing_that_a_caution_forbids(rules, count):
    rng = random.Random(20260301)
    benches = [Bench(rules, random_machine(rng)) for _ in range(40)]
    for _ in range(count):
        bench = rng.choice(benches)
        check_offers(bench.deduce(random_journal(rules, rng, bench.machine)))


def said_at_random(rules, seed, count):
    rng = random.Random(seed)
    benches = [Bench(rules, random_machine(rng)) for _ in range(4)]
    for _ in range(count):
        bench = rng.choice(benches)
        case = bench.assess(random_journal(rules, rng, bench.machine))
        check_offers(case)
        check_said(case)


def test_a_few_random_cases_with_the_real_planner(rules):
    said_at_random(rules, 20260301, 8)


@pytest.mark.slow
def test_some_hundred_random_cases_with_the_real_planner(rules):
    said_at_random(rules, 20260302, 120)


@pytest.mark.long
def test_ten_thousand_random_cases_with_the_real_planner(rules):
    said_at_random(rules, 20260303, 10_000)


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
