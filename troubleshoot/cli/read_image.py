"""`troubleshoot read PICTURE`: what a micrograph, or two of one field, show."""

import json
import sys
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from troubleshoot.cli.echo import echo

if TYPE_CHECKING:
    from troubleshoot.knowledge.model import Finding
    from troubleshoot.readings.door import Beside
    from troubleshoot.readings.image.micrograph import Look, MicrographAnalysis


def tell_image(
    path: Path,
    findings: "Mapping[str, Finding]",
    beside: "Beside",
    *,
    as_json: bool,
    plot: Path | None,
) -> None:
    """Print what was read, and write the marked picture."""
    from troubleshoot.readings.door import look_at

    shown = sys.stderr.isatty() and not as_json

    def tell(text: str) -> None:
        if shown:
            echo(text, err=True)

    analysis = look_at(path, findings, beside, tell)
    if as_json:
        echo(json.dumps(_record(analysis), indent=2, allow_nan=False))
    else:
        _say(analysis)
    if plot is not None:
        from troubleshoot.readings.image.micrograph_plot import draw_micrographs
        from troubleshoot.show.files import to_file

        to_file(plot, draw_micrographs(analysis))
        echo(f"Written: {plot}", err=True)


def _say(analysis: "MicrographAnalysis") -> None:
    """The sentence, then what it rests on, a line a picture."""
    echo(analysis.reading.sentence)
    for look in analysis.looks:
        s, picture = look.measured.sample, look.picture
        rows, columns = picture.shape
        echo(
            f"  {picture.name}: {columns} by {rows} pixels, noise {s.noise:.1f} of {picture.full} "
            f"levels, contrast {s.contrast:.1f}"
        )
        if picture.bar is not None:
            echo(f"    information bar in rows {picture.bar[0]} to {picture.bar[1]} left out")
    echo("  The limits from which something is named are ours (docs/micrographs.md).")


def _record(analysis: "MicrographAnalysis") -> dict[str, Any]:
    record: dict[str, Any] = asdict(analysis.reading)
    record["pictures"] = [_picture(look) for look in analysis.looks]
    record["pair"] = analysis.pair
    record["change"] = None if analysis.change is None else asdict(analysis.change)
    return record


def _picture(look: "Look") -> dict[str, Any]:
    rows, columns = look.picture.shape
    return {
        "name": look.picture.name,
        "rows": rows,
        "columns": columns,
        "bar": look.picture.bar,
        "lossy": look.picture.lossy,
        "found": look.found,
        "cannot_tell": look.doubtful,
        "stories": {kind: asdict(story) for kind, story in look.stories.items()},
    }
