"""What a reader makes of a file or of a few typed numbers: numbers, a sentence, soft findings."""

from collections.abc import Mapping
from dataclasses import dataclass, field

PRESSURE_LOG, TYPED, CURRENT_LOG = "pressure log", "typed pressures", "current log"
MICROGRAPH, MICROGRAPHS = "micrograph", "two micrographs"
"""The kinds of reading, as journals keep them."""


@dataclass(frozen=True)
class Estimate:
    """A number in SI with its standard uncertainty (one standard deviation) and its unit."""

    value: float
    sigma: float
    unit: str


@dataclass(frozen=True)
class Reading:
    """The outcome of reading one source. Replaying a case uses this and never the file again.

    `kind`: one of the names above. `sha256` of the bytes that were read (of the typed text, for
    typed numbers). `findings`: finding ID -> P(what was read | answer) for
    each of its answers in order, up to a common factor, so that a reading is soft evidence.
    `taken`: which columns, units and times of a file were read, in words.
    """

    kind: str
    source: str
    sha256: str
    reader: str
    sentence: str
    numbers: Mapping[str, Estimate] = field(default_factory=dict)
    findings: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    taken: str = ""
