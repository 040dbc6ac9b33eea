"""What was seen of the current that day, and what line and lead make of it."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from layers.area import Area
from layers.jobs.parts.facts import Place
from layers.jobs.parts.words import clock
from layers.water import Currents, Wind, leeway_of
from layers.water.learned.against_table import AgainstTable, FilledCurrent, Later
from layers.water.learned.drift_motions import drift_motions
from layers.water.line.cable import Tackle
from layers.water.line.lead import current_of, fastest_mps, parse_line
from layers.water.motion import set_and_drift
from layers.water.seen.corrected import CorrectedCurrents, Sighting, corrected
from layers.water.seen.sightings import parse_sighting, sightings_of_drifts
from layers.water.times import as_utc, day_bounds
from seabed.errors import SeabedError, WaterError
from seabed.units import WEIGHT, convert, format_quantity, rounded

if TYPE_CHECKING:
    import pandas as pd


def tackle_of(area: Area) -> Tackle:
    """Give the area's line and rig."""
    gear = area.tackle
    return Tackle(gear.line, gear.diameter_m, gear.bait_cm2 / 1e4)


def correct(
    area: Area,
    currents: Currents | None,
    seen: Sequence[str],
    day: date,
    *,
    wind: Wind | None,
    place: Place = (None, None),
) -> Currents | None:
    """Correct a day's currents by what was seen of them; None and no sighting change nothing.

    Raises SeabedError if a sighting can't be read, a track has no drift on that day, or there is
    no current to correct.
    """
    if not seen:
        return currents
    if currents is None:
        raise WaterError(
            "there is no current for a sighting to correct",
            key="seen",
            do="Name a table or a learned current: {water.currents}.",
        )
    sightings: list[Sighting] = []
    for words in seen:
        if os.path.isfile(words):  # noqa: PTH113 (it takes words of any length)
            sightings += _of_track(area, Path(words), day, wind)
        else:
            sightings.append(_typed(area, words, day))
    return corrected(currents, sightings, place=place)


def seen_facts(area: Area, currents: Currents | None) -> list[str]:
    """Say what the sightings changed, and how much later than its station the water turns here."""
    if isinstance(currents, FilledCurrent):
        return station_facts(currents.against)
    if not isinstance(currents, CorrectedCurrents):
        return []
    count = len(currents.sightings)
    prior = currents.currents
    sentences = station_facts(prior.against) if isinstance(prior, FilledCurrent) else []
    sentences += [
        f"The current is corrected by {count} sighting{'' if count == 1 else 's'}: "
        + "; ".join(_changed(area, currents, one) for one in currents.sightings)
        + "."
    ]
    changes = currents.changes()
    if changes is not None:
        share, turn, late = (changes[name] for name in ("share", "deg", "late_s"))
        sentences.append(
            f"Today's water against the table: {share[0]:+.0%} (± {share[1]:.0%}) of its speed, "
            f"{abs(turn[0]):.0f}° (± {turn[1]:.0f}°) {'right' if turn[0] >= 0 else 'left'} of its "
            f"direction, {abs(late[0]) / 60:.0f} min (± {late[1] / 60:.0f}) "
            f"{'later' if late[0] >= 0 else 'earlier'}."
        )
    return sentences


def has_time(line: str) -> bool:
    """Say whether the words of a line begin with the time at which it was seen.

    Examples
    --------
    >>> has_time("7:40 30 deg toward 160, 1.5 oz, 25 ft"), has_time("30 deg toward 160, 2 oz, 9 m")
    (True, False)
    """
    return _LED.match(line) is not None


_LED: Final = re.compile(r"\s*(?:at\s+)?\d{1,2}[:.h]\d{2}(?:\s*[ap]\.?m\.?)?\s*,?\s*(?=\d)", re.I)


def station_facts(against: AgainstTable | None) -> list[str]:
    """Say how much later the water turns on this ground than its station's table says."""
    if against is None:
        return []
    parts = [
        f"the {word} begins {_later(later)} the table says"
        for word, later in (("flood", against.flood), ("ebb", against.ebb))
        if later is not None
    ]
    low, middle, high = against.ratio
    fast = f"it runs {middle:.1f} times as fast ({low:.1f}-{high:.1f})"
    if not parts:
        return [f"Here {fast} as the table says; the drifts have too few turns of it."]
    return [f"Here {', '.join(parts)}, and {fast}."]


