"""Small pictures of answers, drawn (SVG) or made by computation (PNG): only plain ones get in.

A picture goes into pages that people open in a browser, and a folder of rules may come from
anywhere. So what is allowed is listed, not what is forbidden: of SVG a handful of shapes with
geometry and a few ways to stroke and fill them, of PNG (ISO/IEC 15948) the chunks that hold pixels.
Scripts, links, events, styles, text and references of any kind are none of these.
"""

import base64
import re
import struct
import zlib
from collections.abc import Callable
from pathlib import Path

from troubleshoot.errors import UserError
from troubleshoot.regular_file import bytes_of

FOLDER = "drawings"
KINDS = ("svg", "png")
MOST_BYTES = 3000
MOST_PNG_BYTES, MOST_PIXELS = 100_000, 640
SIZE = "0 0 120 80"
SVG = "{http://www.w3.org/2000/svg}"

ELEMENTS = {"svg", "g", "path", "line", "polyline", "polygon", "rect", "circle", "ellipse"}
GEOMETRY = {
    *("viewBox", "d", "points", "x", "y", "x1", "y1", "x2", "y2", "width", "height"),
    *("cx", "cy", "r", "rx", "ry", "transform"),
}
PAINT = {
    *("fill", "fill-rule", "fill-opacity", "stroke", "stroke-width", "stroke-opacity"),
    *("stroke-linecap", "stroke-linejoin", "stroke-dasharray", "opacity"),
}
# Numbers, path letters, colours and functions such as rotate(); no `url(...)`, quotes or slashes.
VALUE = re.compile(r"(?!.*url)[\w\s.,()#+-]*", re.IGNORECASE | re.DOTALL)


PNG = b"\x89PNG\r\n\x1a\n"
CHUNKS = {b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"sRGB", b"pHYs"}


def read_drawing(path: Path) -> str:
    """What is kept of the picture in `path`: SVG markup, or a PNG file in base64.

    Raises `UserError` for anything but plain shapes or pixels.
    """

    def refused(why: str, remedy: str) -> UserError:
        return UserError(f"{path}: {why}; {remedy}.")

    raw = bytes_of(path, 10 * MOST_PNG_BYTES)
    return _pixels(raw, refused) if path.suffix == ".png" else _shapes(raw, refused)


def content(name: str, kept: str) -> bytes:
    """The bytes of the file of that name, from what `read_drawing` kept of it."""
    return base64.b64decode(kept) if name.endswith(".png") else kept.encode()


def _pixels(raw: bytes, refused: Callable[[str, str], UserError]) -> str:
    """A PNG file in base64, once every chunk of it is one that is known and whole."""
    if len(raw) > MOST_PNG_BYTES:
        raise refused(
            f"{len(raw)} bytes", f"a picture has at most {MOST_PNG_BYTES}: make it smaller"
        )
    remedy = "save it anew as a plain PNG without text or colour profile"
    if not raw.startswith(PNG):
        raise refused("not a PNG", remedy)
    at, kind = len(PNG), b""
    while at < len(raw) and kind != b"IEND":
        if at + 12 > len(raw):
            raise refused("a PNG that is cut off", remedy)
        size, kind = struct.unpack(">I4s", raw[at : at + 8])
        body, end = raw[at + 4 : at + 8 + size], at + 12 + size
        if end > len(raw) or zlib.crc32(body) != struct.unpack(">I", raw[end - 4 : end])[0]:
            raise refused("a PNG that is cut off or damaged", remedy)
        if kind not in CHUNKS:
            raise refused(f"the chunk {kind.decode('latin-1')!r}", remedy)
        if (kind == b"IHDR") != (at == len(PNG)):
            raise refused("a PNG whose header does not come first", remedy)
        if kind == b"IHDR" and (size != 13 or max(struct.unpack(">II", body[4:12])) > MOST_PIXELS):
            raise refused("a PNG that is too large", f"at most {MOST_PIXELS} pixels a side")
        at = end
    if kind != b"IEND" or at != len(raw):
        raise refused("a PNG that does not end where it says", remedy)
    return base64.b64encode(raw).decode()


def _shapes(raw: bytes, refused: Callable[[str, str], UserError]) -> str:
    """The markup of an SVG drawing, once all of it is plain shapes."""
    from xml.etree import ElementTree  # rules that were read before have no drawing to look into

    if len(raw) > MOST_BYTES:
        raise refused(f"{len(raw)} bytes", f"a drawing has at most {MOST_BYTES}, so simplify it")
    # Declarations come first: entities could blow up the parser before anything is looked at.
    if b"<!" in raw or b"<?" in raw:
        raise refused("a declaration, comment or instruction", "leave only the shapes")
    try:
        text = raw.decode("utf-8")
        root = ElementTree.fromstring(text)
    except (UnicodeDecodeError, ElementTree.ParseError) as error:
        raise refused(f"no well-formed SVG ({error})", "write it as UTF-8 XML") from None
    if root.tag != f"{SVG}svg" or root.get("viewBox") != SIZE:
        raise refused(
            "not an SVG of the right size",
            f'begin with <svg xmlns="{SVG[1:-1]}" viewBox="{SIZE}">',
        )
    for element in root.iter():
        name = element.tag.removeprefix(SVG)
        plain = name in ELEMENTS and element.tag != name
        if not plain or (name == "svg" and element is not root):
            raise refused(f"the element <{name}>", f"use only {', '.join(sorted(ELEMENTS))}")
        for key, value in element.items():
            if key not in GEOMETRY | PAINT:
                known = ", ".join(sorted(GEOMETRY | PAINT))
                raise refused(f"the attribute {key!r} of <{name}>", f"use only {known}")
            if not VALUE.fullmatch(value):
                raise refused(f"the value {value!r} of {key!r}", "use numbers and plain colours")
        if (element.text or "").strip() or (element.tail or "").strip():
            raise refused(f"text in <{name}>", "words stand beside a drawing, so draw shapes only")
    return text
