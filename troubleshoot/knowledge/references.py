"""What one entry of the rules says of another must exist there."""

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from troubleshoot.coater.fields import FACTS, NUMBERS
from troubleshoot.coater.machine import DERIVED
from troubleshoot.errors import UserError, nearest
from troubleshoot.knowledge import drawings as pictures
from troubleshoot.knowledge import model
from troubleshoot.knowledge.coats import coat_problems
from troubleshoot.knowledge.derivation import Conclusion, Condition
from troubleshoot.knowledge.overlay import Place


def check_references(rules: model.RuleBase, places: Mapping[tuple[str, str], Place]) -> None:
    """Everything that one entry says of another must exist there. All problems at once."""
    problems: list[str] = []
    pool: Iterable[str]

    def known(kind: str, name: str, target: str, pool: Iterable[str], *key: str | int) -> bool:
        if target in pool:
            return True
        place = places[kind, name].key(*key)
        problems.append(f"{place}: {target!r} does not exist{nearest(target, pool)}.")
        return False

    def row(kind: str, name: str, finding: str, cells: model.Row, *key: str | int) -> None:
        if not known(kind, name, finding, rules.findings, *key):
            return
        f, place = rules.findings[finding], places[kind, name].key(*key)
        if isinstance(cells, float):
            if list(f.answers) != ["yes", "no"]:
                problems.append(f"{place}: a single number is for yes/no findings only.")
            return
        for answer in cells:
            known(kind, name, answer, f.answers, *key, answer)
        if sum(cells.values()) > 1 + 1e-9:
            problems.append(f"{place}: the answers sum to {sum(cells.values()):g}, above 1.")

    def together_known(kind: str, name: str, items: Iterable[model.Where], *key: str) -> None:
        for n, together in enumerate(items):
            for finding, wanted in together.items():
                there: Iterable[str] = rules.complaints
                if finding == "circumstance":
                    there = rules.circumstances
                elif finding != "complaint":
                    if not known(kind, name, finding, rules.findings, *key, n, finding):
                        continue
                    there = rules.findings[finding].answers
                for target in [wanted] if isinstance(wanted, str) else wanted:
                    known(kind, name, target, there, *key, n, finding)

    for raised in rules.complaints.values():
        for target, items in raised.rather.items():
            known("complaints", raised.id, target, rules.complaints, "rather", target)
            together_known("complaints", raised.id, items, "rather", target)
        measure = raised.measured_by
        if measure and known("complaints", raised.id, measure, rules.findings, "measured_by"):
            place = places["complaints", raised.id].key
            if rules.findings[measure].quantity is None:
                problems.append(f"{place('measured_by')}: {measure!r} is no number.")
    for f in rules.findings.values():
        place = places["findings", f.id].key
        if set(f.background) != set(f.answers) or abs(sum(f.background.values()) - 1) > 1e-6:
            problems.append(f"{place('background')}: every answer once, summing to 1.")
        if f.kind == "yes_no" and list(f.answers) != ["yes", "no"]:
            problems.append(
                f"{place('answers')}: yes_no has exactly `yes` and `no`, in that order."
            )
        if f.kind == "two_sided" and len(f.answers) < 3:
            problems.append(f"{place('answers')}: two_sided needs low, usual and high at least.")
        if f.kind == "cure_test" and len(f.answers) not in (2, 3):
            problems.append(f"{place('answers')}: cure_test has 2 or 3 answers, `gone` first.")
        if f.quantity and (
            len(f.quantity.edges) != len(f.answers) - 1
            or f.quantity.edges != sorted(f.quantity.edges)
        ):
            problems.append(f"{place('quantity')}: rising edges, one fewer than the answers.")
        for field in ("usual", "instead"):
            number = getattr(f.quantity, field, None)
            if number and number not in (*NUMBERS, *DERIVED):
                near = nearest(number, NUMBERS)
                problems.append(f"{place('quantity', field)}: no such number of a machine{near}.")
        for answer in f.looks:
            known("findings", f.id, answer, f.answers, "looks", answer)
        if f.turned:
            for key in ("better", "same"):
                for answer in getattr(f.turned, key):
                    known("findings", f.id, answer, f.answers, "turned", key)
        for answer, file in f.drawings.items():
            known("findings", f.id, answer, f.answers, "drawings", answer)
            if Path(file).name != file:
                problems.append(
                    f"{place('drawings', answer)}: {file!r} is no plain file name; name a file of "
                    f"the folder {pictures.FOLDER!r} beside the rules."
                )
            else:
                known("findings", f.id, file, rules.drawings, "drawings", answer)
        for target in f.replaces:
            known("findings", f.id, target, rules.findings, "replaces")
        for target in f.world:
            known("findings", f.id, target, rules.complaints, "world")
        for target in f.presumes:
            known("findings", f.id, target, rules.presuppositions, "presumes")
        for n, several in enumerate(f.decided_by):
            for target in several:
                known("findings", f.id, target, rules.findings, "decided_by", n)
    grouped: dict[str, str] = {}
    _check_machine_facts(rules, places, problems)
    for g in rules.groups.values():
        for finding in g.findings:
            known("groups", g.id, finding, rules.findings, "findings")
            if finding in grouped:
                problems.append(
                    f"{places['groups', g.id].key()}: {finding!r} is already in the group "
                    f"{grouped[finding]!r}; a finding may be in one group only."
                )
            grouped[finding] = g.id
    for p in rules.presuppositions.values():
        for target in p.needs:
            known("presuppositions", p.id, target, rules.presuppositions, "needs")
            if p.id in _needed(rules, target):
                here = places["presuppositions", p.id].key("needs")
                problems.append(f"{here}: these presuppositions need one another in a circle.")
        for key in ("denied_by", "unless"):
            together_known("presuppositions", p.id, getattr(p, key), key)
    for m in rules.mechanisms.values():
        if m.like is not None and known("mechanisms", m.id, m.like, rules.mechanisms, "like"):
            seen, like = {m.id}, m.like
            while like in rules.mechanisms and like not in seen:
                seen.add(like)
                like = rules.mechanisms[like].like or ""
            if like in seen:
                here = places["mechanisms", m.id].key("like")
                problems.append(f"{here}: these mechanisms are like one another in a circle.")
        for finding, cells in m.shows.items():
            row("mechanisms", m.id, finding, cells, "shows", finding)
    for c in rules.causes.values():
        for target in c.mechanisms:
            known("causes", c.id, target, rules.mechanisms, "mechanisms")
        for target in c.complaints:
            known("causes", c.id, target, rules.complaints, "complaints", target)
        for target in c.cured_by:
            known("causes", c.id, target, rules.actions, "cured_by", target)
        for target in c.remedies:
            if target not in c.cured_by:
                known("causes", c.id, target, rules.actions, "remedies")
        for target in c.alike:
            known("causes", c.id, target, rules.causes, "alike")
        for finding, cells in c.shows.items():
            row("causes", c.id, finding, cells, "shows", finding)
    for a in rules.actions.values():
        kind = "checks" if a.kind == "check" else "remedies"
        for target in a.reveals:
            known(kind, a.id, target, rules.findings, "reveals")
        for target in a.after:
            known(kind, a.id, target, rules.findings, "after")
        for target in a.first:
            known(kind, a.id, target, rules.findings, "first")
        for key, pool in (("cures", rules.causes), ("may_cause", rules.causes)):
            for target in getattr(a, key):
                known(kind, a.id, target, pool, key, target)
        for target in a.hazards:
            known(kind, a.id, target, rules.cautions, "hazards")
        if a.proof is not None:
            known(kind, a.id, a.proof, rules.actions, "proof")
    for state in rules.states.values():
        for target in state.to:
            known("states", state.id, target, rules.states, "to", target)
    for s in rules.signs.values():
        known("signs", s.id, s.caution, rules.cautions, "caution")
        for target in s.odds:
            known("signs", s.id, target, rules.causes, "odds", target)
    for k in rules.circumstances.values():
        for target in k.odds:
            known("circumstances", k.id, target, rules.causes, "odds", target)
        for target in k.said_by:
            known("circumstances", k.id, target, rules.findings, "said_by")
        for target in k.complaints:
            known("circumstances", k.id, target, rules.complaints, "complaints")
    for w in rules.workarounds.values():
        for target in w.complaints:
            known("workarounds", w.id, target, rules.complaints, "complaints")
        for target in w.causes:
            known("workarounds", w.id, target, rules.causes, "causes")
        for target in w.hazards:
            known("workarounds", w.id, target, rules.cautions, "hazards")
    for caution in rules.cautions.values():
        for target in caution.repair:
            known("cautions", caution.id, target, rules.actions, "repair")
    problems += coat_problems(rules, places)
    for care in rules.care.values():
        if care.runs is None and care.days is None:
            problems.append(f"{places['care', care.id].key()}: `runs`, `days` or both are needed.")
    for lesson in rules.lessons.values():
        for key, pool in (
            ("checks", rules.actions),
            ("causes", rules.causes),
            ("taken_for", rules.causes),
            ("complaints", rules.complaints),
        ):
            for target in getattr(lesson, key):
                known("lessons", lesson.id, target, pool, key)
    for step in rules.routine.values():
        for target in step.causes:
            known("routine", step.id, target, rules.causes, "causes")
        for target in step.hazards:
            known("routine", step.id, target, rules.cautions, "hazards")
    for story in rules.stories.values():
        known("stories", story.id, story.complaint, rules.complaints, "complaint")
    named: dict[str, Mapping[str, model.RuleEntry]] = {
        "finding": rules.findings,
        "complaint": rules.complaints,
        "sign": rules.signs,
        "circumstance": rules.circumstances,
        "action": rules.actions,
    }
    for phrases in rules.phrases.values():
        known("phrases", phrases.id, phrases.id, named[phrases.of])
        answers = rules.findings[phrases.id].answers if phrases.id in rules.findings else {}
        for answer in phrases.answers:
            known("phrases", phrases.id, answer, answers, "answers", answer)
    _check_derivations(rules, known)
    if problems:
        raise UserError("\n".join(problems))


