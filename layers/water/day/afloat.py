"""What light and sea are like on a drift."""

from __future__ import annotations

from typing import Any, Final

from layers.water.day.limits import dark_at
from layers.water.day.moon import moon_altitude, moon_phase
from layers.water.times import as_utc
from seabed.schema import Table
from seabed.units import percent

AFLOAT: Final = Table.of(
    "afloat",
    "layers.jobs.plan",
    """
    light [text empty "Light"] of the darkest part of a line's time; ``""`` by day
    wave_m ["Waves" depth .2 empty] the highest of that time; NaN where they are not known
    wave_period_s [.1 empty] of their peak
    lead_kg [.3 empty] least lead that touches the bottom with the line no further off straight
        down than wanted; NaN where it is not known
    lead [text empty "Lead"] of those aboard
    energy_ah [.1 empty] that the motor takes of the battery; NaN without readings
    sea [text empty "Sea"] short and steep, breaking, ripples, beyond what is known or ``""``
    """,
)
"""What a planned line has of light, sea, lead and power."""


def light_on(times: Any, *, longitude: float, latitude: float) -> str:
    """Say how dark it gets at UTC times: "twilight", "dark, no moon", or ``""`` by day."""
    moments = as_utc(times)
    at = {"longitude": longitude, "latitude": latitude}
    dark = dark_at(moments, longitude, latitude, darkness="civil twilight")
    if not dark.any():
        return "twilight" if dark_at(moments, longitude, latitude, darkness="sunset").any() else ""
    if not (moon_altitude(moments[dark], **at) > 0).all():
        return "dark, no moon"
    return f"dark, moon {percent(float(moon_phase(moments[dark][0])[0]))} lit"