def _later(later: Later) -> str:
    minutes = [round(seconds / 60) for seconds in (later.low_s, later.middle_s, later.high_s)]
    if minutes[1] >= 0:
        return f"{minutes[1]} min after ({minutes[0]} to {minutes[2]})"
    return f"{-minutes[1]} min before ({-minutes[2]} to {-minutes[0]})"


def line_facts(area: Area, words: str) -> list[str]:
    """Say what current the line of a boat that holds its place shows."""
    try:
        seen = current_of(parse_line(_LED.sub("", words)), tackle_of(area))
    except WaterError as error:
        raise WaterError(error.what, key="line", do=error.do) from error
    unit = area.units.speed
    low, high = (rounded(convert(speed, unit), 1) for speed in seen.interval)
    return [
        f"The line shows {format_quantity(seen.speed_mps, unit, digits=1)} ({low} to {high}) "
        f"toward {seen.toward_deg:03.0f} (± {seen.toward_sd_deg:.0f}°) at the surface, if the boat "
        "holds still and the lead touches the bottom."
    ]


def lead_facts(area: Area, height_m: float) -> list[str]:
    """Say to what speed each lead holds the bottom in the middle of the depth band."""
    if area.depths.band_m is None:
        return []
    depth, gear = sum(area.depths.band_m) / 2 + height_m, area.tackle
    if not 1.5 <= depth <= 60.0:
        return []
    speeds = fastest_mps(gear.leads_kg, depth, angle_deg=gear.angle, tackle=tackle_of(area))
    unit = area.units.speed
    each = ", ".join(
        f"{lead_words(kg, area)} to {format_quantity(speed, unit, digits=1)}"
        for kg, speed in zip(gear.leads_kg, speeds, strict=True)
    )
    return [
        f"Lead in {format_quantity(depth, area.units.depth)}, the line {gear.angle:.0f}° off "
        f"straight down: {each} of water past the boat."
    ]


def lead_words(kg: float, area: Area) -> str:
    """Write a lead: ounces where depths are in feet or fathoms, else grams."""
    if area.units.depth == "m":
        return f"{kg * 1000:.0f} g"
    return f"{round(kg / WEIGHT['oz'] * 4) / 4:g} oz"


def lead_for(least_kg: float, area: Area) -> str:
    """Name the lead aboard that holds the bottom; ``""`` where it is not known."""
    if np.isnan(least_kg):
        return ""
    heavier = [kg for kg in area.tackle.leads_kg if kg >= 0.97 * least_kg]
    if heavier:
        return lead_words(heavier[0], area)
    return f"more than {lead_words(area.tackle.leads_kg[-1], area)}"


def _typed(area: Area, words: str, day: date) -> Sighting:
    try:
        return parse_sighting(words, day, area.timezone, tackle_of(area))
    except SeabedError as error:
        raise WaterError(error.what, key="seen", do=error.do) from error


def _of_track(area: Area, path: Path, day: date, wind: Wind | None) -> list[Sighting]:
    from layers.jobs.parts.cutting import cut_tracks
    from layers.tracks import drifts_of

    fixes, _, pieces, _ = cut_tracks(area, (path,))
    drifts = drifts_of(pieces, fixes, timezone=area.timezone)
    start, end = day_bounds(day, area.timezone)
    times = as_utc(drifts["start"])
    today: pd.DataFrame = drifts[(times >= start) & (times < end)]
    if not len(today):
        raise WaterError(
            f"has no drift on {day}",
            file=path,
            key="seen",
            do="Name a track of the day itself, with drifts on it without the motor.",
        )
    return sightings_of_drifts(drift_motions(fixes, today, wind), leeway_of(area.boat.craft))


def _changed(area: Area, currents: CorrectedCurrents, one: Sighting) -> str:
    def words(east: Any, north: Any) -> str:
        toward, speed = set_and_drift(east, north)
        amount = format_quantity(float(speed), area.units.speed, digits=1)
        return f"{amount} toward {float(toward):03.0f}" if speed > 0 else amount

    moments = as_utc([one.time])
    place = [] if currents.place[0] is None else [np.array([part]) for part in currents.place]
    prior = [float(part[0]) for part in currents.currents.velocity(moments, *place)]
    return (
        f"at {clock(one.time, area)} it ran {words(one.east_mps, one.north_mps)}, "
        f"{words(*prior)} {'as learned' if currents.changes() is None else 'by the table'}"
    )
