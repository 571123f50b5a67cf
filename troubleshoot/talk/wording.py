"""What somebody typed in their own words, matched to the entries of the rule base.

One index holds what the rule base itself says of complaints, findings with each of their answers,
circumstances, actions and danger signs, and what people say who mean them (`phrases` and
`synonyms` in the rules). A match is only ever offered, never taken silently.

The score joins how well the nearest single phrase fits with how much of the typed text the entry
knows at all. Words weigh by their rarity as in BM25 (Robertson and Zaragoza, Foundations and Trends
in Information Retrieval 3 (2009) 333); the other numbers here are judgement. How alike two words
are is rapidfuzz's.
"""

import itertools
import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from troubleshoot.knowledge.model import RuleBase
from troubleshoot.talk.vocabulary import Slot, Vocabulary, stem, words_of

Kind = Literal["complaint", "finding", "circumstance", "action", "sign"]

ENOUGH = 0.8  # score (as a share) times the weight of the known words, in rarest words, at least
NAMING = 0.5  # the same where a word of the text stands in the name of an entry
SAME = 0.95  # from this fit on, such a text is itself a phrase of the rules and needs no more
FAINT = 0.4  # best score (as a share) below which nothing is taken for meant, but a danger sign
VAGUE = 0.7  # how well a phrase that tells no answer stands against one that does
UNDENIED = 0.6  # the same for one that denies something where the text denies nothing
ALARMING = 0.85  # share of the best score offered from which a danger sign goes before all else
BESIDE = 0.45  # share of the best entry's score that another needs to be offered beside it
NEAREST = 0.25  # share of the nearest phrase in the score; the rest is the whole entry's
SATURATION = 0.5  # BM25's k: how soon another phrase with the same word adds nothing
LENGTH = 0.25  # BM25's b: how far an entry of many words is held back
DENIAL = "=none"  # the meaning of words such as not, no, never, kein, pas
PRAISE = "=good"  # the meaning of words such as fine, ok, works, gut, bien
BRIEF = 5  # words up to which praise is meant of all that is said with it
UNHEARD = 0.5  # weight of a word that nothing in the rules knows, over that of the rarest
CLOSE = 0.75  # two words this alike (1 less slips a letter) are the same word badly spelt
SPELT = 4  # letters that a word needs before a slip of the pen is looked for; in one of just
# so many, letters may only have changed places
SAID, NAMED, ANSWERED, ASKED, LOOKED = 1.0, 0.9, 1.0, 0.5, 0.5  # what a field's words weigh


@dataclass(frozen=True)
class Match:
    """An entry that may be meant, the phrase that matched, and how well (0 to 100).

    `shared`: words of the text that stand in that phrase.
    """

    kind: Kind
    id: str
    answer: str | None
    phrase: str
    score: float
    shared: int = 0

    @property
    def value(self) -> str:
        """The ID, marked where it is a danger sign's."""
        return f"sign:{self.id}" if self.kind == "sign" else self.id


@dataclass(frozen=True)
class _Phrase:
    entry: "_Entry"
    answer: str | None
    text: str
    weight: float


_Entry = tuple[Kind, str]
_Answer = tuple[_Entry, str | None]


def meant(
    rules: RuleBase, words: str, among: Collection[str] | None = None, most: int = 6
) -> list[Match]:
    """The entries that `words` may mean, best first, one match for each; none for mere noise.

    `among` leaves out all entries but those with these IDs.
    """
    return _index(rules).search(words, among)[:most]


def holding(words: str, pool: Mapping[str, Any]) -> list[str]:
    """The entries whose names hold some of the words or words that begin so, most of them first."""
    asked = [w for w in words_of(words) if len(w) >= SPELT]
    held: dict[str, int] = {}
    for name, entry in pool.items():
        there = words_of(entry.name) if entry is not None else []
        held[name] = sum(any(w.startswith(a) for w in there) for a in asked)
    return sorted((name for name, n in held.items() if n), key=lambda name: -held[name])


