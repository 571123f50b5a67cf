"""What the pages say, worked out from a case: plain records for the templates, no markup."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from troubleshoot.investigation import advice
from troubleshoot.investigation.journal import UNKNOWN, Journal, standing
from troubleshoot.investigation.state import Assessment, Bench, Seen
from troubleshoot.knowledge.derivation import Fact
from troubleshoot.knowledge.machine import FACTS, NUMBERS
from troubleshoot.knowledge.model import Action, Finding, RuleBase
from troubleshoot.reasoning import explain

LEADING = 3
FORMS = 5
MOST_UNSEEN = 8
BEARS = 0.15  # a finding bears on a cause when it moves this much of its answers' probability
FULL_SIDE = 10.0  # decibans that fill one side of the evidence bars, at least

PARTS = {
    "none": "none",
    "consumable": "consumables",
    "spare": "a spare part",
    "service": "through service",
}
AFTERWARDS = {
    "cured": "gone",
    "better": "better, but not right",
    "unchanged": "unchanged",
    "worse": "worse",
    UNKNOWN: "not looked at",
}
OUTCOME_WORDS = {
    "cured": "put right",
    "workaround": "got round, cause still there",
    "service": "handed to service",
    "normal": "nothing was wrong",
    "unsolved": "closed without an answer",
}
SPECIMEN = {
    "marks": "It marks the specimen: use a dummy, not the one that matters.",
    "spends": "It uses the specimen up: use a dummy, not the one that matters.",
}
COATER = {
    "head": "Head",
    "chamber": "Chamber",
    "isolation_valve": "Isolation valve between chamber and pump",
    "gauge_side": "Gauge sits on the side of the",
    "current_set_by": "Current is set by the",
    "hv_permit": "High voltage is permitted by the",
    "venting": "Venting",
    "rotation": "Turning stage",
    "shutter": "Shutter",
    "voltmeter": "Voltmeter for the discharge",
    "spare_gauge": "Spare gauge",
    "thickness_monitor": "Thickness monitor",
    "trap": "Trap in the pump line",
    "xray_detector": "X-ray detector on the microscope",
    "usual_time": "Usual time to pump down",
    "usual_base": "Usual base pressure",
    "usual_pressure": "Usual coating pressure",
    "usual_current": "Usual current",
    "volume": "Chamber volume",
    "pump_speed": "Pump speed",
}
# What an engineer asks for on the telephone: words, finding, the profile's usual value.
ASKED: tuple[tuple[str, str, str | None], ...] = (
    ("Time to pump down", "pump_down_time", "usual_time"),
    ("Base pressure, loaded", "base_loaded", "usual_base"),
    ("Base pressure, empty", "base_empty", "usual_base"),
    ("Pump alone, blanked off", "blank_off", None),
    ("Rate of rise, pump shut off", "rise_rate", None),
    ("Shape of the rise", "rise_shape", None),
    ("Coating pressure", "pressure_set", "usual_pressure"),
    ("Current at the usual setting", "current_at_reference", "usual_current"),
    ("Volts with high voltage on", "hv_volts", None),
    ("Lamp that permits high voltage", "permit_lamp", None),
    ("Glow", "glow", None),
    ("Colour of the glow", "glow_colour", None),
    ("Pump, by ear", "pump_sound", None),
    ("Pump oil, by eye", "oil_look", None),
)


@dataclass(frozen=True)
class Box:
    """A caution as it is boxed. `stop`: nothing else may be done before it is settled."""

    name: str
    hazard: str
    precaution: str
    steps: tuple[str, ...]
    stop: bool
    settled: bool


@dataclass(frozen=True)
class Bar:
    """One line of the chart of causes. `named` is False for the three kinds of something else."""

    name: str
    what: str
    part: float
    named: bool


@dataclass(frozen=True)
class Cure:
    """What puts the leading cause right. `above`: its steps already stand under the next step."""

    action: Action
    who: str
    parts: str
    proof: Action | None
    above: bool
    others: tuple[str, ...]


@dataclass(frozen=True)
class Row:
    """One piece of evidence. `ends` names what was done before the epoch that it opens."""

    ends: str | None
    at: str
    name: str
    answer: str
    whose: str
    decibans: float
    words: str


@dataclass(frozen=True)
class Evidence:
    """All pieces of evidence for or against `cause`; `most` decibans fill one side of a bar."""

    cause: str
    most: float
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Deed:
    """Something that was done, and what was seen of the complaint afterwards."""

    at: str
    what: str
    afterwards: str


@dataclass(frozen=True)
class Fired:
    """One rule that fired: from what, what follows, why it holds and where it comes from."""

    given: str
    then: str
    because: str
    source: str


@dataclass(frozen=True)
class Unseen:
    """What was not looked at, by reason: pairs of what and how or why."""

    open: tuple[tuple[str, str], ...]
    unknown: tuple[str, ...]
    refused: tuple[tuple[str, str], ...]
    later: tuple[str, ...]


@dataclass(frozen=True)
class Line:
    """One line about the coater: its label, its value, and whether the value is a default."""

    label: str
    value: str
    default: bool


@dataclass(frozen=True)
class Reading:
    """One line of the service sheet; None is a blank to fill in."""

    label: str
    now: str | None
    usual: str | None


@dataclass(frozen=True)
class Item:
    """One question of a form: boxes to tick, and a blank with `unit` when it is a number."""

    ask: str
    answers: tuple[tuple[str, str], ...]
    unit: str | None


@dataclass(frozen=True)
class Form:
    """One check on paper."""

    action: Action
    state: str | None
    fetch: str | None
    specimen: str | None
    boxes: tuple[Box, ...]
    items: tuple[Item, ...]


# --- small words -------------------------------------------------------------------------------


def minutes(value: float) -> str:
    """Minutes as a person says them: `3 min`, `1.5 h`, `2 days`.

    >>> minutes(3), minutes(90), minutes(2880)
    ('3 min', '1.5 h', '2 days')
    """
    if value < 90:
        return f"{value:.2g} min"
    if value < 48 * 60:
        return f"{round(value / 30) / 2:g} h"
    return f"{round(value / 1440)} days"


def moment(at: str) -> str:
    """The time of an entry to the minute: `2026-01-05 09:00`."""
    return at[:16].replace("T", " ")


def plain(word: str) -> str:
    """An answer's id as words."""
    return word.replace("_", " ")


