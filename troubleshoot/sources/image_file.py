"""The bytes of a micrograph turned into a grey picture, its information bar left out.

Taken are grey pictures of 8 or 16 bit (or colour ones that hold nothing but grey), of TIFF, PNG and
JPEG. What would make the numbers mean something else is refused with the remedy: a palette, a
transparent layer, several pictures in one file, colours.
"""

import hashlib
import io
import os
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from troubleshoot.errors import UserError
from troubleshoot.regular_file import bytes_of, open_regular, refuse_packed

ENDINGS = (".tif", ".tiff", ".png", ".jpg", ".jpeg", ".jpe", ".bmp", ".gif", ".webp")
STARTS = (b"II*\0", b"MM\0*", b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"BM")
FORMATS = ("TIFF", "PNG", "JPEG", "MPO")
MOST_PIXELS = 120_000_000
MOST_BYTES = 600_000_000
LEAST_SIDE, LONGEST = 96, 12
"""Pixels of the shorter side; how many times as long the other may be. Ours."""
COLOURED, COLOURED_SHARE = 24, 0.05
"""A pixel is coloured whose channels differ by more levels; more of them than this share (a scale
bar, a label) make a colour photograph. Ours."""
BAR_MOST, BAR_LEAST_ROWS, BAR_EVEN = 0.3, 6, 0.55
"""An information bar takes at most so much of the height, so many rows at least, and this share of
each of its rows has one grey level. Ours."""
REPEATED = 0.1
"""Share of the rows that are the row before once more, from which a picture was enlarged: in one
that a detector made noise tells every two rows apart. Ours."""
ORIENTATION, ON_ITS_SIDE = 0x0112, (5, 6, 7, 8)
"""The tag that says how a picture is to be turned, and its values that turn rows into columns (TIFF
6.0, 1992, p. 36; Exif takes them over)."""
SAMPLE_FORMAT, SIGNED = 339, 2
"""The tag of the kind of numbers, and its value for whole ones with a sign (ibid. p. 80)."""
SUBFILE, REDUCED = 254, 1
"""The tag that says what a further picture is, and its bit for a smaller copy (ibid. p. 36)."""
ODD = {
    "1": "it is black and white only",
    "F": "its pixels are floating-point numbers",
    "CMYK": "its colours are those of a printer",
}
PLAIN = {"L": "u1", "P": "u1", "I;16": "<u2", "I;16B": ">u2"}
"""How numpy reads pixels that lie in a file as Pillow's raw modes say."""
REMEDY = "save it as 8 or 16 bit greyscale TIFF or PNG"