def complaints_like(rules: RuleBase, words: str, most: int = 6) -> list[Match]:
    """The complaints that `words` may mean, best first, with any danger sign before them."""
    return _with_signs(meant(rules, words, {*rules.complaints, *rules.signs}, most), "complaint")


def findings_like(
    rules: RuleBase, words: str, among: Collection[str], most: int = 6
) -> list[Match]:
    """The findings that `words` may mean, best first, with any danger sign before them."""
    return _with_signs(meant(rules, words, {*among, *rules.signs}, most), "finding")


def _with_signs(matches: Sequence[Match], kind: Kind) -> list[Match]:
    best = max((m.score for m in matches), default=0.0)
    signs = [m for m in matches if m.kind == "sign" and m.score >= ALARMING * best]
    return [*signs, *(m for m in matches if m.kind == kind)]


def denied(rules: RuleBase, words: str) -> set[str]:
    """The terms that `words` deny: those of the word after each negation."""
    vocabulary = _index(rules).vocabulary
    told = [slots[0] for word in words.split() if (slots := vocabulary.slots(word))]
    pairs = itertools.pairwise(told)
    return {term for before, after in pairs if DENIAL in before for term in after}


def denies(rules: RuleBase, terms: Collection[str], phrase: str) -> bool:
    """Whether text with these `terms` denied denies what `phrase` says.

    "not pink" denies "pink", "no glow" not "no light": that has a negation of its own.
    """
    if not terms:
        return False
    says = {term for slot in _index(rules).vocabulary.slots(phrase) for term in slot}
    return DENIAL not in says and not says.isdisjoint(terms)


def praises(rules: RuleBase, words: str) -> bool:
    """Whether `words` say of something that it is good, and no more than that.

    Who denies anything ("no longer works") does not praise, but in so many words ("no problems");
    and who says more ("was fine before lunch, now it flickers") may tell of a trouble as well.
    """
    slots = _index(rules).vocabulary.slots(words)
    told = [next(iter(slot)) for slot in slots if PRAISE in slot]
    denying = any(DENIAL in slot for slot in slots)
    brief = len(words.split()) <= BRIEF
    return brief and any(" " in words_told or not denying for words_told in told)


def candidate(rules: RuleBase, match: Match) -> str:
    """What a match says, in a line: the entry, the answer that is meant, the phrase it matched."""
    names: dict[Kind, Mapping[str, Any]] = {
        "complaint": rules.complaints,
        "finding": rules.findings,
        "circumstance": rules.circumstances,
        "action": rules.actions,
        "sign": rules.signs,
    }
    entry = names[match.kind][match.id]
    head = f"Danger: {entry.name}" if match.kind == "sign" else entry.name
    said = "" if match.answer is None else entry.answers[match.answer]
    line = f"{head}: {said}" if said else head
    return line if match.phrase in (said, entry.name) else f"{line} (“{match.phrase}”)"


def _index(rules: RuleBase) -> "_Index":
    """The index of `rules`, built once for as long as no other rule base is asked about."""
    if not _kept or _kept[0][0] is not rules:
        _kept[:] = [(rules, _Index(rules))]
    return _kept[0][1]


_kept: list[tuple[RuleBase, "_Index"]] = []


