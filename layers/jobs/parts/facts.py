"""What water, light and sea do on a day, in sentences for screen, sheet, map and desk."""

from __future__ import annotations

from datetime import date
from typing import Any

from layers.area import Area
from layers.water import moon_times, sun_times

Place = tuple[float | None, float | None]
"""Longitude and latitude, degrees; None where they are not known."""


def light_of(when: date, area: Area, place: Place) -> dict[str, Any]:
    """Give the sun and the moon of a day at a place, by name; None where no place is known."""
    longitude, latitude = place
    if longitude is None or latitude is None:
        return {"sun": None, "moon": None}
    at = {"longitude": longitude, "latitude": latitude}
    return {
        "sun": sun_times(when, area.timezone, **at),
        "moon": moon_times(when, area.timezone, **at),
    }
