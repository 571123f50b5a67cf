"""`troubleshoot run` and `troubleshoot check-up`: the run log, ten seconds a run."""

import json
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

from troubleshoot.cli.echo import echo
from troubleshoot.cli.measures import CURRENT, PRESSURE, RISE, Measure

if TYPE_CHECKING:
    from troubleshoot.casebook.store import Store
    from troubleshoot.coater.machine import Machine
    from troubleshoot.knowledge.model import RuleBase
    from troubleshoot.upkeep.health import Normal
    from troubleshoot.upkeep.run import Run
    from troubleshoot.upkeep.unusual import Unusual

TIME = Measure("time")
WORDS = {
    "time": "time to coating pressure",
    "time_empty": "time to coating pressure, empty",
    "base": "base",
    "base_empty": "base, empty",
    "rise": "rise",
    "pressure": "coating pressure",
    "current": "current",
    "seconds": "coated for",
}


def _shared(command: Callable[..., None]) -> Callable[..., None]:
    """The options that both commands have."""
    options = (
        click.option("--time", type=TIME, help="From starting the pump until you could coat."),
        click.option("--base", type=PRESSURE, help="Base pressure before the argon."),
        click.option("--pressure", type=PRESSURE, help="Pressure while coating, as shown."),
        click.option("--current", type=CURRENT, help="Current while coating."),
        click.option("--slip", type=click.Choice(["good", "bad"]), help="Is the test slip good?"),
        click.option("--did", multiple=True, help="Care that was done today, such as oil, seals."),
        click.option("--machine", "machine_name", help="Which coater, if several are kept."),
        click.option("--as-normal", is_flag=True, help="Keep the medians in the machine profile."),
        click.option("--json", "as_json", is_flag=True, help="Print one JSON object, SI units."),
    )
    for option in reversed(options):
        command = option(command)
    return command


@click.command("run")
@_shared
@click.option("--seconds", type=Measure("time", default_unit="s"), help="How long you coated.")
@click.option("--metal", help="What was coated: gold, platinum ...")
@click.option("--list", "show_list", is_flag=True, help="Show the latest runs; note nothing.")
def run(show_list: bool, **given: Any) -> None:
    """Note a run in ten seconds: give what you have; without options it asks.

    Says what is usual on this machine, warns of trends, and tells which care is due.
    """
    if show_list:
        _list(given)
        return
    _note("run", given)


@click.command("check-up")
@_shared
@click.option("--rise", type=RISE, help="Rise with the pump shut off, such as 0.1mbar/min.")
def check_up(**given: Any) -> None:
    """The weekly look, about five minutes of work: empty pump-down, rise, current, one slip."""
    _note("check_up", given)


def _note(kind: str, given: dict[str, Any]) -> None:
    from troubleshoot.cli.out_of_use import tell_out_of_use
    from troubleshoot.cli.setup import interactive, load_rules, now, open_casebook
    from troubleshoot.errors import UserError, nearest
    from troubleshoot.upkeep.run import QUANTITIES, Run, doubts

    store, rules = open_casebook(), load_rules(())
    machine = _machine(given["machine_name"], store)
    tell_out_of_use(store, rules)
    for name in given["did"]:
        if name not in rules.care:
            raise UserError(
                f"--did {name}: there is no such care{nearest(name, rules.care)}; known are "
                f"{', '.join(rules.care)}."
            )
    values = {name: q.si for name in QUANTITIES if (q := given.get(name)) is not None}
    entry = Run(now(), kind, values, given.get("metal"), given["slip"], given["did"])
    if not (values or entry.metal or entry.slip):
        if entry.did:
            entry = Run(entry.at, "care", did=entry.did)
        elif interactive() and not given["as_normal"]:
            entry = _asked(entry, machine, rules)
        elif not given["as_normal"]:
            raise UserError(
                "There is no terminal to ask at: give what you have, such as --base 0.05mbar "
                "--current 12mA --slip good."
            )
    if problems := doubts(entry):
        raise UserError(" ".join(problems))
    noted = bool(entry.values or entry.metal or entry.slip or entry.did)
    if noted:
        store.save_run(machine.name, entry)
    _tell(store, machine, rules, entry if noted else None, given)


