"""A drift of a plan, measured; and the tables of lines and passes."""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString

from layers.planning.day.reasons import Landmarks, trim_words, why_words
from layers.planning.drift._drift import DriftTracks
from layers.planning.drift._fan import boats_stopped, chance_of_staying, share_in_band
from layers.planning.drift._motor import trim_changes
from layers.planning.drift._setting import DayWater, Setting
from layers.water.times import seconds_between, stamp
from seabed.array_types import Floats, Pair
from seabed.geodesy import bearing_deg, path_m, step_lengths
from seabed.grid import cell_size
from seabed.grid.places import sample
from seabed.schema import Table
from seabed.units import Say, in_metres

_MEASURED: Final = Table.of(
    "measured",
    "layers.planning.plan_day",
    """
    distance_m ["Distance" distance .2] over the ground
    bearing_deg ["Course"] from start to end
    sog_mps ["Speed" .1] over the ground
    push_mps ["Push" .1] of the motor through the water at the start; 0 if left alone
    push_deg ["Push toward" empty] at the start; NaN if left alone
    push_end_mps ["Push at the end" .1] of the motor at the end, where it changes
    push_end_deg ["Push toward at the end" empty] at the end; NaN if left alone
    trim [text] in words
    depth_start_m of the water at the start
    depth_min_m ["Least depth" least] of the water, rounded down
    depth_mean_m of the water
    depth_max_m ["Greatest depth"] of the water
    share_in_band ["In the band" share] of its time, by the charted depth
    band_s [empty] so long in the band; NaN without one
    fan_in_band ["Boats in the band" share] of the time of 256 doubtful boats with that trim
    fan_stays chance that one of them is four fifths of its time in the band
    fan_boats [int "Boats"] how many
    fan_stopped [int "Boats stopped"] how many of them land, a hazard's clearance or too little
        water stop, 1 in 50 at the most
    worth [empty] of an hour of fishing, running straight back and setting up
    geometry [LineString] its vertices even in time and at most 30 s apart
    """,
)
PLAN: Final = (
    Table.of(
        "plan",
        "layers.planning.plan_day",
        """
        plan_id [text "Line"] P1, P2, ...; of one beside a line that and its side
        kind [text] line, beside or again
        slot_start ["From" time] the first pass begins, UTC
        slot_end ["To" time] the last pass ends, UTC
        latest_start [time empty] the last of every ten minutes at which a pass can still be made
            from the mark, in the same tide
        drift_s ["Lasts"] one pass
        passes [int "Passes"] how many
        """,
    )
    + _MEASURED
    + Table.of(
        "reasons",
        "",
        """
        worth_kind [text empty] what worth counts
        again_of [text empty] the line of the logbook that it drifts again
        why [text "Why"] in words
        """,
    )
)
"""Lines of a plan."""
PASSES: Final = (
    Table.of(
        "passes",
        "layers.planning.plan_day",
        """
        plan_id [text] of its line
        pass_number [int] from 1
        start, end [time] UTC
        drift_s from start to end
        """,
    )
    + _MEASURED
)
"""Passes of a plan's lines."""

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

LOOKS_A_CELL: Final = 8
"""Between the looks bilinear depth falls at most by the slope times a sixteenth of a cell."""