class _Index:
    """Every phrase of a rule base by its terms."""

    def __init__(self, rules: RuleBase) -> None:
        self.vocabulary = Vocabulary(rules.synonyms.values())
        self.phrases = list(_phrases(rules))
        slots = [self.vocabulary.slots(p.text) for p in self.phrases]
        self.holders: dict[str, dict[int, float]] = defaultdict(dict)
        spread: dict[str, set[_Entry]] = defaultdict(set)
        for n, (phrase, cut) in enumerate(zip(self.phrases, slots, strict=True)):
            for term, surely in ((t, s) for slot in cut for t, s in slot.items()):
                self.holders[term][n] = max(surely, self.holders[term].get(n, 0.0))
                spread[term].add(phrase.entry)
        entries = len({p.entry for p in self.phrases})
        self.rarity = {
            term: math.log(1 + (entries - len(held) + 0.5) / (len(held) + 0.5))
            for term, held in spread.items()
        }
        self.rarest = math.log(1 + (entries - 0.5) / 1.5)
        self.denying = {n for n, cut in enumerate(slots) if any(DENIAL in s for s in cut)}
        self.length = [sum(self._weight(slot) for slot in cut) for cut in slots]
        sizes: dict[_Entry, float] = defaultdict(float)
        for phrase, length in zip(self.phrases, self.length, strict=True):
            sizes[phrase.entry] += phrase.weight * length
        usual = sum(sizes.values()) / max(len(sizes), 1)
        self.slowness = {
            entry: SATURATION * (1 - LENGTH + LENGTH * size / usual)
            for entry, size in sizes.items()
        }
        self.names = {
            term
            for phrase, cut in zip(self.phrases, slots, strict=True)
            for term in (t for slot in cut for t in slot if phrase.weight == NAMED)
        } - self.vocabulary.qualities
        whole = {w for p in self.phrases for w in words_of(p.text)} | self.vocabulary.words
        self.spelt = {
            spelt: term
            for spelt, term in ((w, stem(w)) for w in sorted({*whole, *self.rarity}))
            if len(spelt) >= SPELT and spelt.isalpha() and term in self.rarity
        }

    def search(self, words: str, among: Collection[str] | None) -> list[Match]:
        """One match for each entry that scores enough, best first."""
        slots = [m for slot in self.vocabulary.slots(words) if (m := self._mend(slot))]
        total = sum(self._weight(slot) for slot in slots)
        denying = any(DENIAL in slot for slot in slots)
        heard = [slot for slot in slots if self._knows(slot)]
        near: dict[int, float] = defaultdict(float)
        shared: dict[int, set[str]] = defaultdict(set)
        known: dict[_Entry, float] = defaultdict(float)
        answer: dict[_Answer, float] = defaultdict(float)
        for slot in slots:
            weight = self._weight(slot)
            written = next(iter(slot)).split()
            often: dict[_Entry, float] = defaultdict(float)
            often_so: dict[_Answer, float] = defaultdict(float)
            for n, how in self._held(slot).items():
                phrase = self.phrases[n]
                near[n] += weight * how
                shared[n].update(written)
                often[phrase.entry] += how * phrase.weight
                often_so[phrase.entry, phrase.answer] += how * phrase.weight
            for entry, times in often.items():
                known[entry] += weight * times / (times + self.slowness[entry])
            for so, times in often_so.items():
                answer[so] += weight * times / (times + SATURATION)
        best: dict[_Entry, float] = defaultdict(float)
        told: dict[_Entry, tuple[float, int]] = {}
        for n, hit in near.items():
            phrase = self.phrases[n]
            fit = phrase.weight * hit / math.sqrt(total * max(self.length[n], hit))
            best[phrase.entry] = max(best[phrase.entry], fit)
            whole = fit + answer[phrase.entry, phrase.answer] / total
            if phrase.answer is None:
                whole *= VAGUE
            if n in self.denying and not denying:
                whole *= UNDENIED
            told[phrase.entry] = max(told.get(phrase.entry, (0.0, 0)), (whole, n))
        found = []
        for entry, (_, n) in told.items():
            score = 100 * (NEAREST * best[entry] + (1 - NEAREST) * known[entry] / total)
            phrase = self.phrases[n]
            found.append(
                Match(*entry, phrase.answer, phrase.text, min(score, 100.0), len(shared[n]))
            )
        found.sort(key=lambda m: (-m.score, m.kind, m.id))
        if not found:
            return []
        if found[0].score < 100 * FAINT and found[0].kind != "sign":
            return []
        said = found[0].score / 100 * sum(map(self._weight, heard)) / self.rarest
        named = any(term in self.names for slot in heard for term in slot)
        if said < (NAMING if named else ENOUGH) and not (named and max(best.values()) > SAME):
            return []
        least = BESIDE * found[0].score
        return [m for m in found if m.score >= least and (among is None or m.id in among)]

    def _held(self, slot: Slot) -> dict[int, float]:
        """The phrases that share a term with the slot, and how surely they do."""
        held: dict[int, float] = {}
        for term, surely in slot.items():
            for n, there in self.holders.get(term, {}).items():
                held[n] = max(held.get(n, 0.0), min(surely, there))
        return held

    def _knows(self, slot: Slot) -> bool:
        return any(term in self.rarity for term in slot)

    def _weight(self, slot: Slot) -> float:
        """Rarity of the rarest thing that the slot may stand for."""
        known = [self.rarity[t] * surely for t, surely in slot.items() if t in self.rarity]
        return max(known, default=UNHEARD * self.rarest)

    def _mend(self, slot: Slot) -> Slot:
        """The slot, or for a word that nothing knows, the known words nearest to it in letters.

        Empty where the nearest is a little word.
        """
        if self._knows(slot):
            return slot
        from rapidfuzz import process
        from rapidfuzz.distance import OSA

        word = next(iter(slot))
        if len(word) < SPELT or not word.isalpha():
            return slot
        single = self.vocabulary.single
        alike = process.extract(
            word, list(self.spelt), scorer=OSA.normalized_similarity, score_cutoff=CLOSE, limit=3
        )
        little = process.extractOne(
            word, self.vocabulary.little, scorer=OSA.normalized_similarity, score_cutoff=CLOSE
        )
        if little and len(word) > SPELT and little[1] > max((s for _, s, _ in alike), default=0.0):
            return {}
        out: Slot = {}
        for spelt, score, _ in alike:
            if len(word) == SPELT and sorted(word) != sorted(spelt):
                continue
            term = self.spelt[spelt]
            for other in (term, *single.get(term, ())):
                out[other] = max(out.get(other, 0.0), score)
        return out or slot


