"""`troubleshoot coat-plan`: how to coat a specimen for a picture."""

import json
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from troubleshoot.cli.echo import echo
from troubleshoot.cli.measures import CURRENT, ENERGY, LENGTH, VOLTAGE, Number

if TYPE_CHECKING:
    from troubleshoot.advice.coat_choice import Wish
    from troubleshoot.advice.coat_plan import Plan
    from troubleshoot.coater.machine import Machine
    from troubleshoot.knowledge.model import RuleBase, Specimen
    from troubleshoot.units import Quantity


@click.command("coat-plan")
@click.argument("case_file", required=False, metavar="[CASE.yaml]")
@click.option("--specimen", help="What it is, such as diatoms, fibres, polymer; --list lists them.")
@click.option("--magnification", type=Number(), help="Highest magnification that is planned.")
@click.option("--kv", type=ENERGY, help="Beam energy that is planned, such as 5kV.")
@click.option("--metal", help="This metal and no other.")
@click.option("--machine", "machine_name", help="A machine profile: its name, or a YAML file.")
@click.option("--current", type=CURRENT, help="Of the discharge, if not the profile's.")
@click.option("--voltage", type=VOLTAGE, help="Of the discharge, if not the profile's.")
@click.option("--distance", type=LENGTH, help="Target to specimen, if not the profile's.")
@click.option("--rate", help="The lab's own rate of that metal, such as 0.75nm/mA/min.")
@click.option("--xray", is_flag=True, help="X-ray work is planned too.")
@click.option("--list", "listed", is_flag=True, help="List the kinds of specimens and stop.")
@click.option(
    "--rules", "rule_folders", multiple=True, type=click.Path(path_type=Path),
    help="A folder with your own rules, on top of the shipped ones.",
)  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object, numbers in SI.")
def coat_plan(
    case_file: str | None,
    specimen: str | None,
    magnification: float | None,
    kv: "Quantity | None",
    metal: str | None,
    machine_name: str | None,
    current: "Quantity | None",
    voltage: "Quantity | None",
    distance: "Quantity | None",
    rate: str | None,
    xray: bool,
    listed: bool,
    rule_folders: tuple[Path, ...],
    as_json: bool,
) -> None:
    """Plan a coat for a specimen, a magnification and a beam energy.

    Asks for what is not given. Takes the coater from its profile; or coater, specimen and energy
    from CASE.yaml.
    """
    from troubleshoot.advice.coat_plan import plan
    from troubleshoot.cli.setup import load_rules

    rules = load_rules(rule_folders)
    if listed:
        for kind in rules.specimens.values():
            echo(f"{kind.id:18} {kind.name}")
        return
    coater = _coater(case_file, machine_name, rules)
    kind, times, beam = _wanted(
        rules, specimen or coater.specimen, magnification, kv or coater.beam
    )
    wish = _wish(kind, times, beam, coater, metal, rate, (current, voltage, distance))
    found = plan(rules, wish, xray)
    if as_json:
        echo(json.dumps(_record(wish, found), indent=2))
        return
    _tell(wish, found)


@dataclass(frozen=True)
class Coater:
    """What a case or a profile tells: the coater, the beam's energy, the kind of specimen.

    `irreplaceable`: there is one of it only.
    """

    machine: "Machine"
    beam: "Quantity | None" = None
    irreplaceable: bool = False
    specimen: str | None = None


