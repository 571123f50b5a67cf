"""A sheet as SVG and as PDF, A4, the same bytes for the same sheet.

PDF is written by reportlab: it is light, long kept, gives the widths of its fonts for the layout
and can leave out the date. A browser prints a PDF too, but it is not everywhere, needs seconds and
stamps the time into it.
"""

import io
from collections.abc import Mapping
from xml.sax.saxutils import escape

from troubleshoot.knowledge.drawings import content
from troubleshoot.show.html.svg import drawing
from troubleshoot.show.sheets.paper import POINT, Image, Shape, Sheet, Text

FONTS = "Helvetica, Arial, 'Liberation Sans', sans-serif"
NO_PICTURES: Mapping[str, str] = {}


def as_svg(sheet: Sheet, pictures: Mapping[str, str] = NO_PICTURES) -> str:
    """The sheet as SVG text. `pictures`: those of the rules, by file name."""
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{sheet.width:g}mm" '
        f'height="{sheet.height:g}mm" viewBox="0 0 {sheet.width:g} {sheet.height:g}" '
        f'role="img" font-family="{FONTS}">',
        f"<title>{escape(sheet.title)}</title>",
        f'<rect width="{sheet.width:g}" height="{sheet.height:g}" fill="#fff"/>',
    ]
    for item in sheet.items:
        match item:
            case Text():
                weight = ' font-weight="bold"' if item.bold else ""
                out.append(
                    f'<text x="{item.x:.2f}" y="{item.y:.2f}" '
                    f'font-size="{item.size * POINT:.2f}"{weight}>{escape(item.text)}</text>'
                )
            case Shape():
                points = " ".join(f"{x:.2f},{y:.2f}" for x, y in item.points)
                kind = "polygon" if item.closed else "polyline"
                out.append(
                    f'<{kind} points="{points}" fill="{_grey(item.fill)}" '
                    f'stroke="{_grey(item.line)}" stroke-width="{item.width:g}"/>'
                )
            case Image():
                out.append(
                    f'<image x="{item.x:.2f}" y="{item.y:.2f}" width="{item.width:.2f}" '
                    f'height="{item.height:.2f}" href="{drawing(item.name, pictures[item.name])}"/>'
                )
    return "\n".join([*out, "</svg>", ""])


def _grey(level: float | None) -> str:
    return "none" if level is None else "#" + f"{round(255 * level):02x}" * 3


def as_pdf(sheet: Sheet, pictures: Mapping[str, str] = NO_PICTURES) -> bytes:
    """The sheet as a PDF file."""
    from reportlab.lib.units import mm
    from reportlab.lib.utils import ImageReader
    from reportlab.pdfgen.canvas import Canvas

    file = io.BytesIO()
    page = Canvas(file, pagesize=(sheet.width * mm, sheet.height * mm), invariant=1)
    page.setTitle(sheet.title)
    for item in sheet.items:
        match item:
            case Text():
                page.setFillGray(0)
                page.setFont("Helvetica-Bold" if item.bold else "Helvetica", item.size)
                page.drawString(item.x * mm, (sheet.height - item.y) * mm, item.text)
            case Shape():
                path = page.beginPath()
                for n, (x, y) in enumerate(item.points):
                    (path.lineTo if n else path.moveTo)(x * mm, (sheet.height - y) * mm)
                if item.closed:
                    path.close()
                page.setLineWidth(item.width * mm)
                page.setFillGray(1 if item.fill is None else item.fill)
                page.setStrokeGray(0 if item.line is None else item.line)
                page.drawPath(path, stroke=item.line is not None, fill=item.fill is not None)
            case Image():
                pixels = io.BytesIO(content(item.name, pictures[item.name]))
                corner = (item.x * mm, (sheet.height - item.y - item.height) * mm)
                size = {"width": item.width * mm, "height": item.height * mm}
                page.drawImage(ImageReader(pixels), *corner, **size)
    page.showPage()
    page.save()
    return file.getvalue()
