"""What a plan takes of the battery and of the fuel."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np

from layers.area import Area
from layers.water.boat.energy import Charge, charge_of, motor_curve
from seabed.errors import AreaError, WaterError


def charge_of_passes(area: Area, passes: gpd.GeoDataFrame) -> Charge | None:
    """Add up what the motor takes on passes; None without a reading of it.

    Raises AreaError if two readings contradict each other.
    """
    if not area.boat.motor_readings:
        return None
    try:
        curve = motor_curve(area.boat.motor_readings)
    except WaterError as error:
        raise AreaError(
            error.what, file=area.file, where="[boat] motor_readings", do=error.do
        ) from error
    half = passes["drift_s"].to_numpy(float) / 2
    push = passes[["push_mps", "push_end_mps"]].to_numpy(float)
    return charge_of(curve, push.ravel(), np.repeat(half, 2))


def power_facts(area: Area, passes: gpd.GeoDataFrame, runs: gpd.GeoDataFrame) -> list[str]:
    """Say what a plan takes of battery and fuel; nothing of what the area does not know."""
    sentences = []
    charge = charge_of_passes(area, passes)
    if charge is not None and len(passes):
        sentences.append(f"{_charge_words(charge, area)}.")
    litres = area.boat.fuel_litres_an_hour
    if litres is not None and len(runs):
        hours = float((runs["end"] - runs["start"]).dt.total_seconds().sum()) / 3600
        sentences.append(f"Its runs take {litres * hours:.1f} litres of fuel, in calm water.")
    return sentences


def power_danger(area: Area, passes: gpd.GeoDataFrame) -> str:
    """Say that the battery may not last; ``""`` where it does, or that is not known."""
    charge, holds = charge_of_passes(area, passes), area.boat.battery_ah
    if charge is None or holds is None or not charge.high_ah > holds:
        return ""
    return f"The battery may not last. {_charge_words(charge, area)}."


def _charge_words(charge: Charge, area: Area) -> str:
    if np.isnan(charge.mean_ah):
        return "The use of the battery is not known: the plan pushes beyond your readings"
    holds: Any = area.boat.battery_ah
    words = f"This plan takes {charge.low_ah:.0f}-{charge.high_ah:.0f} Ah of the battery"
    return words if holds is None else f"{words}; yours has {holds:.0f}"
