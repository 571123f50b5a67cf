"""The coater as the trainee meets it: it answers checks, takes remedies, and the clock runs.

What the simulator can express is answered by its physics (`at_the_coater`); all else is drawn once
from the rows of the hidden causes, and stays as it is until one of them is cured.
"""

import random
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from troubleshoot.advice.instruction import Site, for_danger
from troubleshoot.advice.step import step_for
from troubleshoot.case.diagnose import Bench, Diagnosis
from troubleshoot.case.journal import Journal, append
from troubleshoot.case.permitted import Refusal
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import ROLES, Action
from troubleshoot.readings.quantity import answer_text, likeliest, likelihood, read_quantity
from troubleshoot.training.drill.at_the_coater import curve_of, micrograph_of, on_the_coater
from troubleshoot.training.drill.trouble import PROFILE, Trouble
from troubleshoot.training.figures import Curve, Micrograph

AT = "2026-01-01T00:00:00"
WORKS = 0.5
"""From this chance on a remedy works in a drill: what is learnt is what is right, not luck."""
SELDOM = 1 / 3
"""Answers less likely than this part of the likeliest one are not shown in a drill."""
PROOF = 6.0
"""Minutes to look again whether the complaint is gone."""


@dataclass(frozen=True)
class Sight:
    """What is seen: the finding, its answer, and it in words (`number` where one was read)."""

    finding: str
    answer: str
    name: str
    text: str
    look: str
    number: str | None = None


@dataclass(frozen=True)
class Stopped:
    """A choice that was not let through, and why. `hazard`: it was dangerous."""

    action: str
    because: str
    hazard: bool


