"""A line from a logbook taken apart: the complaint, circumstances, findings and numbers it tells.

The line is cut into clauses, and each is held against the one index of words (`wording`). What is
understood is only ever proposed; nothing is recorded that nobody confirmed. Scored by
`tests/benchmarks/sentences.py`; the numbers here are judgement, set on the half of its lines that
is not held out.
"""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from troubleshoot.advice.said import line_of
from troubleshoot.advice.verdict import commonness
from troubleshoot.case import entries
from troubleshoot.case.diagnose import Bench
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.readings.numbers_in_text import numbers_in
from troubleshoot.readings.quantity import in_gauge_unit
from troubleshoot.talk.wording import ALARMING, Match, denied, denies, meant, praises

ENOUGH = 60.0  # score from which a finding or a danger sign is proposed for a clause
EARLIER = 50.0  # the same for a circumstance, whose clause says more beside it (a day, a name)
PLAIN = 75.0  # the same for a circumstance that is not asked in such a case
NEAR = 0.75  # share of the best score of its clause that a quantity or a circumstance needs
HOME = 0.7  # share of the best score from which a finding of the complaint's world is taken
OPENS = 45.0  # score from which a clause speaks for a complaint
WORLD = 1.0  # what a clause counts for a complaint in whose world it lies, over one that names it
COMMON = 0.05  # the same for the logarithm of how common the complaint is
FEWEST = 2  # words that a clause shares with what is proposed for it, where the line has so many;
# a danger needs but one
EXPECTED = 0.5  # share of healthy coaters from which an answer is what one expects to see
SHORT = 2  # words up to which what follows an "and" is said of the same thing
ALSO = 0.4  # votes behind the first within which another complaint is offered too
MOST = 60  # matches looked at for a clause
CUT = re.compile(r"\s*(?:[;\n]|(?<![0-9]),|,(?![0-9])|\.(?=\s|$)|\b(?:but|aber|mais)\b)\s*")
JOINED = re.compile(r"\s(?:and|und|et|with|mit|avec)\s")

_Found = Mapping[str, Sequence[Match]]


@dataclass(frozen=True)
class Heard:
    """One thing that a clause seems to say: the entry that it would be, and the clause."""

    said: entries.Finding | entries.Circumstance | entries.Sign
    clause: str
    score: float

    @property
    def about(self) -> str:
        """What it is about: there is one answer to it."""
        match self.said:
            case entries.Finding():
                return f"finding:{self.said.finding}"
            case entries.Circumstance():
                return f"circumstance:{self.said.circumstance}"
        return f"sign:{self.said.sign}"


@dataclass(frozen=True)
class Line:
    """All that was understood of a line: complaints (likeliest first), the rest, what was not."""

    text: str
    complaints: tuple[str, ...]
    heard: tuple[Heard, ...]
    left: tuple[str, ...]


def understand(bench: Bench, text: str, complaint: str = "") -> Line:
    """What `text` seems to say, for a case of `complaint` where that is known already."""
    rules, machine = bench.rules, bench.machine
    found = {clause: _meant(rules, clause) for clause in _clauses(rules, text)}
    fewest = min(FEWEST, len(text.split()))
    complaints = [complaint] if complaint else _complaints(rules, found, machine, fewest)
    heard = _told(rules, machine, found, complaints[0] if complaints else "", fewest)
    used = {h.clause for h in heard}
    left = [c for c, matches in found.items() if c not in used and not _names(matches)]
    return Line(text, tuple(complaints), tuple(heard), tuple(left))


