"""What a danger forbids, read off the texts by somebody who did not write the declarations.

`effects_read.csv` says for every check, remedy and way round what following its text does to the
machine; it was written from the texts alone. `FORBIDDEN` says by sign what nobody may do until it
is repaired and proved (usual precautions of the trade; for damaged glass the National Research
Council's Prudent Practices in the Laboratory, and for electrical signs the lock-out rules of
29 CFR 1910.147). A test holds everything that is offered or printed against both.
"""

import csv
from collections.abc import Collection
from functools import cache
from pathlib import Path

from troubleshoot.case.journal import append

AT = "2026-01-05T09:00:00"
ELECTRICAL = (
    "smell_or_smoke", "crackle_outside", "tingle_or_shock", "glow_outside", "bridged_interlock",
    "liquid_inside",
)  # fmt: skip
WORDS = (
    "mains_on", "pump_runs", "under_vacuum", "discharge", "gas_in", "hands_inside", "guard_off",
    "presses_glass",
)  # fmt: skip
FORBIDDEN = {
    **{sign: {"mains_on", "pump_runs", "under_vacuum", "discharge"} for sign in ELECTRICAL},
    "chip_or_crack": {"under_vacuum", "presses_glass", "discharge"},
    "pump_smokes": {"pump_runs", "under_vacuum", "discharge"},
    "gas_alarm": set(WORDS),
}
DAMAGED = ("chip_on_seal_face", "crack_or_scratch", "nick_outside_seal")
IN_CHARGE = ("in_charge", "service")
# The repair of each danger, that the person in charge or service may do although it is forbidden.
REPAIRS = {
    **{sign: {"call_hv_service"} for sign in ELECTRICAL},
    "chip_or_crack": {"replace_glass"},
    "pump_smokes": {"exchange_pump"},
    "gas_alarm": set(),
}
BY_SERVICE = {"call_hv_service", "exchange_pump"}  # done by qualified service, whoever asks
PROVES = {
    "call_hv_service": "look_at_glow",
    "exchange_pump": "empty_pump_down",
    "replace_glass": "timed_pump_down",
}


@cache
def read() -> dict[str, frozenset[str]]:
    """What following each text does to the machine."""
    path = Path(__file__).with_name("effects_read.csv")
    with path.open(encoding="utf-8", newline="") as stream:
        return {row["action"]: frozenset(row["words"].split()) for row in csv.DictReader(stream)}


def forbidden(sign: str, name: str, role: str, done: Collection[str] = ()) -> bool:
    """Whether the action or way round `name` may not be offered after `sign`.

    The repair may be done by who may do it, and proved once it was `done`.
    """
    if name in REPAIRS[sign] and (role in IN_CHARGE or name in BY_SERVICE):
        return False
    if role in IN_CHARGE and any(name == PROVES[r] for r in REPAIRS[sign] & set(done)):
        return False
    return sign == "gas_alarm" or bool(read()[name] & FORBIDDEN[sign])


def journal_of(rules, *entries):
    """A journal of (kind, data) pairs."""
    journal = ()
    for kind, data in entries:
        journal = append(journal, AT, kind, rules, **data)
    return journal


def after(rules, sign, complaint, *more):
    """A case after a danger sign that was made safe."""
    return journal_of(
        rules,
        ("sign", {"sign": sign, "present": True}),
        ("complaint", {"complaint": complaint}),
        ("made_safe", {"caution": rules.signs[sign].caution}),
        *more,
    )