def _machine(name: str | None, store: "Store") -> "Machine":
    """The machine that is meant; without any profile a coater of which nothing is known."""
    from troubleshoot.cli.setup import stored_machine
    from troubleshoot.coater.machine import Machine
    from troubleshoot.errors import UserError

    found = stored_machine(name, store)
    if found is None and len(names := [m.name for m in store.machines()]) > 1:
        raise UserError(f"Several coaters are kept: say which with --machine ({', '.join(names)}).")
    return found or Machine()


# Asking


def _asked(entry: "Run", machine: "Machine", rules: "RuleBase") -> "Run":
    from troubleshoot.casebook.drafts import Draft
    from troubleshoot.cli.setup import stopping
    from troubleshoot.show.teller import TerminalTeller
    from troubleshoot.show.terminal import TerminalAsker
    from troubleshoot.talk.draft import Drafted
    from troubleshoot.talk.run_questions import ask

    command = entry.kind.replace("_", "-")
    teller, draft = TerminalTeller(), Draft(f"{entry.kind} of {machine.name}")
    with stopping(f"Your answers are kept: `troubleshoot {command}` goes on with them."):
        found = ask(entry, machine, Drafted(TerminalAsker(), teller, draft), teller, rules)
    draft.clear()
    return found


# Telling


def _shown(machine: "Machine", name: str, value: float) -> str:
    from troubleshoot import units
    from troubleshoot.talk.run_questions import unit_shown
    from troubleshoot.upkeep.health import dimension

    return units.format_in(value, unit_shown(machine, name), dimension(name))


def _tell(
    store: "Store",
    machine: "Machine",
    rules: "RuleBase",
    entry: "Run | None",
    given: Mapping[str, Any],
) -> None:
    from dataclasses import asdict
    from datetime import datetime

    from troubleshoot.cli.setup import now
    from troubleshoot.errors import UserError
    from troubleshoot.talk.run_questions import unit_shown
    from troubleshoot.upkeep import health as health
    from troubleshoot.upkeep.unusual import unusual

    runs = store.runs(machine.name)
    usual = health.normal(runs)
    trends = health.worsening(runs)
    due = health.care_due(runs, rules.care.values(), machine, datetime.fromisoformat(now()).date())
    before = health.normal(runs[:-1] if entry is not None else runs)
    strange = [] if entry is None else unusual(entry, before, machine, rules.findings)
    numbers: dict[str, str] = {}
    if given["as_normal"]:
        moving = {t.name for t in trends}
        steady = {name: n for name, n in usual.items() if name not in moving}
        numbers = health.profile_numbers(machine, steady)
        if not numbers:
            raise UserError(
                f"There is no normal to keep: it takes at least {health.FEW} entries, there are "
                f"{len(runs)}, and what shows a trend is not kept."
            )
        store.save_machine(health.with_numbers(machine, numbers))
    if given["as_json"]:
        record = {
            "machine": machine.name,
            "noted": None if entry is None else asdict(entry),
            "entries": len(runs),
            "normal": {name: asdict(n) for name, n in usual.items()},
            "warnings": [
                {
                    **asdict(t),
                    "factor": t.factor,
                    "sentence": t.sentence(unit_shown(machine, t.name)),
                }
                for t in trends
            ],
            "unusual": [
                {
                    "finding": odd.finding,
                    "quantity": odd.quantity,
                    "answer": odd.answer,
                    "complaint": odd.complaint,
                    "sentence": odd.sentence,
                }
                for odd in strange
            ],
            "care_due": [
                {"care": d.care.id, "runs": d.runs, "days": d.days, "sentence": d.sentence}
                for d in due
            ],
            "kept_as_normal": numbers,
        }
        echo(json.dumps(record, indent=2, allow_nan=False))
        return
    if entry is not None:
        echo(f"Noted for {machine.name} ({len(runs)} in the log).")
    for line in _comparison(machine, entry, usual):
        echo(f"  {line}")
    if entry is not None and entry.slip:
        echo(f"  test slip: {entry.slip}")
    for odd in strange:
        echo(f"Out of the ordinary: {odd.sentence}")
    for trend in trends:
        echo(f"Trend: {trend.sentence(unit_shown(machine, trend.name))}")
    for item in due:
        echo(f"Due: {item.sentence}")
    if numbers:
        kept = ", ".join(f"{key.replace('_', ' ')} {text}" for key, text in numbers.items())
        echo(f"Kept as this machine's normal: {kept}")
    if any(odd.finding for odd in strange):
        _offer_case(store, machine, rules, strange)


