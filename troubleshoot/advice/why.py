"""Why the verdict stands: what each answer did, how firm it is, what would change it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from troubleshoot.advice.phrases import STANDS_OUT, chance, lower_first
from troubleshoot.advice.said import answer_of
from troubleshoot.advice.verdict import Verdict, is_cured, mended, same_to_the_user, suspects
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.case.entries import Action, Epoch, Reading
from troubleshoot.case.journal import Journal, standing
from troubleshoot.case.known import Seen
from troubleshoot.knowledge.model import Cause
from troubleshoot.readings.quantity import in_lab_unit, yardstick
from troubleshoot.readings.reading import MICROGRAPH, MICROGRAPHS, TYPED
from troubleshoot.reasoning import explain
from troubleshoot.reasoning.belief import Evidence, Posterior, posterior

LEADING = 3
FULL_SIDE = 10.0  # decibans that fill one side of the evidence bars, at least


@dataclass(frozen=True)
class View:
    """What is believed and on what evidence; once cured, as it stood before the last remedy."""

    belief: Posterior
    evidence: Evidence
    before: bool


READ_OFF = {
    MICROGRAPH: "read off a picture",
    MICROGRAPHS: "read off two pictures",
    TYPED: "read off a row of readings",
}
"""How a reading that is not of a log was come by."""


@dataclass(frozen=True)
class Row:
    """One piece of evidence.

    `ends` names what was done before the epoch that it opens, `yardstick` what a number is called
    usual by where that is not the coater's own.
    """

    seen: Seen
    ends: str | None
    name: str
    answer: str
    quantity: str | None
    whose: str
    yardstick: str
    decibans: float
    words: str


@dataclass(frozen=True)
class Grounds:
    """All pieces of evidence for or against `cause`; `most` decibans fill one side of a bar."""

    cause: str
    most: float
    rows: tuple[Row, ...]

    @property
    def telling(self) -> tuple[Row, ...]:
        """The rows that say more than little; the first of an epoch tells what it comes after."""
        out: list[Row] = []
        ends = None
        for row in self.rows:
            ends = row.ends or ends
            if abs(row.decibans) >= explain.LITTLE:
                out.append(replace(row, ends=ends))
                ends = None
        return tuple(out)


def view(case: Diagnosis) -> View:
    """What the chart and the evidence speak of: the causes themselves, not their cure."""
    if not is_cured(case):
        return View(case.belief, case.evidence, False)
    *earlier, last, _ = case.evidence.epochs
    evidence = replace(case.evidence, epochs=(*earlier, replace(last, treatment=None)))
    return View(posterior(case.planner.net, evidence), evidence, True)


def ranked(case: Diagnosis, seen: View) -> list[tuple[Cause, float]]:
    """The causes that can raise the complaint with their probabilities, falling.

    Without those that a remedy took away: they are told as such (`verdict.mended`).
    """
    causes, complaint = case.rules.causes, seen.evidence.complaint
    pairs = [(causes[c], p) for c, p in seen.belief.present.items()]
    gone = {m.cause.id for m in mended(case, seen.belief)}
    bearing = [(c, p) for c, p in pairs if complaint in c.complaints and c.id not in gone]
    return sorted(bearing, key=lambda pair: (-pair[1], pair[0].id))[:LEADING]


def grounds(case: Diagnosis, journal: Journal, seen_as: View) -> Grounds | None:
    """Every observation with what it did to the leading cause, in the order of the journal."""
    first = ranked(case, seen_as)
    if not first:
        return None
    lead = first[0][0]
    net = case.planner.net
    weighed = {
        (w.epoch, w.finding): w.decibans for w in explain.weights(net, seen_as.evidence, lead.id)
    }
    kinds = {e.number: e.said.what for e in standing(journal) if isinstance(e.said, Reading)}
    ends = {number + 1: what for number, what in enumerate(_ends(case, journal))}
    rows: list[Row] = []
    epoch = 0
    for seen in case.seen:
        decibans = weighed.get((seen.epoch, seen.finding), 0.0)
        finding = case.rules.findings[seen.finding]
        counted = counted_in(case, seen)
        rows.append(
            Row(
                seen=seen,
                ends=ends.get(seen.epoch) if seen.epoch > epoch else None,
                name=finding.name,
                answer=answer_of(case, seen),
                quantity=seen.quantity and in_lab_unit(finding, seen.quantity, case.machine),
                whose=_whose(seen, kinds),
                yardstick=yardstick(finding, case.machine) if seen.quantity else "",
                decibans=decibans,
                words=f"counted in “{counted}”" if counted else explain.in_words(decibans),
            )
        )
        epoch = seen.epoch
    most = max([FULL_SIDE, *(abs(r.decibans) for r in rows)])
    return Grounds(lead.name, most, tuple(rows))


def _whose(seen: Seen, kinds: Mapping[int, str]) -> str:
    """How somebody came by it; `kinds` of the readings by the numbers of their entries."""
    if seen.origin == "measured":
        return "measured"
    if seen.origin == "reading":
        return READ_OFF.get(kinds.get(seen.number, ""), "read off a log")
    words = "worked out by a rule" if seen.origin == "derived" else "told"
    return f"{words}, fairly sure" if seen.sure == "fairly" else words


def _ends(case: Deduction, journal: Journal) -> list[str]:
    """What ended each epoch, in order."""
    out = []
    for entry in standing(journal):
        if isinstance(entry.said, Epoch):
            out.append(entry.said.why)
        elif isinstance(entry.said, Action) and entry.said.treats:
            out.append(case.rules.actions[entry.said.action].name)
    return out


def counted_in(case: Deduction, seen: Seen) -> str | None:
    """The contrast that speaks in place of this observation, if one was computed from it."""
    for other in case.seen:
        finding = case.rules.findings[other.finding]
        if other.epoch == seen.epoch and seen.finding in finding.replaces:
            return finding.name
    return None


def would_change(case: Diagnosis) -> str | None:
    """The one answer that would put something else first, as a sentence."""
    lead = suspects(case)[0][0]
    alike = {c.id for c, _ in suspects(case) if same_to_the_user(lead, c)}
    planner = case.planner
    open_ = {
        finding
        for action in planner.actions
        if action.id not in case.situation.closed
        for finding in action.reveals
    }
    shut = case.situation.answered | (set(planner.net.findings) - open_)
    found = explain.overturn(planner, case.belief, case.evidence, shut, frozenset(alike))
    if found is None:
        return None
    finding = case.rules.findings[found.finding]
    then = (
        lower_first(case.rules.causes[found.then].name)
        if found.then in case.rules.causes
        else "“nothing is wrong”"
    )
    return f"{finding.ask} “{finding.answers[found.answer]}” would put {then} first."


@dataclass(frozen=True)
class HowFirm:
    """The share of shaken rule bases in which the verdict stands, that in words, and how found.

    `sentence` is empty where nothing stands out: of the first of many nobody asks how firm it is.
    """

    share: float
    sentence: str
    detail: str


def how_firm(case: Diagnosis, said: Verdict) -> HowFirm:
    """Whether the verdict survives if the rule base's numbers are somewhat wrong.

    A copy in which a cause leads that is treated the same counts for the verdict.
    """
    from troubleshoot.reasoning.firmness import FIRM, firmness

    found = firmness(case.planner.net, case.evidence)
    causes, share = case.rules.causes, found.share
    if found.leader in causes:
        share += sum(
            p
            for name, p in found.others
            if name in causes and same_to_the_user(causes[found.leader], causes[name])
        )
    detail = (
        "With the rules' numbers shaken 100 times, the same comes first "
        f"{round(100 * share)} times."
    )
    if said.probability < STANDS_OUT:
        return HowFirm(share, "", detail)
    if share < FIRM:
        other = chance(1.0 - share)
        text = "This is provisional: numbers that are somewhat wrong would put "
        return HowFirm(share, f"{text}something else first ({other}).", detail)
    return HowFirm(share, "That holds even if the numbers behind it are somewhat wrong.", detail)


CLASH_BITS = 2.0


def clash(case: Diagnosis) -> str | None:
    """A sentence on observations that do not fit together, or None."""
    found = explain.conflict(case.planner.net, case.evidence)
    if found.bits < CLASH_BITS or found.pair is None or found.pair_bits <= 0:
        return None
    a, b = (lower_first(case.rules.findings[f].name) for f in found.pair)
    return (
        "These observations do not fit together well; the pair that clashes most is: "
        f"{a}, and {b}. Look at both again, or think of two causes, or of one that is not listed."
    )
