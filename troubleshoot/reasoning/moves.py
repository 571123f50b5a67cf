"""What it costs to bring the coater from one state into another."""

from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import RuleBase


def move_minutes(rules: RuleBase, machine: Machine, start: str, end: str) -> float:
    """Minutes from one machine state into another, with this coater's own pump-down time."""
    if end in ("any", start) or start == "any":
        return 0.0
    minutes = rules.states[start].to.get(end, 0.0)
    under_vacuum = ("pumped", "coating")
    if end in under_vacuum and start not in under_vacuum and "usual_time" in machine.numbers:
        minutes += machine.numbers["usual_time"] / 60.0 - rules.states["vented"].to["pumped"]
    return max(0.0, minutes)
