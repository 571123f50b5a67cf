"""The journal read through: plain facts, nothing inferred. No clock is read."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from troubleshoot.case import entries
from troubleshoot.case.entries import DEFAULT_ROLE, UNKNOWN
from troubleshoot.case.journal import Journal, standing
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import Finding, RuleBase
from troubleshoot.readings.quantity import (
    LEAST,
    amounts_to,
    likeliest,
    likelihood,
    read_quantity,
)
from troubleshoot.reasoning.learned import Tally

DEFAULT_STATE = {"coater": "pumped", "microscope": "in_sem"}


@dataclass(frozen=True)
class Seen:
    """One answer. `origin`: told (in words), measured (a number), reading (log), derived (rule).

    `others`: further answers, where the operator wavers or a range or bound leaves several open.
    """

    number: int
    epoch: int
    finding: str
    answer: str
    sure: str
    origin: str
    quantity: str | None
    likelihood: tuple[float, ...]
    others: tuple[str, ...] = ()


@dataclass(frozen=True)
class Done:
    """An action that may have cured something, and what was seen of the complaint afterwards."""

    number: int
    action: str
    complaint_now: str
    value: str | None


@dataclass
class Known:
    """The journal read through: plain facts, nothing inferred.

    `signs`, `made_safe` and `repaired` hold the number of the entry that said so last; `fairly` the
    circumstances of which the operator is only fairly sure.
    """

    name: str = ""
    complaint: str | None = None
    words: str | None = None
    role: str = DEFAULT_ROLE
    irreplaceable: bool = False
    specimen: str | None = None
    state: str = "any"
    since: str | None = None
    signs: dict[str, int] = field(default_factory=dict)
    circumstances: dict[str, str] = field(default_factory=dict)
    fairly: set[str] = field(default_factory=set)
    seen: list[Seen] = field(default_factory=list)
    unknown: list[tuple[int, str]] = field(default_factory=list)
    treatments: list[Done | None] = field(default_factory=list)
    checked: list[tuple[int, str]] = field(default_factory=list)
    cannot: dict[str, str] = field(default_factory=dict)
    later: list[tuple[int, str]] = field(default_factory=list)
    go_on: set[str] = field(default_factory=set)
    book: Tally | None = None
    parked: entries.Parked | None = None
    workarounds: list[str] = field(default_factory=list)
    made_safe: dict[str, int] = field(default_factory=dict)
    repaired: dict[str, int] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    closed: entries.Closed | None = None

    @property
    def epoch(self) -> int:
        """The number of the epoch that is running."""
        return len(self.treatments)

    def done_since(self, number: int) -> frozenset[str]:
        """What was put right after the entry `number`, whatever the complaint did then."""
        return frozenset(d.action for d in self.treatments if d is not None and d.number > number)

    def tries(self, action: str) -> int:
        """How often a remedy was done."""
        return sum(d is not None and d.action == action for d in self.treatments)

    @property
    def last_outcome(self) -> str | None:
        """What was last seen of the complaint after a remedy."""
        done = [t for t in self.treatments if t is not None]
        return done[-1].complaint_now if done else None


def replay(journal: Journal, rules: RuleBase, machine: Machine) -> Known:
    """Read the standing entries in order."""
    known = Known()
    for entry in standing(journal):
        number, said = entry.number, entry.said
        if not isinstance(said, entries.Parked | entries.BESIDE):
            known.parked = None
        match said:
            case entries.Opened():
                known.name = said.name or ""
            case entries.Book():
                known.book = Tally.of(said) if said.cases else None
            case entries.Role():
                known.role = said.role
            case entries.Specimen():
                known.irreplaceable, known.specimen = said.irreplaceable, said.what
            case entries.State():
                known.state = said.state
            case entries.Sign(present=True):  # one that is not seen any more is not a repair
                known.signs[said.sign] = number
            case entries.Complaint():
                known.complaint, known.words = said.complaint, said.words
                if known.state == "any":
                    known.state = DEFAULT_STATE[rules.complaints[said.complaint].place]
            case entries.Circumstance():
                known.circumstances[said.circumstance] = said.answer
                known.fairly.discard(said.circumstance)
                if said.sure == "fairly":
                    known.fairly.add(said.circumstance)
            case entries.Since():
                known.since = said.text
            case entries.Finding():
                _replay_finding(known, number, said, rules, machine)
            case entries.Reading():
                _replay_reading(known, number, said, rules)
            case entries.Action():
                _replay_action(known, number, said, rules)
            case entries.Cannot():
                known.cannot[said.action] = said.why or ""
            case entries.Later():
                known.later.append((known.epoch, said.action))
            case entries.Epoch():
                known.treatments.append(None)
            case entries.GoOn():
                known.go_on.add(said.although)
            case entries.Parked():
                known.parked = said
            case entries.Workaround():
                known.workarounds.append(said.workaround)
            case entries.MadeSafe():
                known.made_safe[said.caution] = number
            case entries.Repaired():
                known.repaired[said.caution] = number
            case entries.Note():
                known.notes.append(said.text)
            case entries.Closed():
                known.closed = said
    return known


def _replay_finding(
    known: Known, number: int, said: entries.Finding, rules: RuleBase, machine: Machine
) -> None:
    name = said.finding
    known.seen = [s for s in known.seen if (s.finding, s.epoch) != (name, known.epoch)]
    known.unknown = [u for u in known.unknown if u != (known.epoch, name)]
    if said.answer == UNKNOWN:
        known.unknown.append((known.epoch, name))
        return
    finding = rules.findings[name]
    answers = said.answers
    sure = said.sure or ("fairly" if finding.fairly or len(answers) > 1 else "certain")
    if said.quantity is not None:
        vector = likelihood(finding, said.quantity, machine)
        answers = _answers(finding, said.quantity, vector, machine)
    else:
        vector = told(rules, name, answers, sure)
    known.seen.append(
        Seen(
            number=number,
            epoch=known.epoch,
            finding=name,
            answer=answers[0],
            sure=sure,
            origin="told" if said.quantity is None else "measured",
            quantity=said.quantity,
            likelihood=vector,
            others=tuple(answers[1:]),
        )
    )


def _answers(
    finding: Finding, quantity: str, vector: tuple[float, ...], machine: Machine
) -> list[str]:
    """The answer that a quantity stands for, then those that a range or bound leaves open."""
    first = likeliest(finding, vector)
    if read_quantity(finding, quantity).is_number:
        return [first]
    return [first, *(a for a in amounts_to(finding, quantity, machine) if a != first)]


def _replay_reading(known: Known, number: int, said: entries.Reading, rules: RuleBase) -> None:
    """What a reader found, as soft evidence; the file itself is never read again."""
    for name, vector in said.findings.items():
        known.seen = [s for s in known.seen if (s.finding, s.epoch) != (name, known.epoch)]
        most = max(vector)
        known.seen.append(
            Seen(
                number=number,
                epoch=known.epoch,
                finding=name,
                answer=list(rules.findings[name].answers)[vector.index(most)],
                sure="certain",
                origin="reading",
                quantity=None,
                likelihood=tuple(max(float(v), LEAST * most) for v in vector),
            )
        )


def told(
    rules: RuleBase, finding: str, answer: str | Sequence[str], sure: str
) -> tuple[float, ...]:
    """The likelihood of an answer given in words, or of several between which somebody wavers.

    Several share alike. "Fairly sure" leaves 1 - `fairly_sure` to the other answers, of an ordered
    finding to the neighbours only.
    """
    entry = rules.findings[finding]
    answers = list(entry.answers)
    here = [answers.index(a) for a in ([answer] if isinstance(answer, str) else answer)]
    p = 1.0 if sure == "certain" else rules.settings.fairly_sure
    ordered = entry.kind in ("graded", "two_sided")
    others = [
        n
        for n in range(len(answers))
        if n not in here and (not ordered or any(abs(n - h) == 1 for h in here))
    ]
    each, rest = p / len(here), (1.0 - p) / len(others)
    return tuple(each if n in here else rest if n in others else 0.0 for n in range(len(answers)))


def _replay_action(known: Known, number: int, said: entries.Action, rules: RuleBase) -> None:
    action = rules.actions[said.action]
    known.checked.append((known.epoch, action.id))
    if said.complaint_now is not None:
        known.treatments.append(Done(number, action.id, said.complaint_now, said.value))
    if action.leaves or action.state != "any":
        known.state = action.leaves or action.state


def active(known: Known) -> list[str]:
    """The circumstances that hold."""
    return [name for name, answer in known.circumstances.items() if answer == "yes"]
