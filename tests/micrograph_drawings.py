"""Writes the made pictures of the rule base: `python -m tests.micrograph_drawings`."""

from pathlib import Path

from PIL import Image

from troubleshoot.training.pictures import pictures

FOLDER = Path(__file__).parent.parent / "rules" / "drawings"

if __name__ == "__main__":
    for name, pixels in pictures().items():
        Image.fromarray(pixels).save(FOLDER / name, optimize=True)
        print(f"{name}: {(FOLDER / name).stat().st_size} bytes")
