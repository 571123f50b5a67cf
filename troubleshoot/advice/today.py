"""Can one still coat today? Only from what was said: a ban, what was measured, or what to look at.

Never a way round beside a "do not", never "coat" for a specimen that cannot be replaced, and no
claim that nobody made: what a cause would allow is said on the condition that it is that cause.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from troubleshoot.advice.phrases import lower_first
from troubleshoot.advice.said import answer_of
from troubleshoot.advice.step import next_step
from troubleshoot.advice.verdict import MATTERS, is_cured, suspects
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.case.permitted import because
from troubleshoot.knowledge.effects import ANYTHING
from troubleshoot.knowledge.model import Cause, Finding

FITS = 0.05  # a way round is named from this much probability of the causes that it gets round
ORDER = ("coat", "expect", "do_not")
HEADS = {
    "coat": "Coat all the same",
    "expect": "Coat, but expect this",
    "do_not": "Do not coat now",
}
NOT_KNOWN = "Not known yet"
NOT_THIS_ONE = "Not this specimen yet"
MOST_NAMED = 3
OFTEN = 0.3
"""So often, of its commonest answer, a sound coater shows what fits it (judgement)."""


@dataclass(frozen=True)
class Today:
    """`advice`: coat, expect or do_not; `head` says it, `note` why; `ways` round by ID."""

    advice: str
    head: str
    note: str
    ways: tuple[str, ...] = ()


def today_of(case: Diagnosis) -> Today:
    """Whether one can still coat today, and ways round."""
    banned = of_bans(case)
    if banned is not None:
        return banned
    first, belief = suspects(case), case.belief
    if is_cured(case):
        return of_cure(case)
    look = next_step(case).name
    p = first[0][1]
    if belief.nothing_wrong >= max(p, belief.unlisted, 0.5):
        return of_normal(case, look)
    return of_causes(case, first, look)


def of_bans(case: Deduction) -> Today | None:
    """The answer where a caution forbids it, whatever the cause is."""
    if case.stop is not None:
        name = case.rules.cautions[case.stop].name
        return Today("do_not", HEADS["do_not"], f"Not before this is settled: {name}.")
    for name in case.bans:
        caution = case.rules.cautions[name]
        if caution.is_danger or {ANYTHING, "discharge"}.intersection(caution.bans):
            return Today("do_not", HEADS["do_not"], because(caution))
    return None


def of_causes(case: Deduction, suspects: Sequence[tuple[Cause, float]], look_first: str) -> Today:
    """The strictest advice among the causes that matter, each on its condition.

    `look_first`: the name of the next thing to look at, for where nothing was looked at yet.
    """
    live = [(c, p) for c, p in suspects if p >= MATTERS]
    if not _looked_at(case) or not live:
        seen = "" if _looked_at(case) else "Nothing was looked at yet. "
        note = f"{seen}First: {lower_first(look_first)}."
        return _kept(case, Today("expect", NOT_KNOWN, note))
    worst, _ = max(live, key=lambda pair: ORDER.index(pair[0].today.verdict))
    advice = worst.today.verdict
    note = f"If it is this ({lower_first(worst.name)}): {lower_first(worst.today.note)}"
    ways = () if advice == "do_not" else _ways(case, suspects)
    return _kept(case, Today(advice, HEADS[advice], note, ways))


def of_normal(case: Diagnosis, look_first: str) -> Today:
    """The answer where nothing is wrong, as far as it was looked at."""
    seen = _looked_at(case)
    if not seen:
        note = f"Nothing was looked at yet. First: {lower_first(look_first)}."
        return _kept(case, Today("expect", NOT_KNOWN, note))
    if case.situation.still_there:
        note = "The last remedy left something of the trouble, and it may show again."
        return _kept(case, Today("expect", HEADS["expect"], note))
    sound, odd = (_looked_at(case, sound=s)[:MOST_NAMED] for s in (True, False))
    named = f" ({'; '.join(sound)})" if sound else ""
    note = f"What was looked at fits a sound coater{named}."
    if odd:
        note += f" This does not by itself: {'; '.join(odd)}."
    return _kept(case, Today("coat", HEADS["coat"], note))


def of_cure(case: Deduction) -> Today:
    """The answer once the complaint is gone."""
    return _kept(case, Today("coat", "Yes", "Coat as usual and watch the first run."))


def _kept(case: Deduction, said: Today) -> Today:
    """The answer for a specimen that cannot be replaced: a dummy goes first."""
    if not case.known.irreplaceable or said.advice == "do_not":
        return said
    note = f"A dummy goes first; this one only when the dummy's coat is right. {said.note}"
    return Today("expect", NOT_THIS_ONE, note, said.ways)


def _looked_at(case: Deduction, *, sound: bool | None = None) -> list[str]:
    """What was seen or measured, the latest first, as name and answer.

    With `sound` only what a sound coater shows often, or only what it does not.
    """
    findings = case.rules.findings
    return [
        f"{lower_first(findings[s.finding].name)}: {s.quantity or answer_of(case, s)}"
        for s in sorted(case.seen, key=lambda s: -s.number)
        if s.origin != "derived" and sound in (None, _is_sound(findings[s.finding], s.answer))
    ]


def _is_sound(finding: Finding, answer: str) -> bool:
    """Whether a sound coater shows this answer nearly as often as any other."""
    often = finding.background
    return often.get(answer, 0.0) >= OFTEN * max(often.values())


def _ways(case: Deduction, suspects: Sequence[tuple[Cause, float]]) -> tuple[str, ...]:
    """Ways round for the complaint and the leading causes that may be offered, best first."""
    live = {c.id: p for c, p in suspects[:5]}
    fits = [
        (sum(live.get(c, 0.0) for c in w.causes), w.id)
        for w in case.rules.workarounds.values()
        if case.known.complaint in w.complaints and case.may(w.id)
    ]
    return tuple(w for score, w in sorted(fits, key=lambda f: (-f[0], f[1])) if score > FITS)
