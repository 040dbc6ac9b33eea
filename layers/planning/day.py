"""The plan for a day: which drift in which slot of the tide."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Final

import geopandas as gpd
import numpy as np
import xarray as xr

from layers.planning.beside import Beside
from layers.planning.choice import LEFT_AFTER_A_DRIFT, choose, refused_by_fan
from layers.planning.laying import Laid, lay_day
from layers.planning.paid import PaidLine
from layers.planning.pass_fans import PassFans
from layers.planning.passes import Place
from layers.planning.plan import Plan, Telling, plan_of
from layers.planning.runs import Runs
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
    runs: Runs | None = None,
    home: Place | None = None,
    beside: Beside | None = None,
) -> Plan:
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

    runs : Runs, optional
        If they are at hand.
    home : (longitude, latitude), optional
        Where the boat comes from and goes to.
    beside : Beside, optional
        Passes that take turns with those of a line.

    Returns
    -------
    Plan
        Three tables, EPSG:4326, in order of time, times UTC; no line gives empty ones.

        ``lines``: plan_id, kind ("line", or "beside" after its line), slot_start, slot_end (begin
        of its first pass and end of its last), latest_start (the last of every ten minutes at which
        a pass can still be made from the mark, in the same tide), passes (how many were followed),
        all that a pass has as on the first one, but depth_min_m and depth_max_m (least and greatest
        of all its passes) and worth (their mean); worth_kind, again_of (line of the logbook that it
        drifts again, ``""`` for none), why, geometry LineString.

        ``passes``: plan_id, pass_number (1, 2, ... of its plan_id), start, end, drift_s,
        distance_m, bearing_deg, sog_mps, push_mps, push_deg, push_end_mps, push_end_deg (motor
        through the water at the start and, where it changes, at the end; 0 and NaN if left to
        itself), trim (words), depth_start_m, depth_min_m, depth_mean_m, depth_max_m (water under
        the boat then), share_in_band, band_s (by charted depth), fan_in_band (share of the time of
        256 doubtful boats that hold that trim), fan_stays (chance that one is four fifths of its
        time in the band), fan_boats, fan_stopped (how many of them land, a hazard's clearance or
        too little water stop, 1 in 50 at the most), worth (an hour of fishing, running straight
        back and setting up), geometry LineString, its vertices even in time and at most 30 s apart.

        ``runs``: plan_id and pass_number of the pass that it leads to (``""`` and 0 home), start,
        end, distance_m, bearing_deg (from its start to its end), least_water_m, caution (``""``
        where all is well), geometry LineString, as `layers.planning.runs.Run`.

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
    chosen_in = partial(_chosen, setting=setting, corridor_m=corridor_m, left=left)
    lay = partial(
        lay_day, slots, chosen_in(slots), setting,
        runs or Runs.of(setting.safe, running_mps=setting.limits.running_mps),
        choose_in=lambda slot: chosen_in([slot])[0], home=home,
    )  # fmt: skip
    fans = PassFans()
    laid = _agreed(lay, fans)
    if beside is not None:
        at = beside.number_of([line.again_of for line in laid.lines])
        laid = _agreed(partial(lay, beside=(at, beside.ways)), fans)
    return plan_of(laid, Telling(structure, say, worth_kind, corridor_m), fans, beside)


def _agreed(lay: Callable[..., Laid], fans: PassFans) -> Laid:
    """Lay a day again and again, until no pass is left that its fan refuses."""
    while True:
        laid = lay(refuses=fans.refuses)
        if fans.agree(one for line in laid.lines for _, one in line.passes):
            return laid


def _chosen(
    slots: Sequence[Slot], *, setting: Setting, corridor_m: float, left: float
) -> list[int | None]:
    return choose(
        [slot.candidates for slot in slots], [slot.worth for slot in slots],
        corridor_m=corridor_m, left=left, refuses=refused_by_fan(slots, setting),
    )  # fmt: skip
