"""Small SVG drawings of answers: only plain shapes get in.

A drawing goes into pages that people open in a browser, and a folder of rules may come from
anywhere. So what is allowed is listed, not what is forbidden: a handful of shapes with geometry and
a few ways to stroke and fill them. Scripts, links, events, styles, text and references of any kind
are none of these.
"""

import re
from pathlib import Path

from troubleshoot.errors import UserError

FOLDER = "drawings"
MOST_BYTES = 3000
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


def read_drawing(path: Path) -> str:
    """The markup of the drawing in `path`. Raises `UserError` for anything but plain shapes."""

    from xml.etree import ElementTree  # rules that were read before have no drawing to look into

    def refused(why: str, remedy: str) -> UserError:
        return UserError(f"{path}: {why}; {remedy}.")

    raw = path.read_bytes()
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
