"""A case as one JSON object: see the README for its keys."""

from dataclasses import asdict
from typing import Any

from troubleshoot.advice.page import CasePage, Found
from troubleshoot.advice.today import Today
from troubleshoot.advice.verdict import ranking
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.reasoning.engine import engine_name


def as_object(page: CasePage) -> dict[str, Any]:
    """The diagnosis as one object of plain values."""
    case, step = page.case, page.step
    base: dict[str, Any] = {
        "complaint": case.known.complaint,
        "next": {"kind": step.kind, "id": step.id, "minutes": round(step.minutes, 1),
                 "why": step.why, "name": step.name, "say": step.say,
                 "outcomes": [asdict(o) for o in page.found.outcomes] if page.found else [],
                 "steps": list(step.do.steps) if step.do else [],
                 "cautions": list(step.hazards)},
        "danger": _danger(page),
        "cautions": [
            {"id": box.id, "text": box.text, "stop_now": case.rules.cautions[box.id].stop_now,
             "source": case.rules.cautions[box.id].source}
            for box in page.cautions
        ],
        "contradictions": list(case.contradictions),
        "rule_base": case.rules.hash,
        "book": None if case.known.book is None else {"hash": case.known.book.hash,
                                                      "cases": case.known.book.cases},
        "engine": engine_name(),
        "today": None if page.today is None else _today(page.today),
    }  # fmt: skip
    if page.found is None or not isinstance(case, Diagnosis):
        nothing = dict.fromkeys(("nothing_wrong", "unlisted", "verdict"))
        lists: dict[str, Any] = {"ranking": [], "sets": [], "mended": [], "evidence": []}
        return {**base, **lists, **nothing}
    return base | _diagnosis(case, page.found)


def _diagnosis(case: Diagnosis, found: Found) -> dict[str, Any]:
    rows = found.grounds.rows if found.grounds else ()
    return {
        "ranking": [
            {"cause": c.id, "name": c.name, "probability": p} for c, p in ranking(case)
        ],
        "sets": [
            {"causes": list(names), "probability": p} for names, p in case.belief.sets[:5]
        ],
        "mended": [{"cause": m.cause.id, "remedy": m.remedy.id} for m in found.mended],
        "nothing_wrong": case.belief.nothing_wrong,
        "unlisted": case.belief.unlisted,
        "verdict": {"hypothesis": found.verdict.hypothesis, "sentence": found.verdict.sentence,
                    "stands_in_share": found.firm.share,
                    "clash": found.clash},
        "evidence": [
            {"finding": row.seen.finding, "answers": [row.seen.answer, *row.seen.others],
             "origin": row.seen.origin, "epoch": row.seen.epoch,
             "decibans": round(row.decibans, 2)}
            for row in rows
        ],
    }  # fmt: skip


def _today(said: Today) -> dict[str, Any]:
    return {"advice": said.advice, "note": said.note, "ways_round": list(said.ways)}


def _danger(page: CasePage) -> dict[str, Any] | None:
    """The danger that leads, what it bans, and the others; None where there is none."""
    if not page.dangers:
        return None
    first, *others = page.dangers
    return {
        "id": first.id,
        "name": first.name,
        "text": first.text,
        "made_safe": not first.stop,
        "bans": list(page.case.rules.cautions[first.id].bans),
        "others": [box.id for box in others],
    }
