"""Positions as people read them."""

from __future__ import annotations


def degrees_minutes(latitude: float, longitude: float) -> str:
    """Write a position in degrees and decimal minutes, ``"46°11.400'N 033°24.600'W"``.

    What is not on earth, or NaN, gives ``""``.  Three digits of a minute are 1.9 m of latitude.

    >>> degrees_minutes(46.19, -33.41)
    "46°11.400'N 033°24.600'W"
    """
    if not (abs(latitude) <= 90 and abs(longitude) <= 720):
        return ""
    return f"{_one(latitude, 'NS', 2)} {_one(longitude, 'EW', 3)}"


def _one(value: float, sides: str, width: int) -> str:
    units = round(abs(value) * 60_000)
    degrees, minutes = divmod(units, 60_000)
    side = sides[0] if value >= 0 or units == 0 else sides[1]
    return f"{degrees:0{width}d}°{minutes / 1000:06.3f}'{side}"