def answer_text(finding: Finding, answer: str) -> str:
    """The text of an answer."""
    return finding.answers.get(answer, plain(answer))


# --- the top of the report ---------------------------------------------------------------------


def next_step(case: Assessment) -> advice.NextStep | None:
    """The next step, or None while no complaint has been given and nothing is dangerous."""
    if case.stop is None and case.plan is None and case.known.closed is None:
        return None
    return advice.next_step(case)


def cautions(case: Assessment, step: advice.NextStep | None) -> tuple[Box, ...]:
    """The cautions in force: first what stops everything, last what has been settled."""
    names = advice.in_force(case, step) if step else list(case.cautions)
    boxes = [_box(case, name) for name in names]
    return tuple(sorted(boxes, key=lambda b: (b.settled, not b.stop)))


def stop_box(case: Assessment) -> Box | None:
    """The caution that ends the questioning, if there is one."""
    return None if case.stop is None else _box(case, case.stop)


def _box(case: Assessment, name: str) -> Box:
    caution = case.rules.cautions[name]
    settled = name in case.known.made_safe
    # Named as a hazard of a step it is a plain caution; it stops when a sign or a rule says so.
    stop = caution.stop_now and not settled and name in case.cautions
    return Box(
        name=caution.name,
        hazard=caution.hazard,
        precaution=caution.precaution,
        steps=tuple(caution.make_safe) if stop and name != case.stop else (),
        stop=stop,
        settled=settled,
    )


