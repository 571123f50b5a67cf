"""What the service sheet and the paper forms say, worked out from a case."""

from collections.abc import Iterable
from dataclasses import dataclass

from troubleshoot.advice.instruction import Box, Instruction, boxes, for_action, site_of
from troubleshoot.advice.page import Bar, CasePage
from troubleshoot.advice.phrases import lower_first
from troubleshoot.advice.said import answer_of
from troubleshoot.advice.verdict import MATTERS
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.coater.fields import FIELDS
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.readings.quantity import answer_text, in_lab_unit, unit_of
from troubleshoot.show.html.svg import drawing
from troubleshoot.show.html.words import plain

FORMS = 5
MOST_DEEDS = 10
# What an engineer asks for on the telephone: words, finding, the profile's usual value.
ASKED: tuple[tuple[str, str, str | None], ...] = (
    ("Time to pump down", "pump_down_time", "usual_time"),
    ("Base pressure, loaded", "base_loaded", "usual_base"),
    ("Base pressure, empty", "base_empty", "usual_base"),
    ("Pump alone, blanked off", "blank_off", None),
    ("Rate of rise, pump shut off", "rise_rate", "usual_rise"),
    ("Shape of the rise", "rise_shape", None),
    ("Coating pressure", "pressure_set", "usual_pressure"),
    ("Current at the usual setting", "current_at_reference", "usual_current"),
    ("Volts with high voltage on", "hv_volts", "usual_voltage"),
    ("Lamp that permits high voltage", "permit_lamp", None),
    ("Glow", "glow", None),
    ("Colour of the glow", "glow_colour", None),
    ("Pump, by ear", "pump_sound", None),
    ("Pump oil, by eye", "oil_look", None),
)


@dataclass(frozen=True)
class SheetLine:
    """One line of the service sheet; None is a blank to fill in. `why` there can be no reading."""

    label: str
    now: str | None
    usual: str | None
    why: str = ""


@dataclass(frozen=True)
class Tick:
    """One box to tick: the answer, what it looks like in words, and the address of a picture."""

    text: str
    look: str
    drawing: str | None

    @property
    def short(self) -> bool:
        """Little enough for half a line."""
        return len(self.text) < 50 and not self.look and self.drawing is None


@dataclass(frozen=True)
class Item:
    """One question of a form: boxes to tick, and a blank with `unit` when it is a number."""

    ask: str
    answers: tuple[Tick, ...]
    unit: str | None

    @property
    def short(self) -> bool:
        """Two short answers and "don't know" fit into one line."""
        return len(self.answers) == 2 and all(tick.short for tick in self.answers)


@dataclass(frozen=True)
class Form:
    """One check on paper."""

    do: Instruction
    boxes: tuple[Box, ...]
    items: tuple[Item, ...]


def readings(case: Deduction) -> tuple[SheetLine, ...]:
    """What the coater shows now and what is usual, None where it is not known."""
    return tuple(
        SheetLine(
            label,
            _now(case, finding),
            case.machine.shown.get(usual or ""),
            "" if _now(case, finding) else _why_not(case, finding),
        )
        for label, finding, usual in ASKED
        if finding in case.rules.findings
    )


def unread(lines: Iterable[SheetLine]) -> tuple[tuple[str, str], ...]:
    """The labels of what cannot be read here, by reason."""
    by_reason: dict[str, list[str]] = {}
    for line in lines:
        if line.why:
            by_reason.setdefault(line.why, []).append(lower_first(line.label))
    return tuple((why, "; ".join(labels)) for why, labels in by_reason.items())


def _now(case: Deduction, name: str) -> str | None:
    """The latest answer to a finding, or all its measured values; None where there is none."""
    finding = case.rules.findings[name]
    seen = [s for s in case.seen if s.finding == name]
    values = [in_lab_unit(finding, s.quantity, case.machine) for s in seen if s.quantity]
    return ", then ".join(values) or (answer_of(case, seen[-1]) if seen else None)


def _why_not(case: Deduction, name: str) -> str:
    """Why nobody can read it here, empty where it only was not read."""
    finding = case.rules.findings[name]
    ways = case.rules.revealed_by[name]
    allowed = [a for a in ways if case.machine.allows(case.rules.actions[a].machine)]
    if not case.machine.allows(finding.machine):
        lacks = (k for k in finding.machine if not case.machine.allows({k: finding.machine[k]}))
        facts = ", ".join(
            f"{lower_first(FIELDS[k].label)}: {plain(case.machine.facts[k])}" for k in lacks
        )
        return f"Not possible here ({facts})"
    if ways and not allowed:
        return "Not possible here"
    why = [case.refused[a].kind for a in allowed if a in case.refused]
    if allowed and why == ["ban"] * len(allowed):
        return "Not read while the danger stands"
    barred = {*case.refused, *case.known.cannot}
    if allowed and barred.issuperset(allowed):
        return "Could not be read (below)"
    return ""


def when_it_shows(case: Deduction) -> str | None:
    """When the fault shows, as it was answered."""
    seen = [s for s in case.seen if s.finding == "when_it_happens"]
    if not seen:
        return None
    return answer_of(case, seen[-1])


def forms(page: CasePage) -> tuple[Form, ...]:
    """The best checks still to do, the next step first; none while something must be settled."""
    case, step = page.case, page.step
    if case.stops or case.known.closed is not None or not isinstance(case, Diagnosis):
        return ()
    names = [step.id] if step.kind == "check" else []
    names += [o.action for o in case.plan.options if o.kind == "check" and o.action]
    return tuple(_form(case, name) for name in list(dict.fromkeys(names))[:FORMS])


def _form(case: Diagnosis, name: str) -> Form:
    action, site = case.rules.actions[name], site_of(case)
    return Form(
        do=for_action(site, action),
        boxes=boxes(site, (*action.hazards, *case.cautions)),
        items=tuple(
            item(case, f)
            for f in action.reveals
            if f not in case.situation.answered
            and case.machine.allows(case.rules.findings[f].machine)
        ),
    )


def item(case: Deduction, name: str) -> Item:
    """The finding `name` as a question on paper, in the numbers of this coater."""
    finding = case.rules.findings[name]
    answers = tuple(
        Tick(
            text=answer_text(finding, a, case.machine),
            look=finding.looks.get(a, ""),
            drawing=drawn(case.rules, finding.drawings.get(a)),
        )
        for a in finding.answers
    )
    return Item(finding.ask, answers, unit_of(finding, case.machine))


def drawn(rules: RuleBase, name: str | None) -> str | None:
    """The address of a picture of the rule base, by its file name."""
    return None if name is None else drawing(name, rules.drawings[name])


def suspects(page: CasePage) -> tuple[Bar, ...]:
    """The leading causes that are likely enough to be worth an engineer's ear."""
    bars = page.found.bars if page.found else ()
    return tuple(b for b in bars if b.named and b.part >= MATTERS)
