"""Probabilities and minutes as a person says them."""

STANDS_OUT = 0.25  # below this probability what comes first is only the first of many: judgement


UNLIKELY = 0.05
"""From here down something is called very unlikely."""


def chance(p: float) -> str:
    """A probability as a person says it."""
    if p >= 0.95:
        return "almost certain"
    if p <= UNLIKELY:
        return "very unlikely"
    tenths = round(10 * p)
    return f"about {max(1, tenths)} in 10"


def counted(n: int, one: str, many: str = "") -> str:
    """So many of something: `1 case`, `3 cases`, `3 seals dried`."""
    return f"{n} {one if n == 1 else many or one + 's'}"


def at_hour(at: str, now: str) -> str:
    """`09:10`, or the day too where that is not today: `2026-03-03 09:10`."""
    return at[11:16] if at[:10] == now[:10] else at[:16].replace("T", " ")


def lasting(minutes: float) -> str:
    """How long something takes, in the unit that people use for it: `25 min`, `16 h`, `3 days`."""
    if minutes < 120:
        return f"{minutes:g} min"
    if minutes < 48 * 60:
        return f"{round(minutes / 60, 1):g} h"
    return f"{round(minutes / 1440, 1):g} days"


def in_brackets(p: float) -> str:
    """The chance behind a verdict, left out where `how_sure` says it already."""
    return "" if p >= 0.95 else f" ({chance(p)})"


def how_sure(p: float) -> str:
    """How firmly a verdict of probability `p` may be put, in step with `chance`."""
    for least, words in ((0.95, "Almost certainly"), (0.7, "Very likely"), (0.5, "Probably")):
        if p >= least:
            return words
    return (
        "Not settled yet; it looks most like this"
        if p >= STANDS_OUT
        else "Nothing stands out yet; first in line"
    )


NATURES = {
    "fault": "Something is worn, broken or dirty.",
    "setting": "Something is set wrong; nothing is broken.",
    "technique": "It lies in how it is done.",
    "specimen": "It lies in the specimen.",
    "look_alike": "It only looks like a fault of the coater.",
    "normal": "It is as it should be.",
}
"""Of which kind a cause is."""

HOW_OFTEN = (
    (0.897, "almost always"),
    (0.71, "usually"),
    (0.445, "often"),
    (0.179, "sometimes"),
    (0.0455, "seldom"),
)
"""The words of the scale on which the rules are written (docs/rules.md), from halfway between two
of its steps on, by their odds."""


def how_often(p: float) -> str:
    """How often a cause shows something, in the words of the scale of the rules.

    >>> how_often(0.95), how_often(0.6), how_often(0.02)
    ('almost always', 'often', 'almost never')
    """
    return next((words for least, words in HOW_OFTEN if p >= least), "almost never")


def rough(minutes: float) -> str:
    """Minutes to the nearest one or five: more would be false precision."""
    whole = round(minutes) if minutes < 10 else round(minutes / 5) * 5
    return "a minute" if whole == 1 else f"{whole} minutes"


def lower_first(text: str) -> str:
    """The text for the middle of a sentence ("Dirty seal" -> "dirty seal"), initialisms kept."""
    kept = text[:2].isupper() and not text.startswith("A ")
    return text if kept else text[:1].lower() + text[1:]
