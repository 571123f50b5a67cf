"""What was said in own words, proposed for the record: nothing is kept that was not confirmed."""

from troubleshoot.case import entries
from troubleshoot.talk.circumstances import NONE_HOLD
from troubleshoot.talk.danger import stop_now_first
from troubleshoot.talk.dialogue import About, Choice
from troubleshoot.talk.heard import told, understand
from troubleshoot.talk.talk import Talk
from troubleshoot.talk.wording import candidate, complaints_like

MOST = 6
"""Complaints that are offered for a line at most."""


def complaints_for(talk: Talk, words: str) -> list[Choice]:
    """The danger signs and the complaints that `words` may mean, to choose one from."""
    rules = talk.rules
    line = understand(talk.bench, words)
    labels = {
        f"sign:{h.said.sign}": f"Danger: {rules.signs[h.said.sign].name}"
        for h in line.heard
        if isinstance(h.said, entries.Sign)
    }
    matches = {m.value: candidate(rules, m) for m in complaints_like(rules, words)}
    labels |= {value: label for value, label in matches.items() if value.startswith("sign:")}
    labels |= {name: rules.complaints[name].name for name in line.complaints}
    labels |= {value: label for value, label in matches.items() if value not in labels}
    if labels and not line.complaints and not any(value.startswith("sign:") for value in labels):
        talk.teller.line("Nothing in it surely tells of a trouble; these come nearest.")
    return [Choice(value, label) for value, label in labels.items()][:MOST]


def propose(talk: Talk, words: str) -> None:
    """Ask which of the things that `words` seem to say are so, and keep those that were marked."""
    known = talk.facts().known
    line = understand(talk.bench, words, known.complaint or "")
    heard = {h.about: h for h in line.heard if not _kept(talk, h.said)}
    if line.left:
        talk.teller.small(f"Kept in your words, but not understood: {'; '.join(line.left)}.")
    if not heard:
        return
    lines = [Choice(n, told(h, talk.rules, talk.bench.machine)) for n, h in heard.items()]
    lines.sort(key=lambda c: not c.value.startswith("sign:"))  # danger first
    marked = talk.several(
        "Your line seems to say this. Which of it is right?",
        [*lines, NONE_HOLD],
        About("opening", "line"),
    )
    for name in marked:
        if name in heard:
            talk.add(heard[name].said)
    stop_now_first(talk)


def _kept(talk: Talk, said: entries.Said) -> bool:
    """Whether such a thing was recorded already."""
    known = talk.facts().known
    match said:
        case entries.Sign():
            return any(
                isinstance(e.said, entries.Sign) and e.said.sign == said.sign for e in talk.journal
            )
        case entries.Circumstance():
            return said.circumstance in known.circumstances
    return False
