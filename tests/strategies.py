"""Whole things drawn at random, for hypothesis: machines, journals, logs."""

from hypothesis import strategies as st

from troubleshoot.case import entries
from troubleshoot.case.journal import enter
from troubleshoot.coater.fields import FACTS, NUMBERS
from troubleshoot.coater.profile import machine_from, typed_value
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import RECHECK, ROLES

AT = "2026-03-02T09:{:02}:00"
WORDS = st.text(max_size=30)


@st.composite
def machines(draw):
    """A profile in which any of the facts and any of the numbers are told."""
    told = {"gauge_unit": draw(st.sampled_from(["mbar", "Torr", "Pa"]))}
    for key in draw(st.lists(st.sampled_from(sorted(FACTS)), unique=True, max_size=8)):
        told[key] = draw(st.sampled_from(sorted(FACTS[key].choices)))
    for key in draw(st.lists(st.sampled_from(sorted(NUMBERS)), unique=True, max_size=6)):
        told[key] = typed_value(key, NUMBERS[key].example, told["gauge_unit"])
    return machine_from(told, "drawn")


def one_of(pool):
    return st.sampled_from(sorted(pool))


def findings(rules):
    """One answer, two between which somebody wavers, don't know, or a number."""

    def of(finding):
        name, answers = finding.id, st.sampled_from(sorted(finding.answers))
        ways = [answers, st.just(entries.UNKNOWN)]
        if len(finding.answers) > 2:
            ways.append(st.lists(answers, min_size=2, max_size=2, unique=True))
        said = [st.builds(entries.Finding, finding=st.just(name), answer=way) for way in ways]
        if finding.quantity:
            unit, edges = finding.quantity.unit, finding.quantity.edges
            number = st.floats(edges[0] / 3, 3 * edges[-1]).map(lambda v: f"{v:.3g} {unit}")
            said.append(st.builds(entries.Finding, finding=st.just(name), quantity=number))
        return st.one_of(said)

    return st.one_of([of(finding) for finding in rules.findings.values()])


def sayings(rules):
    """Anything that can be said in a journal, but for readings, the complaint and going back."""
    action = one_of(rules.actions)
    return st.one_of(
        st.builds(entries.Role, role=one_of(ROLES)),
        st.builds(entries.Specimen, irreplaceable=st.booleans(), what=st.none()),
        st.builds(entries.State, state=one_of(rules.states)),
        st.builds(entries.Sign, sign=one_of(rules.signs), present=st.booleans()),
        st.builds(
            entries.Circumstance,
            circumstance=one_of(rules.circumstances),
            answer=one_of(("yes", "no", entries.UNKNOWN)),
        ),
        findings(rules),
        findings(rules),
        st.builds(entries.Action, action=action),
        st.builds(entries.Action, action=action, complaint_now=one_of((*RECHECK, "unknown"))),
        st.builds(entries.Cannot, action=action),
        st.builds(entries.Later, action=action),
        st.builds(entries.Epoch, why=WORDS),
        st.builds(entries.Parked, action=action, until=st.just("2026-03-02T11:00")),
        st.builds(entries.Workaround, workaround=one_of(rules.workarounds)),
        st.builds(entries.MadeSafe, caution=one_of(rules.cautions)),
        st.builds(entries.Repaired, caution=one_of(rules.cautions), role=one_of(ROLES)),
        st.builds(entries.GoOn, although=one_of(("accept", "service"))),
        st.builds(entries.Note, text=WORDS),
        st.builds(entries.Closed, outcome=one_of(entries.OUTCOMES)),
    )


@st.composite
def journals(draw, rules, most=12):
    """A journal with a complaint, in which things are also taken back; what cannot stand is not."""
    anything = sayings(rules)
    complaint = entries.Complaint(complaint=draw(one_of(rules.complaints)))
    journal = enter((), AT.format(0), complaint, rules)
    for n in range(draw(st.integers(0, most))):
        back = n and draw(st.integers(0, 4)) == 0
        said = (
            entries.Retract(entry=draw(st.integers(1, len(journal) - 1)))
            if back and len(journal) > 1
            else draw(anything)
        )
        try:
            journal = enter(journal, AT.format(n + 1), said, rules)
        except UserError:
            continue
    return journal
