"""What the entries of the rule base rest on, read from their `source`.

A source rests on the best that it names, in this order:

- a *citation*: author and year (`Sauerbrey 1959`; `Chapman, Glow Discharge Processes, 1980`), the
  number of a standard or regulation (`ISO 3529`), or an address (a URL, a DOI, an arXiv number);
- a *computation* that the tests repeat: `computation NAME`, NAME in snake_case; a test keeps a
  computation of that name for each (`tests/rules/test_computations.py`);
- *common practice*: these words;
- *judgement*: all else, such as handbooks without a name, and "from memory" by itself.
"""

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Literal, get_args

from troubleshoot.knowledge.build import ACTION_KIND, DERIVATIONS, KINDS, SETTINGS
from troubleshoot.knowledge.lint.remarks import Mention
from troubleshoot.knowledge.model import RuleBase

Ground = Literal["citation", "computation", "practice", "judgement"]
GROUNDS: tuple[Ground, ...] = get_args(Ground)

# Words with a capital that stand before a year or a comma and are nobody's name.
_NO_NAME = (
    r"(?:In|Since|Until|From|By|At|After|Before|About|Some|The|Our|Judgement|Computed|Computation|"
    r"Common|Practice|Handbooks?|Textbooks?|Physics|Course|Log|Review|University|"
    r"January|February|March|April|May|June|July|August|September|October|November|December)\b"
)
_UPPER = r"(?![a-zß-öø-ÿ\d_])\w"
_PERSON = rf"(?:(?:van|von|der|den|de|di|le) )*(?!{_NO_NAME}){_UPPER}[\w'’-]+"
_AUTHORS = rf"{_PERSON}(?:(?:, and |, | & | and ){_PERSON})*(?: et al\.| \(eds?\.\))?"
_YEAR = r"(?:1[89]|20)\d\d(?!\d| ?(?:V|kV|W|K|Pa|Hz|h|s|l|nm|times|hours|runs|degC|°)\b)"
_DATED = re.compile(
    rf"\b{_AUTHORS}(?:,? \(?|, [^;]{{1,160}}?(?:\(|, | ed\. )){_YEAR}(?=[\s).,;:]|$)"
)
_STANDARD = re.compile(
    r"\b(?:ISO|IEC|DIN|EN|BS|ASTM|ANSI|SEMI|JIS|NFPA|CGA|CFR|WAC)(?:/[A-Z]{2,4})*"
    r"[ -]?(?:[A-Z]{1,2}[ -]?)?\d|\bDirective \d{4}/\d"
)
_ADDRESS = re.compile(
    r"\bhttps?://\w|\b10\.\d{4,}/\w|\barXiv:? ?\d{4}\.\d{4}|\b(?:[\w-]+\.)+[a-z]{2,}/\w"
)
_COMPUTATION = re.compile(r"\bcomputation ([a-z][a-z0-9]*(?:_[a-z0-9]+)+)")


def ground(source: str) -> Ground:
    """The best ground that the text of a source names.

    >>> [ground(s) for s in ("Sauerbrey 1959", "handbooks, from memory; numbers: judgement")]
    ['citation', 'judgement']
    """
    text = " ".join(source.split())
    if any(form.search(text) for form in (_DATED, _STANDARD, _ADDRESS)):
        return "citation"
    if _COMPUTATION.search(text):
        return "computation"
    return "practice" if "common practice" in text.lower() else "judgement"


def computations(source: str) -> list[str]:
    """The computations that the text of a source names."""
    return _COMPUTATION.findall(" ".join(source.split()))


def sourced(rules: RuleBase) -> Iterator[tuple[str, Mention]]:
    """(kind, entry) for every entry of the rules, the kinds called as in the files."""
    for kind in (*KINDS, DERIVATIONS):
        if kind in ACTION_KIND:
            wanted = ACTION_KIND[kind]["kind"]
            pool: Iterable[Mention] = (a for a in rules.actions.values() if a.kind == wanted)
        else:
            pool = getattr(rules, kind).values()
        yield from ((kind, entry) for entry in pool)
    yield SETTINGS, rules.settings


def counted(rules: RuleBase) -> dict[str, Counter[Ground]]:
    """Kind -> how many of its entries rest on each ground; kinds without entries are left out."""
    found: dict[str, Counter[Ground]] = {}
    for kind, entry in sourced(rules):
        found.setdefault(kind, Counter())[ground(entry.source)] += 1
    return found
