"""What the run log holds of a coater's pump-downs, to be drawn under a new log."""

from troubleshoot.casebook.store import Store
from troubleshoot.coater.machine import Machine

TEN_MINUTES = 600.0
MOST_POINTS = 40


def pumped_before(store: Store, machine: Machine) -> list[tuple[float, float]]:
    """Times in s of pumping and pressures in Pa that earlier runs left, the last ones.

    The coating pressure was reached after the time to it, the base stands for ten minutes.
    """
    out = []
    for run in store.runs(machine.name):
        said = run.values
        if "time" in said and "pressure" in said:
            out.append((said["time"], said["pressure"]))
        if "base" in said:
            out.append((TEN_MINUTES, said["base"]))
    return out[-MOST_POINTS:]
