"""`troubleshoot cases`: the lab's cases, to look at, to write in and to share."""

from troubleshoot.cli.cases import change, close, learn, look, share, stats
from troubleshoot.cli.cases.group import cases

__all__ = ["cases", "change", "close", "learn", "look", "share", "stats"]