class Room:
    """One practice coater with a trouble in it, and the journal of who looks at it."""

    def __init__(self, bench: Bench, trouble: Trouble, role: str = "student") -> None:
        self.trouble, self.rules, self.role = trouble, bench.rules, role
        self.left = trouble.causes
        self.coater = on_the_coater(trouble, bench.rules)
        machine = trouble.machine
        if self.coater is not None:
            machine = machine_from({**PROFILE, **self.coater.normal}, "the practice coater")
        self.bench = bench if bench.machine == machine else Bench(bench.rules, machine)
        opened = append((), AT, "role", self.rules, role=role)
        self.journal: Journal = append(
            opened, AT, "complaint", self.rules, complaint=trouble.complaint
        )
        self.minutes, self.spoilt = 0.0, 0
        self.stopped: list[Stopped] = []
        self.gone = False

    @property
    def machine(self) -> Machine:
        """The coater as its profile says it."""
        return self.bench.machine

    def twin(self) -> "Room":
        """The same coater, as it was at the beginning."""
        return Room(self.bench, self.trouble, self.role)

    @property
    def case(self) -> Diagnosis:
        """The case so far."""
        return self.bench.diagnose(self.bench.deduce(self.journal))

    # --- what may be chosen --------------------------------------------------------------------

    def checks(self) -> list[Action]:
        """The checks that tell something about this complaint."""
        net = self.case.planner.net
        return [
            a
            for a in self.rules.actions.values()
            if a.kind == "check"
            and self.machine.allows(a.machine)
            and any(
                f in net.findings and self.rules.is_in_world(f, self.trouble.complaint)
                for f in a.reveals
            )
        ]

    def remedies(self) -> list[Action]:
        """The remedies of what can raise this complaint."""
        return [
            a
            for a in self.rules.actions.values()
            if a.kind == "remedy"
            and self.machine.allows(a.machine)
            and any(self.trouble.complaint in self.rules.causes[c].complaints for c in a.cures)
        ]

    def stop(self, action: Action) -> Stopped | None:
        """Why an action is not let through, if it is not; it is noted.

        The one predicate decides (`case.permitted`); beside it nobody does in a drill what is for
        somebody above their role. Service may be called by all: it comes, and does it.
        """
        case = self.case
        refusal: Refusal | None = case.refused.get(action.id)
        found = None
        if case.stop is not None:
            name = self.rules.cautions[case.stop].name
            found = Stopped(action.id, f"Not before this is made safe: {name}.", True)
        elif refusal is not None:
            found = Stopped(action.id, refusal.because, refusal.kind == "ban")
        elif action.role != "service" and ROLES.index(action.role) > ROLES.index(case.known.role):
            who = {"experienced": "an experienced user", "in_charge": "the person in charge"}
            because = f"That is for {who[action.role]}: fetch them, it is not yours."
            found = Stopped(action.id, because, False)
        if found is not None:
            self.stopped.append(found)
        return found

    # --- what is done --------------------------------------------------------------------------

    def look(self, action: Action) -> tuple[list[Sight], Mapping[str, Curve]]:
        """Do a check: what is seen, and what is drawn of it."""
        case = self.case
        names = [
            f for f in step_for(case, action.id, "").findings if f in case.planner.net.findings
        ]
        self._pay(action)
        sights = []
        for name in names:
            sight = self._sight(name)
            said = {"answer": sight.answer} if sight.number is None else {"quantity": sight.number}
            with suppress(UserError):  # seen already since the last remedy: it looks the same
                self.journal = append(self.journal, AT, "finding", self.rules, finding=name, **said)
            sights.append(sight)
        self.journal = append(self.journal, AT, "action", self.rules, action=action.id)
        drawn = curve_of(action.id, self.coater.at) if self.coater is not None else {}
        return sights, drawn

    def micrograph(self, action: Action) -> Micrograph | None:
        """The picture of the microscope, where a check looks at it and physics makes it."""
        return micrograph_of(action, self.coater.at) if self.coater is not None else None

    def again(self, action: Action) -> list[Sight]:
        """What a check showed that has nothing new to show."""
        seen = {s.finding: s for s in self.case.seen}
        return [self._sight(f) for f in action.reveals if f in seen]

    def attempt(self, action: Action) -> bool:
        """Do a remedy and look whether the complaint is gone."""
        before = self.left
        self.left = tuple(c for c in before if action.cures.get(c, 0.0) < WORKS)
        if self.left != before and self.coater is not None:
            self.coater = self.coater.with_only(self.left)
        self._pay(action)
        self.minutes += PROOF
        self.gone = bool(before) and not self.left
        now = "cured" if self.gone else "better" if self.left != before else "unchanged"
        self.journal = append(
            self.journal, AT, "action", self.rules, action=action.id, complaint_now=now
        )
        return self.gone

    def settle_danger(self) -> tuple[str, ...]:
        """Do the steps that make a danger safe; they are returned."""
        caution = self.case.stop
        if caution is None:
            return ()
        self.journal = append(self.journal, AT, "made_safe", self.rules, caution=caution)
        do = for_danger(Site(self.rules, self.machine), caution)
        return do.steps

    def _pay(self, action: Action) -> None:
        """The minutes of an action, the way there included, and what it does to a specimen."""
        planner, state = self.case.planner, self.case.known.state
        if action.role == "service":
            self.minutes += self.rules.settings.service_minutes
        self.minutes += planner.move(state, action.state) + action.minutes.hands
        self.minutes += action.minutes.wait
        dark = self.coater is not None and not self.coater.at.glows
        coats = "discharge" in action.effects and not dark
        bad = any(self.rules.causes[c].today.verdict == "do_not" for c in self.left)
        if action.specimen == "spends" or (coats and bad):
            self.spoilt += 1

    # --- what is seen --------------------------------------------------------------------------

    def _sight(self, name: str) -> Sight:
        finding = self.rules.findings[name]
        said = self._answer(name)
        if said in finding.answers:
            answer, number = said, None
            text = answer_text(finding, said, self.machine)
        else:
            answer = likeliest(finding, likelihood(finding, said, self.machine))
            number, text = said, said
        return Sight(name, answer, finding.name, text, finding.looks.get(answer, ""), number)

    def _answer(self, name: str) -> str:
        """An answer, or a quantity as it was read."""
        known = self.trouble.known.get(name)
        if known is not None and self.left == self.trouble.causes:
            return known
        shown = self.coater.answer(name) if self.coater is not None else None
        if shown is not None:
            finding = self.rules.findings[name]
            if shown in finding.answers or (finding.quantity and read_quantity(finding, shown)):
                return shown
        return self._drawn(name)

    def _drawn(self, name: str) -> str:
        """An answer by the rows of what is hidden, the same as long as that is the same.

        What is seldom seen is left out: what is learnt is what is usual.
        """
        net = self.case.planner.net
        finding = self.rules.findings[name]
        members = [net.index[c] for c in self.left if c in net.index] or [len(net.causes)]
        p = net.table(name).probabilities(np.array([members]))[0]
        rng = random.Random(repr((self.trouble.seed, name, self.left)))
        weights = [float(x) if x >= SELDOM * p.max() else 0.0 for x in p]
        return rng.choices(list(finding.answers), weights=weights)[0]
