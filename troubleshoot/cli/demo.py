"""`troubleshoot demo`: one case that plays itself, in half a minute."""

import sys
import time

import click

SECONDS = 30.0
FIRST = "flakes_on_the_lower_seal"


@click.command()
@click.argument("case_file", required=False, default=FIRST, metavar="[CASE.yaml]")
@click.option("--quick", is_flag=True, help="Without the pauses in which one reads.")
def demo(case_file: str, quick: bool) -> None:
    """Play one case from the complaint to the cure, in half a minute; nothing is recorded.

    The questions are asked as they are at the coater, and answered from a demo case (`demos` lists
    them) or from a case file of your own that says how it ended.
    """
    from troubleshoot.case.casefile import read_case
    from troubleshoot.case.diagnose import Bench
    from troubleshoot.case.entries import Opened
    from troubleshoot.case.journal import enter
    from troubleshoot.cli.setup import find_case_file, load_rules, now
    from troubleshoot.show.teller import TerminalTeller
    from troubleshoot.talk.conversation import Conversation
    from troubleshoot.talk.player import Player

    rules = load_rules(())
    case = read_case(find_case_file(case_file), rules, now())
    causes = list((case.outcome or {}).get("causes", ()))
    teller = TerminalTeller()
    pause = 0.0 if quick or not sys.stdout.isatty() else SECONDS / (len(case.journal) + 8)

    def show(question: str, answer: str) -> None:
        teller.line(f"? {question}")
        time.sleep(pause * 0.6)
        teller.line(f"    {answer}")
        time.sleep(pause * 0.4)

    teller.line(f"{case.name}: it plays by itself; Ctrl-C ends it, and nothing is recorded.")
    opened = Opened(name=case.name, rules=rules.hash, machine=case.machine.hash)
    talk = Conversation(
        Bench(rules, case.machine),
        Player(rules, case.journal, causes, show),
        teller,
        enter((), now(), opened, rules),
        lambda entry: None,
        now,
    )
    talk.run()
    teller.small("With your own coater: troubleshoot diagnose")
