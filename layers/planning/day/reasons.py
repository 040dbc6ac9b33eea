"""Why a line was chosen, and how to steer on it, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import geopandas as gpd
import numpy as np
import shapely
from pyproj import CRS

from layers.planning.ground._worth import REACH_M
from layers.water.motion import Trim
from seabed.array_types import Floats
from seabed.units import SPEED, Say, half_turned, in_metres, percent, rounded

LEAST_PUSH_MPS: Final = 0.05 * SPEED["kn"]
"""A weaker push is none: it would be 0.0 kn in print."""


class Landmarks:
    """Edges, humps and holes to name in reasons, on a plane in metres; with ``rank``, "edge R3"."""

    def __init__(self, tables: Sequence[gpd.GeoDataFrame], crs: CRS) -> None:
        self.crs = crs
        self.names: list[str] = []
        shapes: list[Any] = []
        for table in tables:
            for row, shape in zip(
                table.to_dict("records"), table.geometry.to_crs(crs), strict=True
            ):
                self.names.append(_name(row))
                shapes.append(shape)
        self.shapes = np.array(shapes, dtype=object)

    def along(self, line: gpd.GeoSeries, within_m: float = REACH_M) -> dict[str, Floats]:
        """Metres along a line within reach of each thing, the one that it passes longest first."""
        if not len(self.shapes):
            return {}
        flat = line.to_crs(self.crs).iloc[0]
        at = np.linspace(0.0, flat.length, 2 + int(flat.length / 5.0))
        points = shapely.line_interpolate_point(flat, at)
        near = shapely.STRtree(self.shapes).query(points, predicate="dwithin", distance=within_m)
        passed: dict[str, list[float]] = {}
        for point, thing in near.T:
            passed.setdefault(self.names[thing], []).append(at[point])
        longest_first = sorted(passed.items(), key=lambda item: -len(item[1]))
        return {name: np.array(where) for name, where in longest_first}


def why_words(
    passed: dict[str, Floats], length_m: float, band_s: float, drift_s: float, say: Say = in_metres
) -> str:
    """Say what a line passes (`Landmarks.along`), how it begins, and how long it is in the band.

    band_s: NaN without a band.
    """
    clauses = []
    if passed:
        first = min(float(where.min()) for where in passed.values())
        name, where = next(iter(passed.items()))
        if first >= 5.0:
            clauses.append(f"starts {say(first)} up-current of structure")
        part = len(where) / (2 + int(length_m / 5.0))
        clauses.append(
            f"{'runs along' if part > 0.5 else 'passes'} {name} for {percent(part)} of its way"
        )
        if len(passed) > 1:
            clauses.append(f"then near {', '.join(list(passed)[1:3])}")
    else:
        over = "" if math.isnan(band_s) else ", but is over the depth band"
        clauses.append(f"passes no structure{over}")
    if not math.isnan(band_s):
        clauses.append(f"{rounded(band_s / 60)} of {rounded(drift_s / 60)} min in the band")
    words = "; ".join(clauses)
    return words[0].upper() + words[1:]


def trim_words(start: Trim | None, end: Trim | None, set_deg: float) -> str:
    """Say what the motor has to do, by where it pushes against the way the boat goes, degrees true.

    start, end, shape (1,): as printed for a drift; None where the boat is not held.
    """
    if start is None or end is None:
        return "Motor up: drift free"
    first, last = _push_words(start, set_deg), _push_words(end, set_deg)
    if first == last:
        return f"Motor {first}" if first else "The boat needs no push"
    return f"At first {_sentence(first)}; at the end {_sentence(last)}"


def _sentence(push: str) -> str:
    return f"the motor {push}" if push else "the boat needs no push"


def _push_words(push: Trim, set_deg: float) -> str:
    if not push.push_mps[0] > LEAST_PUSH_MPS:
        return ""
    aside_deg = half_turned(float(push.heading_deg[0]) - set_deg)
    how = "hard" if push.push_mps[0] > 0.5 else "gently" if push.push_mps[0] < 0.2 else "steadily"
    side = "right" if aside_deg > 0 else "left"
    if abs(aside_deg) <= 30.0:
        way = "with the drift, to keep it moving"
    elif abs(aside_deg) >= 150.0:
        way = "against the drift, to slow it"
    elif abs(aside_deg) < 90.0:
        way = f"ahead and to the {side} of the drift"
    else:
        way = f"back and to the {side} of the drift"
    return f"pushes {how} {way}"


def _name(row: dict[Any, Any]) -> str:
    kind = "edge" if "edge_id" in row else str(row["kind"])
    if row.get("rank", np.nan) > 0:  # NaN: not ranked
        return f"{kind} R{row['rank']:.0f}"
    if kind == "edge":
        return f"edge ED{row['edge_id']}"
    return f"{kind} {'H' if kind == 'hump' else 'D'}{row['feature_id']}"