def cure(case: Assessment, said: advice.Verdict, step: advice.NextStep | None) -> Cure | None:
    """What to do about the verdict: the next remedy of its cause, or the last one when cured."""
    rules = case.rules
    done = [d.action for d in case.known.treatments if d is not None]
    if said.hypothesis == advice.CURED:
        wanted = done[-1:]
    elif said.hypothesis in rules.causes:
        wanted = [a for a in rules.causes[said.hypothesis].remedies if a not in done]
        wanted = [a for a in wanted if case.machine.allows(rules.actions[a].machine)]
        # The planner's choice first: it knows costs and what is out of reach.
        wanted.sort(key=lambda a: step is None or a != step.id)
    else:
        wanted = []
    if not wanted:
        return None
    action = rules.actions[wanted[0]]
    return Cure(
        action=action,
        who=advice.ROLE_NAMES[action.role],
        parts=PARTS[action.parts],
        proof=rules.actions[action.proof] if action.proof else None,
        above=step is not None and step.id == action.id,
        others=tuple(rules.actions[a].name for a in wanted[1:]),
    )


def leading(case: Assessment) -> tuple[Bar, ...]:
    """The leading causes, then the rest, nothing wrong and a cause not in this rule base."""
    belief = case.belief
    assert belief is not None
    first = advice.ranking(case)[:LEADING]
    names = {cause.id for cause, _ in first}
    rest = sum(p for members, p in belief.sets if members and not names.intersection(members))
    return (
        *(Bar(cause.name, cause.what, p, True) for cause, p in first),
        Bar("Any other cause in this rule base", "", rest, False),
        Bar("Nothing is wrong", "Normal for this load and weather.", belief.nothing_wrong, False),
        Bar("A cause not in this rule base", "", belief.unlisted, False),
    )


# --- evidence, deeds, rules --------------------------------------------------------------------


def evidence(case: Assessment, bench: Bench, journal: Journal) -> Evidence | None:
    """Every observation with what it did to the leading cause, in the order of the journal."""
    assert case.belief is not None
    lead = explain.leading(case.belief)
    if lead is None:
        return None
    weighed = advice.evidence(case, bench)
    times = {entry.number: moment(entry.at) for entry in journal}
    ends = {number + 1: what for number, what in enumerate(_ends(case, journal))}
    rows: list[Row] = []
    epoch = 0
    for seen, decibans in weighed:
        finding = case.rules.findings[seen.finding]
        counted = _counted_in(case, seen)
        rows.append(
            Row(
                ends=ends.get(seen.epoch) if seen.epoch > epoch else None,
                at=times.get(seen.number, ""),
                name=finding.name,
                answer=answer_text(finding, seen.answer),
                whose=_whose(seen),
                decibans=decibans,
                words=f"counted in “{counted}”" if counted else explain.in_words(decibans),
            )
        )
        epoch = seen.epoch
    most = max([FULL_SIDE, *(abs(r.decibans) for r in rows)])
    return Evidence(case.rules.causes[lead].name, most, tuple(rows))


def _whose(seen: Seen) -> str:
    if seen.origin == "measured":
        return f"measured: {seen.quantity}"
    words = "worked out by a rule" if seen.origin == "derived" else "told"
    return f"{words}, fairly sure" if seen.sure == "fairly" else words


def _counted_in(case: Assessment, seen: Seen) -> str | None:
    """The contrast that speaks in place of this observation, if one was computed from it."""
    for other in case.seen:
        finding = case.rules.findings[other.finding]
        if other.epoch == seen.epoch and seen.finding in finding.replaces:
            return finding.name
    return None


def _ends(case: Assessment, journal: Journal) -> list[str]:
    """What ended each epoch, in order."""
    out = []
    for entry in standing(journal):
        if entry.kind == "epoch":
            out.append(str(entry.data["why"]))
        elif entry.kind == "action" and "complaint_now" in entry.data:
            out.append(case.rules.actions[entry.data["action"]].name)
    return out