def _coater(case_file: str | None, name: str | None, rules: "RuleBase") -> Coater:
    """The coater that is meant. Raises `UserError` for a case in which nothing may be coated."""
    from troubleshoot.advice.today import of_bans
    from troubleshoot.case.casefile import read_case
    from troubleshoot.case.diagnose import Bench
    from troubleshoot.cli.setup import find_case_file, machine_named, now, stored_machine
    from troubleshoot.coater.machine import Machine
    from troubleshoot.errors import UserError
    from troubleshoot.units import parse

    chosen = machine_named(name)
    if case_file is None:
        return Coater(chosen or stored_machine(None) or Machine())
    case = read_case(find_case_file(case_file), rules, now(), chosen)
    standing = Bench(rules, case.machine).deduce(case.journal)
    banned = of_bans(standing)
    if banned is not None:
        raise UserError(f"{case_file}: nothing is coated on this coater now. {banned.note}")
    told = [
        entry.data.get("quantity")
        for entry in case.journal
        if entry.kind == "finding" and entry.data.get("finding") == "kv_used"
    ]
    energy = parse(str(told[-1]), "energy") if told and told[-1] else None
    known = standing.known
    kind = known.specimen or _spoken_of(rules, known.words or "")
    return Coater(case.machine, energy, known.irreplaceable, kind)


def _spoken_of(rules: "RuleBase", words: str) -> str | None:
    """The one kind of specimen that somebody's own words name; None where none or several."""
    from troubleshoot.talk.vocabulary import stem, words_of

    def stems(text: str) -> str:
        return f" {' '.join(map(stem, words_of(text)))} "

    said = stems(words)
    found = [
        kind.id
        for kind in rules.specimens.values()
        if any(stems(name) in said for name in (*kind.says, kind.id.replace("_", " ")))
    ]
    return found[0] if len(found) == 1 else None


def _wanted(
    rules: "RuleBase", specimen: str | None, times: float | None, beam: "Quantity | None"
) -> "tuple[Specimen, float, Quantity]":
    """What was given, and what is asked for where somebody can answer."""
    from troubleshoot.cli.setup import interactive
    from troubleshoot.errors import UserError

    missing = [
        flag
        for flag, given in (("--specimen", specimen), ("--magnification", times), ("--kv", beam))
        if given is None
    ]
    if missing and not interactive():
        raise UserError(
            f"There is no terminal to ask at: give {' and '.join(missing)} (coat-plan --list "
            "lists the kinds of specimens)."
        )
    kind = specimen_named(rules, specimen) if specimen is not None else _ask_kind(rules)
    times = times or _ask_number("Highest magnification that is planned, such as 5000?")
    return kind, times, beam or _ask_energy()


def specimen_named(rules: "RuleBase", text: str) -> "Specimen":
    """The kind of specimen that is meant: by its ID, its name or what people call it."""
    from troubleshoot.errors import UserError, nearest

    wanted = " ".join(text.lower().replace("_", " ").replace("-", " ").split())
    words = {
        " ".join(word.lower().replace("_", " ").replace("-", " ").split()): kind
        for kind in rules.specimens.values()
        for word in (*kind.says, kind.name, kind.id)
    }
    if wanted in words:
        return words[wanted]
    within = {k.id: k for word, k in words.items() if word in wanted.split() or wanted in word}
    if len(within) == 1:
        return next(iter(within.values()))
    if within:
        from troubleshoot.advice.phrases import lower_first

        several = " or ".join(f"{k.id} ({lower_first(k.name)})" for k in within.values())
        raise UserError(f"--specimen: {text!r} could be {several}: name one of them.")
    listed = ", ".join(rules.specimens)
    raise UserError(
        f"--specimen: {text!r} is no kind of specimen known here"
        f"{nearest(wanted, words) or f': there are {listed}'}."
    )


def _ask_kind(rules: "RuleBase") -> "Specimen":
    from troubleshoot.show.terminal import TerminalAsker
    from troubleshoot.talk.dialogue import Choice

    choices = [Choice(k.id, k.name, words=tuple(k.says)) for k in rules.specimens.values()]
    return rules.specimens[TerminalAsker().choose("What is to be looked at?", choices)]


def _ask_number(question: str) -> float:
    from troubleshoot.show.terminal import TerminalAsker

    while True:
        text = TerminalAsker().text(question).replace(",", "").removesuffix("x").strip()
        try:
            value = float(text)
        except ValueError:
            value = 0.0
        if value > 0:
            return value
        echo(f"{text!r} is no number above zero.", err=True)


