"""How several causes combine on one finding, by enumeration and with dictionaries only.

Slow and plain on purpose: the judge of `troubleshoot.reasoning.findings`. A row q and the
background b split into "speaks" with chance l = 1 - min(q/b) and, if so, r = (q - (1 - l) b)/l.
"""

import itertools
import math

from tests.reasoning.small import subsets

Row = dict[str, float]


def split(q: Row, b: Row) -> tuple[float, Row]:
    """(l, r) of one cause: the largest share of the background that can be taken out of q."""
    quiet = min(q[a] / b[a] for a in b)
    if 1.0 - quiet < 1e-12:
        return 0.0, dict(b)
    return 1.0 - quiet, {a: (q[a] - quiet * b[a]) / (1.0 - quiet) for a in b}


def noisy_max(rows: list[Row], b: Row) -> Row:
    """Each cause speaks or not; the worst answer of those that do is seen; else the background."""
    answers = list(b)
    splits = [split(q, b) for q in rows]
    terms: dict[str, list[float]] = {a: [] for a in answers}
    for fired in subsets(range(len(rows))):
        chance = math.prod(loud if n in fired else 1.0 - loud for n, (loud, _) in enumerate(splits))
        if not fired:
            for a in answers:
                terms[a].append(chance * b[a])
            continue
        for drawn in itertools.product(answers, repeat=len(fired)):
            p = math.prod(splits[n][1][a] for n, a in zip(fired, drawn, strict=True))
            terms[max(drawn, key=answers.index)].append(chance * p)
    return {a: math.fsum(t) for a, t in terms.items()}


def one_is_heard(rows: list[Row], b: Row) -> Row:
    """If any cause speaks, one of those present is heard, with a chance in proportion to its l."""
    splits = [split(q, b) for q in rows]
    nobody = math.prod(1.0 - loud for loud, _ in splits)
    somebody = math.fsum(
        math.prod(loud if n in fired else 1.0 - loud for n, (loud, _) in enumerate(splits))
        for fired in subsets(range(len(rows)))
        if fired
    )
    total = math.fsum(loud for loud, _ in splits)
    return {
        a: nobody * b[a]
        + math.fsum(somebody * loud / total * r[a] for loud, r in splits if loud > 0)
        for a in b
    }


def all_must_go(rows: list[Row], b: Row) -> Row:
    """Each cause present gives its own outcome; "gone" and "same" need all of them to agree."""
    if not rows:
        return dict(b)
    answers = list(b)
    terms: dict[str, list[float]] = {a: [] for a in answers}
    for drawn in itertools.product(answers, repeat=len(rows)):
        p = math.prod(q[a] for q, a in zip(rows, drawn, strict=True))
        if all(a == answers[0] for a in drawn):
            terms[answers[0]].append(p)
        elif len(answers) == 2 or all(a == answers[-1] for a in drawn):
            terms[answers[-1]].append(p)
        else:
            terms[answers[1]].append(p)
    return {a: math.fsum(t) for a, t in terms.items()}


def combined(kind: str, rows: list[Row], b: Row) -> Row:
    """P(answer | the causes with these rows are present)."""
    if kind == "graded":
        return noisy_max(rows, b)
    if kind == "cure_test":
        return all_must_go(rows, b)
    return one_is_heard(rows, b)