def deeds(case: Assessment, journal: Journal) -> tuple[Deed, ...]:
    """What was done, in order, and how the complaint was afterwards."""
    rules, out = case.rules, []
    for entry in standing(journal):
        data, at = entry.data, moment(entry.at)
        if entry.kind == "action" and "complaint_now" in data:
            now = AFTERWARDS[data["complaint_now"] or UNKNOWN]
            value = f" ({data['value']})" if data.get("value") is not None else ""
            out.append(Deed(at, rules.actions[data["action"]].name, now + value))
        elif entry.kind == "epoch":
            out.append(Deed(at, str(data["why"]), "looked at afresh from here on"))
        elif entry.kind == "workaround":
            name = rules.workarounds[data["workaround"]].name
            out.append(Deed(at, f"Way round: {name}", "the cause stays"))
        elif entry.kind == "made_safe":
            out.append(Deed(at, f"Made safe: {rules.cautions[data['caution']].name}", ""))
    return tuple(out)


def fired(case: Assessment) -> tuple[Fired, ...]:
    """The rules that fired, each distinct firing once."""
    out = []
    for firing in case.firings:
        rule = case.rules.derivations[firing.rule]
        given = "; ".join(_in_words(case.rules, fact) for fact in firing.matched)
        then = "; ".join(_in_words(case.rules, fact) for fact in firing.added)
        out.append(Fired(given, then, rule.because, rule.source))
    return tuple(dict.fromkeys(out))


def _in_words(rules: RuleBase, fact: Fact) -> str:
    """A fact as a person says it."""
    name, value = fact.name, fact.value
    match fact.kind:
        case "finding":
            finding = rules.findings[name]
            return f"{finding.name}: {answer_text(finding, value)}"
        case "seen_in":
            return f"{rules.findings[name].name} was seen while {rules.states[value].name}"
        case "circumstance":
            return rules.circumstances[name].name
        case "sign":
            return rules.signs[name].name
        case "complaint":
            return rules.complaints[name].name
        case "state":
            return f"the coater is {rules.states[name].name}"
        case "machine":
            return f"{COATER[name]}: {plain(value)}"
        case "role":
            return f"{advice.ROLE_NAMES[name]} is at the coater"
        case "specimen":
            return f"the specimen can{'not' if value == 'yes' else ''} be replaced"
        case "caution":
            return f"caution: {rules.cautions[name].name}"
        case "out_of_reach":
            return f"left out: {rules.actions[name].name}"
        case "ask":
            return f"to be asked: {rules.findings[name].name}"
        case _:
            return "two answers do not go together"


def circumstances(case: Assessment) -> tuple[tuple[str, str], ...]:
    """What was told beforehand: the question and the answer."""
    return tuple(
        (case.rules.circumstances[name].ask, plain(answer))
        for name, answer in case.known.circumstances.items()
    )


# --- what was not looked at --------------------------------------------------------------------


def unseen(case: Assessment, bench: Bench) -> Unseen:
    """What bears on the leading causes and was not answered, and what could not be done."""
    rules, known = case.rules, case.known
    unknown = dict.fromkeys(rules.findings[name].name for _, name in known.unknown)
    later = dict.fromkeys(rules.actions[name].name for _, name in known.later)
    return Unseen(
        open=_open(case, bench) if case.belief is not None else (),
        unknown=tuple(unknown),
        refused=refused(case),
        later=tuple(later),
    )


def refused(case: Assessment) -> tuple[tuple[str, str], ...]:
    """Checks and remedies that could not be done, each with the reason."""
    told = {name: why or "no reason given" for name, why in case.known.cannot.items()}
    reasons = {**case.out_of_reach, **told}
    return tuple((case.rules.actions[name].name, why) for name, why in reasons.items())


