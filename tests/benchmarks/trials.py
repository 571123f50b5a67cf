"""The real conversation played against answer sheets of cases whose truth is written down.

    python -m tests.benchmarks.trials [FOLDER] [--most 40] [--other] [--words] [--log FILE]

A sheet (`tests/trials/README.md`) says what an honest operator would choose, see and be able to do,
what puts the fault right, and what would be senseless to ask or harmful to do. The operator here
answers by what a question is about and never by its words.

A question is a finding or an action that is put after the opening, each row of a list as one and a
repeated one again; the prompts of the opening are counted apart. A trial is right when every fault
was put right and the case closed, when it closed as normal and nothing is wrong, or when it went to
service and what is left needs qualified service. "Sure" is when the belief that one of the true
causes was there at the start first passes 0.9; the place is the best true cause's among all that
can raise the complaint, by the same belief at the end ("-": none of them can). Minutes are
hands-on, waiting and bringing the machine into the state of every action done; "weighted" as the
planner weighs them.
"""

import argparse
import json
import multiprocessing
import statistics
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from troubleshoot import units
from troubleshoot.case.diagnose import Bench, evidence_of
from troubleshoot.case.journal import Entry, Journal, append
from troubleshoot.coater.profile import machine_from
from troubleshoot.errors import UserError
from troubleshoot.knowledge.load import load
from troubleshoot.knowledge.model import Action, Finding, RuleBase
from troubleshoot.readings.quantity import edges, likelihood, read_quantity
from troubleshoot.reasoning.belief import paths
from troubleshoot.reasoning.moves import move_minutes
from troubleshoot.strict_yaml import read
from troubleshoot.talk.conversation import Conversation
from troubleshoot.talk.dialogue import ASIDE, About, Choice
from troubleshoot.talk.talk import CANNOT, DONT_KNOW, FAIRLY, SKIP

FOLDER = Path(__file__).parents[1] / "trials"
FINDINGS, ACTIONS = "known_findings", "known_actions"
ENDS = {  # of the lists that held for a sheet
    "first": ("",),
    "second": ("", "_second"),
    "third": ("", "_second", "_third"),
}
MOST_QUESTIONS, MOST_PROMPTS, MOST_ENTRIES, QUICK = 40, 400, 2000, 20
SURE = 0.9
PROCESSES = 2
UNKNOWN, NOT_HERE = "unknown", "cannot"


# --- the sheet ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Opening:
    """What holds when the tool is started."""

    state: str = "any"
    role: str = "student"
    irreplaceable: str = "no"
    since: str | None = None
    signs: tuple[str, ...] = ()
    circumstances: tuple[str, ...] = ()


@dataclass(frozen=True)
class Sheet:
    """One answer sheet. `cures` and `after` go by fault; an answer may be a pair (wavering)."""

    id: str
    words: str
    complaint: str
    also_fits: tuple[str, ...]
    machine: Mapping[str, Any]
    opening: Opening
    causes: tuple[str, ...]
    nothing_wrong: bool
    cures: tuple[tuple[str, ...], ...]
    better_after: str
    harmful: frozenset[str]
    cannot: frozenset[str]
    findings: Mapping[str, tuple[str, ...]]
    senseless: frozenset[str]
    known: tuple[str, ...]
    after: Mapping[int, Mapping[str, tuple[str, ...]]]
    expert_first: tuple[str, ...]
    best_minutes: float

    def fits(self, complaint: str) -> bool:
        """Whether a reasonable operator may choose this complaint."""
        return complaint == self.complaint or complaint in self.also_fits


def read_sheet(path: Path) -> Sheet:
    """Read one sheet. Raises `UserError` for a file or a key that cannot be used."""
    data = read(path).data
    try:
        return sheet_from(data)
    except (KeyError, TypeError, AttributeError) as error:
        raise UserError(f"{path}: {error} is missing or has the wrong form.") from None


