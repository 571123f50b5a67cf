"""What somebody typed in their own words, matched to the rule base's phrases.

A match is only ever offered, never taken silently. How alike two words are is rapidfuzz's.
"""

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from troubleshoot.knowledge.model import RuleBase

LEAST = 30.0
CLOSE = 82.0  # two words this alike (0 to 100) are the same word with a slip of the pen


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
    """Score each phrase by the typed words it holds; rare words weigh more than common ones.

    The weight of a word is ln(entries / entries that hold it) + a little, so "and" or "the" says
    next to nothing and "flares" much. The whole phrase's likeness breaks ties.
    """
    from rapidfuzz import fuzz

    typed = _words(words)
    vocabulary = {name: {w for t in texts for w in _words(t)} for name, texts in phrases.items()}
    held = Counter(w for bag in vocabulary.values() for w in bag)
    near = {
        w: {v for v in held if fuzz.ratio(w, v) >= CLOSE or _stem(w) == _stem(v)} for w in typed
    }

    def weight(word: str) -> float:
        entries = sum(1 for bag in vocabulary.values() if bag & near[word])
        return math.log(len(phrases) / entries) + 0.1 if entries else 1.0

    total = sum(weight(w) for w in typed)
    found = []
    for name, texts in phrases.items():
        bag = vocabulary[name]
        hit = sum(weight(w) for w in typed if bag & near[w])
        best = max(texts, key=lambda t: (_overlap(near, _words(t)), fuzz.ratio(words, t)))
        score = 100.0 * hit / total if total else 0.0
        likeness = fuzz.token_sort_ratio(" ".join(typed), " ".join(_words(best)))
        if score >= LEAST:
            found.append(Match(name, best, 0.8 * score + 0.2 * likeness))
    return sorted(found, key=lambda m: (-m.score, m.id))[:most]


def _words(text: str) -> list[str]:
    return re.findall(r"[a-z0-9]{2,}", text.lower())


def _stem(word: str) -> str:
    """The word without the endings that matter least: glows, glowing, glowed -> glow."""
    for ending in ("ing", "ed", "es", "s"):
        if word.endswith(ending) and len(word) - len(ending) >= 4:
            return word[: -len(ending)]
    return word


def _overlap(near: Mapping[str, set[str]], words: Iterable[str]) -> int:
    there = set(words)
    return sum(1 for matches in near.values() if matches & there)