def _open(case: Assessment, bench: Bench) -> tuple[tuple[str, str], ...]:
    """Unanswered findings that bear on the leading causes, the most telling first."""
    assert case.situation is not None
    assert case.known.complaint is not None
    planner = bench.planner(case.known.complaint)
    first = [(planner.net.index[c.id] + 2, p) for c, p in advice.ranking(case)[:LEADING]]
    heard = case.situation.answered | {s.finding for s in case.seen}
    heard |= {name for _, name in case.known.unknown}
    found = []
    for name in planner.net.findings:
        ways = [a for a in case.rules.revealed_by[name] if a not in case.situation.closed]
        ways = [a for a in ways if case.machine.allows(case.rules.actions[a].machine)]
        if name in heard or not ways:
            continue
        p = planner.answers(name)
        shift = [0.5 * float(abs(p[:, column] - p[:, 0]).sum()) for column, _ in first]
        if max(shift, default=0.0) >= BEARS:
            weight = sum(s * share for s, (_, share) in zip(shift, first, strict=True))
            found.append(
                (-weight, case.rules.findings[name].name, case.rules.actions[ways[0]].name)
            )
    return tuple((name, check) for _, name, check in sorted(found)[:MOST_UNSEEN])


# --- the coater and where it all comes from ----------------------------------------------------


def coater(case: Assessment) -> tuple[Line, ...]:
    """The coater: what is known of it, and which numbers are wide defaults."""
    machine = case.machine
    out = [Line("Name", machine.name, False), Line("Gauge reads in", machine.gauge_unit, False)]
    for key in FACTS:
        value = machine.facts.get(key)
        out.append(Line(COATER[key], plain(value) if value else "not known", value is None))
    assumed = _assumed(case.rules.findings.values())
    for key in NUMBERS:
        value = machine.shown.get(key)
        fallback = f"{assumed[key]} assumed" if key in assumed else "not known"
        out.append(Line(COATER[key], value or fallback, value is None))
    return tuple(out)


def _assumed(findings: Iterable[Finding]) -> Mapping[str, str]:
    """The usual values that the bands assume where the coater's own are not known."""
    return {
        f.quantity.usual: f"{f.quantity.usual_value:g} {f.quantity.unit}"
        for f in findings
        if f.quantity and f.quantity.usual and f.quantity.usual_value
    }


def origin(case: Assessment, journal: Journal) -> tuple[tuple[str, str], ...]:
    """What the case was opened with, where that is not what it was read with now."""
    opened = next((e for e in journal if e.kind == "opened"), None)
    out = [("Rule base", case.rules.hash), ("Machine profile", case.machine.hash)]
    if opened is None:
        return tuple(out)
    out.append(("Opened", moment(opened.at)))
    if opened.data["rules"] != case.rules.hash:
        out.append(("Opened under another rule base", str(opened.data["rules"])))
    if opened.data.get("engine"):
        out.append(("Opened with the engine", str(opened.data["engine"])))
    return tuple(out)


def sources(case: Assessment, step: advice.NextStep | None) -> tuple[tuple[str, str], ...]:
    """Where cautions, the next step and the leading causes come from: what and source."""
    rules = case.rules
    names = advice.in_force(case, step) if step else list(case.cautions)
    out = [(rules.cautions[n].name, rules.cautions[n].source) for n in names]
    if step is not None and step.id in rules.actions:
        out.append((step.name, rules.actions[step.id].source))
    if case.belief is not None:
        out += [(c.name, c.source) for c, _ in advice.ranking(case)[:LEADING]]
        out += [
            (rules.workarounds[w].name, rules.workarounds[w].source)
            for w in advice.workarounds(case)
        ]
    return tuple(dict.fromkeys(out))


def outcome(case: Assessment) -> tuple[tuple[str, str], ...]:
    """How the case was closed, as label and text; empty while it is open."""
    closed = case.known.closed
    if closed is None:
        return ()
    out = [("Outcome", OUTCOME_WORDS[str(closed["outcome"])])]
    name = closed.get("cause")
    if name is not None:
        cause = case.rules.causes.get(str(name))
        out.append(("Cause", cause.name if cause else "a cause not in this rule base"))
    for key, label in (("proved_by", "Proved by"), ("by", "Closed by"), ("note", "Note")):
        if closed.get(key):
            out.append((label, _named(case.rules, str(closed[key]))))
    return tuple(out)


def _named(rules: RuleBase, text: str) -> str:
    """An id of an action or a role by its name, other text as it is."""
    action = rules.actions.get(text)
    return action.name if action else advice.ROLE_NAMES.get(text, text)