def _meant(rules: RuleBase, clause: str) -> list[Match]:
    """What a clause may mean; what it denies is turned round where there are two answers only.

    Nothing where the likeliest is denied and cannot be turned round: the next best is a guess. A
    clause that praises something means no trouble, unless those who mean it praise as well; of a
    danger no praise takes anything away.
    """
    out = []
    terms, praise = denied(rules, clause), praises(rules, clause)
    for m in meant(rules, clause, most=MOST):
        if praise and _is_trouble(rules, m) and not praises(rules, m.phrase):
            continue
        if not denies(rules, terms, m.phrase):
            out.append(m)
        elif m.kind == "finding" and m.answer and len(rules.findings[m.id].answers) == 2:
            other = next(a for a in rules.findings[m.id].answers if a != m.answer)
            out.append(replace(m, answer=other))
        elif not out:
            return []
    return out


def _is_trouble(rules: RuleBase, match: Match) -> bool:
    """Whether it is a complaint, or an answer that one does not expect; a danger is more."""
    if match.kind == "finding":
        return bool(match.answer) and not _is_expected(rules, match)
    return match.kind == "complaint"


def _is_expected(rules: RuleBase, match: Match) -> bool:
    """Whether most healthy coaters show this answer."""
    return rules.findings[match.id].background.get(match.answer or "", 0.0) > EXPECTED


def told(heard: Heard, rules: RuleBase, machine: Machine) -> str:
    """What would be recorded, in a line."""
    return line_of(heard.said, rules, machine) or ""


def _clauses(rules: RuleBase, text: str) -> list[str]:
    """The clauses of a text, each once; one that joins two things with "and" is cut there."""
    out = []
    for clause in CUT.split(text):
        out += _halves(rules, clause) if clause.strip() else []
    return list(dict.fromkeys(out))


def _halves(rules: RuleBase, clause: str) -> list[str]:
    """The clause in two where both halves are understood by themselves, of different things."""
    for joint in JOINED.finditer(clause):
        halves = [clause[: joint.start()].strip(), clause[joint.end() :].strip()]
        if len(halves[1].split()) <= SHORT:  # "glow pale and weak": the same thing is meant
            halves[1] = f"{halves[0].split()[0]} {halves[1]}"
        best = [m for h in halves for m in meant(rules, h, most=1) if m.score >= ENOUGH]
        if len({m.id for m in best}) == 2:
            return [halves[0], *_halves(rules, halves[1])]
    return [clause.strip()]


def _names(matches: Sequence[Match]) -> bool:
    return any(m.kind == "complaint" and m.score >= OPENS for m in matches)


def _opens(rules: RuleBase, clause: str, matches: Sequence[Match], fewest: int) -> bool:
    """Whether the clause surely tells of a trouble, and of no danger sooner than of that."""
    if matches and matches[0].kind == "sign":
        return False
    of = {"complaint": min(fewest, len(clause.split())), "finding": fewest}
    return any(
        m.score >= OPENS and m.kind in of and m.shared >= of[m.kind] and _is_trouble(rules, m)
        for m in matches
    )


def _complaints(rules: RuleBase, found: _Found, machine: Machine, fewest: int) -> list[str]:
    """The complaints that the line speaks for, likeliest first.

    A clause speaks for those that it names, and for those in whose world lies what it tells; of two
    that are spoken for alike the commoner on this machine goes first. None where no clause surely
    tells of a trouble: all may be well, or a danger is told alone, and that comes first.
    """
    found = {clause: matches for clause, matches in found.items() if not praises(rules, clause)}
    if not any(_opens(rules, clause, matches, fewest) for clause, matches in found.items()):
        return []
    common = commonness(rules, machine)
    votes = {c: COMMON * math.log(often) for c, often in common.items() if often > 0}
    for matches in (*found.values(), meant(rules, "; ".join(found), most=MOST)):
        for m in matches:
            if m.kind == "complaint" and m.id in votes:
                votes[m.id] += (m.score / 100) ** 3
    for name in votes:
        for matches in found.values():
            here = (
                m.score
                for m in matches
                if m.kind == "finding" and _is_trouble(rules, m) and _fits(rules, m.id, name)
            )
            votes[name] += WORLD * (max(here, default=0.0) / 100) ** 3
    order = sorted(votes, key=lambda c: -votes[c])
    return [c for c in order if votes[c] >= votes[order[0]] - ALSO][:3]


