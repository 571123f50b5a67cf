"""Plain text cut into terms: stems of words, and what the rule base's synonyms make of them.

A *slot* is one word or one known group of words of a text, with the terms that it may stand for and
how surely (0 to 1). Two texts speak of the same thing where their slots share a term. Accents are
dropped (`lädt` and `ladt` are one word).
"""

import re
import unicodedata
from collections.abc import Collection, Mapping, Sequence

from troubleshoot.knowledge.model import Synonyms

Slot = dict[str, float]

AKIN = 0.6  # a word of the same meaning counts this much of the word itself
LONGEST = 4  # words in a group that is looked up as one
DOUBLING = ("ingly", "ings", "ing", "edly", "ed")  # stop -> stopping: a letter is doubled before
ENDINGS = (*DOUBLING, "ies", "ied", "ness", "ily", "ly", "es", "s", "y", "e")
SHORTEST = 3  # letters that a stem keeps


def words_of(text: str) -> list[str]:
    """The words of `text`: small letters and figures, no accents, no stops."""
    plain = unicodedata.normalize("NFKD", text.lower().replace("ß", "ss"))
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    plain = re.sub(r"n['’]t\b", "nt", plain)
    return re.findall(r"[a-z]{2,}|[0-9]+(?:[.,][0-9]+)?", plain)


def stem(word: str) -> str:
    """The word without the ending that matters least: glows, glowing, glowed -> glow."""
    for ending in ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= SHORTEST and word[-2:] != "ss":
            rest = word[: -len(ending)]
            doubled = ending in DOUBLING and len(rest) > SHORTEST and rest[-1] == rest[-2]
            return rest[:-1] if doubled else rest
    if word.endswith("er") and len(word) - 2 > SHORTEST:
        return word[:-2]
    return word


class Vocabulary:
    """What the synonyms say of words and groups of words.

    `single`: stem -> the meanings that a word of this stem has by itself. `qualities` are the terms
    of those that say nothing by themselves, `words` all of them as they are written, `little` the
    words that mean nothing here.
    """

    def __init__(self, synonyms: Collection[Synonyms]) -> None:
        self._meanings: dict[tuple[str, ...], set[str]] = {}
        self.little: set[str] = set()
        self.words: set[str] = set()
        self.qualities = {f"={entry.id}" for entry in synonyms if not entry.alone}
        for entry in synonyms:
            for text in (*entry.means, *entry.words):
                group = tuple(stem(w) for w in words_of(text))
                if not entry.means:
                    self.little.update(words_of(text))
                elif group:
                    self.words.update(words_of(text))
                    self._meanings.setdefault(group, set()).add(f"={entry.id}")
        alone = {group[0]: terms for group, terms in self._meanings.items() if len(group) == 1}
        self.single: Mapping[str, set[str]] = alone

    def slots(self, text: str) -> list[Slot]:
        """The slots of `text` in their order, one a term at most; little words are left out."""
        words = words_of(text)
        stems = [stem(w) for w in words]
        out: dict[str, Slot] = {}
        for n, word in enumerate(words):
            for length in range(2, LONGEST + 1):
                group = tuple(stems[n : n + length])
                if group in self._meanings:
                    out[" ".join(group)] = self._slot(group)
            if (stems[n],) in self._meanings or (word not in self.little and not word[0].isdigit()):
                out[stems[n]] = self._slot((stems[n],))
        return list(out.values())

    def _slot(self, group: Sequence[str]) -> Slot:
        meanings = self._meanings.get(tuple(group), set())
        return {" ".join(group): 1.0, **dict.fromkeys(meanings, AKIN)}