def sheet_from(data: Mapping[str, Any]) -> Sheet:
    """A sheet from its keys."""
    opening = data["opening"]
    return Sheet(
        id=data["id"],
        words=data["words"],
        complaint=data["complaint"],
        also_fits=_texts(data.get("also_fits")),
        machine=data["machine"],
        opening=Opening(
            state=opening["state"],
            role=opening["role"],
            irreplaceable=opening.get("irreplaceable", "no"),
            since=opening.get("since"),
            signs=_texts(opening.get("signs")),
            circumstances=_texts(opening.get("circumstances")),
        ),
        causes=_texts(data.get("causes")),
        nothing_wrong=data["nothing_wrong"],
        cures=tuple(_texts(group) for group in data["cures"] or ()),
        better_after=data.get("better_after") or "unchanged",
        harmful=frozenset(_texts(data.get("harmful"))),
        cannot=frozenset(_texts(data.get("cannot"))),
        findings=_answers(data["findings"]),
        senseless=frozenset(_texts(data["senseless"])),
        known=ENDS[data.get("known", "first")],
        after={int(a["fault"]): _answers(a["findings"]) for a in data.get("after") or ()},
        expert_first=_texts(data.get("expert_first")),
        best_minutes=float(data["best_minutes"]),
    )


def _texts(values: Sequence[Any] | None) -> tuple[str, ...]:
    return tuple(str(v) for v in values or ())


def _answers(data: Mapping[str, Any] | None) -> dict[str, tuple[str, ...]]:
    return {k: _texts(v) if isinstance(v, list) else (str(v),) for k, v in (data or {}).items()}


def problems(sheet: Sheet, rules: RuleBase) -> list[str]:
    """What of a sheet the rule base does not have, in words; empty if it is well formed."""
    bad = []

    def known(what: str, names: Sequence[str], *pools: Mapping[str, Any]) -> None:
        bad.extend(f"{what} {n}" for n in names if not any(n in pool for pool in pools))

    known("complaint", (sheet.complaint, *sheet.also_fits), rules.complaints)
    known("state", (sheet.opening.state,), rules.states)
    known("sign", sheet.opening.signs, rules.signs)
    known("circumstance", sheet.opening.circumstances, rules.circumstances)
    known("circumstance", [sheet.opening.since] if sheet.opening.since else [], rules.circumstances)
    known("cause", sheet.causes, rules.causes)
    for group in sheet.cures:
        known("cure", group, rules.actions)
    known("harmful", sorted(sheet.harmful), rules.actions)
    known("cannot", sorted(sheet.cannot), rules.actions)
    known("senseless", sorted(sheet.senseless), rules.findings)
    known("expert_first", sheet.expert_first, rules.findings, rules.actions)
    bad += [f"fault {n} of after" for n in sheet.after if n >= len(sheet.cures)]
    bad += [f"{n} both answered and senseless" for n in sheet.senseless & sheet.findings.keys()]
    for answers in (sheet.findings, *sheet.after.values()):
        known("finding", list(answers), rules.findings)
        for name, said in answers.items():
            finding = rules.findings.get(name)
            bad += [f"answer {name}: {a}" for a in said if finding and not _can_be(finding, a)]
    try:
        machine_from(sheet.machine, sheet.id)
    except UserError as error:
        bad.append(str(error))
    return bad


def _can_be(finding: Finding, answer: str) -> bool:
    return answer in (UNKNOWN, NOT_HERE, *finding.answers) or _is_number(finding, answer)


def _is_number(finding: Finding, text: str) -> bool:
    try:
        read_quantity(finding, text)
    except UserError:
        return False
    return True


@dataclass(frozen=True)
class Written:
    """The findings and actions that there were when the sheets were written."""

    findings: frozenset[str]
    actions: frozenset[str]


def written_for(folder: Path, known: Sequence[str]) -> Written:
    """The lists with the endings `known` beside the sheets of `folder`, or else those here."""

    def lines(name: str) -> frozenset[str]:
        beside = folder / f"{name}.txt"
        where = folder if beside.exists() else FOLDER
        texts = [(where / f"{name}{end}.txt").read_text() for end in known]
        return frozenset(" ".join(texts).split())

    return Written(lines(FINDINGS), lines(ACTIONS))


# --- one trial ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Trial:
    """One sheet, the complaint that is chosen, and how: from the list or in own words."""

    id: str
    sheet: Sheet
    complaint: str
    written: Written
    most: int = MOST_QUESTIONS
    words: bool = False


