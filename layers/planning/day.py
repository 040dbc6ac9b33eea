"""The plan for a day: which drift in which slot of the tide."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import geopandas as gpd
import numpy as np
import xarray as xr

from layers.planning.choice import LEFT_AFTER_A_DRIFT, choose
from layers.planning.hot import shortened_to
from layers.planning.latest import latest_start
from layers.planning.line import line_row, lines_table, stamp
from layers.planning.paid import PaidLine
from layers.planning.passes import fit_passes
from layers.planning.setting import Setting
from layers.planning.slots import Slot, WorthAt, slots_of_day
from layers.planning.words import Say, Structure, in_metres

__all__ = ["STRUCTURE_SCORE", "plan_day"]

STRUCTURE_SCORE: Final = "structure score"


def plan_day(
    setting: Setting,
    worth: xr.DataArray | WorthAt,
    start: np.datetime64,
    end: np.datetime64,
    *,
    slot_s: float = 2700.0,
    spacing_m: float = 40.0,
    corridor_m: float = 40.0,
    stretches: gpd.GeoDataFrame | None = None,
    structure: Structure | None = None,
    worth_kind: str = STRUCTURE_SCORE,
    say: Say = in_metres,
    slots: list[Slot] | None = None,
    left: float = LEFT_AFTER_A_DRIFT,
    paid: Sequence[PaidLine] = (),
) -> gpd.GeoDataFrame:
    """Lay one drift in each slot from `start` to `end`, in the order the tide wants.

    Parameters
    ----------
    setting : Setting
    worth : DataArray or callable
        Worth of an hour over each cell (`structure_worth`, or expected fish for a rod-hour), on the
        cells of the setting's grid; or a function that gives it for a UTC moment.
    start, end : datetime64
        UTC.
    slot_s : float
        Seconds spent on one line before the next; the last slot and its drift end by `end`, and
        there is none where that leaves less than the shortest drift.
    spacing_m : float
        Metres between the starts that are tried.
    corridor_m : float
        Half width of ground one line uses up, and of a hot stretch.
    stretches : GeoDataFrame, optional
        From `layers.scoring.hot_stretches`: the hot ones count for more while the water runs over
        them as it did when they paid, so that drifts are shortened to them.
    structure : Structure, optional
        To name in ``why``.
    worth_kind : str
        What ``worth`` is, for the reader.
    say : callable
        Writes lengths in ``why``.
    slots : list of Slot, optional
        `slots_of_day`, if they are at hand.
    left : float
        As `choose`.
    paid : sequence of PaidLine
        From `paid_lines`: drifted again, where the tide runs as it did then, in the water that
        their drifts showed.  Not asked for with `slots`.

    Returns
    -------
    GeoDataFrame, EPSG:4326, in order of time
        plan_id, kind ("line"), slot_start, slot_end, latest_start (UTC; a later start from the same
        mark is worth less than seven tenths as much, or is stopped), drift_s, passes, distance_m,
        bearing_deg, sog_mps, push_mps, push_deg (motor through the water at the start; 0 and NaN if
        left to itself), trim (words), depth_start_m, depth_min_m, depth_mean_m, depth_max_m (water
        under the boat then), share_in_band, band_s (of one pass, by charted depth), fan_in_band
        (share of the time of 64 doubtful boats), fan_stays (chance that one is four fifths of its
        time in the band), worth (an hour of fishing, running back and setting up), worth_kind,
        again_of (line of the logbook that it drifts again, ``""`` for none), why, geometry
        LineString.  A line begins when the passes of the one before are over.  Slots in which no
        drift is worth anything are left out; none at all gives an empty table.

    Raises
    ------
    SeabedError
        As `slots_of_day`.
    """
    if slots is None:
        slots = slots_of_day(
            setting, worth, start, end, slot_s=slot_s, spacing_m=spacing_m,
            stretches=stretches, corridor_m=corridor_m, paid=paid,
        )  # fmt: skip
    chosen = choose(
        [slot.candidates for slot in slots], [slot.worth for slot in slots],
        corridor_m=corridor_m, left=left,
    )  # fmt: skip
    rows = []
    for number, turn in enumerate(fit_passes(slots, chosen, setting), 1):
        row = line_row(turn.setting, turn.tracks, turn.row, turn.last, structure=structure, say=say)
        row |= {
            "plan_id": f"P{number}",
            "kind": "line",
            "slot_end": stamp(turn.end),
            "passes": turn.passes,
            "worth": float(turn.slot.candidates.worth_per_hour[turn.place]),
            "worth_kind": worth_kind,
            "again_of": "",
        }
        slot, line = turn.slot, turn.slot.line_of(turn.place)
        if slot.hot is not None:
            row["why"] = shortened_to(row["geometry"], slot.hot, corridor_m, say=say) + row["why"]
        if line is not None:
            row["again_of"] = line.name
            row["why"] = f"{line.name} again, at the stage at which it paid. {row['why']}"
        row["latest_start"] = latest_start(turn.setting, slot.worth, row)
        rows.append(row)
    return lines_table(rows)