def sign_off(case: Assessment) -> tuple[tuple[str, str], ...]:
    """The lines for the logbook, filled in as far as the case knows."""
    done = [case.rules.actions[d.action].name for d in case.known.treatments if d is not None]
    base = [s for s in case.seen if s.finding in ("base_loaded", "base_empty") and s.quantity]
    after = [s for s in base if s.epoch == case.known.epoch and s.epoch > 0]
    before = [s for s in base if s.epoch == 0]
    return (
        ("Date", ""),
        ("Name", ""),
        ("What was done", "; ".join(done)),
        ("Proved by", dict(outcome(case)).get("Proved by", "")),
        ("Base pressure before", _base(before)),
        ("Base pressure after", _base(after)),
    )


def _base(seen: list[Seen]) -> str:
    """Measured base pressures with the load they were read at."""
    return ", ".join(f"{s.quantity} {s.finding.removeprefix('base_')}" for s in seen)


# --- the service sheet -------------------------------------------------------------------------


def readings(case: Assessment) -> tuple[Reading, ...]:
    """What the coater shows now and what is usual, None where it is not known."""
    return tuple(
        Reading(label, _now(case, finding), case.machine.shown.get(usual or ""))
        for label, finding, usual in ASKED
        if finding in case.rules.findings
    )


def _now(case: Assessment, name: str) -> str | None:
    """The latest answer to a finding, all its measured values, or why there is none."""
    finding = case.rules.findings[name]
    seen = [s for s in case.seen if s.finding == name]
    if seen:
        values = ", then ".join(s.quantity for s in seen if s.quantity)
        return values or answer_text(finding, seen[-1].answer)
    reasons = {**case.out_of_reach, **case.known.cannot}
    ways = case.rules.revealed_by[name]
    allowed = [a for a in ways if case.machine.allows(case.rules.actions[a].machine)]
    if not case.machine.allows(finding.machine) or (ways and not allowed):
        return "not possible on this coater"
    if allowed and all(a in reasons for a in allowed):
        return f"not done: {reasons[allowed[0]] or 'no reason given'}"
    return None


def when_it_shows(case: Assessment) -> str | None:
    """When the fault shows, as it was answered."""
    seen = [s for s in case.seen if s.finding == "when_it_happens"]
    if not seen:
        return None
    return answer_text(case.rules.findings["when_it_happens"], seen[-1].answer)


# --- the paper forms ---------------------------------------------------------------------------


def forms(case: Assessment, bench: Bench) -> tuple[Form, ...]:
    """The best checks still to do, the next step first; none while something must be settled."""
    if case.stop is not None or case.plan is None or case.known.closed is not None:
        return ()
    step = advice.next_step(case)
    names = [step.id] if step.kind == "check" else []
    names += [o.action for o in case.plan.options if o.kind == "check" and o.action]
    return tuple(_form(case, bench, name) for name in list(dict.fromkeys(names))[:FORMS])


def _form(case: Assessment, bench: Bench, name: str) -> Form:
    assert case.situation is not None
    action = case.rules.actions[name]
    above_role = action.role != "student"
    return Form(
        action=action,
        state=None if action.state == "any" else case.rules.states[action.state].name,
        fetch=advice.ROLE_NAMES[action.role] if above_role else None,
        specimen=SPECIMEN.get(action.specimen),
        boxes=tuple(_box(case, n) for n in dict.fromkeys((*action.hazards, *case.cautions))),
        items=tuple(
            _item(case, f)
            for f in action.reveals
            if f not in case.situation.answered
            and bench.machine.allows(case.rules.findings[f].machine)
        ),
    )


def _item(case: Assessment, name: str) -> Item:
    finding = case.rules.findings[name]
    quantity = finding.quantity
    unit = None
    if quantity is not None:
        unit = case.machine.gauge_unit if quantity.dimension == "pressure" else quantity.unit
    answers = tuple((text, finding.looks.get(a, "")) for a, text in finding.answers.items())
    return Item(finding.ask, answers, unit)
