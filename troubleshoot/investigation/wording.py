"""What somebody typed in their own words, matched to the rule base's phrases.

A match is only ever offered, never taken silently. The matching is rapidfuzz's.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from troubleshoot.knowledge.model import RuleBase

LEAST = 55.0


@dataclass(frozen=True)
class Match:
    """An entry that may be meant, the phrase that matched, and how well (0 to 100)."""

    id: str
    phrase: str
    score: float


def complaints_like(rules: RuleBase, words: str, most: int = 3) -> list[Match]:
    """The complaints that `words` may mean, best first."""
    phrases = {c.id: [c.name, *c.says] for c in rules.complaints.values()}
    return _best(phrases, words, most)


def findings_like(rules: RuleBase, words: str, among: Iterable[str], most: int = 6) -> list[Match]:
    """The findings that `words` may mean, best first."""
    phrases = {
        name: [rules.findings[name].name, *rules.findings[name].answers.values()] for name in among
    }
    return _best(phrases, words, most)


def _best(phrases: Mapping[str, list[str]], words: str, most: int) -> list[Match]:
    from rapidfuzz import fuzz, utils

    found = []
    for name, texts in phrases.items():
        scored = [
            (
                max(
                    fuzz.token_set_ratio(words, t, processor=utils.default_process) * 0.9,
                    fuzz.WRatio(words, t, processor=utils.default_process),
                ),
                t,
            )
            for t in texts
        ]
        score, phrase = max(scored)
        if score >= LEAST:
            found.append(Match(name, phrase, score))
    return sorted(found, key=lambda m: (-m.score, m.id))[:most]
