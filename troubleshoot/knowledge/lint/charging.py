"""Rows and cures of charging held against what physics says of the controls."""

from collections.abc import Iterator

from troubleshoot.knowledge import model
from troubleshoot.knowledge.lint.remarks import Check, Found, RulesSeen
from troubleshoot.physics.charge_controls import says


def charge_of(rules: model.RuleBase, cause: model.Cause) -> model.Charge | None:
    """Where the charge sits that a cause leaves, by the first of its mechanisms that says so.

    A mechanism that says nothing has what the one says that it is like.
    """
    for name in cause.mechanisms:
        here: str | None = name
        while here is not None:
            mechanism = rules.mechanisms[here]
            if mechanism.charge is not None:
                return mechanism.charge
            here = mechanism.like
    return None


def row_against_physics(view: RulesSeen) -> Iterator[Found]:
    """What a control does to a kind of charging follows from physics where it can say.

    Where it says better, that answer is the likelier one and likelier than on a sound coater; where
    it says the same, that one. A look-alike may have reasons of its own to change with the beam's
    energy and current, so of it only the dwell is asked.
    """
    rules = view.rules
    for finding in rules.findings.values():
        if finding.turned is None:
            continue
        turned = finding.turned
        for cause in rules.causes.values():
            kind = charge_of(rules, cause)
            if kind is None or (kind == "none" and turned.control != "dwell"):
                continue
            row = rules.rows.get((cause.id, finding.id), finding.background)
            better, same = (sum(row[a] for a in named) for named in (turned.better, turned.same))
            usual = sum(finding.background[a] for a in turned.better)
            said = says(kind, turned.control)
            if said == "better" and not better > max(same, usual):
                wanted = "weaker"
            elif said == "same" and better > same:
                wanted = "unchanged"
            else:
                continue
            yield Found(
                view.at(cause, "shows", finding.id)
                if finding.id in cause.shows
                else view.at(cause),
                f"physics has the charge of {cause.id!r} ({kind}) {wanted} where {finding.id!r} "
                f"turns {turned.control}, and the row says otherwise",
                "mend the row, or the mechanism by which the cause acts",
            )


def cure_against_physics(view: RulesSeen) -> Iterator[Found]:
    """More metal cures no missing path, and a bridge no gaps between islands."""
    rules = view.rules
    for action in rules.actions.values():
        control = "coat" if action.coats is not None else action.turns
        if control is None:
            continue
        for name in action.cures:
            kind = charge_of(rules, rules.causes[name])
            if kind is not None and kind != "none" and says(kind, control) == "same":
                yield Found(
                    view.at(action, "cures", name),
                    f"physics has the charge of {name!r} ({kind}) unchanged by what {action.id!r} "
                    f"turns ({control})",
                    "take it out of the cures, or name the mechanism by which it acts",
                )


CHARGING: tuple[Check, ...] = (row_against_physics, cure_against_physics)
