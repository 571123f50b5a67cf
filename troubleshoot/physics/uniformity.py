"""Where the metal lands that a source throws: over the stage, on tilted faces, walls and grooves.

All by line of sight and a cosine law at the target. In a diode coater the gas scatters the metal
(`scattering.arrival`), so walls and shaded sides get more than is reckoned here, and the floors of
narrow grooves less.
"""

import math

from troubleshoot.physics.limits import above_zero, not_negative, within

STEPS = 400  # of the sum over a disc that a groove's rims cut


def disc_share(radius: float, distance: float, offset: float = 0.0) -> float:
    """Share of the metal leaving one spot's area of a disc that a like area of the stage gets.

    A cosine law from a disc of a radius, facing the stage at a distance, at an offset from its
    axis, all in one unit: F = (1 - (Z - 2 P^2) / sqrt(Z^2 - 4 P^2)) / 2 with P = R/a, H = h/a,
    Z = 1 + H^2 + P^2; on the axis R^2 / (R^2 + h^2). Source: the view factor of a small face and a
    disc, Howell, A Catalog of Radiation Configuration Factors, B-12.

    >>> round(disc_share(28.5, 50), 4), round(disc_share(28.5, 50, 12.5), 4)
    (0.2452, 0.2284)
    """
    above_zero(radius=radius, distance=distance)
    not_negative(offset=offset)
    # Z^2 - 4 P^2 without dividing by the offset, which may be zero.
    square = offset**2 + distance**2 + radius**2
    root = math.sqrt(square**2 - 4 * radius**2 * offset**2)
    return (1 - (square - 2 * radius**2) / root) / 2


def disc_thickness(radius: float, distance: float, offset: float) -> float:
    """Film off the axis of a disc over that on it; lengths in one unit.

    Source: as `disc_share`.

    >>> round(disc_thickness(28.5, 50, 12.5), 4)
    0.9313
    """
    return disc_share(radius, distance, offset) / disc_share(radius, distance)


def ring_thickness(radius: float, distance: float, offset: float) -> float:
    """Film off the axis of a ring that throws by the cosine law over that on it.

    The worn ring of a magnetron. With s = radius, h = distance, l = offset in one unit:
    (1 + L + S) (1 + S)^2 / ((1 - L + S)^2 + 4 L)^1.5, L = (l/h)^2, S = (s/h)^2. Source: Holland and
    Steckelmacher, Vacuum 2 (1952) 346.

    >>> round(ring_thickness(30, 50, 12.5), 5)
    0.97861
    """
    above_zero(radius=radius, distance=distance)
    not_negative(offset=offset)
    far, wide = (offset / distance) ** 2, (radius / distance) ** 2
    spread = ((1 - far + wide) ** 2 + 4 * far) ** 1.5
    return (1 + far + wide) * (1 + wide) ** 2 / spread


def small_face_thickness(distance: float, offset: float) -> float:
    """Film beside the axis of a small flat source over that on it: (1 + (a/h)^2)^-2.

    Lengths in one unit. Source: Holland and Steckelmacher, Vacuum 2 (1952) 346.

    >>> round(small_face_thickness(1.0, 0.25), 4)
    0.8858
    """
    above_zero(distance=distance)
    not_negative(offset=offset)
    return (1 + (offset / distance) ** 2) ** -2


def point_thickness(distance: float, offset: float) -> float:
    """Film beside the axis of a point that throws all round: (1 + (a/h)^2)^-1.5.

    Lengths in one unit. Source: Holland and Steckelmacher, Vacuum 2 (1952) 346.

    >>> round(point_thickness(1.0, 0.25), 4)
    0.9131
    """
    above_zero(distance=distance)
    not_negative(offset=offset)
    return (1 + (offset / distance) ** 2) ** -1.5


def tilted_share(tilt: float) -> float:
    """Share of the flat thickness that a face tilted by so many degrees gets: cos(tilt).

    0 to 90 degrees, the whole source in sight. Source: cosine law.

    >>> round(tilted_share(60), 3)
    0.5
    """
    within(0, 90, "deg", "a face turned away sees no metal", tilt=tilt)
    return math.cos(math.radians(tilt))


def wall_share(radius: float, distance: float) -> float:
    """Share of the flat thickness that an upright wall on the axis of a disc gets.

    It sees half of the disc: (atan(1/H) - H / (1 + H^2)) / pi with H = h/R, over the flat face's
    share; lengths in one unit. Source: view factor of a face at right angles to a disc, by
    integration over it.

    >>> round(wall_share(28.5, 50), 3)
    0.114
    """
    above_zero(radius=radius, distance=distance)
    far = distance / radius
    wall = (math.atan(1 / far) - far / (1 + far**2)) / math.pi
    return wall / disc_share(radius, distance)


def groove_floor(width: float, depth: float, radius: float, distance: float) -> tuple[float, float]:
    """Shares of the flat thickness that a long groove's floor gets: by sight, and from all round.

    In its middle. Width and depth in one unit; radius and distance of the disc in one unit, the
    groove on its axis. By sight: the strip of the disc between the rims over the whole disc. From
    all round, where the gas scatters the metal: sin(atan(w / 2d)). The truth lies between. Source:
    integral of the cosine law over what the rims leave in sight.

    >>> seen, scattered = groove_floor(1, 3, 28.5, 50)
    >>> round(seen, 2), round(scattered, 2)
    (0.4, 0.16)
    """
    above_zero(width=width, radius=radius, distance=distance)
    not_negative(depth=depth)
    if depth == 0:
        return 1.0, 1.0
    half = width / (2 * depth)
    edge = min(radius, half * distance)

    def strip(x: float) -> float:
        """The integral across the disc at x, of 1 / (h^2 + x^2 + y^2)^2."""
        y = math.sqrt(max(0.0, radius**2 - x**2))
        c = math.hypot(distance, x)
        return y / (c**2 * (c**2 + y**2)) + math.atan(y / c) / c**3

    step = 2 * edge / STEPS
    total = sum(strip(-edge + (n + 0.5) * step) for n in range(STEPS)) * step
    seen = total * distance**2 / math.pi
    return seen / disc_share(radius, distance), half / math.hypot(1, half)
