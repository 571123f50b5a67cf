"""What doing something does to the machine, in a few fixed words.

Cautions ban by these words, so they decide what may still be offered once danger was seen. An
action declares its words (`does`); what its machine state and its own text give away is worked out
here, and `troubleshoot rules check` compares the two, so that no author can forget one.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Literal

Effect = Literal[
    "mains_on",
    "pump_runs",
    "under_vacuum",
    "discharge",
    "gas_in",
    "hands_inside",
    "guard_off",
    "presses_glass",
]
EFFECTS: Mapping[Effect, str] = {
    "mains_on": "the coater or its pump is switched on",
    "pump_runs": "the pump runs",
    "under_vacuum": "the chamber is under vacuum",
    "discharge": "high voltage is demanded or a discharge struck",
    "gas_in": "gas is let in, or a cylinder opened",
    "hands_inside": "hands or tools are inside the chamber, or on the head",
    "guard_off": "a guard or a cover is off",
    "presses_glass": "the lid or the glass is pressed, turned or lifted off",
}
ANYTHING = "anything"
"""What a caution bans that leaves nothing to be done in the room at all."""

WITH: Mapping[Effect, tuple[Effect, ...]] = {
    "pump_runs": ("mains_on",),
    "under_vacuum": ("pump_runs", "mains_on"),
    "discharge": ("gas_in", "under_vacuum", "pump_runs", "mains_on"),
}
"""What always comes with a word. A discharge burns in gas that is let in while the pump pulls; the
chamber is brought under vacuum, and kept there, by the pump."""

BY_STATE: Mapping[str, Effect] = {"pumped": "under_vacuum", "coating": "discharge"}


def closure(words: Iterable[Effect]) -> frozenset[Effect]:
    """The words and all that comes with them."""
    out = set(words)
    for word in tuple(out):
        out.update(WITH.get(word, ()))
    return frozenset(out)


def by_state(*states: str | None) -> frozenset[Effect]:
    """What the machine states that are entered or left behind mean by themselves."""
    return closure(BY_STATE[s] for s in states if s is not None and s in BY_STATE)


FORBIDS = r"\b(no|not|never|without|nor|neither|instead of|rather than|stop before)\b"


def told(texts: Sequence[str]) -> Iterator[str]:
    """The parts of sentences that tell one to do something: what follows a "no" is left out."""
    for sentence in re.split(r"[.;!?:]\s+|[.;!?:]$", " ".join(f"{t}." for t in texts)):
        hit = re.search(FORBIDS, sentence, re.IGNORECASE)
        part = sentence[: hit.start()] if hit else sentence
        if part.strip():
            yield part


SAYS: Mapping[Effect, tuple[str, ...]] = {
    "mains_on": (
        r"\bswitch(ed)? (it |the \w+ )?on\b",
        r"\bplug(ged)? (it )?(back )?in\b",
        r"\bmains on\b",
        r"\bthe panel\b",
        r"\bstart (the stage|the rotation|timer)\b",
    ),
    "pump_runs": (
        r"\b(start|stop) the pump\b",
        r"\bpump (running|runs|on|warm)\b",
        r"\brun(ning)? (the )?pump\b",
        r"\blet the pump run\b",
        r"\bballast (open|run)\b",
        r"\blisten to the pump\b",
    ),
    "under_vacuum": (
        r"\bpump(s|ed)? (down|to base|empty|again|once more|it|without|for|ten|five|out)\b",
        r"\bpump (the )?(empty )?chamber\b|\bpump, |\bpump-down\b",
        r"\bpump (slowly|and (vent|test|look|note))\b",
        r"\bat base\b|\bunder vacuum\b|\bbase pressure\b",
        r"\b(note|read|judge) the base\b|\btake the rise\b",
        r"\bleave it pumping\b",
        r"(^|[,;] |\band |\bthen )vent\b(?! shut)|\bvent (slowly|gently|and|the chamber)\b",
        r"\blet air (in|leak in)\b|\bopen the vent\b",
    ),
    "discharge": (
        r"(^|[,;] |\band |\bthen |\bor )(re-?)?coat\b(?! (is|slip|face))",
        r"\bsputter onto\b|\bextra coat\b|\bglow for\b",
        r"\bdemand\b|\bhigh voltage (demanded|on)\b|\bstart the discharge\b",
        r"\busual recipe\b|\b(start|repeat) the run\b|\brun (it )?in\b",
        r"\b(give|add) (the|a|one|in|half|more)\b.*\b(dose|runs?|coat|metal)\b",
    ),
    "gas_in": (
        r"\bopen(ing)? (the |it, )?(argon|cylinder|needle|main valve)",
        r"\bargon (on|in)\b|\b(breath of|little) argon\b",
        r"\bflush(es|ed|ing)?\b|\brinse (the )?(line|chamber)\b|\bpurge\b",
    ),
    "hands_inside": (
        r"\b(take|put|lay|leave) (the |all |every |a |five )?(\w+ ){0,3}?(specimens?|load)\b"
        r"(?! (may|to|stays?))",
        r"\b(take|put|lay|leave) (the |all |every |a |five )?(\w+ ){0,3}?(stubs?|slips?)\b",
        r"\btake (it|specimens|everything|all|half|them) out\b|\blay it in\b",
        r"\bput (it|them) (in|back)\b|\bout of the chamber\b|\bback on the stage\b",
        r"\bwhere the specimen stands\b|\bon the stage\b|\bslips? at\b",
        r"\bwipe (\w+ ){0,4}?(walls?|base plate|seals?|target|shield|gap)\b",
        r"\blid (open|up)\b|\brule across\b|\bfinger once round each seal\b",
        r"\bturn the (stub|specimen|stage)\b|\b(raise|lower|level|seat) the (stage|holder)\b",
        r"\blift the (upper |lower )?seal\b|\b(seals?|insulator) out\b",
    ),
    "guard_off": (
        r"\b(open|opens|take|take off|remove|undo|unscrew|lift) (off )?(the|a|its) ([a-z]+ )?"
        r"(cover|guard|cabinet|housing|casing)\b",
        r"\bguard off\b",
    ),
    "presses_glass": (
        r"\bpress (the )?(lid|metal rim|evenly|for)\b|\bpalms on\b",
        r"\blift (the )?(lid and )?glass\b",
        r"\b(turn|lift|shift|slide|centre|set|lower) (the )?(glass|lid)\b",
        r"\b(lid|glass) (straight )?(up|off)\b|\bglass (cylinder )?(down|back|straight)\b",
    ),
}
"""What gives a word away, as regular expressions. They live here and not in the rules, so that a
folder of rules cannot switch off the check of its own declarations."""


def by_text(texts: Sequence[str]) -> frozenset[Effect]:
    """What the text of an action gives away, with all that comes with it."""
    parts = list(told(texts))
    return closure(
        word
        for word, patterns in SAYS.items()
        if any(re.search(p, part, re.IGNORECASE) for p in patterns for part in parts)
    )
