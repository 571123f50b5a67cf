"""What a coat does to a size, what a small source lays down, and how wide a drop lies."""

import math

from troubleshoot.physics.limits import above_zero, fraction, not_negative, within


def coat_share(width: float, thickness: float) -> float:
    """Share of the width of a coated wire that is coat: it looks w + 2t wide, so 2t / (w + 2t).

    Width without the coat and thickness of an even coat, in one unit. It is the most that the coat
    can do: metal that comes from one side adds between t and 2t. Source: geometry.

    >>> round(coat_share(80e-9, 10e-9), 3)
    0.2
    """
    above_zero(width=width)
    not_negative(thickness=thickness)
    return 2 * thickness / (width + 2 * thickness)


def porosity_left(porosity: float, pore: float, thickness: float) -> float:
    """Share of a surface that is still open after a coat: each round pore loses 2t, p (1 - 2t/d)^2.

    Porosity from 0 to 1 and pore width without the coat; pore width and thickness in one unit; zero
    where the pores have closed. All pores of one width, coated evenly to their rims. Source:
    geometry.

    >>> round(porosity_left(0.2, 20e-9, 5e-9), 3)
    0.05
    """
    above_zero(pore=pore)
    not_negative(thickness=thickness)
    fraction(porosity=porosity)
    return porosity * max(0.0, 1 - 2 * thickness / pore) ** 2


def foreshortened(length: float, tilt: float) -> float:
    """What a length up and down a face measures when the face is tilted: L cos(tilt).

    Length and answer in one unit; tilt in degrees, 0 to below 90. Source: geometry.

    >>> round(foreshortened(10.0, 30), 2)
    8.66
    """
    above_zero(length=length)
    within(0, 89.9, "deg", "a face seen edge on has no length", tilt=tilt)
    return length * math.cos(math.radians(tilt))


def small_source_coat(volume: float, distance: float) -> float:
    """Thickness in m of what a small source that throws evenly all round lays down: V / (4 pi d^2).

    Volume used up in m3, of the density that the coat gets, and distance in m; the face looks at
    the source, and the mean free path is longer than the distance. Source: Holland, Vacuum
    Deposition of Thin Films (1956), from memory.

    >>> round(small_source_coat(1.57e-9, 0.1) * 1e9, 1)  # nm
    12.5
    """
    above_zero(volume=volume, distance=distance)
    return volume / (4 * math.pi * distance**2)


def contact_angle(height: float, width: float) -> float:
    """Contact angle in degrees of a small drop: height and width of its foot in one unit.

    A drop below some 5 ul of water is a cap of a sphere, tan(theta/2) = 2h/w. Source: geometry.

    >>> round(contact_angle(1.0, 2.0), 6)
    90.0
    """
    above_zero(height=height, width=width)
    return math.degrees(2 * math.atan(2 * height / width))


def drop_width(volume: float, angle: float) -> float:
    """Width in m of the foot of a small drop of a volume in m3 at a contact angle in degrees.

    The cap of a sphere as in `contact_angle`: V = pi r^3 (2 - 3 cos + cos^3) / (3 sin^3), w = 2r.
    Source: geometry.

    >>> round(drop_width(2e-9, 90) * 1e3, 2)  # mm, of 2 ul
    1.97
    """
    above_zero(volume=volume)
    within(1, 179, "deg", "outside it there is no cap", angle=angle)
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return 2 * (volume * 3 * sin**3 / (math.pi * (2 - 3 * cos + cos**3))) ** (1 / 3)
