"""What was understood of a line from the logbook, printed; nothing of it is recorded."""

from typing import Any

from troubleshoot.advice.instruction import Site, for_danger
from troubleshoot.case.entries import Sign
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.show.teller import TerminalTeller
from troubleshoot.talk.heard import Line, told


def show_line(line: Line, rules: RuleBase, machine: Machine) -> None:
    """Print the complaint, what was said of it, what was not understood, and how to go on."""
    out = TerminalTeller()
    names = [rules.complaints[c].name for c in line.complaints]
    for heard in line.heard:
        if isinstance(heard.said, Sign):
            sign = rules.signs[heard.said.sign]
            do = for_danger(Site(rules, machine), sign.caution)
            text = " ".join(f"{box.hazard} {box.text}" for box in do.cautions)
            out.caution(f"STOP NOW: {sign.name}", text, urgent=True)
            out.steps(do.steps)
    out.line(f"Trouble: {', or: '.join(names) or 'none is told, as far as this is understood'}")
    for heard in line.heard:
        out.line(f"  {told(heard, rules, machine)}")
        out.small(f"      from: {heard.clause}")
    if line.left:
        out.line("Not understood:")
        for clause in line.left:
            out.line(f"  {clause}")
    out.small(
        "Nothing is recorded. Without --no-questions each of these is asked and can be struck out."
    )


def line_as_object(line: Line, rules: RuleBase, machine: Machine) -> dict[str, Any]:
    """The same as one object: IDs, the entries that would be made, and the clauses."""
    return {
        "complaints": list(line.complaints),
        "understood": [
            {"kind": h.said.kind, **h.said.record(), "line": told(h, rules, machine),
             "from": h.clause}
            for h in line.heard
        ],
        "not_understood": list(line.left),
    }  # fmt: skip
