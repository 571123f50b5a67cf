"""An input made odd: bytes changed, pieces cut out, doubled, moved, mixed with another input's."""

import random
import re
from collections.abc import Sequence

NUMBER = re.compile(rb"\d+(?:\.\d+)?")


def mutated(corpus: Sequence[bytes], chance: random.Random, words: Sequence[bytes]) -> bytes:
    """One of `corpus` after one to six changes; `words` are what is put in."""
    content = chance.choice(corpus)
    for _ in range(chance.randint(1, 6)):
        content = chance.choice(CHANGES)(content, chance, corpus, words)
    return content


def _place(content: bytes, chance: random.Random) -> int:
    return chance.randrange(len(content) + 1)


def _flip(content, chance, corpus, words):
    at = _place(content, chance)
    return content[:at] + bytes([chance.randrange(256)]) + content[at + 1 :]


def _put(content, chance, corpus, words):
    at = _place(content, chance)
    return content[:at] + chance.choice(words) + content[at:]


def _over(content, chance, corpus, words):
    at, word = _place(content, chance), chance.choice(words)
    return content[:at] + word + content[at + len(word) :]


def _cut(content, chance, corpus, words):
    at, to = sorted((_place(content, chance), _place(content, chance)))
    return content[:at] + content[to:]


def _end(content, chance, corpus, words):
    return content[: _place(content, chance)]


def _double(content, chance, corpus, words):
    at, to = sorted((_place(content, chance), _place(content, chance)))
    return content[:to] + content[at:to] * chance.choice((1, 1, 2, 20)) + content[to:]


def _lines(content, chance, corpus, words):
    lines = content.split(b"\n")
    a, b = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[a], lines[b] = lines[b], lines[a]
    return b"\n".join(lines)


def _mix(content, chance, corpus, words):
    other = chance.choice(corpus)
    at, to = sorted((_place(other, chance), _place(other, chance)))
    here = _place(content, chance)
    return content[:here] + other[at:to] + content[here:]


def _number(content, chance, corpus, words):
    numbers = list(NUMBER.finditer(content))
    if not numbers:
        return content
    found = chance.choice(numbers)
    new = chance.choice((b"0", b"-1", b"1e308", b"1e-308", b"nan", b"inf", b"9" * 30, b"0x1F", b""))
    return content[: found.start()] + new + content[found.end() :]


CHANGES = (_flip, _put, _over, _cut, _end, _double, _lines, _mix, _number)