def _ask_energy() -> "Quantity":
    from troubleshoot.errors import UserError
    from troubleshoot.show.terminal import TerminalAsker
    from troubleshoot.units import parse

    while True:
        text = TerminalAsker().text("Beam energy that is planned, such as 5 kV?")
        try:
            return parse(text, "energy", default_unit="keV")
        except UserError as error:
            echo(str(error), err=True)


def _wish(
    kind: "Specimen",
    times: float,
    beam: "Quantity",
    coater: Coater,
    metal: str | None,
    rate: str | None,
    settings: "tuple[Quantity | None, Quantity | None, Quantity | None]",
) -> "Wish":
    from troubleshoot.advice.coat_choice import USUAL_CURRENT, Wish
    from troubleshoot.coater.rate import calibration_of, settings_of, target_of, typed_run
    from troubleshoot.errors import UserError
    from troubleshoot.physics.deposition import Calibration
    from troubleshoot.physics.metals import metal_named
    from troubleshoot.units import from_si

    machine = coater.machine
    current, voltage, distance = (None if q is None else abs(q.si) for q in settings)
    at = settings_of(machine, voltage, distance)
    asked = None if metal is None else metal_named(metal)
    own = calibration_of(machine)
    if rate is not None:
        of = asked or target_of(machine)
        if of is None:
            raise UserError("--rate: say of which metal with --metal.")
        run = typed_run(rate)
        own = Calibration(run.rate, of, settings_of(machine, run.voltage, run.distance))
    return Wish(
        specimen=kind,
        magnification=times,
        beam=from_si(beam.si, "eV", "energy"),
        machine=machine,
        at=at,
        current=machine.numbers.get("usual_current", USUAL_CURRENT) if current is None else current,
        metal=asked,
        own=own,
        irreplaceable=coater.irreplaceable,
    )


def _tell(wish: "Wish", found: "Plan") -> None:
    """The plan as text: what to do first."""
    width = min(max(shutil.get_terminal_size((96, 24)).columns - 1, 20), 96)
    echo(click.wrap_text(found.verdict, width))
    for title, lines in (
        ("Careful", tuple(f"{box.name}: {box.first}" for box in found.cautions)),
        ("Do", found.todo),
        ("Why", found.reasons),
        ("The witness slip", (found.slip,) if found.slip else ()),
        ("What is lost", found.lost),
        ("To find this coater's rate", found.calibrate),
    ):
        if lines:
            echo(f"\n{title}")
        for line in lines:
            echo(click.wrap_text(line, width, "  - ", "    "))
    if found.coat is not None:
        end = (
            f"Reckoned for {wish.machine.name}; the coater's handbook and the lab's own recipe go "
            "first. `troubleshoot explain` with a caution's name says all of it."
        )
        echo("\n" + click.wrap_text(end, width))


def _record(wish: "Wish", found: "Plan") -> dict[str, Any]:
    """The plan as one JSON object, numbers in SI."""
    coat, without = found.coat, found.bare
    return {
        "specimen": wish.specimen.id,
        "magnification": wish.magnification,
        "beam_eV": wish.beam,
        "verdict": found.verdict,
        "coat": None
        if coat is None
        else {
            "metal": coat.metal.name,
            "thickness_m": coat.thickness,
            "time_s": coat.time.value,
            "time_low_s": coat.time.low,
            "time_high_s": coat.time.high,
            "current_A": wish.current,
            "distance_m": coat.at.distance,
            "runs": coat.runs,
            "bursts": coat.bursts,
            "grain": coat.fit,
            "own_rate": wish.own is not None,
        },
        "without_coat": None
        if without is None
        else {"low_eV": without.low, "high_eV": without.high, "now": without.now},
        "steps": list(found.todo),
        "reasons": list(found.reasons),
        "slip": found.slip,
        "lost": list(found.lost),
        "calibrate": list(found.calibrate),
        "cautions": [{"id": box.id, "text": box.text} for box in found.cautions],
    }
