"""Once per machine: its normal in a few facts, all of which can be skipped."""

from troubleshoot.errors import UserError
from troubleshoot.investigation.dialogue import Asker, Choice, Teller
from troubleshoot.knowledge.machine import FACTS, NUMBERS, Machine
from troubleshoot.readings.profile import machine_from

SKIP = "/skip"
ASKED: tuple[tuple[str, str], ...] = (
    ("isolation_valve", "Is there a valve between the chamber and the pump?"),
    ("gauge_side", "On which side of that valve does the gauge sit?"),
    ("current_set_by", "What sets the discharge current?"),
    ("hv_permit", "What permits the high voltage?"),
    ("venting", "How is the chamber vented?"),
    ("rotation", "Does the stage turn?"),
    ("shutter", "Is there a shutter?"),
)
WORDS = {
    "needle_valve": "the needle valve (fixed voltage)",
    "controller": "a controller (the current is set)",
    "gauge": "the gauge",
    "switch": "a vacuum switch",
    "lid": "a lid switch",
    "manual": "by hand",
    "programmed": "by a program",
    "chamber": "the chamber side",
    "pump": "the pump side",
}
UNITS = ("mbar", "Torr", "Pa")
TYPED: tuple[tuple[str, str, str], ...] = (
    ("usual_time", "The usual time from starting the pump until you can coat?", "6 min"),
    ("usual_base", "The usual base pressure, empty, argon shut?", "0.03 mbar"),
    ("usual_pressure", "The usual coating pressure, as the gauge shows it?", "0.1 mbar"),
    ("usual_current", "The usual discharge current?", "12 mA"),
)


def ask_machine(asker: Asker, teller: Teller) -> Machine:
    """Ask for the machine's normal. What is skipped stays unknown, and wide defaults hold."""
    go = asker.choose(
        "This coater's normal is not known yet. Tell it once? (two minutes; all can be skipped)",
        [Choice("yes", "Yes"), Choice(SKIP, "Skip: use wide defaults")],
    )
    if go == SKIP:
        teller.small("No reference: wide defaults are used.")
        return Machine()
    data: dict[str, str] = {}
    name = asker.text("What is this coater called?").strip()
    if name:
        data["name"] = name
    for key, question in ASKED:
        if key == "gauge_side" and data.get("isolation_valve") != "yes":
            continue
        answer = asker.choose(
            question,
            [*(Choice(v, WORDS.get(v, v)) for v in FACTS[key]), Choice(SKIP, "Skip", aside=True)],
        )
        if answer != SKIP:
            data[key] = answer
    unit = asker.choose(
        "In which unit does the gauge read?",
        [*(Choice(u, u) for u in UNITS), Choice(SKIP, "Skip", aside=True)],
    )
    if unit != SKIP:
        data["gauge_unit"] = unit
    for key, question, example in TYPED:
        value = _number(asker, teller, key, question, example)
        if value:
            data[key] = value
    return machine_from(data, "the machine")


def _number(asker: Asker, teller: Teller, key: str, question: str, example: str) -> str:
    from troubleshoot.physics import units

    while True:
        typed = asker.text(f"{question} (such as {example}; nothing to skip)").strip()
        if not typed:
            return ""
        try:
            units.parse(typed, NUMBERS[key])
        except UserError as error:
            teller.line(str(error))
            continue
        return typed
