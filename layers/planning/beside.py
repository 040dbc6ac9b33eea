"""Passes beside a line, at a spacing."""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.planning.line import line_row, lines_table, stamp
from layers.planning.setting import Setting
from layers.planning.words import Say, Structure, in_metres
from layers.water.times import moment
from seabed.errors import SeabedError
from seabed.geodesy import ahead, distance_m

__all__ = ["LEAST_SPACING_M", "line_called", "passes_beside", "with_beside"]

LEAST_SPACING_M: Final = 1.0


def passes_beside(
    setting: Setting,
    line: Any,
    spacing_m: float,
    *,
    each_side: int = 1,
    structure: Structure | None = None,
    say: Say = in_metres,
) -> list[dict[str, Any]]:
    """Drift beside a line of a plan, from starts that lie square to it at a spacing.

    Parameters
    ----------
    setting : Setting
    line : row of a plan, as ``itertuples`` gives it
    spacing_m : float
        From one pass to the next.
    each_side : int
        Passes to the left, and to the right, of it.
    structure, say
        As `line_row`.

    Returns
    -------
    list of dict
        Rows of kind "beside", nearest first, the left one of two before the right, named
        ``"P2 L1"``, ``"P2 R1"``.  They start at the times their passes come in the slot.  One that
        is stopped before the shortest drift is left out.

    Raises
    ------
    SeabedError
        If the spacing is less than a metre.
    """
    if not spacing_m >= LEAST_SPACING_M:
        raise SeabedError(
            f"passes {spacing_m:g} m apart are one", key="spacing", do='Say it like "20 m".'
        )
    longitude, latitude = line.geometry.coords[0][:2]
    east, north = line.geometry.coords[-1][:2]
    back_s = distance_m(east, north, longitude, latitude)
    each_s = line.drift_s + setting.limits.set_up_s + back_s / setting.limits.running_mps
    rows: list[dict[str, Any]] = []
    for number in range(1, each_side + 1):
        for side, turn in (("L", -90.0), ("R", 90.0)):
            place = ahead(longitude, latitude, line.bearing_deg + turn, number * spacing_m)
            begin = line.slot_start + pd.Timedelta(seconds=each_s * (len(rows) + 1))
            row = _pass(setting, line, place, moment(begin), structure=structure, say=say)
            if row is not None:
                where = f"{say(number * spacing_m)} to the {'left' if side == 'L' else 'right'}"
                row |= {
                    "plan_id": f"{line.plan_id} {side}{number}",
                    "why": f"Beside {line.plan_id}, {where}. {row['why']}",
                }
                rows.append(row)
    return rows


def with_beside(
    plan: gpd.GeoDataFrame, name: str, setting: Setting, spacing_m: float, **options: Any
) -> gpd.GeoDataFrame:
    """Put the passes beside one line of a plan into it, after the line; as `passes_beside`.

    The line is called by its name in the plan, or by that of the logbook's line which it drifts
    again (the first, if it comes more than once).  `setting` is the one in which it is drifted:
    see `line_called` and `layers.planning.setting_for`.

    Raises
    ------
    SeabedError
        If the plan has no line of that name.
    """
    line = line_called(plan, name)
    names, wanted = plan["plan_id"].tolist(), line.plan_id
    beside = passes_beside(setting, line, spacing_m, **options)
    at = names.index(wanted) + 1
    rows = plan.to_dict("records")
    return lines_table([*rows[:at], *beside, *rows[at:]])


def line_called(plan: gpd.GeoDataFrame, name: str) -> Any:
    """Find a line by its own name or by that of the line that it drifts again; a row of the plan.

    Raises
    ------
    SeabedError
        If there is none.
    """
    wanted = name.strip().upper()
    for column in ("plan_id", "again_of"):
        for row in plan.itertuples():
            if str(getattr(row, column)).upper() == wanted != "":
                return row
    logged = [line for line in dict.fromkeys(plan["again_of"]) if line]
    names = [*plan["plan_id"], *logged]
    known = f"Name one of {', '.join(names)}." if names else "This plan has no line."
    raise SeabedError(f"no line {name!r} in this plan", key="beside", do=known)


def _pass(
    setting: Setting,
    line: Any,
    place: tuple[float, float],
    begin: np.datetime64,
    *,
    structure: Structure | None,
    say: Say,
) -> dict[str, Any] | None:
    """Drift once from a place for as long as the line, or as far as the water lets it."""
    tracks = setting.drifts(
        np.array([place[0]]), np.array([place[1]]), np.array([begin]), line.drift_s
    )
    last = int(np.isfinite(tracks.longitude[0]).sum()) - 1
    seconds = float((tracks.times[max(last, 0)] - tracks.times[0]) / np.timedelta64(1, "s"))
    if seconds < min(setting.limits.shortest_s, line.drift_s):
        return None
    row = line_row(setting, tracks, 0, last, structure=structure, say=say)
    return row | {
        "kind": "beside",
        "slot_end": stamp(begin) + pd.Timedelta(seconds=row["drift_s"]),
        "latest_start": line.latest_start,
        "passes": 1,
        "worth": line.worth * row["share_in_band"] / max(line.share_in_band, 0.01),
        "worth_kind": line.worth_kind,
        "again_of": line.again_of,
    }
