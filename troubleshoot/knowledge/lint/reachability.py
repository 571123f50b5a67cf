"""Nothing stands in a rule base that no complaint, check or remedy leads to."""

from collections.abc import Iterator

from troubleshoot.knowledge.lint.remarks import Check, Found, RulesSeen, Spot


def complaint_without_cause(view: RulesSeen) -> Iterator[Found]:
    """A complaint that no cause can explain ends in "not in this rule base" at once."""
    raised = {name for cause in view.rules.causes.values() for name in cause.complaints}
    for complaint in view.rules.complaints.values():
        if complaint.id not in raised:
            yield Found(
                view.at(complaint),
                f"no cause raises the complaint {complaint.id!r}",
                "give some cause a strength for it, or remove it",
            )


def cause_unreached(view: RulesSeen) -> Iterator[Found]:
    """A cause is only ever considered for the complaints that it names."""
    for cause in view.rules.causes.values():
        if not cause.complaints:
            yield Found(
                view.at(cause, "complaints"),
                f"no complaint leads to the cause {cause.id!r}",
                "name a complaint with its strength, or remove the cause",
            )


def finding_unrevealed(view: RulesSeen) -> Iterator[Found]:
    """What no action reveals and no derivation concludes can never be answered."""
    for finding in view.rules.findings.values():
        if not view.revealed(finding.id):
            yield Found(
                view.at(finding),
                f"nothing reveals the finding {finding.id!r}",
                "let a check reveal it, or remove it",
            )


def finding_unspoken(view: RulesSeen) -> Iterator[Found]:
    """A finding on which no cause has a say only costs time."""
    spoken = {finding for _, finding in view.rules.rows}
    for finding in view.rules.findings.values():
        if finding.id not in spoken:
            yield Found(
                view.at(finding),
                f"no cause has a say on the finding {finding.id!r}",
                "give a cause or a mechanism a row for it, or remove it",
            )


def action_idle(view: RulesSeen) -> Iterator[Found]:
    """An action that reveals nothing and cures nothing is never worth a minute."""
    for action in view.rules.actions.values():
        if not action.reveals and not action.cures:
            yield Found(
                view.at(action),
                f"{action.id!r} reveals nothing and cures nothing",
                "name what it reveals or cures, or remove it",
            )


def remedy_unnamed(view: RulesSeen) -> Iterator[Found]:
    """A remedy that stands under no cause appears on no cause's page."""
    named = {name for cause in view.rules.causes.values() for name in cause.remedies}
    for action in view.rules.actions.values():
        if action.kind == "remedy" and action.id not in named:
            yield Found(
                view.at(action),
                f"no cause names the remedy {action.id!r}",
                "put it under the `remedies` of a cause, or remove it",
            )


def cause_without_remedy(view: RulesSeen) -> Iterator[Found]:
    """To name a cause and offer nothing helps nobody."""
    for cause in view.rules.causes.values():
        if not cause.remedies:
            yield Found(
                view.at(cause, "remedies"),
                f"the cause {cause.id!r} has no remedy",
                "name one (a call to service is one)",
            )


def remedy_does_not_cure(view: RulesSeen) -> Iterator[Found]:
    """A cause's remedy has to say with which probability it cures that cause."""
    for cause in view.rules.causes.values():
        for n, name in enumerate(cause.remedies):
            if cause.id not in view.rules.actions[name].cures:
                yield Found(
                    view.at(cause, "remedies", n),
                    f"{name!r} is a remedy for {cause.id!r} and does not say that it cures it",
                    f"add {cause.id!r} to its `cures`, or take it off the list",
                )


def remedy_without_proof(view: RulesSeen) -> Iterator[Found]:
    """Nothing is mended before it is shown to be."""
    named = {name for cause in view.rules.causes.values() for name in cause.remedies}
    for name in sorted(named):
        if view.rules.actions[name].proof is None:
            yield Found(
                view.at(view.rules.actions[name]),
                f"nothing proves that {name!r} has helped",
                "name the check that does under `proof`",
            )


