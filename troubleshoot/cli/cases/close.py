"""Closing a case and opening it again."""

import json
from typing import Any

import click

from troubleshoot.cli.cases.group import Kept, as_json, by, cases, named, number
from troubleshoot.cli.echo import echo


@cases.command("close")
@number
@click.option("--cause", multiple=True, metavar="ID",
              help="What it was: a cause's ID or words of its name, or `unlisted`; again for a "
              "second cause.")  # fmt: skip
@click.option("--outcome", help="cured, workaround, service, normal or unsolved.")
@click.option("--proved-by", help="How it is known, in a few words.")
@click.option(
    "--minutes", type=click.FloatRange(0), help="Minutes spent, if not those of the case."
)
@click.option("--downtime", type=click.FloatRange(0), help="Hours that the coater stood still.")
@click.option("--part", help="The part that was used.")
@click.option("--cost", type=click.FloatRange(0), help="What it cost, in your own currency.")
@click.option("--note", "remark", help="Anything else.")
@by
@as_json
def close_case(number: int, as_json: bool, **given: Any) -> None:
    """Close a case.

    Two short questions, or the same as options.
    """
    from troubleshoot.case.diagnose import Diagnosis
    from troubleshoot.case.entries import Closed
    from troubleshoot.cli.setup import interactive, now
    from troubleshoot.errors import UserError
    from troubleshoot.show.teller import TerminalTeller
    from troubleshoot.show.terminal import TerminalAsker
    from troubleshoot.talk.conversation import Conversation
    from troubleshoot.talk.ending import close

    kept = Kept(number).checked()
    talk = Conversation(
        kept.bench,
        TerminalAsker(),
        TerminalTeller(),
        kept.journal,
        lambda entry: kept.store.save(number, entry),
        now,
    )
    case = talk.facts()
    if case.known.closed is not None:
        raise UserError(
            f"Case {number} is closed already: `troubleshoot cases correct {number}` corrects its "
            f"end, `troubleshoot cases reopen {number}` takes it up again."
        )
    if not given["cause"] and given["outcome"] is None:
        if not interactive() or not isinstance(case, Diagnosis):
            raise UserError(
                "Say how it ended: --outcome cured --cause ID --proved-by '...' (there is no "
                "terminal to ask at, or the case has no complaint yet)."
            )
        close(talk, case)
    else:
        pool = {**kept.rules.causes, "unlisted": None}
        causes = [named(cause, pool, "cause", kept.rules) for cause in given["cause"]]
        talk.add(
            Closed(
                outcome=given["outcome"] or "cured",
                cause=(causes if causes[1:] else "".join(causes)) or None,
                proved_by=given["proved_by"],
                by=given["by"] or case.known.role,
                note=given["remark"],
                **{key: given[key] for key in ("minutes", "downtime", "part", "cost")},
            )
        )
    if as_json:
        echo(json.dumps({"case": number, "closed": dict(talk.journal[-1].data)}, indent=2))
    else:
        echo(f"Case {number} is closed and kept.")


@cases.command("reopen")
@number
@click.option("--why", required=True, help="Why, in a few words: it is kept with the case.")
@by
def reopen(number: int, why: str, by: str | None) -> None:
    """Take up a closed case again.

    What was learnt from its end is taken back.
    """
    from troubleshoot.case.entries import Closed, Retract
    from troubleshoot.case.journal import standing
    from troubleshoot.cli.setup import going_on
    from troubleshoot.errors import UserError

    kept = Kept(number)
    ends = [e.number for e in standing(kept.journal) if e.kind == Closed.kind]
    if not ends:
        raise UserError(f"Case {number} is not closed.")
    for end in reversed(ends):
        kept.add(Retract(entry=end, by=by, why=why))
    echo(f"Case {number} is open again. Go on with: {going_on(number)}")