def _told(rules: RuleBase, machine: Machine, found: _Found, about: str, fewest: int) -> list[Heard]:
    """What the clauses tell in a case of this complaint, of each thing the surest."""
    heard: dict[str, Heard] = {}
    for clause, matches in found.items():
        for one in (
            *_numbers(rules, clause, matches, machine, about),
            *_words(rules, clause, matches, about, fewest),
        ):
            if one.about not in heard or heard[one.about].score < one.score:
                heard[one.about] = one
    return list(heard.values())


def _numbers(
    rules: RuleBase, clause: str, matches: Sequence[Match], machine: Machine, about: str
) -> list[Heard]:
    """The quantities in a clause, each for the finding that its words are about."""
    asked = {
        f.id: (f, f.quantity.dimension)
        for f in rules.findings.values()
        if f.quantity and _fits(rules, f.id, about)
    }
    scores = {m.id: m.score for m in matches if m.kind == "finding"}
    least = max(NEAR * max(scores.values(), default=0.0), ENOUGH)
    out: dict[str, Heard] = {}
    for number in numbers_in(clause, {dimension for _, dimension in asked.values()}):
        fit = [
            (scores[name], name)
            for name, (_, dimension) in asked.items()
            if dimension == number.dimension and scores.get(name, 0.0) >= least
        ]
        if not fit:
            continue
        score, name = max(fit)
        try:
            kept = in_gauge_unit(asked[name][0], number.text, machine.told_unit)
        except UserError:
            continue  # it stays among what was not understood, or among the words
        said = entries.Finding(finding=name, quantity=kept)
        out.setdefault(name, Heard(said, clause, score + 1))  # a number says more than words
    return list(out.values())


def _words(
    rules: RuleBase, clause: str, matches: Sequence[Match], about: str, fewest: int
) -> list[Heard]:
    """The danger sign, the circumstance and the finding that a clause says in words."""
    near = ALARMING * max((m.score for m in matches), default=0.0)  # a danger need not be best
    alarm = next((m for m in matches if m.kind in ("sign", "circumstance")), None)
    sign = alarm if alarm and alarm.kind == "sign" and alarm.score >= near else None
    matches = [m for m in matches if m.shared >= fewest]
    fact = next((m for m in matches if m.kind == "circumstance" and _bears(rules, m, about)), None)
    seen = _seen(rules, [m for m in matches if m.kind == "finding"], about)
    best = max((m.score for m in (sign, seen) if m is not None), default=0.0)
    out = []
    if sign and sign.score >= ENOUGH:
        out.append(Heard(entries.Sign(sign=sign.id, present=True), clause, sign.score))
    if fact and fact.score >= max(EARLIER, NEAR * best):
        said = entries.Circumstance(circumstance=fact.id, answer="yes")
        out.append(Heard(said, clause, fact.score))
    beside = max((h.score for h in out), default=0.0)
    if seen and seen.answer and seen.score >= max(ENOUGH, beside):
        out.append(Heard(entries.Finding(finding=seen.id, answer=seen.answer), clause, seen.score))
    return out


def _seen(rules: RuleBase, matches: Sequence[Match], about: str) -> Match | None:
    """The finding that is meant: the best, or one of this complaint's world nearly as good."""
    least = max((m.score for m in matches), default=0.0) * HOME
    here = (m for m in matches if m.score >= least and _fits(rules, m.id, about))
    return next(here, next(iter(matches), None))


def _fits(rules: RuleBase, finding: str, about: str) -> bool:
    return not about or rules.is_in_world(finding, about)


def _bears(rules: RuleBase, fact: Match, about: str) -> bool:
    """Whether a circumstance is asked in cases of this complaint, or is said plainly."""
    wanted = rules.circumstances[fact.id].complaints
    return not about or not wanted or about in wanted or fact.score >= PLAIN
