"""What a coat means on this coater in numbers: thickness, time and current."""

from troubleshoot.coater.machine import Machine
from troubleshoot.coater.rate import calibration_of, settings_of, target_of
from troubleshoot.physics.deposition import rate_here, time_needed
from troubleshoot.physics.film_growth import joined_from
from troubleshoot.units import format_number


def dose(machine: Machine, share: float) -> str | None:
    """A share of a coat that joins on a flat face, as this coater gives it; None where not known.

    That wants the metal in the head and the usual current.
    """
    metal, current = target_of(machine), machine.numbers.get("usual_current")
    if metal is None or current is None:
        return None
    own = calibration_of(machine)
    thickness = share * joined_from(metal)
    time = time_needed(rate_here(own, metal, settings_of(machine)), thickness, current)
    given = (
        f"In numbers: {thickness * 1e9:.2g} nm of {metal.name}, about {seconds(time.value)} at "
        f"{format_number(current * 1e3)} mA ({seconds(time.low)} to {seconds(time.high)})"
    )
    if own is not None:
        return f"{given}, by this coater's own rate."
    return (
        f"{given}. Its rate is not known, so give the short time first and look at the slip; "
        "`troubleshoot coat-plan` says how to find it."
    )


def seconds(time: float) -> str:
    """A time in s for people at a stopwatch: to five seconds below two minutes, then in minutes."""
    if time < 10:
        return f"{time:.2g} s"
    if time < 117.5:
        return f"{5 * round(time / 5)} s"
    return f"{time / 60:.2g} min"