def drift_row(
    setting: Setting,
    tracks: DriftTracks,
    last: int,
    *,
    boats: DriftTracks | None = None,
) -> dict[str, Any]:
    """Measure the drift of a boat up to its point `last`, 1 or more; every column of the drift."""
    along = slice(0, last + 1)
    longitude, latitude = tracks.longitude[0, along], tracks.latitude[0, along]
    times = tracks.times[along]
    drift_s = float(seconds_between(times[0], times[-1]))
    distance = path_m(longitude, latitude)
    bearing = float(bearing_deg(longitude[0], latitude[0], longitude[-1], latitude[-1]))
    charted, water = _depths_along(setting, longitude, latitude, times)
    shallow, deep = setting.band_m
    in_band = float(np.mean((charted >= shallow) & (charted <= deep)))
    if boats is None:
        boats = setting.fan(longitude[0], latitude[0], times[0], drift_s)
    return {
        "start": stamp(times[0]),
        "end": stamp(times[-1]),
        "drift_s": drift_s,
        "distance_m": distance,
        "bearing_deg": bearing,
        "sog_mps": distance / drift_s,
        **_trim(setting.water, (times, longitude, latitude), bearing),
        "depth_start_m": float(water[0]),
        "depth_min_m": float(np.floor(1000.0 * water.min()) / 1000.0),  # and never more
        "depth_mean_m": float(water.mean()),
        "depth_max_m": float(water.max()),
        "share_in_band": in_band,
        "band_s": in_band * drift_s if np.isfinite(deep) else np.nan,
        "fan_in_band": share_in_band(boats, setting.band_m),
        "fan_stays": chance_of_staying(boats, setting.band_m),
        "fan_boats": len(boats.ended),
        "fan_stopped": boats_stopped(boats),
        "geometry": LineString(np.column_stack([longitude, latitude])),
    }


def _trim(water: DayWater, path: tuple[Any, Any, Any], bearing_deg: float) -> dict[str, Any]:
    """Give the trim that is printed for a drift, by its times, longitudes and latitudes."""
    if water.held_mps is None:
        return {
            "push_mps": 0.0, "push_deg": np.nan, "push_end_mps": 0.0, "push_end_deg": np.nan,
            "trim": trim_words(None, None, bearing_deg),
        }  # fmt: skip
    start, end = (water.push_at(*(part[at] for part in path)) for at in (0, -1))
    last = end if trim_changes(start, end)[0] else start
    return {
        "push_mps": float(start.push_mps[0]),
        "push_deg": float(start.heading_deg[0]),
        "push_end_mps": float(last.push_mps[0]),
        "push_end_deg": float(last.heading_deg[0]),
        "trim": trim_words(start, last, bearing_deg),
    }


def why_row(
    row: dict[str, Any], structure: Landmarks | None = None, say: Say = in_metres
) -> dict[str, Any]:
    """Say why a drift was chosen, from its row; what it passes, where `structure` is given."""
    passed = {}
    if structure is not None and row["distance_m"] > 0:
        passed = structure.along(gpd.GeoSeries([row["geometry"]], crs="EPSG:4326"))
    return {"why": why_words(passed, row["distance_m"], row["band_s"], row["drift_s"], say)}


def line_of_passes(passes: list[dict[str, Any]]) -> dict[str, Any]:
    """Put the rows of a line's passes, one or more, into the line's row.

    It is the first pass, but for the depths, which are the least and the greatest of all passes,
    and its worth, which is their mean.
    """
    first, last = passes[0], passes[-1]
    return {
        **{name: value for name, value in first.items() if name not in {"start", "end"}},
        "slot_start": first["start"],
        "slot_end": last["end"],
        "passes": len(passes),
        "depth_min_m": min(row["depth_min_m"] for row in passes),
        "depth_max_m": max(row["depth_max_m"] for row in passes),
        "worth": float(np.mean([row["worth"] for row in passes])),
    }


def _depths_along(
    setting: Setting,
    longitude: Floats,
    latitude: Floats,
    times: NDArray[np.datetime64],
) -> Pair:
    """Charted depth and water under the boat, `LOOKS_A_CELL` a cell or more, even in time."""
    step_m = float(np.max(step_lengths(longitude, latitude), initial=0.0))
    parts = 1 + int(LOOKS_A_CELL * step_m / cell_size(setting.safe.grid).typical)
    at = np.arange(parts * (len(times) - 1) + 1) / parts
    steps = np.arange(len(times))
    x, y = np.interp(at, steps, longitude), np.interp(at, steps, latitude)
    seconds = np.interp(at, steps, seconds_between(times[0], times))
    moments = times[0] + (seconds * 1e9).astype("timedelta64[ns]")
    charted = sample(setting.safe.grid, x, y)
    return charted, charted + setting.safe.height(moments)