def presupposition_unused(view: RulesSeen) -> Iterator[Found]:
    """A presupposition that no question and no other presupposition rests on."""
    rules = view.rules
    used = {name for finding in rules.findings.values() for name in finding.presumes}
    used |= {name for other in rules.presuppositions.values() for name in other.needs}
    for presupposition in rules.presuppositions.values():
        if presupposition.id not in used:
            yield Found(
                view.at(presupposition),
                f"no finding presumes {presupposition.id!r}",
                "name it under the `presumes` of a finding, or remove it",
            )


def world_without_say(view: RulesSeen) -> Iterator[Found]:
    """A question on which no cause of the complaint has a say, and from which nothing follows."""
    rules = view.rules
    gates = {
        finding
        for presupposition in rules.presuppositions.values()
        for together in (*presupposition.denied_by, *presupposition.unless)
        for finding in together
    }
    gates |= {c.name for d in rules.derivations.values() for c in d.when if c.kind == "finding"}
    for finding in rules.findings.values():
        spoken = [rules.causes[cause] for cause, name in rules.rows if name == finding.id]
        for n, complaint in enumerate(finding.world):
            if finding.id not in gates and not any(complaint in c.complaints for c in spoken):
                yield Found(
                    view.at(finding, "world", n),
                    f"no cause of {complaint!r} has a say on {finding.id!r}",
                    "take it out of the `world`, or give a cause a row",
                )


def mechanism_unused(view: RulesSeen) -> Iterator[Found]:
    """A mechanism that no cause has and no mechanism builds on."""
    used = {name for cause in view.rules.causes.values() for name in cause.mechanisms}
    used |= {m.like for m in view.rules.mechanisms.values() if m.like}
    for mechanism in view.rules.mechanisms.values():
        if mechanism.id not in used:
            yield Found(
                view.at(mechanism),
                f"no cause works by the mechanism {mechanism.id!r}",
                "name it under a cause, or remove it",
            )


def caution_unused(view: RulesSeen) -> Iterator[Found]:
    """A caution that nothing brings into force warns nobody."""
    used = {name for action in view.rules.actions.values() for name in action.hazards}
    used |= {sign.caution for sign in view.rules.signs.values()} | view.derived("caution")
    for caution in view.rules.cautions.values():
        if caution.id not in used:
            yield Found(
                view.at(caution),
                f"nothing brings the caution {caution.id!r} into force",
                "name it under an action's `hazards`, a sign or a derivation, or remove it",
            )


def group_unused(view: RulesSeen) -> Iterator[Found]:
    """A mistake that spoils nothing which can be answered."""
    for group in view.rules.groups.values():
        if not any(map(view.revealed, group.findings)):
            yield Found(
                view.at(group),
                f"the group {group.id!r} holds no finding that can be answered",
                "name the findings that the mistake spoils, or remove the group",
            )


def sign_without_effect(view: RulesSeen) -> Iterator[Found]:
    """A danger sign is asked first of all, so it has to change something."""
    read_by = {c.name for d in view.rules.derivations.values() for c in d.when if c.kind == "sign"}
    for sign in view.rules.signs.values():
        if sign.id not in read_by and not view.rules.cautions[sign.caution].stop_now:
            yield Found(
                view.at(sign),
                f"the sign {sign.id!r} stops nothing and no derivation reads it",
                "let its caution `stop_now`, or ask it as a finding",
            )


def drawing_unused(view: RulesSeen) -> Iterator[Found]:
    """A drawing that no answer shows."""
    shown = {file for finding in view.rules.findings.values() for file in finding.drawings.values()}
    for name, path in view.loaded.drawings.items():
        if name not in shown:
            yield Found(
                Spot(str(path), 0),
                f"no finding shows the drawing {name!r}",
                "name it under the `drawings` of a finding, or remove it",
            )


REACHABILITY: tuple[Check, ...] = (
    complaint_without_cause,
    cause_unreached,
    finding_unrevealed,
    finding_unspoken,
    action_idle,
    remedy_unnamed,
    cause_without_remedy,
    remedy_does_not_cure,
    remedy_without_proof,
    presupposition_unused,
    world_without_say,
    mechanism_unused,
    caution_unused,
    group_unused,
    sign_without_effect,
    drawing_unused,
)
