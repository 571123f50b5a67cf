"""What the pages say, worked out from a case: plain records for the templates, no markup."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from troubleshoot import units
from troubleshoot.advice.instruction import ROLE_NAMES
from troubleshoot.advice.page import CasePage
from troubleshoot.advice.said import AFTERWARDS
from troubleshoot.advice.verdict import is_cured
from troubleshoot.advice.why import View, ranked
from troubleshoot.case import entries
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.case.entries import UNKNOWN
from troubleshoot.case.journal import Journal, standing
from troubleshoot.casebook.attachments import size_in_words
from troubleshoot.coater.fields import FACTS, FIELDS, NUMBERS
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import as_shown, unit_of
from troubleshoot.knowledge.model import Finding
from troubleshoot.show.html.svg import picture
from troubleshoot.show.html.words import (
    book_words,
    clock_words,
    fact_text,
    moment,
    plain,
)

MOST_UNSEEN = 8
MOST_NAMES = 4
BEARS = 0.15  # a finding bears on a cause when it moves this much of its answers' probability


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


# --- evidence, deeds, rules --------------------------------------------------------------------


def deeds(case: Deduction, journal: Journal) -> tuple[Deed, ...]:
    """What was done, in order, and how the complaint was afterwards."""
    rules, out = case.rules, []
    for entry in standing(journal):
        said, at = entry.said, moment(entry.at)
        match said:
            case entries.Action(complaint_now=str(now)):
                value = f" ({said.value})" if said.value is not None else ""
                out.append(Deed(at, rules.actions[said.action].name, AFTERWARDS[now] + value))
            case entries.Epoch():
                out.append(Deed(at, said.why, "looked at afresh from here on"))
            case entries.GoOn():
                out.append(Deed(at, "Went on, although it was advised to leave it at that", ""))
            case entries.Workaround():
                name = rules.workarounds[said.workaround].name
                out.append(Deed(at, f"Way round: {name}", "the cause stays"))
            case entries.MadeSafe():
                out.append(Deed(at, f"Made safe: {rules.cautions[said.caution].name}", ""))
            case entries.Repaired():
                name = rules.cautions[said.caution].name
                out.append(
                    Deed(at, f"Repaired and proved: {name}", f"says {ROLE_NAMES[said.role]}")
                )
    return tuple(out)


def called(case: Deduction, journal: Journal) -> str:
    """The title that the case was last given, or the name it was opened with."""
    titles = [e.said.text for e in standing(journal) if isinstance(e.said, entries.Title)]
    return titles[-1] if titles else case.known.name


def files(journal: Journal) -> tuple[str, ...]:
    """The files that the casebook keeps with the case: name, size and what each shows."""
    return tuple(
        f"{said.name} ({size_in_words(said.size)}){f': {said.note}' if said.note else ''}"
        for entry in standing(journal)
        if isinstance(said := entry.said, entries.Attached)
    )


@dataclass(frozen=True)
class Curve:
    """A log that was read: its file, what it shows in a sentence, and its drawing as an address."""

    source: str
    sentence: str
    picture: str | None


def curves(journal: Journal) -> tuple[Curve, ...]:
    """The readings of a case, in order."""
    return tuple(
        Curve(said.source, said.sentence, picture(said.plot.encode()) if said.plot else None)
        for said in (entry.said for entry in standing(journal))
        if isinstance(said, entries.Reading)
    )


def fired(case: Deduction) -> tuple[Fired, ...]:
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


def circumstances(case: Deduction) -> tuple[tuple[str, str], ...]:
    """What was told beforehand, danger signs first: the question and the answer."""
    return tuple((case.rules.signs[name].ask, "yes") for name in case.known.signs) + tuple(
        (
            case.rules.circumstances[name].ask,
            plain(answer) + ", fairly sure" * (name in case.known.fairly),
        )
        for name, answer in case.known.circumstances.items()
        if answer != UNKNOWN
    )


def untold(case: Deduction) -> tuple[str, ...]:
    """The names of what was asked beforehand and nobody knew."""
    told = case.known.circumstances.items()
    return tuple(case.rules.circumstances[name].name for name, answer in told if answer == UNKNOWN)


# --- what was not looked at --------------------------------------------------------------------


def unseen(page: CasePage) -> Unseen:
    """What bears on the leading causes and was not answered, and what could not be done."""
    case = page.case
    rules, known = case.rules, case.known
    open_ = isinstance(case, Diagnosis) and page.found and not is_cured(case)
    return Unseen(
        open=_open(case, page.found.view) if open_ else (),  # type: ignore[arg-type,union-attr]
        unknown=_once(rules.findings[name].name for _, name in known.unknown),
        refused=refused(case),
        later=_once(rules.actions[name].name for _, name in known.later),
    )


def refused(case: Deduction) -> tuple[tuple[str, str], ...]:
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


def _open(case: Diagnosis, seen_as: View) -> tuple[tuple[str, str], ...]:
    """Unanswered findings that bear on the leading causes, the most telling first."""
    planner = case.planner
    first = [(planner.net.index[c.id] + 2, p) for c, p in ranked(case, seen_as)]
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


def coater(case: Deduction) -> tuple[Line, ...]:
    """The coater: what is known of it, and which numbers are defaults."""
    machine = case.machine
    unit = machine.told_unit
    out = [
        Line(FIELDS["name"].label, machine.name, False),
        Line(FIELDS["gauge_unit"].label, unit or f"{machine.gauge_unit} assumed", unit is None),
    ]
    assumed = _assumed(case.rules.findings.values(), machine)
    if machine.gauge_scale:
        out.append(Line(FIELDS["gauge_scale"].label, machine.gauge_scale, False))
    for key in (*FACTS, *NUMBERS):
        fallback = f"{assumed[key]} assumed" if key in assumed else "not known"
        value = as_shown(machine, key)
        told = key in machine.facts or key in machine.shown
        out.append(Line(FIELDS[key].label, plain(value) if value else fallback, not told))
    return tuple(out)


def _assumed(findings: Iterable[Finding], machine: Machine) -> Mapping[str, str]:
    """The usual values that the bands assume where the coater's own are not known.

    Pressures and their rates are in the unit of its gauge, as all that stands beside them.
    """
    return {
        key: units.format_in(
            units.to_si(of.usual_value, of.unit, of.dimension),
            unit_of(key, machine.gauge_unit),
            of.dimension,
        )
        for f in findings
        if (of := f.quantity) and (key := of.usual) and of.usual_value
    }


def origin(case: Deduction, journal: Journal) -> tuple[tuple[str, str], ...]:
    """What the case was opened with, where that is not what it was read with now."""
    out = [("Rule base", case.rules.hash), ("Machine profile", case.machine.hash)]
    out.append(("Reckoned with", book_words(case.known.book)))
    for entry in journal:
        if isinstance(opened := entry.said, entries.Opened):
            out.append(("Opened", moment(entry.at)))
            if opened.rules != case.rules.hash:
                out.append(("Opened under another rule base", opened.rules))
            if opened.engine:
                out.append(("Opened with the engine", opened.engine))
            break
    if said := clock_words(journal):
        out.append(("Times", said))
    return tuple(out)


def sources(page: CasePage) -> tuple[tuple[str, str], ...]:
    """Where cautions, the next step, causes and ways round come from: source and for what."""
    case = page.case
    rules, said = case.rules, []
    said += [(rules.cautions[box.id].source, box.name) for box in page.cautions]
    if page.step.id in rules.actions:
        said.append((rules.actions[page.step.id].source, page.step.name))
    if isinstance(case, Diagnosis) and page.found:
        said += [(c.source, c.name) for c, _ in ranked(case, page.found.view)]
    said += [(rules.workarounds[way.id].source, way.name) for way in page.ways]
    by_source: dict[str, list[str]] = {}
    for source, what in said:
        by_source.setdefault(source, []).append(what)
    return tuple((source, "; ".join(_once(what))) for source, what in by_source.items())
