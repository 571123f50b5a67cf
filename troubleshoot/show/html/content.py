"""What the pages say, worked out from a case: plain records for the templates, no markup."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from troubleshoot.advice import advice, instruction
from troubleshoot.advice.instruction import Box, Instruction, boxes, site_of
from troubleshoot.case.journal import UNKNOWN, Journal, standing
from troubleshoot.case.state import Assessment, Bench, Seen
from troubleshoot.coater.machine import FACTS, NUMBERS
from troubleshoot.coater.profile import as_shown
from troubleshoot.knowledge.model import Cause, Finding, RuleBase
from troubleshoot.readings.quantity import answer_text
from troubleshoot.reasoning import explain
from troubleshoot.reasoning.belief import Evidence, Posterior, posterior
from troubleshoot.show.html.svg import picture
from troubleshoot.show.html.words import (
    AFTERWARDS,
    COATER,
    OUTCOME_WORDS,
    fact_text,
    moment,
    plain,
)

LEADING = 3
MOST_UNSEEN = 8
MOST_NAMES = 4
BEARS = 0.15  # a finding bears on a cause when it moves this much of its answers' probability
FULL_SIDE = 10.0  # decibans that fill one side of the evidence bars, at least


@dataclass(frozen=True)
class View:
    """What is believed and on what evidence; once cured, as it stood before the last remedy."""

    belief: Posterior
    evidence: Evidence
    before: bool


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

    do: Instruction
    above: bool
    others: tuple[str, ...]


@dataclass(frozen=True)
class Row:
    """One piece of evidence. `ends` names what was done before the epoch that it opens."""

    ends: str | None
    at: str
    name: str
    answer: str
    quantity: str | None
    whose: str
    decibans: float
    words: str


@dataclass(frozen=True)
class Grounds:
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

    given: tuple[str, ...]
    then: tuple[str, ...]
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


# --- the top of the report ---------------------------------------------------------------------


def cautions(case: Assessment, step: advice.NextStep) -> tuple[Box, ...]:
    """The cautions in force: first what stops everything, last what has been settled."""
    return boxes(site_of(case), advice.in_force(case, step))


def stop_box(case: Assessment) -> Box | None:
    """The caution that ends the questioning, if there is one."""
    return None if case.stop is None else instruction.box(site_of(case), case.stop)


def dangers(case: Assessment) -> tuple[Box, ...]:
    """What must be repaired and proved before the coater is used again."""
    return boxes(site_of(case), (*([case.stop] if case.stop else []), *case.dangers))


def cure(case: Assessment, said: advice.Verdict, step: advice.NextStep) -> Cure | None:
    """What to do about the verdict: the next remedy of its cause, or the last one when cured."""
    rules = case.rules
    done = [d.action for d in case.known.treatments if d is not None]
    if said.hypothesis == advice.CURED:
        wanted = done[-1:]
    elif said.hypothesis == advice.DANGER:
        wanted = [a for a in rules.cautions[case.dangers[0]].repair if case.may(a)]
    elif said.hypothesis in rules.causes:
        allowed = advice.remedies_of(case, rules.causes[said.hypothesis])
        wanted = [a.id for a in allowed if a.id not in done]
        # The planner's choice first: it knows costs and what is out of reach.
        wanted.sort(key=lambda a: a != step.id)
    else:
        wanted = []
    if not wanted:
        return None
    return Cure(
        do=instruction.for_action(site_of(case), rules.actions[wanted[0]]),
        above=step.id == wanted[0],
        others=tuple(rules.actions[a].name for a in wanted[1:]),
    )


def view(case: Assessment, bench: Bench) -> View:
    """What the chart and the evidence speak of: the causes themselves, not their cure."""
    assert case.belief is not None
    assert case.evidence is not None
    if not advice.is_cured(case):
        return View(case.belief, case.evidence, False)
    *earlier, last, _ = case.evidence.epochs
    evidence = replace(case.evidence, epochs=(*earlier, replace(last, treatment=None)))
    net = bench.planner(evidence.complaint).net
    return View(posterior(net, evidence), evidence, True)


def ranked(case: Assessment, seen: View) -> list[tuple[Cause, float]]:
    """The causes that can raise the complaint with their probabilities, falling."""
    causes, complaint = case.rules.causes, seen.evidence.complaint
    pairs = [(causes[c], p) for c, p in seen.belief.present.items()]
    bearing = [(c, p) for c, p in pairs if complaint in c.complaints]
    return sorted(bearing, key=lambda pair: (-pair[1], pair[0].id))[:LEADING]


def bystanders(case: Assessment, seen: View) -> tuple[Bar, ...]:
    """Likely causes that cannot raise this complaint: worth mending, no explanation of it."""
    causes, complaint = case.rules.causes, seen.evidence.complaint
    return tuple(
        Bar(causes[c].name, causes[c].what, p, True)
        for c, p in seen.belief.present.items()
        if complaint not in causes[c].complaints and p >= advice.MATTERS
    )


def leading(case: Assessment, seen: View) -> tuple[Bar, ...]:
    """The leading causes, then the rest, nothing wrong and a cause not in this rule base."""
    belief, first = seen.belief, ranked(case, seen)
    names = {cause.id for cause, _ in first}
    complaint = seen.evidence.complaint
    others = {c.id for c in case.rules.causes.values() if complaint in c.complaints} - names
    rest = sum(
        p
        for members, p in belief.sets
        if others.intersection(members) and not names.intersection(members)
    )
    return (
        *(Bar(cause.name, cause.what, p, True) for cause, p in first),
        Bar("Any other cause in this rule base", "", rest, False),
        Bar("Nothing is wrong", "Normal for this load and weather.", belief.nothing_wrong, False),
        Bar("A cause not in this rule base", "", belief.unlisted, False),
    )


# --- evidence, deeds, rules --------------------------------------------------------------------


def grounds(case: Assessment, bench: Bench, journal: Journal, seen_as: View) -> Grounds | None:
    """Every observation with what it did to the leading cause, in the order of the journal."""
    first = ranked(case, seen_as)
    if not first:
        return None
    lead = first[0][0]
    net = bench.planner(seen_as.evidence.complaint).net
    weighed = {
        (w.epoch, w.finding): w.decibans for w in explain.weights(net, seen_as.evidence, lead.id)
    }
    times = {entry.number: moment(entry.at) for entry in journal}
    ends = {number + 1: what for number, what in enumerate(_ends(case, journal))}
    rows: list[Row] = []
    epoch = 0
    for seen in case.seen:
        decibans = weighed.get((seen.epoch, seen.finding), 0.0)
        finding = case.rules.findings[seen.finding]
        counted = advice.counted_in(case, seen)
        rows.append(
            Row(
                ends=ends.get(seen.epoch) if seen.epoch > epoch else None,
                at=times.get(seen.number, ""),
                name=finding.name,
                answer=answer_text(finding, seen.answer, case.machine),
                quantity=seen.quantity,
                whose=_whose(seen),
                decibans=decibans,
                words=f"counted in “{counted}”" if counted else explain.in_words(decibans),
            )
        )
        epoch = seen.epoch
    most = max([FULL_SIDE, *(abs(r.decibans) for r in rows)])
    return Grounds(lead.name, most, tuple(rows))


def _whose(seen: Seen) -> str:
    if seen.origin in ("measured", "reading"):
        return "measured" if seen.origin == "measured" else "read off a log"
    words = "worked out by a rule" if seen.origin == "derived" else "told"
    return f"{words}, fairly sure" if seen.sure == "fairly" else words


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
        elif entry.kind == "go_on":
            out.append(Deed(at, "Went on, although it was advised to leave it at that", ""))
        elif entry.kind == "workaround":
            name = rules.workarounds[data["workaround"]].name
            out.append(Deed(at, f"Way round: {name}", "the cause stays"))
        elif entry.kind == "made_safe":
            out.append(Deed(at, f"Made safe: {rules.cautions[data['caution']].name}", ""))
        elif entry.kind == "repaired":
            by = instruction.ROLE_NAMES[str(data["role"])]
            name = rules.cautions[data["caution"]].name
            out.append(Deed(at, f"Repaired and proved: {name}", f"says {by}"))
    return tuple(out)


@dataclass(frozen=True)
class Curve:
    """A log that was read: its file, what it shows in a sentence, and its drawing as an address."""

    source: str
    sentence: str
    picture: str | None


def curves(journal: Journal) -> tuple[Curve, ...]:
    """The readings of a case, in order."""
    return tuple(
        Curve(
            str(e.data["source"]),
            str(e.data["sentence"]),
            picture(str(e.data["plot"])) if e.data.get("plot") else None,
        )
        for e in standing(journal)
        if e.kind == "reading"
    )


def fired(case: Assessment) -> tuple[Fired, ...]:
    """The rules that fired, each once, with everything that it fired on."""
    by_rule: dict[str, tuple[list[str], list[str]]] = {}
    for firing in case.firings:
        given, then = by_rule.setdefault(firing.rule, ([], []))
        given += (fact_text(case.rules, case.machine, fact) for fact in firing.matched)
        then += (fact_text(case.rules, case.machine, fact) for fact in firing.added)
    rules = case.rules.derivations
    return tuple(
        Fired(_once(given), _once(then), rules[name].because, rules[name].source)
        for name, (given, then) in by_rule.items()
    )


def _once(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(texts))


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
    unknown = _once(rules.findings[name].name for _, name in known.unknown)
    later = _once(rules.actions[name].name for _, name in known.later)
    return Unseen(
        open=_open(case, bench) if case.belief and not advice.is_cured(case) else (),
        unknown=unknown,
        refused=refused(case),
        later=later,
    )


def refused(case: Assessment) -> tuple[tuple[str, str], ...]:
    """Checks and remedies that could not be done, those with one reason together."""
    told = {name: why or "no reason given" for name, why in case.known.cannot.items()}
    by_reason: dict[str, list[str]] = {}
    barred = {
        name: why.because
        for name, why in case.refused.items()
        if why.kind == "reach" and name in case.rules.actions and name not in told
    }
    for name, why in (told | barred).items():
        by_reason.setdefault(why, []).append(case.rules.actions[name].name)
    return tuple((_some(names), why) for why, names in by_reason.items())


def _some(names: list[str]) -> str:
    """The first few names, and how many more there are."""
    more = len(names) - MOST_NAMES
    return "; ".join(names[:MOST_NAMES]) + (f"; and {more} more" if more > 0 else "")


def _open(case: Assessment, bench: Bench) -> tuple[tuple[str, str], ...]:
    """Unanswered findings that bear on the leading causes, the most telling first."""
    assert case.situation is not None
    assert case.known.complaint is not None
    planner = bench.planner(case.known.complaint)
    first = [(planner.net.index[c.id] + 2, p) for c, p in ranked(case, view(case, bench))]
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
    """The coater: what is known of it, and which numbers are defaults."""
    machine = case.machine
    out = [Line("Name", machine.name, False), Line("Gauge reads in", machine.gauge_unit, False)]
    assumed = _assumed(case.rules.findings.values())
    for key in (*FACTS, *NUMBERS):
        fallback = f"{assumed[key]} assumed" if key in assumed else "not known"
        value = as_shown(machine, key)
        told = key in machine.facts or key in machine.shown
        out.append(Line(COATER[key], plain(value) if value else fallback, not told))
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


def sources(
    case: Assessment, step: advice.NextStep, causes: Iterable[Cause]
) -> tuple[tuple[str, str], ...]:
    """Where cautions, the next step, causes and ways round come from: source and for what."""
    rules = case.rules
    cautions = (rules.cautions[name] for name in advice.in_force(case, step))
    said = [(c.source, c.name) for c in cautions]
    if step.id in rules.actions:
        said.append((rules.actions[step.id].source, step.name))
    if case.belief is not None:
        said += [(c.source, c.name) for c in causes]
        ways = (rules.workarounds[w] for w in advice.today_of(case).ways)
        said += [(way.source, way.name) for way in ways]
    by_source: dict[str, list[str]] = {}
    for source, what in said:
        by_source.setdefault(source, []).append(what)
    return tuple((source, "; ".join(_once(what))) for source, what in by_source.items())


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
    return action.name if action else instruction.ROLE_NAMES.get(text, text)


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