def _offer_case(
    store: "Store", machine: "Machine", rules: "RuleBase", strange: Sequence["Unusual"]
) -> None:
    """Begin a case with what was out of the ordinary, where somebody can say yes."""
    from troubleshoot.cli.setup import interactive

    if not interactive():
        echo("To look for the cause: `troubleshoot diagnose`.")
        return
    from troubleshoot.case.entries import Finding
    from troubleshoot.cli.live import live
    from troubleshoot.show.terminal import TerminalAsker
    from troubleshoot.talk.dialogue import Choice
    from troubleshoot.upkeep.unusual import complaint_of

    begin = TerminalAsker().choose(
        "Look for the cause now? What you noted is filled in.",
        [Choice("yes", "Yes, begin a case"), Choice("no", "No, not now")],
    )
    if begin == "yes":
        told = [
            Finding(finding=odd.finding, answer=odd.answer, quantity=odd.quantity)
            for odd in strange
            if odd.finding
        ]
        live(rules, machine, told=told, complaint=complaint_of(strange))


def _comparison(
    machine: "Machine", entry: "Run | None", usual: Mapping[str, "Normal"]
) -> list[str]:
    """What was noted beside what is usual; without an entry only what is usual.

    While the log is too short for a normal, the profile's own number stands in.
    """
    from troubleshoot.upkeep.health import PROFILE

    own = {name: machine.shown[key] for key, name in PROFILE.items() if key in machine.shown}
    lines = []
    noted = {}
    if entry is not None:
        empty = ("time", "base") if entry.kind == "check_up" else ()
        noted = {f"{n}_empty" if n in empty else n: v for n, v in entry.values.items()}
    for name in noted or usual:
        said = f"{WORDS[name]}: " + (_shown(machine, name, noted[name]) if noted else "")
        if name in usual:
            median = usual[name]
            said += f"{', ' if noted else ''}usual {_shown(machine, name, median.value)}"
            said += f" (half of {median.count} between {_shown(machine, name, median.low)} and "
            said += f"{_shown(machine, name, median.high)})"
        elif name in own:
            said += f", of a good day {own[name]} (machine profile)"
        lines.append(said)
    return lines


def _list(given: Mapping[str, Any]) -> None:
    from dataclasses import asdict

    from troubleshoot.cli.setup import open_casebook

    store = open_casebook()
    machine = _machine(given["machine_name"], store)
    runs = store.runs(machine.name)
    if given["as_json"]:
        record = {"machine": machine.name, "runs": [asdict(r) for r in runs]}
        echo(json.dumps(record, indent=2, allow_nan=False))
        return
    if not runs:
        echo("No run is noted yet: `troubleshoot run` takes ten seconds.")
    for entry in runs[-20:]:
        said = [f"{WORDS[n]} {_shown(machine, n, v)}" for n, v in entry.values.items()]
        said += [entry.metal] if entry.metal else []
        said += [f"slip {entry.slip}"] if entry.slip else []
        said += [f"done: {', '.join(entry.did)}"] if entry.did else []
        kind = entry.kind.replace("_", "-")
        echo(f"{entry.at.replace('T', ' ')[:16]}  {kind:<8}  {', '.join(said)}")
