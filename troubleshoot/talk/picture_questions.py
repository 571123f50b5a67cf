"""A micrograph, or two of one field, taken into a case while it is led by questions."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from troubleshoot.case.entries import Reading
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings.door import Beside, read_images
from troubleshoot.readings.reading import Reading as Found
from troubleshoot.talk.dialogue import Asker, Choice, Teller
from troubleshoot.talk.typed_path import path_of

ALONE, NONE = "alone", "/none"


def ask_picture(asker: Asker, teller: Teller, findings: Mapping[str, Finding]) -> Reading | None:
    """What was read of a picture, or of two, or None if there is none after all."""
    from troubleshoot.readings.image.micrograph import PAIRS

    pair = asker.choose(
        "Is it one picture, or are there two of the same field? What differs between them?",
        [
            Choice(ALONE, "One picture"),
            *(Choice(name, f"Two: {words}") for name, words in PAIRS.items()),
            Choice(NONE, "Nothing: go back", aside=True),
        ],
    )
    if pair == NONE:
        return None
    while True:
        paths = []
        for which in _which(pair):
            path = path_of(asker.path(f"{which} (its path; nothing to go back)"))
            if path is None:
                return None
            paths.append(path)
        beside = Beside() if pair == ALONE else Beside(second=paths[1], pair=pair)
        try:
            found, plot = read_images(paths[0], findings, beside)
            if "grain_size" in found.numbers:  # the one thing that is told in nanometres
                found, plot = _with_pixel(asker, paths[0], findings, beside) or (found, plot)
        except UserError as error:
            teller.line(str(error))
            continue
        return Reading.of(found, found.source, plot)


def _which(pair: str) -> list[str]:
    """What is asked for, a file each."""
    from troubleshoot.readings.image.micrograph import PAIRS

    if pair == ALONE:
        return ["Which file?"]
    words = f"{PAIRS[pair][0].upper()}{PAIRS[pair][1:]}"
    return [f"{words}: the {nth} file?" for nth in ("first", "second")]


def _with_pixel(
    asker: Asker, path: Path, findings: Mapping[str, Finding], beside: Beside
) -> tuple[Found, str] | None:
    """The same with the size of a pixel, where somebody knows it."""
    typed = asker.text("Size of a pixel, such as 5 nm (nothing if you do not know)?").strip()
    return read_images(path, findings, replace(beside, pixel=typed)) if typed else None
