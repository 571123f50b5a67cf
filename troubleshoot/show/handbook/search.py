"""The index of the handbook: every entry with the words by which somebody may look for it."""

import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from troubleshoot.show.handbook.addresses import address, learn_address
from troubleshoot.show.handbook.content import Shelf
from troubleshoot.training.course import PARTS

SHORTEST = 4  # letters of a word whose plural or other ending still is the same word


@dataclass(frozen=True)
class Item:
    """One line of the index: what it is called, what it is, where it stands, and its texts.

    `words` are the texts by which it is found, small letters only, parted by bars.
    """

    name: str
    kind: str
    address: str
    words: str


class Index:
    """The lines of the index for one rule base."""

    def __init__(self, shelf: Shelf) -> None:
        self.shelf, self.rules = shelf, shelf.rules

    @cached_property
    def items(self) -> tuple[Item, ...]:
        """Every line, by name."""
        return tuple(sorted(self._items(), key=lambda i: (i.name.lower(), i.kind, i.address)))

    def _items(self) -> Iterator[Item]:
        rules = self.rules
        for c in rules.complaints.values():
            yield self._item("complaints", c.id, c.name, "complaint", [*c.says, *self._said(c.id)])
        for cause in rules.causes.values():
            texts = [cause.what, cause.subsystem, cause.lesson]
            yield self._item("causes", cause.id, cause.name, "cause", texts)
        for a in rules.actions.values():
            yield self._item("actions", a.id, a.name, a.kind, [a.say, *self._said(a.id)])
        for f in rules.findings.values():
            check = self.shelf.check_for(f.id)
            if check is not None:
                where = f"{address(rules, 'actions', check)}#{f.id}"
                texts = [f.ask, *f.answers.values(), *f.looks.values(), *self._said(f.id)]
                yield Item(f.name, "what is looked at", where, self._words(f.name, texts))
        for caution in rules.cautions.values():
            signs = [s.ask for s in rules.signs.values() if s.caution == caution.id]
            said = [t for s in rules.signs.values() for t in self._said(s.id)]
            texts = [caution.hazard, caution.precaution, *signs, *(said if signs else ())]
            yield self._item("cautions", caution.id, caution.name, "caution", texts)
        for way in rules.workarounds.values():
            yield self._item("workarounds", way.id, way.name, "way round", [way.expect])
        for m in rules.mechanisms.values():
            yield self._item("mechanisms", m.id, m.name, "how things go wrong", [m.what])
        for lesson in rules.lessons.values():
            texts = [lesson.see, lesson.tempting, lesson.really, lesson.test]
            yield Item(
                lesson.name, "lesson", learn_address(lesson.id), self._words(lesson.name, texts)
            )
        for step in rules.routine.values():
            where = learn_address(PARTS[step.part][0])
            texts = [step.do, step.why, step.left_out]
            yield Item(step.name, "step of a run", where, self._words(step.name, texts))
        for term in rules.words.values():
            texts = [term.means, *term.also]
            yield self._item("words", term.id, term.name, "word", texts)
        for specimen in rules.specimens.values():
            texts = [*specimen.says, *specimen.advice]
            yield self._item("specimens", specimen.id, specimen.name, "specimen", texts)
        for care in rules.care.values():
            yield self._item("care", care.id, care.name, "care", [care.say])

    def _item(self, kind: str, id: str, name: str, called: str, texts: Iterable[str]) -> Item:
        return Item(name, called, address(self.rules, kind, id), self._words(name, texts))

    def _said(self, name: str) -> list[str]:
        """What people say who mean an entry."""
        phrases = self.rules.phrases.get(name)
        if phrases is None:
            return []
        return [*phrases.says, *(text for texts in phrases.answers.values() for text in texts)]

    def _words(self, name: str, texts: Iterable[str]) -> str:
        """The texts of an entry, and the other words that people have for those of its name."""
        named = [_stem(word) for word in _split(name)]
        others = [
            " ".join(synonyms.words)
            for synonyms in self.rules.synonyms.values()
            if any(all(_stem(w) in named for w in _split(means)) for means in synonyms.means)
        ]
        plain = (" ".join(_split(text)) for text in (name, *texts, *others))
        return "|".join(text for text in dict.fromkeys(plain) if text)

    @property
    def as_json(self) -> str:
        """All lines as JSON that may stand inside a script element."""
        rows = [
            {"name": i.name, "kind": i.kind, "address": i.address, "words": i.words}
            for i in self.items
        ]
        text = json.dumps(rows, ensure_ascii=False, separators=(",", ":"))
        return text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e")

    @property
    def letters(self) -> list[tuple[str, list[Item]]]:
        """The lines by their first letter."""
        groups: dict[str, list[Item]] = {}
        for item in self.items:
            groups.setdefault(item.name[:1].upper(), []).append(item)
        return sorted(groups.items())


def _split(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text.lower())


def _stem(word: str) -> str:
    return word[:-1] if word.endswith("s") and len(word) > SHORTEST else word