def _needed(rules: model.RuleBase, name: str) -> set[str]:
    """A presupposition with all that it needs, near and far."""
    out, open_ = set[str](), [name]
    while open_:
        here = open_.pop()
        if here not in out and here in rules.presuppositions:
            out.add(here)
            open_ += rules.presuppositions[here].needs
    return out


def _check_machine_facts(
    rules: model.RuleBase, places: Mapping[tuple[str, str], Place], problems: list[str]
) -> None:
    entries: list[
        tuple[
            str,
            model.Complaint
            | model.Finding
            | model.Cause
            | model.Action
            | model.Circumstance
            | model.Workaround
            | model.Caution
            | model.Care
            | model.Step
            | model.Coat,
        ]
    ] = [
        *(("complaints", c) for c in rules.complaints.values()),
        *(("findings", f) for f in rules.findings.values()),
        *(("causes", c) for c in rules.causes.values()),
        *(("circumstances", c) for c in rules.circumstances.values()),
        *(("cautions", c) for c in rules.cautions.values()),
        *(("care", c) for c in rules.care.values()),
        *(("routine", s) for s in rules.routine.values()),
        *(("coats", c) for c in rules.coats.values()),
        *(("workarounds", w) for w in rules.workarounds.values()),
        *(("checks" if a.kind == "check" else "remedies", a) for a in rules.actions.values()),
    ]
    for kind, entry in entries:
        for key, wanted in entry.machine.items():
            place = places[kind, entry.id].key("machine", key)
            if key not in FACTS:
                near = nearest(key, FACTS) or f"; there are {', '.join(FACTS)}"
                problems.append(f"{place}: no such machine fact{near}.")
                continue
            for value in wanted if isinstance(wanted, list) else [wanted]:
                if value not in FACTS[key].choices:
                    choices = ", ".join(FACTS[key].choices)
                    problems.append(f"{place}: {value!r} is not one of {choices}.")


def _check_derivations(rules: model.RuleBase, known: Any) -> None:
    pools: dict[str, Iterable[str]] = {
        "finding": rules.findings,
        "circumstance": rules.circumstances,
        "sign": rules.signs,
        "complaint": rules.complaints,
        "state": rules.states,
        "machine": FACTS,
        "role": model.ROLES,
        "out_of_reach": rules.actions,
        "caution": rules.cautions,
        "ask": rules.findings,
    }
    for d in rules.derivations.values():
        sides: list[tuple[str, int, Condition | Conclusion]] = [
            *(("when", n, item) for n, item in enumerate(d.when)),
            *(("then", n, item) for n, item in enumerate(d.then)),
        ]
        for side, n, item in sides:
            if item.kind in pools:
                known("derivations", d.id, item.name, pools[item.kind], side, n)
            if item.kind == "finding" and item.name in rules.findings:
                values = item.values if isinstance(item, Condition) else (item.value,)
                for value in values:
                    known("derivations", d.id, value, rules.findings[item.name].answers, side, n)