@dataclass(frozen=True)
class Picture:
    """A grey picture as it was kept (rows, columns), without its information bar.

    `full` is the largest number its kind can hold; `lossy` whether JPEG threw detail away; `bar`
    the rows of the bar that was left out, from and to, None where there is none.
    """

    name: str
    sha256: str
    pixels: NDArray[Any]
    full: int
    lossy: bool
    bar: tuple[int, int] | None

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of what is read."""
        return self.pixels.shape[0], self.pixels.shape[1]


def is_image(path: Path) -> bool:
    """Whether the name is one of a picture, or the file begins like one."""
    if path.suffix.lower() in ENDINGS:
        return True
    if not os.path.isfile(path):
        return False
    with open_regular(path) as stream:
        return stream.read(8).startswith(STARTS)


def read_picture(path: Path) -> Picture:
    """The picture in `path`. Raises `UserError` in one sentence for whatever cannot be read."""
    raw = bytes_of(path, MOST_BYTES)
    refuse_packed(path, raw)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what a decoder says of odd tags is no help to anybody
        pixels, full, lossy = _decoded(path, raw)
    if min(pixels.shape) < LEAST_SIDE:
        raise UserError(
            f"{path}: {pixels.shape[1]} by {pixels.shape[0]} pixels are too few; give a picture of "
            f"at least {LEAST_SIDE} pixels a side."
        )
    if max(pixels.shape) > LONGEST * min(pixels.shape):
        raise UserError(
            f"{path}: {pixels.shape[1]} by {pixels.shape[0]} pixels are a strip; give the picture "
            "of the whole field."
        )
    thin = max(1, pixels.shape[0] // 1000)
    low, high = int(pixels[::thin].min()), int(pixels[::thin].max())
    if high - low < 4:
        what = "all black" if high <= 4 else "all white" if low >= full - 4 else "of one grey"
        raise UserError(f"{path}: the picture is {what}; give one that shows the specimen.")
    first, last, bar = _without_bar(pixels)
    if _repeats(pixels[first:last]) or _repeats(pixels[first:last].T):
        raise UserError(
            f"{path}: the picture was enlarged after it was taken, for whole rows stand there more "
            "than once; give it as the microscope saved it."
        )
    return Picture(path.name, hashlib.sha256(raw).hexdigest(), pixels[first:last], full, lossy, bar)


def _decoded(path: Path, raw: bytes) -> tuple[NDArray[Any], int, bool]:
    """The pixels in grey, the largest number of their kind, and whether the file is a JPEG."""
    from PIL import Image, UnidentifiedImageError

    try:
        image = Image.open(io.BytesIO(raw))
    except Image.DecompressionBombError:
        raise UserError(
            f"{path}: its header tells of more pixels than any micrograph has; {REMEDY}."
        ) from None
    except UnidentifiedImageError:
        raise UserError(f"{path}: not a picture that can be read; {REMEDY}.") from None
    except Exception as error:  # a decoder may fail in any way on a broken header
        raise UserError(f"{path}: not a picture that can be read ({error}); {REMEDY}.") from None
    with image:
        try:
            _refuse(path, image)
            plain = _as_they_lie(image, raw)
            pixels = np.asarray(image) if plain is None else plain
        except UserError:
            raise
        except Exception:  # a decoder may fail in any way on broken bytes
            raise UserError(
                f"{path}: the file is cut off or damaged; copy it again from the microscope."
            ) from None
        lossy = image.format in ("JPEG", "MPO")
        signed = _signed(image)
    if pixels.ndim == 3:
        pixels = _grey(path, pixels)
    if signed and image.mode == "L":  # read as if they had no sign
        pixels = pixels ^ 128
    if image.mode == "I":  # what it holds is 16 bit in every format that is taken
        if signed:
            pixels = pixels + 32768
        if pixels.min() < 0 or pixels.max() > 65535:
            raise UserError(f"{path}: more than 16 bit a pixel; {REMEDY}.")
        pixels = pixels.astype(np.uint16)
    return pixels, (255 if pixels.dtype == np.uint8 else 65535), lossy


def _repeats(pixels: NDArray[Any]) -> bool:
    """Whether many rows are the row before once more; those of one grey tell nothing."""
    rows = pixels[:, :: max(1, pixels.shape[1] // 256)]
    tell = rows.min(axis=1) < rows.max(axis=1)
    again = (rows[1:] == rows[:-1]).all(axis=1)
    return bool(np.mean(again[tell[1:]]) > REPEATED) if tell[1:].any() else False


def _as_they_lie(image: Any, raw: bytes) -> NDArray[Any] | None:
    """The pixels in `raw` without a copy, None where they do not lie there row after row.

    In a TIFF without compression they do, and Pillow would copy each twice. Raises `ValueError`
    where the file ends before they do.
    """
    width, height = image.size
    kind = PLAIN.get(image.tile[0].args[0]) if image.tile and image.format == "TIFF" else None
    if kind is None or image.getexif().get(ORIENTATION, 1) != 1:
        return None
    row = width * np.dtype(kind).itemsize
    first, mode = image.tile[0].offset, image.tile[0].args[0]
    down = 0
    for codec, (left, top, right, bottom), offset, (own, stride, turn) in image.tile:
        whole = (left, top, right) == (0, down, width) and offset == first + down * row
        if codec != "raw" or not whole or own != mode or stride not in (0, row) or turn != 1:
            return None
        down = bottom
    if down != height:
        return None
    return np.frombuffer(raw, kind, width * height, first).reshape(height, width)


def _refuse(path: Path, image: Any) -> None:
    """Raise for what a micrograph is not, as far as the header tells."""
    width, height = image.size
    why = None
    if image.format not in FORMATS:
        why = f"{image.format} is not a format that is read"
    elif width * height > MOST_PIXELS:
        why = f"its header tells of {width} by {height} pixels, more than any micrograph has"
    elif image.format != "MPO" and _others(image):
        why = f"it holds {image.n_frames} pictures; take the one that is meant by itself, and"
    elif image.mode in ("P", "PA") and not _own_greys(image):
        why = "its grey levels stand in a palette"
    elif image.mode in ("LA", "RGBA", "La", "RGBa") or "transparency" in image.info:
        why = "it has a transparent layer"
    elif image.mode not in ("L", "P", "RGB", "I") and not image.mode.startswith("I;16"):
        why = ODD.get(image.mode, f"its pixels are of the kind {image.mode!r}")
    elif image.getexif().get(ORIENTATION) in ON_ITS_SIDE:
        why = (
            "a tag turns it by 90 degrees, so that nobody can tell along which side the scan ran; "
            "turn it as it was scanned, and"
        )
    if why is not None:
        joint = " " if why.endswith("and") else "; "
        raise UserError(f"{path}: {why}{joint}{REMEDY}.")


def _signed(image: Any) -> bool:
    """Whether the numbers of a TIFF may lie below zero; Pillow reads those of 8 bit as if not."""
    return image.format == "TIFF" and SIGNED in image.tag_v2.get(SAMPLE_FORMAT, ())


def _others(image: Any) -> bool:
    """Whether a file holds more than one picture; a small copy to be shown in lists is none."""
    count = getattr(image, "n_frames", 1)
    if count > 1 and image.format != "TIFF":
        return True
    try:
        for number in range(1, count):
            image.seek(number)
            if not image.tag_v2.get(SUBFILE, 0) & REDUCED:
                return True
    finally:
        if count > 1:
            image.seek(0)
    return False


def _own_greys(image: Any) -> bool:
    """Whether a palette says nothing: some microscopes save TIFF with each level as its own grey.

    A few pixels may have other colours, as a label does.
    """
    if image.format != "TIFF":
        return False
    try:
        pixels = np.array(image.histogram()[:256])
    except Exception:  # broken bytes are told of when the pixels are read
        return True
    colours = np.array(image.getpalette("RGB") or []).reshape(-1, 3)
    own = np.all(colours == np.arange(len(colours))[:, None], axis=1)
    return len(own) == 256 and float(pixels[~own].sum()) <= COLOURED_SHARE * float(pixels.sum())


def _grey(path: Path, pixels: NDArray[Any]) -> NDArray[Any]:
    """One channel of a picture that is grey all over, but for a label."""
    spread = pixels.max(axis=2).astype(np.int16) - pixels.min(axis=2)
    if np.mean(spread > COLOURED) > COLOURED_SHARE:
        raise UserError(
            f"{path}: a colour photograph, not a micrograph; give the picture as the microscope "
            "saved it."
        )
    return np.ascontiguousarray(pixels[:, :, 1])


def _without_bar(pixels: NDArray[Any]) -> tuple[int, int, tuple[int, int] | None]:
    """The rows of the picture proper, and those of an information bar below or above it.

    A bar has one background that fills most of each row, up to a sharp end.
    """
    height = len(pixels)
    for below in (True, False):
        rows = _bar(pixels[::-1] if below else pixels)
        if rows:
            if below:
                return 0, height - rows, (height - rows, height)
            return rows, height, (0, rows)
    return 0, height, None


def _bar(pixels: NDArray[Any]) -> int:
    """How many rows from the first on are a bar; 0 where there is none."""
    height = len(pixels)
    most = int(BAR_MOST * height)
    some = pixels[: most + 12, :: max(1, pixels.shape[1] // 500)].astype(np.float32)
    ground = float(np.median(some[: max(3, height // 100)]))
    near = 0.012 * max(float(some.max()) - float(some.min()), 1.0)
    even = np.mean(np.abs(some - ground) <= near, axis=1)
    inside = even >= BAR_EVEN
    end = 0
    for row in np.flatnonzero(inside[:most]):
        if row - end > max(3, height // 100):
            break
        end = int(row) + 1
    beyond = even[end + 1 : end + 12]
    if end < BAR_LEAST_ROWS or not len(beyond) or beyond.max() > 0.3:
        return 0
    return end
