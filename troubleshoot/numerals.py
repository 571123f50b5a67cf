"""How people spell numbers, signs and lengths of time: powers of ten, thousands, clocks."""

import re

from troubleshoot.errors import UserError

_SECONDS = r"([0-5]?[0-9](?:[.,][0-9]+)?)"
_CLOCK = re.compile(
    rf"\s*(?:([0-9]{{1,3}}):([0-5][0-9])|([0-9]{{1,4}})):(?=[0-9]{{2}}){_SECONDS}\s*(?:min)?\s*"
)
_HOURS, _MINUTES = r"([0-9]{1,4}) ?(?:h|hrs?|hours?)", r"(?:m|mins?|minutes?)"
_AND = r"(?:,| and)? ?"
# A last number without a unit counts in the next smaller one: 2 min 30, 1 h 30.
_WITH_SECONDS = re.compile(
    rf"(?:{_HOURS}{_AND})?([0-9]{{1,4}}) ?{_MINUTES}{_AND}{_SECONDS} ?(?:s|secs?|seconds?)?"
)
_HOURS_AND_MINUTES = re.compile(rf"{_HOURS}{_AND}([0-5]?[0-9]) ?{_MINUTES}?")
_SUPERSCRIPT = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻", "0123456789+-")
_FULL_WIDTH = {code: code - 0xFEE0 for code in range(0xFF01, 0xFF5F)}
_POWER = re.compile(r"(?:([0-9]) ?[xX×*·⋅•] ?|(?<![0-9.,]))10 ?(\^|\*\*)? ?([+−–-]?)([0-9]+)")
_UNCLEAR_POWER = re.compile(r"([0-9]+)[.,]10 ?(?:\^|\*\*) ?([+−–-]?[0-9]+)")
_GROUPED = re.compile(
    r"(?<![0-9.,])[1-9][0-9]{0,2}(?:"
    r"(?:[ '\u2019][0-9]{3})+(?:[.,][0-9]+)?"
    r"|(?:,[0-9]{3})+\.[0-9]+|(?:\.[0-9]{3})+,[0-9]+"
    r"|(?:,[0-9]{3}){2,}|(?:\.[0-9]{3}){2,}"
    r")(?![0-9.,])"
)
TYPOGRAPHY = str.maketrans(
    {
        "µ": "u",
        "μ": "u",
        "Ω": "ohm",
        "\u2126": "ohm",
        "°": "deg",
        "\u00ba": "deg",
        "\u2103": "degC",
        "\u2109": "degF",
        "³": "3",
        "²": "2",
        "·": " ",
        "*": " ",
        "−": "-",
        "\u00a0": " ",
        "\u202f": " ",
        "ℓ": "L",
    }
)


def tidied(text: str) -> str:
    """The text with its numbers and signs spelled one way: `5x10-2 Torr` becomes `5e-2 Torr`.

    Grouped thousands (`1 000`, `1,000.5`, `1.000,5`) lose their marks. Raises `UserError` for
    `2.10^-2`, in which the point may be a decimal one or mean "times".

    >>> tidied("10^-3 mbar"), tidied("1.000,5 Pa")
    ('1e-3 mbar', '1000.5 Pa')
    """
    text = text.translate(_FULL_WIDTH)
    text = re.sub(
        "(?<![0-9])10([⁺⁻]?[⁰¹²³⁴⁵⁶⁷⁸⁹]+)", lambda m: f"10^{m[1].translate(_SUPERSCRIPT)}", text
    )
    unclear = _UNCLEAR_POWER.search(text)
    if unclear:
        once = f"{unclear[1]}e{unclear[2]}".translate(TYPOGRAPHY)
        raise UserError(f"{unclear[0]!r} can be read two ways: write {once} instead.")
    text = _POWER.sub(_exponent, text)
    text = text.translate(TYPOGRAPHY)
    text = re.sub(r" (?:per|in (?:an?|one|1)) (?=[smh])", "/", text)
    return _GROUPED.sub(_ungrouped, text)


def _exponent(power: re.Match[str]) -> str:
    """A power of ten as a programmer writes it; `10-3` by itself and `5x100` are none."""
    times, caret, sign, digits = power.groups()
    if not caret and not (times and sign):
        return power[0]
    return f"{times or 1}e{sign.replace('–', '-')}{digits}"


def _ungrouped(number: re.Match[str]) -> str:
    """A number without the marks between its thousands."""
    text = re.sub("[ '\u2019]", "", number[0])
    if text != number[0]:
        return text
    marks = [c for c in text if c in ".,"]
    decimal = marks[-1] if marks[-1] != marks[0] else ""
    whole, _, rest = text.rpartition(decimal) if decimal else (text, "", "")
    return re.sub("[.,]", "", whole) + (f".{rest}" if rest else "")


def duration(text: str) -> float | None:
    """Seconds of `1:30`, `1:05:30`, `2m30s`, `2 min 30` or `1 h 30`; None for any other text."""
    clock = _CLOCK.fullmatch(text)
    if clock:
        hours, minutes, seconds = clock[1], clock[2] or clock[3], clock[4]
    elif mixed := _HOURS_AND_MINUTES.fullmatch(text.strip()):
        hours, minutes, seconds = mixed[1], mixed[2], "0"
    elif mixed := _WITH_SECONDS.fullmatch(text.strip()):
        hours, minutes, seconds = mixed.groups()
    else:
        return None
    return 3600 * int(hours or 0) + 60 * int(minutes) + float(seconds.replace(",", "."))
