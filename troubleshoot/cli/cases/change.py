"""Writing in a case: notes, files, a title, corrections; or a whole one that is over."""

import os
from pathlib import Path
from typing import Any

import click

from troubleshoot.cli.cases.group import Kept, by, cases, named, number
from troubleshoot.cli.echo import echo


def _said(_context: click.Context, option: click.Parameter, text: str) -> str:
    if not text.strip():
        raise click.BadParameter("it is empty: a few words are kept with the case.", param=option)
    return text


why = click.option(
    "--why", required=True, callback=_said, help="Why, in a few words: it is kept with the case."
)


@cases.command("note")
@number
@click.argument("text", nargs=-1, required=True)
def note(number: int, text: tuple[str, ...]) -> None:
    """Add a remark to a case.

    Open or closed.
    """
    from troubleshoot.case.entries import Note

    Kept(number).add(Note(text=" ".join(text)))
    echo(f"Noted with case {number}.")


@cases.command("title")
@number
@click.argument("text", nargs=-1, required=True)
def title(number: int, text: tuple[str, ...]) -> None:
    """Give a case a title."""
    from troubleshoot.case.entries import Title

    Kept(number).add(Title(text=" ".join(text)))
    echo(f"Case {number} is called: {' '.join(text)}")


@cases.command("attach")
@number
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--note", "remark", help="What it shows.")
def attach(number: int, file: Path, remark: str | None) -> None:
    """Keep a file with a case.

    A photograph, a micrograph, a log: 20 MB at most.
    """
    from troubleshoot.casebook import attachments

    content = attachments.read_file(file)
    kept = Kept(number)
    kept.add(
        attachments.attached(file, content, remark),
        lambda entry: attachments.attach(kept.store, number, entry, content),
    )
    echo(f"{file.name} is kept with case {number}.")


@cases.command("files")
@number
@click.option(
    "--to", "folder", type=click.Path(path_type=Path), help="Write them into this folder."
)
def files(number: int, folder: Path | None) -> None:
    """List the files of a case, or write them out."""
    from troubleshoot.case.entries import Attached
    from troubleshoot.case.journal import standing
    from troubleshoot.casebook import attachments
    from troubleshoot.cli.setup import make_folder
    from troubleshoot.show.files import bytes_to_file

    kept = Kept(number)
    found = [e.said for e in standing(kept.journal) if isinstance(e.said, Attached)]
    if not found:
        echo(f"No file is kept with case {number}.")
    if folder is not None:
        make_folder(folder)
    for said in found:
        echo(f"{said.name}  {attachments.size_in_words(said.size)}  {said.note or ''}".rstrip())
        if folder is not None:
            name = Path(said.name).name or said.sha256[:12]
            path = folder / name
            if os.path.exists(path):
                path = folder / f"{path.stem}-{said.sha256[:8]}{path.suffix}"
            bytes_to_file(path, attachments.content_of(kept.store, said.sha256))
            echo(f"Written: {path}", err=True)


@cases.command("correct")
@number
@click.option("--entry", type=int, help="Which entry (`cases show NUMBER --journal` numbers them); "
              "without it the end of a closed case.")  # fmt: skip
