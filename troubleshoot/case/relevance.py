"""Which questions make no sense in a case, and why.

A question may belong to the world of other complaints, take something for granted that the answers
so far deny, or follow from what was said already. The rule base says which
(`knowledge.model.Finding`, `Presupposition`). Pure; no probability is looked at.
"""

from collections.abc import Iterable, Mapping

from troubleshoot.knowledge.model import Finding, RuleBase, Where


def no_sense(
    rules: RuleBase,
    complaint: str,
    seen: Iterable[tuple[str, str]],
    circumstances: Iterable[str] = (),
) -> dict[str, str]:
    """Finding -> why it is no question now, as a sentence.

    `seen` holds (finding, answer) of everything that still stands; what nobody knew is not in it.
    `circumstances`: those that hold.
    """
    told = dict(seen)
    denied = _denied(rules, complaint, told, frozenset(circumstances))
    out = {}
    for finding in rules.findings.values():
        broken = [rules.presuppositions[p].because for p in finding.presumes if p in denied]
        sources = _sources(finding, told)
        if not rules.is_in_world(finding.id, complaint):
            out[finding.id] = (
                f"It says nothing of this trouble: {rules.complaints[complaint].name}."
            )
        elif broken:
            out[finding.id] = broken[0]
        elif sources:
            names = ", and ".join(rules.findings[name].name for name in sources)
            out[finding.id] = f"It follows from what was said already: {names}."
    return out


def _sources(finding: Finding, told: Mapping[str, str]) -> list[str]:
    """The answered findings that decide this one."""
    return next((names for names in finding.decided_by if all(n in told for n in names)), [])


def other_trouble(
    rules: RuleBase, complaint: str, seen: Iterable[tuple[str, str]], circumstances: Iterable[str]
) -> str | None:
    """The complaint that answers fit rather than this one, as its `rather` says; or None."""
    told, held = dict(seen), frozenset(circumstances)
    for other, items in rules.complaints[complaint].rather.items():
        if any(_holds(together, complaint, told, held) for together in items):
            return other
    return None


def _holds(
    together: Where, complaint: str, told: Mapping[str, str], circumstances: frozenset[str]
) -> bool:
    """Whether all of these answers, circumstances and complaints are so."""

    def is_so(name: str, wanted: list[str]) -> bool:
        if name == "circumstance":
            return not circumstances.isdisjoint(wanted)
        return (complaint if name == "complaint" else told.get(name)) in wanted

    return all(
        is_so(name, [wanted] if isinstance(wanted, str) else wanted)
        for name, wanted in together.items()
    )


def _denied(
    rules: RuleBase, complaint: str, told: Mapping[str, str], circumstances: frozenset[str]
) -> set[str]:
    """The presuppositions that do not hold."""

    def any_of(items: Iterable[Where]) -> bool:
        return any(_holds(together, complaint, told, circumstances) for together in items)

    out = {
        p.id for p in rules.presuppositions.values() if any_of(p.denied_by) and not any_of(p.unless)
    }
    more = True
    while more:
        follow = {p.id for p in rules.presuppositions.values() if out.intersection(p.needs)} - out
        out |= follow
        more = bool(follow)
    return out
