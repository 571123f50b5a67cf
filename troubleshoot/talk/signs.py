"""The first question of every case: which danger signs there are.

Nothing that weighs causes is needed to put it, so that it stands at once.
"""

from troubleshoot.knowledge.model import RuleBase
from troubleshoot.talk.dialogue import About, Asker, Choice, Teller
from troubleshoot.talk.wording import people_say


def begin(teller: Teller) -> None:
    """Head the opening of a case."""
    teller.title("First, one minute")


def marked(asker: Asker, rules: RuleBase) -> list[str]:
    """Any number of danger signs, one after the other; a slip can be taken back."""
    out: list[str] = []
    question = "Is there any danger sign, now or a moment ago?"
    while True:
        choices = [Choice("none", "No other" if out else "None of these")]
        choices += [
            Choice(s.id, s.name, words=people_say(rules, s.id))
            for s in rules.signs.values()
            if s.id not in out
        ]
        if out:
            choices.append(Choice("/slip", "That was a slip: none of them holds", aside=True))
        found = asker.choose(question, choices, About("opening", "signs"))
        if found == "/slip":
            out.clear()
        elif found != "none":
            out.append(found)
        else:
            return out
        names = "; ".join(rules.signs[s].name for s in out)
        question = f"Marked: {names}. Any other danger sign?" if out else question
