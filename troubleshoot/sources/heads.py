"""What stands above a column: its words in four languages, and a unit among them."""

import re

from troubleshoot.sources.cells import measured, unit_of

_WORD = re.compile(r"[A-Za-z\u00b5\u03bc\u00b0\u00c5]+(?:\s?Hg)?")
_BRACKET = re.compile(r"[\[(<{]\s*([^\])>}]{1,20})\s*[\])>}]?")
_STROKE = re.compile(r"/\s*([^\])/>}]{1,20})\s*")
_LETTERS = ("p", "P", "t", "V", "v", "I", "A", "C", "K", "F", "d", "h")
"""Symbols of quantities, which stand for a unit only in brackets or after a stroke."""

TIME = re.compile(
    r"time|stamp|\bdate|clock|elapsed|second|minute|\bhours?\b|\bsecs?\b|hh:mm|mm:ss|\bepoch\b"
    r"|zeit|uhr|datum|dauer|sekunde|stunde|temps|heure|dur[e\u00e9]e|horodat"
    r"|tiempo|\bhora|fecha|duraci|segundo|minuto|^t$|^t\W|^t_|\bdt\b",
    re.IGNORECASE,
)
PRESSURE = re.compile(
    r"press|vac|gauge|torr|bar\b|\bbaro|^p$|^p\W|^p\d|^p_|\bpa\b|micron|pirani|penning|manomet"
    r"|druck|vakuum|messr\u00f6hre|pression|\bvide\b|jauge|presi[o\u00f3]n|chamber|kammer",
    re.IGNORECASE,
)
CHAMBER = re.compile(
    r"chamber|kammer|rezipient|glocke|enceinte|chambre|cloche|c[a\u00e1]mara|campana|bell|main",
    re.IGNORECASE,
)
WANTED = re.compile(
    r"(?<![a-z])set|setp|demand|target|limit|soll|grenz|consigne|seuil|consigna|l[i\u00ed]mite"
    r"|alarm|threshold",
    re.IGNORECASE,
)
ELSEWHERE = re.compile(
    r"baro|ambient|fore|backing|pump|vorvak|vordruck|umgebung|luftdruck|primaire|atmosph|previo"
    r"|supply|cylinder|flasche|bouteille|botella|regulator|inlet",
    re.IGNORECASE,
)
ANY_GAS = re.compile(r"membran|capacit|kapazit|diaphragm|membrana", re.IGNORECASE)
"""Gauges that feel the force of the gas, whatever it is."""
COUNTER = re.compile(
    r"^(?:n|no|nr|num|idx|id|#|n[\u00ba\u00b0]|.*\b(?:index|samples?|scan|count(?:er)?|record|row|lfd"
    r"|zeile|numm?er|n[u\u00fa]mero|muestra|mesure|messung|reading no|point)\b.*)\W*$",
    re.IGNORECASE,
)
FACTOR = re.compile(
    r"[x\u00d7*\u00b7]\s?10+(?![\d.,])|\b10\s?(?:\^|\*\*)\s?[-+\u2212]?\d|\b10[\u207a\u207b]"
    r"|\b10[\u00b9\u00b2\u00b3\u2074-\u2079]|\b1(?:[.,]0*)?e[-+]?\d|\b10[-\u2212]\d\s?[A-Za-z\u00b5]",
    re.IGNORECASE,
)
"""A power of ten beside a unit: `10^-3 mbar`, `x 1000`, `1E-3`."""
_BESIDE = {
    "the logarithm of something": re.compile(r"\b(?:log(?:10)?|lg|ln)\b\s*[(\[ _]", re.IGNORECASE),
    "temperature": re.compile(r"temp(?!o|s)|therm|\u00b0\s?[CF]\b", re.IGNORECASE),
    "thickness": re.compile(
        r"thick|dicke|\u00e9paisseur|epaisseur|espesor|\bnm\b|\u00c5|angstr|\brate\b", re.IGNORECASE
    ),
    "humidity": re.compile(r"humid|feucht|humed|% ?rh", re.IGNORECASE),
    "power": re.compile(r"\bpower|leistung|puissance|potencia|watt", re.IGNORECASE),
    "speed": re.compile(r"\brpm\b|drehzahl|speed|vitesse|velocidad|\bhz\b|freq", re.IGNORECASE),
    "flow": re.compile(r"\bflow\b|sccm|\bfluss\b|d\u00e9bit|caudal", re.IGNORECASE),
}
_ELECTRIC = {
    "current": re.compile(
        r"current|\bamps?\b|amper|amp\u00e8re|strom|courant|corriente|^i$|^i\W|^i_", re.IGNORECASE
    ),
    "voltage": re.compile(
        r"volt|spannung|tensi\u00f3n|\btension\b|^u$|^u\W|^u_|\bhv\b", re.IGNORECASE
    ),
}


def unit_in(text: str, dimension: str) -> str:
    """The first unit of `dimension` in a text; one in brackets or after a stroke comes first."""
    words = _WORD.findall(text.replace("_", " "))
    # After a comma a letter is a unit again: `time, h`.
    last = [words[-1]] if words and re.search(rf"[,;.]\s*{re.escape(words[-1])}$", text) else []
    first = [*last, *(w for w in words if w not in _LETTERS)]
    found = (unit_of(w, dimension) for w in [*_bracketed(text), *first])
    return next(filter(None, found), "")


def _bracketed(text: str) -> list[str]:
    """What stands in brackets, or after a stroke where there are none."""
    found = list(_BRACKET.finditer(text)) or list(_STROKE.finditer(text))
    return [m[1].strip() for m in found]


def quantity_in(name: str) -> tuple[str, str]:
    """What a column holds by its head, and the unit there ("" for what the head leaves open).

    A unit in brackets decides, then a word, then a unit among the words.
    """
    beside = next((what for what, words in _BESIDE.items() if words.search(name)), "")
    for inside in _bracketed(name):
        dimension, unit = measured(inside)
        if beside and dimension in ("length", ""):
            return beside, ""
        if dimension == "voltage" and PRESSURE.search(name):
            return "pressure", unit
        if dimension:
            return dimension, unit
    if beside:
        return beside, ""
    if PRESSURE.search(name):
        return "pressure", unit_in(name, "pressure") or unit_in(name, "voltage")
    for quantity, pattern in _ELECTRIC.items():
        if pattern.search(name):
            return quantity, unit_in(name, quantity)
    if unit_of(name, "time") and name not in _LETTERS:
        return "time", unit_of(name, "time")
    if TIME.search(name):
        return "time", unit_in(name, "time")
    for dimension in ("pressure", "current", "voltage"):
        unit = unit_in(name, dimension)
        if unit:
            return dimension, unit
    return "", ""