@dataclass
class Result:
    """How a trial went. `minutes`: plain; lists hold IDs in the order in which they came.

    `answers`: every prompt that is about something, as (kind, ID, what was answered).
    """

    id: str
    complaint: str
    right: bool = False
    ended: str = ""
    questions: int = 0
    asked: list[str] = field(default_factory=list)
    opening: int = 0
    minutes: float = 0.0
    weighted_minutes: float = 0.0
    expert_minutes: float = 0.0
    done: list[str] = field(default_factory=list)
    wrong_remedies: list[str] = field(default_factory=list)
    senseless: list[str] = field(default_factory=list)
    harmful: list[str] = field(default_factory=list)
    unknown: list[str] = field(default_factory=list)
    new_actions: list[str] = field(default_factory=list)
    sure_at: int | None = None
    place: int | None = None
    words_led: str = ""
    answers: list[tuple[str, str, str]] = field(default_factory=list)


class Ended(Exception):
    """The trial ends here, without the conversation having ended."""


class Operator:
    """Asker and teller in one: answers from the sheet and writes down how it goes."""

    def __init__(self, trial: Trial, bench: Bench) -> None:
        self.trial, self.sheet = trial, trial.sheet
        self.bench, self.rules = bench, bench.rules
        self.result = Result(
            trial.id, trial.complaint, expert_minutes=self.sheet.best_minutes
        )  # fmt: skip
        self.journal: Journal = ()
        self.righted: set[int] = set()  # faults that were put right, by number
        self._step: str | None = None  # the action that was shown last
        self._state = self.sheet.opening.state
        self._now: set[str] = set()  # what was put since the last entry of the journal
        self._fairly: tuple[str, str] | None = None
        self._prompts = 0
        self._by_say = {a.say: a.id for a in self.rules.actions.values()}

    # --- asked -------------------------------------------------------------------------------

    def choose(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> str:
        """One of `choices`, by what the question is about."""
        self._prompt(about)
        return self._note(about, self._choice(choices, about))

    def several(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> list[str]:
        """The circumstances that hold."""
        self._prompt(about)
        if about.kind == "circumstances":
            for choice in choices:
                if not choice.value.startswith("/"):  # "none of these" and "not sure" are no rows
                    self._put(choice.value)
        held = [c.value for c in choices if c.value in self.sheet.opening.circumstances]
        self._note(about, " ".join(held))
        return held

    def text(self, question: str, about: About = ASIDE) -> str:
        """A quantity as it was read, or the complaint in the operator's words."""
        self._prompt(about)
        if about.kind == "opening":
            return self._note(about, self.sheet.words)
        return self._note(about, self._typed(about.id)) if about.kind == "finding" else ""

    def path(self, question: str) -> str:
        """There is no file."""
        self._prompt(ASIDE)
        return ""

    def _choice(self, choices: Sequence[Choice], about: About) -> str:
        match about.kind:
            case "opening":
                return self._opening(choices, about.id)
            case "stop" | "danger":
                return self._danger(choices)
            case "finding":
                return self._finding(choices, about.id)
            case "wait":
                return self._wait(choices, about.id)
            case "action":
                return self._action(choices, about.id)
            case "complaint_now":
                return pick(choices, self._recheck(about.id))
            case "service" | "normal":
                return pick(choices, "yes")
            case "gone":
                return pick(choices, "yes" if self._all_right() else "no")
        return pick(choices)

    def _note(self, about: About, answer: str) -> str:
        if about != ASIDE:
            self.result.answers.append((about.kind, about.id, answer))
        return answer

    def _prompt(self, about: About) -> None:
        self._prompts += 1
        if self._prompts > MOST_PROMPTS:
            raise Ended(f"{MOST_PROMPTS} prompts")
        if about.kind in ("opening", "stop", "danger") and not self.result.asked:
            self.result.opening += 1

    # --- the opening, danger -----------------------------------------------------------------

    def _opening(self, choices: Sequence[Choice], name: str) -> str:
        opening = self.sheet.opening
        match name:
            case "signs":
                return pick(choices, *opening.signs, "none")
            case "complaint":
                if self.trial.words and not self.result.words_led:
                    self.result.words_led = "list"
                    return pick(choices, "/own", self.trial.complaint)
                self.result.complaint = self.trial.complaint
                return pick(choices, self.trial.complaint)
            case "meant":
                return self._meant(choices)
            case "state":
                return pick(choices, opening.state, SKIP.value)
            case "specimen":
                return pick(choices, opening.irreplaceable)
            case "role":
                return pick(choices, opening.role, SKIP.value)
            case "since":
                return pick(choices, opening.since or SKIP.value, SKIP.value)
        return pick(choices)

    def _meant(self, choices: Sequence[Choice]) -> str:
        """Of those offered, the sheet's own complaint before one that also fits.

        It is asked of what the words were taken for, and again where the tool asks whether it is
        still that trouble: there the operator has the whole list and knows which fits best.
        """
        offered = [c.value for c in choices if not c.aside]
        fitting = [c for c in (self.sheet.complaint, *self.sheet.also_fits) if c in offered]
        if not fitting:
            return pick(choices, "/none")
        own = fitting[0] == self.sheet.complaint
        if self.trial.words and self.result.words_led in ("", "list"):
            self.result.words_led = "complaint" if own else "also_fits"
        self.result.complaint = fitting[0]
        return pick(choices, fitting[0])

    def _danger(self, choices: Sequence[Choice]) -> str:
        """Made safe; then as the person in charge; that it is repaired only once it is."""
        wanted = ["repaired:in_charge"] if self._all_right() else []
        return pick(choices, "done", *wanted, "in_charge")

    # --- findings ----------------------------------------------------------------------------

    def _finding(self, choices: Sequence[Choice], name: str) -> str:
        if self._fairly is not None and self._fairly[0] == name:
            said, self._fairly = self._fairly[1], None
            return pick(choices, said)
        said = self._said(name)
        offered = {c.value for c in choices}
        finding, answer = self.rules.findings[name], said[0]
        if answer not in offered and _is_number(finding, answer):
            bands = likelihood(finding, answer, self.bench.machine)
            answer = list(finding.answers)[max(range(len(bands)), key=bands.__getitem__)]
        if answer == NOT_HERE:
            return pick(choices, CANNOT)
        if answer not in offered or answer == UNKNOWN:
            return pick(choices, DONT_KNOW)
        if len(said) > 1 and FAIRLY in offered:
            self._fairly = (name, answer)
            return FAIRLY
        return answer

    def _typed(self, name: str) -> str:
        if name in self._now:  # what was typed was not taken
            return UNKNOWN
        answer, finding = self._said(name)[0], self.rules.findings[name]
        if answer in finding.answers:
            return self._number_for(finding, answer)
        return answer

    def _number_for(self, finding: Finding, answer: str) -> str:
        """A number in the middle of the band of `answer` on this coater."""
        if finding.quantity is None:
            return UNKNOWN
        marks = edges(finding, self.bench.machine)
        here = list(finding.answers).index(answer)
        low = marks[here - 1] if here else marks[0] / 2
        high = marks[here] if here < len(marks) else 3 * marks[-1]
        middle = (max(low, 0.0) * high) ** 0.5 if low > 0 else (low + high) / 2
        quantity = finding.quantity
        shown = units.from_si(middle, quantity.unit, quantity.dimension)
        return f"{shown:.3g} {quantity.unit}"

    def _said(self, name: str) -> tuple[str, ...]:
        """Put the finding, count it, and give what the sheet says of it now."""
        self._put(name)
        check = self._check_of(name)
        if check is not None:
            self._propose(check)
        if name in self.sheet.senseless:
            self.result.senseless.append(name)
            return (UNKNOWN,)
        if check is not None and check in self.sheet.cannot:
            return (NOT_HERE,)
        told = dict(self.sheet.findings)
        for fault in sorted(self.righted):
            told |= self.sheet.after.get(fault, {})
        if name in told:
            return told[name]
        if name not in self.trial.written.findings:
            self.result.unknown.append(name)
            return (UNKNOWN,)
        finding = self.rules.findings[name]
        if finding.quantity is not None:
            return (UNKNOWN,)
        return (max(finding.background, key=lambda a: finding.background[a]),)

    def _check_of(self, finding: str) -> str | None:
        """The check that a finding is asked for: the one shown, or the only one that tells it."""
        telling = self.rules.revealed_by[finding]
        if self._step in telling:
            return self._step
        return telling[0] if len(telling) == 1 else None

    # --- actions -----------------------------------------------------------------------------

    def _wait(self, choices: Sequence[Choice], name: str) -> str:
        """Stands by; what cannot be done counts as put here, anything else where it is asked."""
        self._propose(name)
        if self._refused(name):
            self._put(name)
            return pick(choices, CANNOT)
        return pick(choices, "now")

    def _action(self, choices: Sequence[Choice], name: str) -> str:
        self._put(name)
        self._propose(name)
        return pick(choices, CANNOT if self._refused(name) else "done")

    def _refused(self, name: str) -> bool:
        if name in self.sheet.cannot:
            return True
        action = self.rules.actions.get(name)
        return name in self.sheet.harmful and action is not None and action.kind == "remedy"

    def _propose(self, name: str) -> None:
        result = self.result
        if name in self.sheet.harmful and name not in result.harmful:
            result.harmful.append(name)
        if name not in self.trial.written.actions and name not in result.new_actions:
            result.new_actions.append(name)

    def _recheck(self, name: str) -> str:
        """What is seen of the complaint once `name` is done."""
        helped = self._apply(name)
        if not helped and self.rules.actions[name].kind == "remedy":
            self.result.wrong_remedies.append(name)
        if self._all_right():
            return "cured"
        return self.sheet.better_after if helped else "unchanged"

    def _apply(self, name: str) -> bool:
        """Put right what `name` puts right; says whether that was anything still wrong."""
        hit = {n for n, group in enumerate(self.sheet.cures) if name in group} - self.righted
        self.righted |= hit
        return bool(hit)

    def _all_right(self) -> bool:
        """Whether every fault was put right (never where there is none to put right)."""
        return bool(self.sheet.cures) and len(self.righted) == len(self.sheet.cures)

    # --- told --------------------------------------------------------------------------------

    def title(self, text: str) -> None:
        """The head of a step says which action is proposed."""
        self._step = self._by_say.get(text)
        if self._step is not None:
            self._propose(self._step)

    def line(self, text: str) -> None:
        """Not read."""

    small = line

    def steps(self, items: Sequence[str]) -> None:
        """Not read."""

    def caution(self, name: str, text: str, urgent: bool) -> None:
        """Not read."""

    def bars(self, rows: Sequence[tuple[str, float]]) -> None:
        """Not read."""

    # --- counted -----------------------------------------------------------------------------

    def _put(self, name: str) -> None:
        """Count a question once, however often it is put before anything is written down."""
        if name in self._now:
            return
        self.look()
        if len(self.result.asked) >= self.trial.most:
            raise Ended("limit")
        self._now.add(name)
        self.result.asked.append(name)

    def save(self, entry: Entry) -> None:
        """Follow the journal: what was done takes its minutes and may put something right."""
        self.journal = (*self.journal, entry)
        if len(self.journal) > MOST_ENTRIES:
            raise Ended(f"{MOST_ENTRIES} entries")
        self._now.clear()
        if entry.kind == "action":
            self._apply(entry.data["action"])
            self._did(self.rules.actions[entry.data["action"]])

    def _did(self, action: Action) -> None:
        result, minutes = self.result, action.minutes
        result.done.append(action.id)
        move = move_minutes(self.rules, self.bench.machine, self._state, action.state)
        result.minutes += move + minutes.hands + minutes.wait
        planner = self.bench.planner(result.complaint)
        result.weighted_minutes += planner.cost(action, self._state, self.sheet.opening.role)
        self._state = planner.state_after(action, self._state)

    def look(self) -> None:
        """Note the number of questions after which one is sure of the truth."""
        if self.result.sure_at is None and self._belief()[0] >= SURE:
            self.result.sure_at = len(self.result.asked)

    def _belief(self) -> tuple[float, int | None]:
        """P(the truth) as it was at the start, and the place of the best true cause.

        The truth is any of the sheet's causes; of two faults, the likelier one; where nothing is
        wrong, also that.
        """
        net = self.bench.planner(self.result.complaint).net
        base = self.bench.deduce(self.journal)
        found = paths(net, evidence_of(base, self.bench.planner(net.complaint)))
        top = max(found.log_weight.max(), found.unlisted)
        weight = np.exp(found.log_weight - top)
        weight /= weight.sum() + np.exp(found.unlisted - top)
        members = found.epochs[0]
        there = np.zeros(len(net.causes) + 1)
        for column in range(members.shape[1]):
            np.add.at(there, members[:, column], weight)
        suspects = np.flatnonzero(net.strength[:-1] > 0)
        true = [net.index[c] for c in self.sheet.causes if c in net.index]
        hit = np.isin(members, true).any(axis=1)
        best = max((there[n] for n in true if n in suspects), default=0.0)
        if self.sheet.nothing_wrong:
            sound = ~(net.strength[members] > 0).any(axis=1)
            hit |= sound
            best = max(best, float(weight[sound].sum()))
        two = len(self.sheet.cures) > 1 and not self.sheet.nothing_wrong
        sure = max((there[n] for n in true), default=0.0) if two else weight[hit].sum()
        place = 1 + int((there[suspects] > best).sum()) if best > 0 else None
        return float(sure), place

    def finish(self, ended: str) -> Result:
        """What came out. `ended`: what the conversation said, or why it was cut short."""
        result = self.result
        result.ended, result.questions = ended, len(result.asked)
        closed = next((e for e in reversed(self.journal) if e.kind == "closed"), None)
        if ended == "closed" and closed is not None:
            result.ended = str(closed.data["outcome"])
        result.right = self._right(result.ended)
        if any(e.kind == "complaint" for e in self.journal):
            self.look()
            result.place = self._belief()[1]
        result.minutes = round(result.minutes, 1)
        result.weighted_minutes = round(result.weighted_minutes, 1)
        return result

    def _right(self, ended: str) -> bool:
        if ended == "normal":
            return self.sheet.nothing_wrong
        left = [g for n, g in enumerate(self.sheet.cures) if n not in self.righted]
        if ended == "service":
            needs = [any(self._is_service(a) for a in group) for group in left]
            return bool(self.sheet.cures) and not self.sheet.nothing_wrong and all(needs)
        return ended in ("cured", "stopped", "parked") and self._all_right()

    def _is_service(self, name: str) -> bool:
        return name in self.rules.actions and self.rules.actions[name].role == "service"


def pick(choices: Sequence[Choice], *wanted: str) -> str:
    """The first of `wanted` that is offered, else the first choice that is an answer."""
    offered = [c.value for c in choices]
    answers = [c.value for c in choices if not c.aside]
    return next((w for w in wanted if w in offered), (answers or offered)[0])


def play(trial: Trial, rules: RuleBase) -> Result:
    """Play one trial to its end. Whatever goes wrong in it is said in `ended`."""
    clock = datetime(2026, 1, 5, 9, 0)

    def now() -> str:
        nonlocal clock
        clock += timedelta(seconds=30)
        return clock.isoformat(timespec="seconds")

    try:
        machine = machine_from(trial.sheet.machine, trial.id)
        bench = Bench(rules, machine)
        operator = Operator(trial, bench)
    except Exception as error:
        return Result(trial.id, trial.complaint, ended=said_of(error))
    try:
        journal = append((), now(), "opened", rules, rules=rules.hash, machine=machine.hash)
        operator.save(journal[0])
        ended = Conversation(bench, operator, operator, journal, operator.save, now).run()
    except Ended as end:
        ended = str(end)
    except Exception as error:
        ended = said_of(error)
    try:
        return operator.finish(ended)
    except Exception as error:
        return replace(operator.result, ended=said_of(error))


def said_of(error: Exception) -> str:
    """An error in one line, with where it came from."""
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    code = trace.tb_frame.f_code if trace is not None else None
    where = f" in {code.co_name}" if code is not None else ""
    text = str(error).splitlines() or [""]
    return f"error: {type(error).__name__}{where}: {text[0]}"


# --- all of them -------------------------------------------------------------------------------


def trials(
    folder: Path, most: int = MOST_QUESTIONS, other: bool = False, words: bool = False
) -> Iterator[Trial]:
    """Every trial of a folder. A sheet that cannot be read is told and left out."""
    for path in sorted(folder.glob("*.yaml")):
        try:
            sheet = read_sheet(path)
        except UserError as error:
            print(f"left out: {error}", flush=True)
            continue
        written = written_for(folder, sheet.known)
        if not other:
            yield Trial(sheet.id, sheet, sheet.complaint, written, most, words)
        for complaint in sheet.also_fits if other else ():
            yield Trial(f"{sheet.id}/{complaint}", sheet, complaint, written, most, words)


@cache
def _rules() -> RuleBase:
    return load()


def _play(trial: Trial) -> Result:
    try:
        rules = _rules()
    except Exception as error:
        return Result(trial.id, trial.complaint, ended=said_of(error))
    return play(trial, rules)


HEAD = (
    f"{'trial':<30}{'':<6}{'ended':<9}{'asked':>5}{'open':>5}{'minutes':>9}{'weighted':>9}"
    f"{'expert':>7}  {'sure':>4}{'after':>6}{'place':>6}"
)


def row(result: Result) -> str:
    """One line of the table."""
    sure, after = "-", "-"
    if result.sure_at is not None:
        sure, after = str(result.sure_at), str(result.questions - result.sure_at)
    line = (
        f"{result.id:<30}{'right' if result.right else 'wrong':<6}{result.ended[:8]:<9}"
        f"{result.questions:>5}{result.opening:>5}{result.minutes:>9.0f}"
        f"{result.weighted_minutes:>9.0f}{result.expert_minutes:>7.0f}  {sure:>4}{after:>6}"
        f"{result.place or '-':>6}"
    )
    named = {
        "wrong remedies": result.wrong_remedies,
        "senseless": result.senseless,
        "harmful": result.harmful,
        "unknown": result.unknown,
    }
    for what, names in named.items():
        if names:
            line += f"  {what} {len(names)}: {' '.join(names)}"
    if result.words_led:
        line += f"  words led to: {result.words_led} ({result.complaint})"
    if result.ended.startswith("error"):
        line += f"  {result.ended}"
    return line


def totals(results: Sequence[Result]) -> list[str]:
    """The sums under the table."""
    number = len(results)
    asked = sum(r.questions for r in results)
    right = [r for r in results if r.right]
    quick = sum(r.questions <= QUICK for r in right)

    def share(name: str) -> str:
        count = sum(len(getattr(r, name)) for r in results)
        return f"{count} ({100 * count / max(1, asked):.0f} %)"

    def count(name: str) -> int:
        return sum(len(getattr(r, name)) for r in results)

    def median(name: str, of: Sequence[Result]) -> str:
        return f"{statistics.median(getattr(r, name) for r in of):.0f}" if of else "-"

    lines = [
        f"right: {len(right)} of {number}; within {QUICK} questions: {quick}",
        f"questions: {asked} ({asked / max(1, number):.1f} a trial), "
        f"senseless {share('senseless')}, unknown {share('unknown')}",
        f"wrong remedies: {count('wrong_remedies')}; harmful: {count('harmful')}",
        f"median minutes: {median('minutes', results)} "
        f"(weighted {median('weighted_minutes', results)}, expert "
        f"{median('expert_minutes', results)}); of the right ones: {median('minutes', right)} "
        f"(weighted {median('weighted_minutes', right)}, expert "
        f"{median('expert_minutes', right)})",
    ]
    if any(r.words_led for r in results):
        led = [r.words_led for r in results]
        lines.append(
            f"own words led to the complaint: {led.count('complaint')}, to one that also fits: "
            f"{led.count('also_fits')}, back to the list: {led.count('list')}"
        )
    return lines


def main() -> None:
    """Play every sheet and print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.trials")
    parser.add_argument("folder", nargs="?", type=Path, default=FOLDER)
    parser.add_argument("--most", type=int, default=MOST_QUESTIONS, help="questions a trial")
    parser.add_argument("--other", action="store_true", help="open with complaints that also fit")
    parser.add_argument("--words", action="store_true", help="open in the operator's own words")
    parser.add_argument("--log", type=Path, help="write the results as a JSON list to this file")
    args = parser.parse_args()
    todo = list(trials(args.folder, args.most, args.other, args.words))
    print(HEAD)
    results = []
    with multiprocessing.get_context("fork").Pool(PROCESSES) as pool:  # the rules are read once
        for result in pool.imap(_play, todo):
            results.append(result)
            print(row(result), flush=True)
    print()
    print("\n".join(totals(results)))
    if args.log is not None:
        args.log.write_text(json.dumps([asdict(r) for r in results], indent=1) + "\n")


if __name__ == "__main__":
    main()
