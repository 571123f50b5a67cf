"""Makes the README's pictures anew: `python -m tests.docs_pictures` (needs chromium).

docs/terminal.svg is what the main job prints, docs/report.png the top of the report it writes.
"""

import subprocess
import sys
import tempfile
from html import escape
from pathlib import Path

from PIL import Image

DOCS = Path(__file__).parent.parent / "docs"
CASE = "cases_demo/flakes_on_the_lower_seal.yaml"
WIDTH, LETTER, LINE = 80, 8.4, 18
PAGE = "900,820"
COLOURS = 64


def main() -> None:
    """Write both."""
    with tempfile.TemporaryDirectory() as folder:
        report, shot = Path(folder) / "report.html", Path(folder) / "report.png"
        asked = ["diagnose", CASE, "--no-questions", "--report", str(report)]
        done = subprocess.run(
            [sys.executable, "-m", "troubleshoot", *asked],
            cwd=DOCS.parent, capture_output=True, text=True, check=True,
        )  # fmt: skip
        (DOCS / "terminal.svg").write_text(terminal(done.stdout), encoding="utf-8")
        subprocess.run(
            ["chromium", "--headless", "--no-sandbox", "--hide-scrollbars",
             f"--window-size={PAGE}", f"--screenshot={shot}", str(report)],
            capture_output=True, check=True,
        )  # fmt: skip
        with Image.open(shot) as picture:
            picture.convert("RGB").quantize(COLOURS).save(DOCS / "report.png", optimize=True)


def terminal(printed: str) -> str:
    """What was printed as SVG, in a font of the reader's own machine: nothing is fetched."""
    lines = [f"$ troubleshoot diagnose {CASE} --no-questions", *printed.rstrip().splitlines()]
    rows = "\n".join(row(line, 24 + LINE * n) for n, line in enumerate(lines) if line)
    width, height = LETTER * WIDTH + 32, LINE * len(lines) + 24
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img" '
        f'aria-label="What the main job prints">\n<rect width="{width}" height="{height}" rx="4" '
        f'fill="#14282b"/>\n<g fill="#e8efee" font-family="monospace" '
        f'font-size="14">\n{rows}\n</g>\n</svg>\n'
    )


def row(line: str, y: int) -> str:
    """A line of text; where it is set in, it begins further right."""
    inside = LETTER * (len(line) - len(line.lstrip()))
    return f'<text x="{16 + inside:g}" y="{y}">{escape(line.strip())}</text>'


if __name__ == "__main__":
    main()
