"""`troubleshoot machine`: the coater's own normal, told once."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from troubleshoot.cli.echo import echo
from troubleshoot.cli.groups import Whole
from troubleshoot.cli.log_options import log_options
from troubleshoot.cli.machine_rate import rate
from troubleshoot.cli.measures import PRESSURE

if TYPE_CHECKING:
    from troubleshoot.casebook.store import Store
    from troubleshoot.coater.machine import Machine
    from troubleshoot.readings.pressure.pressures import Analysis
    from troubleshoot.readings.reading import Estimate
    from troubleshoot.units import Quantity

WORSE = 1.5
"""A base or rise this many times the one that is kept is no good day: judgement."""
TEN_MINUTES = 600.0
"""s. The base is read after this time; a valve shut earlier shuts in more."""


@click.group(cls=Whole)
def machine() -> None:
    """Tell, change, show or read in the profile of a coater."""


machine.add_command(rate)


@machine.command("new")
def new_machine() -> None:
    """Answer a few questions about this coater; all can be skipped."""
    from troubleshoot.casebook.drafts import Draft
    from troubleshoot.cli.setup import interactive, open_casebook, stopping
    from troubleshoot.errors import UserError
    from troubleshoot.show.teller import TerminalTeller
    from troubleshoot.show.terminal import TerminalAsker
    from troubleshoot.talk.draft import Drafted
    from troubleshoot.talk.machine_questions import ask_profile

    if not interactive():
        raise UserError("There is no terminal to ask at: use `troubleshoot machine read FILE`.")
    store = open_casebook()
    kept = {m.name: m for m in store.machines()}
    teller, draft = TerminalTeller(), Draft("machine")
    with stopping("Your answers are kept: `troubleshoot machine new` goes on with them."):
        profile = ask_profile(Drafted(TerminalAsker(), teller, draft), teller, kept)
    draft.clear()
    if profile == kept.get(profile.name):
        echo(f"{profile.name} stays as it is.")
        return
    store.save_machine(profile)
    echo("Kept:")
    _tell(profile)
    echo("`troubleshoot machine set KEY VALUE` changes one of them.")


@machine.command("read")
@click.argument("path", type=click.Path(path_type=Path))
def read_profile(path: Path) -> None:
    """Keep the profile in a YAML file; it takes the place of one of the same name."""
    from troubleshoot.cli.setup import open_casebook
    from troubleshoot.coater.profile import read_machine

    profile = read_machine(path)
    open_casebook().save_machine(profile)
    echo(f"Kept: {profile.name}")
    _ask_about(profile)


@machine.command("set", context_settings={"ignore_unknown_options": True})
@click.argument("key")
@click.argument("value", nargs=-1)
@click.option("--machine", "name", help="Which coater, if several are kept.")
@click.option("--forget", is_flag=True, help="Instead of a value: it is not known after all.")
def set_value(key: str, value: tuple[str, ...], name: str | None, forget: bool) -> None:
    """Change one fact or number of a coater, such as: machine set volume 5 L."""
    from troubleshoot.cli.setup import interactive, open_casebook
    from troubleshoot.coater.fields import FIELDS
    from troubleshoot.coater.plausible import queries
    from troubleshoot.coater.profile import machine_from, typed_value
    from troubleshoot.errors import UserError, instead

    store = open_casebook()
    before = one_machine(store, name)
    if before is None:
        raise UserError("No machine is kept yet: `troubleshoot machine new` asks for its normal.")
    key = key.replace("-", "_")
    if key == "name":
        raise UserError("A name stays, for the run log is kept under it: tell a new machine.")
    if key not in FIELDS:
        raise UserError(f"There is no {key!r} in a profile{instead(key, FIELDS)}.")
    if bool(value) == forget:
        raise UserError("Give one value (with its unit), or --forget to take it out.")
    profile = before.as_dict()
    was = profile.pop(key, None) or profile.get("defaults", {}).pop(key, None)
    if not forget:
        try:
            profile[key] = typed_value(key, " ".join(value), before.told_unit)
        except UserError as error:
            raise UserError(f"{key}: {error}") from None
    after = machine_from(profile, key)
    new = [sentence for sentence in queries(after) if sentence not in queries(before)]
    echo(f"{before.name}, {key}: {was or 'not known'} -> {profile.get(key, 'not known')}")
    for sentence in new:
        echo(f"Please check: {sentence}", err=True)
    if new and interactive() and not click.confirm("Keep it all the same?"):
        echo("Nothing is changed.")
        return
    store.save_machine(after)
    if key in ("target", "distance", "target_radius") and "coat_rate" in before.numbers:
        echo(
            "The rate of coating that is kept was found before this change: coat a slip, and "
            "`troubleshoot machine rate` finds it anew."
        )


def one_machine(store: "Store", name: str | None) -> "Machine | None":
    """The machine that is meant; None where none is kept."""
    from troubleshoot.cli.setup import stored_machine
    from troubleshoot.errors import UserError

    found = stored_machine(name, store)
    if found is None and len(store.machines()) > 1:
        raise UserError("Several coaters are kept: say which with --machine.")
    return found


@machine.command("good-day")
@click.argument("log_file", metavar="LOG.csv", type=click.Path(path_type=Path))
@click.option("--machine", "name", help="Which coater, if several are kept.")
@click.option("--target", type=PRESSURE, help="The pressure you always wait for.")
@click.option("--loaded", is_flag=True, help="Specimens were in: base and rise are not of empty.")
@log_options
@click.option("--yes", is_flag=True, help="Keep a day that looks good without asking.")
@click.option("--anyway", is_flag=True, help="Keep it without asking, even if it looks doubtful.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def good_day(
    log_file: Path,
    name: str | None,
    target: "Quantity | None",
    loaded: bool,
    yes: bool,
    anyway: bool,
    as_json: bool,
    **given: Any,
) -> None:
    """Keep a pump-down, a rise or both of a good day as this coater's normal.

    Shows what it read first. A pump-down gives the usual base (of an empty chamber) and, with
    --target or a known coating pressure, the usual time; a rise gives the usual rise. Later logs
    and readings are held against them, and the curve is drawn under every new log.
    """
    from troubleshoot.cli.setup import interactive, load_rules, open_casebook
    from troubleshoot.coater.good_day import write_curve
    from troubleshoot.coater.machine import Machine
    from troubleshoot.coater.profile import machine_from
    from troubleshoot.errors import UserError
    from troubleshoot.readings.door import analysis_of, log_of
    from troubleshoot.readings.pressure.good_day import kept_curve
    from troubleshoot.sources.log_file import Told

    store = open_casebook()
    known = one_machine(store, name)
    coater = known or Machine()
    log = log_of(log_file, known, Told.of(given))
    wanted = target.si if target is not None else coater.numbers.get("usual_pressure")
    analysis = analysis_of(log, load_rules(()).findings, coater, empty=not loaded, target=wanted)
    found, doubtful = _healthy(analysis, coater, loaded)
    if not found:
        raise UserError(
            f"{log_file}: no base, time or rise can be read from this log; give a pump-down of "
            "ten minutes or a rise, empty, or name the pressure you wait for with --target."
        )
    kept = {key: _text(key, number, coater) for key, number in found.items()}
    if analysis.pump is not None:
        kept["good_day"] = write_curve(kept_curve(analysis.pump), coater.gauge_unit)
    profile = machine_from({**coater.as_dict(), **kept}, str(log_file))
    doubtful += _not_so_good(analysis.verdict.story, coater, profile)
    if not as_json:
        echo(analysis.reading.sentence)
        for key, number in found.items():
            was = coater.shown.get(key)
            before = f"; until now {was}" if was else ""
            echo(f"  {key.replace('_', ' ')}: {_with_sigma(key, number, coater)}{before}")
        for sentence in doubtful:
            echo(f"  {sentence}")
    if doubtful and not anyway and (yes or not interactive()):
        raise UserError(
            f"Nothing is kept, for this may have been no good day: {' '.join(doubtful)} If you "
            "know that it was one, add --anyway."
        )
    if not (yes or anyway):
        if not interactive():
            raise UserError("Nothing is kept: there is no terminal to ask at; add --yes.")
        all_the_same = " all the same" if doubtful else ""
        if not click.confirm(f"Keep this{all_the_same} as the normal of {coater.name}?"):
            echo("Nothing is changed.")
            return
    store.save_machine(profile)
    if as_json:
        record = {
            "machine": profile.as_dict(), "kept": kept, "doubts": doubtful,
            "sentence": analysis.reading.sentence,
        }  # fmt: skip
        echo(json.dumps(record, indent=2))
        return
    echo(f"Kept: {profile.name}")


def _healthy(
    analysis: "Analysis", coater: "Machine", loaded: bool
) -> tuple[dict[str, "Estimate"], list[str]]:
    """What a good day tells of a coater by number of its profile, and why some of it may not hold.

    Base and rise are those of an empty chamber. A rise that is lost in the noise is no normal.
    """
    numbers = analysis.reading.numbers
    found: dict[str, Estimate] = {}
    doubts = []
    base = numbers.get("base")
    if base is None and "pressure_when_shut" in numbers:
        base = numbers["pressure_when_shut"]
        pumped = numbers.get("pumped_for")
        if pumped is None or pumped.value < TEN_MINUTES:
            doubts.append(
                "The base is the pressure at which the valve was shut: had it been pumped for ten "
                "minutes by then?"
            )
    if base is not None and not loaded:
        found["usual_base"] = base
    if "time_to_target" in numbers:
        found["usual_time"] = numbers["time_to_target"]
    rise = numbers.get("rise_in_one_minute")
    if rise is not None and not loaded:
        if coater.allows({"isolation_valve": "yes", "gauge_side": "chamber"}):
            if rise.value > 1.96 * rise.sigma:
                found["usual_rise"] = rise
            else:
                doubts.append("The rise is lost in the noise: log it for longer.")
        else:
            doubts.append("A rise cannot be read on this coater, as its profile has it.")
    return found, doubts


def _text(key: str, number: "Estimate", coater: "Machine") -> str:
    from troubleshoot import units
    from troubleshoot.coater.fields import NUMBERS
    from troubleshoot.coater.profile import unit_of

    unit = unit_of(key, coater.gauge_unit)
    return units.format_in(number.value, unit, NUMBERS[key].dimension)


def _with_sigma(key: str, number: "Estimate", coater: "Machine") -> str:
    from troubleshoot.coater.fields import NUMBERS
    from troubleshoot.coater.profile import unit_of
    from troubleshoot.readings.pressure.telling import with_sigma

    return with_sigma(number, unit_of(key, coater.gauge_unit), NUMBERS[key].dimension)


def _not_so_good(story: str | None, before: "Machine", after: "Machine") -> list[str]:
    """Why a day may not have been a good one."""
    from troubleshoot.coater.plausible import queries

    out = []
    if story != "usual":
        out.append("Not everything here is as usual; keep it only if you know that all was well.")
    for key, words in (("usual_base", "base"), ("usual_rise", "rise")):
        old, new = (m.numbers.get(key) for m in (before, after))
        if old and new and new > WORSE * old:
            out.append(f"The {words} is clearly higher than the usual one that is kept.")
    return [*out, *(s for s in queries(after) if s not in queries(before))]


@machine.command("show")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def show_machines(as_json: bool) -> None:
    """The profiles that are kept; what was not measured is marked as a default."""
    from troubleshoot.cli.out_of_use import tell_out_of_use
    from troubleshoot.cli.setup import load_rules, open_casebook

    store = open_casebook()
    machines = store.machines()
    if as_json:
        echo(json.dumps({"machines": [m.as_dict() for m in machines]}, indent=2))
        return
    if not machines:
        echo("No machine is kept yet: `troubleshoot machine new` asks for its normal.")
    tell_out_of_use(store, load_rules(()))
    for profile in machines:
        _tell(profile)
        _ask_about(profile)
        echo()


def _tell(profile: "Machine") -> None:
    """A profile, a line a key, and what follows from it."""
    from troubleshoot.coater.consequences import notes
    from troubleshoot.talk.machine_questions import profile_lines

    for line in (*profile_lines(profile), *notes(profile)):
        echo(f"  {line}")


def _ask_about(profile: "Machine") -> None:
    from troubleshoot.coater.plausible import queries

    for sentence in queries(profile):
        echo(f"Please check: {sentence}", err=True)