@click.option(
    "--set", "pairs", multiple=True, metavar="KEY=VALUE",
    help="What it says instead, such as answer=clean; may be given again.",
)  # fmt: skip
@click.option("--drop", is_flag=True, help="It does not hold at all.")
@why
@by
def correct(
    number: int, entry: int | None, pairs: tuple[str, ...], drop: bool, why: str, by: str | None
) -> None:
    """Correct an answer or the end of a case.

    What stood there is kept, with who and why. Danger signs are not corrected: the person in
    charge records that they are repaired.
    """
    from troubleshoot.case.entries import Closed, Corrected, Retract
    from troubleshoot.case.journal import standing
    from troubleshoot.errors import UserError

    kept = Kept(number)
    there = {e.number: e for e in standing(kept.journal)}
    if entry is None:
        ends = [n for n, e in there.items() if e.kind == Closed.kind]
        if not ends:
            raise UserError(
                f"Case {number} is not closed: say with --entry what is to be corrected "
                f"(`troubleshoot cases show {number} --journal` numbers the entries)."
            )
        entry = ends[-1]
    if entry not in there:
        raise UserError(f"Case {number} has no entry {entry} that still holds.")
    if bool(pairs) == drop:
        raise UserError("Say either what it says instead (--set KEY=VALUE), or --drop.")
    if drop:
        kept.add(Retract(entry=entry, by=by, why=why))
    else:
        to = dict(there[entry].data)
        for pair in pairs:
            key, given, value = pair.partition("=")
            if not given:
                raise UserError(f"--set {pair}: write KEY=VALUE, such as answer=clean.")
            to |= _keys(kept, there[entry].kind, key, value)
        if to.get("answer") is not None and any(p.startswith("answer=") for p in pairs):
            to.pop("quantity", None)
        if any(p.startswith("quantity=") for p in pairs):
            to.pop("answer", None)
        kept.add(Corrected(entry=entry, to=to, by=by, why=why))
    echo(f"Entry {entry} of case {number} is corrected; the first words are kept.")


def _keys(kept: Kept, kind: str, key: str, value: str) -> dict[str, Any]:
    """A key as it is kept: several causes are a list, and numbers are numbers."""
    from troubleshoot.errors import UserError

    if key == "cause":
        pool = {**kept.rules.causes, "unlisted": None}
        found = [named(v.strip(), pool, "cause", kept.rules) for v in value.split(",")]
        return {key: found if found[1:] else found[0]}
    if kind == "closed" and key in ("minutes", "downtime", "cost"):
        try:
            return {key: float(value)}
        except ValueError:
            raise UserError(f"{key} is {value!r}; write a number.") from None
    return {key: value}


@cases.command("add")
@click.option(
    "--complaint", required=True, help="What was complained of: ID, or words of its name."
)
@click.option(
    "--cause", multiple=True,
    help="What it was: ID, words of its name, or `unlisted`; may be given again. Left out only "
    "where nobody knows, or nothing was wrong.",
)  # fmt: skip
@click.option(
    "--cured-by", multiple=True, help="What was done, the last of them cured it: ID or words."
)
@click.option("--seen", multiple=True, metavar="FINDING=ANSWER", help="What was seen, by IDs.")
@click.option("--outcome", default="cured", show_default=True,
              help="cured, workaround, service, normal or unsolved.")  # fmt: skip
