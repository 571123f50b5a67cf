"""A drill as it is played, through an asker and a teller: a test plays it from a list."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from troubleshoot.advice.instruction import Site, for_action
from troubleshoot.advice.phrases import lower_first
from troubleshoot.knowledge.model import Action
from troubleshoot.talk.dialogue import About, Asker, Choice, Teller
from troubleshoot.talk.telling import tell, tell_cautions
from troubleshoot.training.drill.debrief import NOTHING, Debrief, debrief
from troubleshoot.training.drill.room import Room, Sight
from troubleshoot.training.figures import Curve, Curves, Micrograph
from troubleshoot.training.letters import as_text, needle

LOOK, DO, SAY, SEEN, HINT, SAFE, STOP = "look", "do", "say", "seen", "hint", "safe", "/stop"
BACK = Choice("/back", "None of these, back", aside=True)
GAUGE = ("base_loaded", "base_empty")
"""Findings that are a pressure at the gauge, of which the needle is drawn."""
MOST_SAID = 2

Picture = Callable[[Curves | Micrograph], None]
"""Keeps a drawing of curves, or a micrograph, as a picture."""


@dataclass(frozen=True)
class Played:
    """A drill that was played to its end; `left` in the middle it has no debrief."""

    room: Room
    debrief: Debrief | None


def play(
    room: Room,
    ask: Asker,
    tell_: Teller,
    *,
    helped: bool = True,
    picture: Picture = lambda _: None,
) -> Played:
    """Play one drill. `helped`: hints are to be had."""
    return _Drill(room, ask, tell_, helped, picture).play()


class _Drill:
    """One drill on its way."""

    def __init__(
        self, room: Room, ask: Asker, teller: Teller, helped: bool, picture: Picture
    ) -> None:
        self.room, self.rules, self.ask, self.tell = room, room.rules, ask, teller
        self.helped, self.picture = helped, picture
        self.done: list[str] = []
        self.told: set[str] = set()

    def play(self) -> Played:
        trouble = self.room.trouble
        level = f"Level {trouble.level}" if trouble.level else "From your own cases"
        self.tell.title(f"{level}, drill {trouble.seed}: {self._complaint()}")
        self.tell.line(trouble.story)
        self.tell.small(self._normal())
        while True:
            chosen = self._menu()
            match chosen:
                case "look":
                    self._pick("What do you look at?", self.room.checks(), self._look)
                case "do":
                    self._pick("What do you do?", self.room.remedies(), self._attempt)
                case "seen":
                    self._so_far()
                case "hint":
                    self._hint()
                case "safe":
                    self.tell.steps(self.room.settle_danger())
                    self.tell.line("Made safe. That is not repaired: it stays out of use.")
                case "say":
                    said = self._diagnosis()
                    if said:
                        found = debrief(self.room, self.done, said)
                        self._after(found)
                        return Played(self.room, found)
                case _:
                    return Played(self.room, None)

    def _complaint(self) -> str:
        return self.rules.complaints[self.room.trouble.complaint].name

    def _normal(self) -> str:
        """What is usual on this coater, where that was told."""
        keys = {
            "usual_time": "time to the pressure one waits for",
            "usual_base": "base after ten minutes",
            "usual_rise": "rise with the valve shut",
            "usual_pressure": "the gauge while coating",
            "usual_current": "the current then",
        }
        shown = self.room.machine.shown
        parts = [f"{words} {shown[key]}" for key, words in keys.items() if key in shown]
        name = self.room.machine.name
        return f"A good day of {name}: {', '.join(parts)}." if parts else f"It is {name}."

    # --- the turns -----------------------------------------------------------------------------

    def _menu(self) -> str:
        room = self.room
        spoilt = f"{room.spoilt} specimen{'' if room.spoilt == 1 else 's'} spoilt"
        clock = f"{room.minutes:.0f} min on the clock, {spoilt}"
        stop = [Choice(SAFE, "Stop, and make it safe")] if room.case.stop is not None else []
        choices = [
            *stop,
            Choice(LOOK, "Look at something"),
            Choice(DO, "Do something about it"),
            Choice(SAY, "Say what it is"),
            Choice(SEEN, "What have I seen so far?"),
        ]
        if self.helped:
            choices.append(Choice(HINT, "What would an expert do next?"))
        choices.append(Choice(STOP, "Stop the drill", aside=True))
        gone = " The complaint is gone." if room.gone else ""
        return self.ask.choose(f"{clock}.{gone} And now?", choices, About("drill", "menu"))

    def _pick(
        self, question: str, actions: Sequence[Action], then: Callable[[Action], None]
    ) -> None:
        choices = [Choice(a.id, a.name) for a in sorted(actions, key=lambda a: a.name)]
        chosen = self.ask.choose(question, [*choices, BACK], About("drill", "action"))
        if chosen == BACK.value:
            return
        action = self.rules.actions[chosen]
        stopped = self.room.stop(action)
        if stopped is not None:
            self.tell.caution(f"Not let through: {action.name}", stopped.because, stopped.hazard)
            if stopped.hazard:
                self.tell.line("That was a hazardous choice; it is counted.")
            return
        then(action)

    def _look(self, action: Action) -> None:
        do = for_action(Site(self.rules, self.room.machine), action)
        self.tell.title(action.say)
        tell_cautions(self.tell, do.cautions, self.told)
        before = self.room.minutes
        sights, drawn = self.room.look(action)
        self.done.append(action.name)
        if not sights:
            sights = self.room.again(action)
            self.tell.small("Nothing new: it looks as it did.")
        for sight in sights:
            self._show(sight)
        for heading, curve in drawn.items():
            self._draw(heading, curve)
        picture = self.room.micrograph(action)
        if picture is not None:
            self.picture(picture)
        if self.room.case.stop is not None:
            self._danger()
        self.tell.small(f"That took {self.room.minutes - before:.0f} min.")

    def _show(self, sight: Sight) -> None:
        self.tell.line(f"{sight.name}: {sight.text}")
        if sight.look and sight.number is None:
            self.tell.small(f"  {sight.look}")
        if sight.finding in GAUGE and sight.number and sight.number.endswith("mbar"):
            for row in needle(float(sight.number.split()[0])):
                self.tell.small(row)

    def _draw(self, heading: str, curve: Curve) -> None:
        figure = Curves(heading, (curve,))
        self.tell.line(heading)
        for row in as_text(figure):
            self.tell.small(row)
        self.picture(figure)

    def _danger(self) -> None:
        name = self.room.case.stop
        if name is not None:
            caution = self.rules.cautions[name]
            text = f"{caution.hazard} {caution.precaution}"
            self.tell.caution(f"STOP NOW: {caution.name}", text, True)

    def _attempt(self, action: Action) -> None:
        do = for_action(Site(self.rules, self.room.machine), action)
        self.tell.title(action.say)
        tell(self.tell, do, self.told)
        before = self.room.minutes
        gone = self.room.attempt(action)
        self.done.append(action.name)
        if gone:
            self.tell.line("The complaint is gone. Say what it was.")
        elif self.room.case.known.last_outcome == "better":
            self.tell.line("It is better, but not right.")
        else:
            self.tell.line(action.if_not or "It is as it was.")
        self.tell.small(f"That took {self.room.minutes - before:.0f} min.")

    def _so_far(self) -> None:
        case = self.room.case
        for seen in case.seen:
            finding = self.rules.findings[seen.finding]
            self.tell.line(f"  {finding.name}: {seen.quantity or finding.answers[seen.answer]}")
        if not case.seen:
            self.tell.line("Nothing yet.")

    def _hint(self) -> None:
        """The planner's next step, at the price of having asked."""
        step = self.room.case.plan.next
        name = self.rules.actions[step.action].name if step.action else "stop looking"
        self.tell.line(f"An expert would now: {lower_first(name)}.")

    def _diagnosis(self) -> tuple[str, ...]:
        """The causes that are named, or that nothing is wrong; empty to look further."""
        complaint = self.room.trouble.complaint
        causes = [
            c
            for c in self.rules.causes.values()
            if complaint in c.complaints and self.room.machine.allows(c.machine)
        ]
        nothing = Choice(NOTHING, "Nothing is wrong")
        choices = [Choice(c.id, c.name) for c in sorted(causes, key=lambda c: c.name)]
        said: list[str] = []
        question = "What is it?"
        while len(said) < MOST_SAID:
            rest = [c for c in choices if c.value not in said]
            first = [nothing] if not said else [Choice("/that", "That is all")]
            chosen = self.ask.choose(question, [*first, *rest, BACK], About("drill", "cause"))
            if chosen == BACK.value:
                return ()
            if chosen == "/that":
                break
            said.append(chosen)
            if chosen == NOTHING:
                break
            question = "Is there a second one?"
        return tuple(said)

    # --- afterwards ----------------------------------------------------------------------------

    def _after(self, found: Debrief) -> None:
        guessed = "Guessed: who looked at nothing does not know. It is not counted as right."
        head = "Right." if found.right else guessed if found.guessed else "Not that."
        self.tell.title(head)
        names = [self.rules.causes[c].name for c in found.truth] or ["nothing is wrong"]
        self.tell.line(f"It was: {', and '.join(map(lower_first, names))}.")
        if not (found.right or found.guessed):
            said = [self.rules.causes[c].name if c != NOTHING else "nothing" for c in found.said]
            self.tell.line(f"You said: {', and '.join(map(lower_first, said))}.")
        for whose, path in (
            ("You", found.mine), ("The planner, on the same coater", found.planner),
            ("The best possible, who knows it", found.best),
        ):  # fmt: skip
            steps = "; ".join(map(lower_first, path.done)) or "nothing"
            self.tell.line(f"{whose}: {path.minutes:.0f} min. {steps[:1].upper()}{steps[1:]}.")
        spoilt, stopped = self.room.spoilt, sum(s.hazard for s in self.room.stopped)
        self.tell.line(f"Specimens spoilt: {spoilt}. Hazardous choices stopped: {stopped}.")
        for stop in self.room.stopped:
            if stop.hazard:
                self.tell.small(f"  {self.rules.actions[stop.action].name}: {stop.because}")
        whose = "What told most" if found.right else "What should have changed your mind"
        self.tell.line(f"{whose}: {found.turning}")
        if found.tempting:
            self.tell.line(f"Tempting, and wrong: {found.tempting}")
        self.tell.line(f"Remember: {found.lesson}")
        if found.page:
            self.tell.small(f"More of it: troubleshoot learn {found.page}")
        elif found.truth:
            self.tell.small(f"More of it: troubleshoot explain {found.truth[0]}")
