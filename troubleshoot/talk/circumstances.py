"""Facts known beforehand: asked as one list, of which nothing unmarked becomes a "no"."""

from collections.abc import Sequence

from troubleshoot.advice import verdict
from troubleshoot.case import entries
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.case.entries import UNKNOWN
from troubleshoot.knowledge.model import Circumstance
from troubleshoot.talk.dialogue import About, Choice
from troubleshoot.talk.talk import Talk
from troubleshoot.talk.wording import people_say, sentence

WORTH_ASKING = 0.1
NONE_HOLD = Choice("/none", "None of these (or no other)")
NOT_SURE = Choice("/unsure", "Not sure")


def fitting(talk: Talk, when: str) -> list[Circumstance]:
    """Circumstances to be asked then, that fit complaint and coater and were not asked yet."""
    known = talk.facts().known
    return [
        c
        for c in talk.rules.circumstances.values()
        if c.when == when
        and talk.bench.machine.allows(c.machine)
        and c.id not in known.circumstances
        and (not c.complaints or known.complaint in c.complaints)
    ]


def ask_before_remedy(talk: Talk, case: Diagnosis) -> bool:
    """Ask what was not asked yet and bears on the leading causes; True when one holds."""
    live = {c.id for c, p in verdict.suspects(case)[:4] if p >= WORTH_ASKING}
    fit = [c for c in fitting(talk, "later") if live.intersection(c.odds)]
    return ask_which_hold(
        talk, fit, "One more thing: do any of these hold?", About("circumstances")
    )


def ask_which_hold(talk: Talk, fit: Sequence[Circumstance], question: str, about: About) -> bool:
    """Ask which of these hold and keep an answer to each; True when one holds."""
    if not fit:
        return False
    choices = [Choice(c.id, sentence(c.name), words=people_say(talk.rules, c.id)) for c in fit]
    held = talk.several(question, [*choices, NONE_HOLD, NOT_SURE], about)
    # Nothing that was left unmarked is taken for a "no" unless somebody said so.
    rest = "no" if NONE_HOLD.value in held else UNKNOWN
    for entry in fit:
        answer = "yes" if entry.id in held else rest
        talk.add(entries.Circumstance(circumstance=entry.id, answer=answer))
    return any(entry.id in held for entry in fit)