@click.option("--proved-by", help="How it is known; without it, it counts as not proved.")
@click.option("--note", "remark", help="Anything else.")
@click.option("--title", "called", help="What the case is called.")
@click.option("--minutes", type=click.FloatRange(0), help="Minutes spent.")
@click.option("--downtime", type=click.FloatRange(0), help="Hours that the coater stood still.")
@click.option("--part", help="The part that was used.")
@click.option("--cost", type=click.FloatRange(0), help="What it cost, in your own currency.")
@click.option("--when", help="The day, or day and time (2026-03-02T09:10); without it now.")
@click.option("--coater", help="Of which coater; without it the only one that is stored.")
@by
def add(**given: Any) -> None:
    """Enter a fault that is solved already.

    One line and no questions: what was complained of, what it was, what cured it.
    """
    from datetime import datetime

    from troubleshoot.case import entries
    from troubleshoot.case.journal import Journal, enter
    from troubleshoot.casebook.clock import LOST
    from troubleshoot.cli.setup import load_rules, now, open_casebook, stored_machine
    from troubleshoot.coater.machine import Machine
    from troubleshoot.errors import UserError

    store, rules = open_casebook(), load_rules(())
    try:
        at = datetime.fromisoformat(given["when"] or now()).isoformat(timespec="seconds")
    except ValueError:
        raise UserError(f"{given['when']!r} is no time; write it like 2026-03-02T09:10.") from None
    if at[:10] > now()[:10]:
        raise UserError(f"--when {at[:10]} is still to come: today is {now()[:10]}.")
    if at < LOST:
        raise UserError(f"--when {at[:10]} is older than every casebook: write the year whole.")
    named_machines = {m.name for m in store.machines()}
    if given["coater"] and given["coater"] not in named_machines:
        machine = Machine(name=given["coater"])
    else:
        machine = stored_machine(given["coater"], store) or Machine()
    causes = [named(c, {**rules.causes, "unlisted": None}, "cause", rules) for c in given["cause"]]
    if not causes and given["outcome"] not in ("normal", "unsolved"):
        raise UserError(
            "Say what it was: --cause, with `unlisted` for something that is not in the rule base; "
            "or that nothing was wrong, --outcome normal, or nobody knows, --outcome unsolved."
        )
    if causes and given["outcome"] == "normal":
        raise UserError("--outcome normal says that nothing was wrong: leave --cause out.")
    actions = [named(a, rules.actions, "check or remedy", rules) for a in given["cured_by"]]
    said: list[entries.Said] = [
        entries.Opened(rules=rules.hash, machine=machine.hash, name=given["called"] or ""),
        entries.Complaint(
            complaint=named(given["complaint"], rules.complaints, "complaint", rules)
        ),
    ]
    if given["by"]:
        said.insert(1, entries.Role(role=given["by"]))
    for pair in given["seen"]:
        finding, there, answer = pair.partition("=")
        if not there:
            raise UserError(f"--seen {pair}: write FINDING=ANSWER, such as seal_look=torn.")
        finding = named(finding, rules.findings, "finding", rules)
        is_number = (
            rules.findings[finding].quantity and answer not in rules.findings[finding].answers
        )
        key = "quantity" if is_number else "answer"
        said.append(entries.Finding(**{"finding": finding, key: answer}))
    if given["remark"]:
        said.append(entries.Note(text=given["remark"]))
    for n, action in enumerate(actions, start=1):
        last = n == len(actions) and given["outcome"] == "cured"
        said.append(entries.Action(action=action, complaint_now="cured" if last else "unchanged"))
    said.append(
        entries.Closed(
            outcome=given["outcome"], cause=(causes if causes[1:] else "".join(causes)) or None,
            proved_by=given["proved_by"], by=given["by"],
            **{key: given[key] for key in ("minutes", "downtime", "part", "cost")},
        )
    )  # fmt: skip
    journal: Journal = ()
    for one in said:
        journal = enter(journal, at, one, rules)
    case = store.new_case(given["called"] or "", at, machine, entries=journal)
    echo(f"Case {case} is kept. `troubleshoot cases show {case}` shows it.")


@cases.command("delete")
@number
@click.option("--yes", is_flag=True, help="Do not ask; for scripts.")
def delete(number: int, yes: bool) -> None:
    """Take a case out for good.

    With its files, and with what was learnt from it. It asks twice.
    """
    from troubleshoot.advice.phrases import counted, lower_first
    from troubleshoot.cli.setup import interactive, load_rules, open_casebook
    from troubleshoot.errors import UserError
    from troubleshoot.show.cases import name_of, names_of

    store = open_casebook()
    row = store.case(number)
    if not yes:
        if not interactive():
            raise UserError("Nobody is there to be asked twice: add --yes if it is really meant.")
        known = lower_first(name_of(row.complaint, names_of(load_rules(()))))
        what = f"case {number} ({row.called or known}, {counted(row.entries, 'entry', 'entries')})"
        click.confirm(f"Delete {what}? A wrong answer is better corrected", abort=True)
        again = click.prompt(f"It cannot be brought back. Type {number} to delete it", type=str)
        if again.strip() != str(number):
            echo("Nothing is deleted.")
            return
    store.delete(number)
    echo(f"Case {number} is deleted.")