def _phrases(rules: RuleBase) -> Iterator[_Phrase]:
    """All that the rule base says of its entries, with what each field's words weigh."""

    def of(kind: Kind, name: str, *fields: tuple[float, Iterable[str]]) -> Iterator[_Phrase]:
        said = rules.phrases.get(name)
        own = said.says if said and said.of == kind else []
        for weight, texts in (*fields, (SAID, own)):
            yield from (_Phrase((kind, name), None, text, weight) for text in texts)

    for c in rules.complaints.values():
        yield from of(
            "complaint", c.id, (NAMED, [c.name]), (SAID, c.says), (ASKED, [c.counts_when])
        )
    for s in rules.signs.values():
        yield from of("sign", s.id, (NAMED, [s.name]), (ASKED, [s.ask]))
    for k in rules.circumstances.values():
        yield from of("circumstance", k.id, (NAMED, [k.name]), (ASKED, [k.ask]))
    for a in rules.actions.values():
        yield from of("action", a.id, (NAMED, [a.name]), (ASKED, [a.say]))
    for f in rules.findings.values():
        yield from of("finding", f.id, (NAMED, [f.name]), (ASKED, [f.ask]))
        said = rules.phrases.get(f.id)
        for answer, text in f.answers.items():
            spoken = said.answers.get(answer, []) if said else []
            looks = [f.looks[answer]] if answer in f.looks else []
            for weight, texts in ((ANSWERED, [text]), (LOOKED, looks), (SAID, spoken)):
                yield from (_Phrase(("finding", f.id), answer, t, weight) for t in texts)


def people_say(rules: RuleBase, name: str, answer: str | None = None) -> tuple[str, ...]:
    """What people say who mean this entry, or this answer of a finding."""
    said = rules.phrases.get(name)
    if said is None:
        return ()
    return tuple(said.says if answer is None else said.answers.get(answer, ()))


def sentence(text: str) -> str:
    """The text with a capital letter at its head."""
    return text[:1].upper() + text[1:]
