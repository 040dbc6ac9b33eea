"""Hot stretches of lines, and what shortening the drift to them would save and give."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely.ops

from layers.scoring.along import LineFish, line_axes, line_fish, metres_of, rates_beside
from layers.scoring.lines import ON_LINES
from layers.scoring.ranking import LINES
from layers.scoring.samples import SAMPLES, weights_of
from layers.scoring.scan import Stretch, chance_to_see, scan_stretch
from seabed.array_types import Mask
from seabed.geodesy import utm_of
from seabed.schema import Table
from seabed.units import Say, in_metres, luck_words, rounded

STRETCHES: Final = Table.of(
    "stretches",
    "layers.scoring.stretches.hot_stretches",
    """
    line [text "Line"] its name
    hot [bool] luck does not explain it, with the false share over all lines held
        (Benjamini & Hochberg 1995)
    p chance of such a stretch by luck, of this line alone
    start_m ["Begins" distance .2] along the line, with `LEAD_M` before
    end_m ["Ends" distance .2] along the line, with `LEAD_M` after
    line_length_m ["Whole line" distance .2] of the longest drift
    fish, fish_elsewhere [int] in it, and on the rest of the line; weights rounded
    expected fish due to its effort
    rod_hours, share_of_effort in it
    rate_here of visits left out of the search, since the best of many windows flatters itself
    rate_elsewhere, rate_line [empty] fish a rod-hour
    saves_s a pass is shorter by
    gives fish a rod-hour more than the whole line
    start_longitude, start_latitude, end_longitude, end_latitude of its ends
    why [text "Why"] in words
    geometry [LineString]
    """,
)

BIN_M: Final = 20.0
LEAD_M: Final = 15.0
"""A shortened drift begins and ends this much outside: baits must be down, and a fish is
logged a little after its bite.  Common practice, no source."""

FALSE_SHARE: Final = 0.065
"""Of the stretches called hot, that luck explains anyway, where there are many lines.  Less than a
tenth, since shoals and good spells are not as even as the shifts that luck is judged by."""
LINE_SHARE: Final = 0.03
"""Of lines of even worth, that are called hot, where there are few."""

ENOUGH_CHANCE: Final = 0.5
"""Chance to see a threefold stretch, below which a line has too few fish to show one."""

ROUNDEST: Final = 0.15
"""Share of a line that the boat passes between two times of a rounded clock, above which places
along it are not known."""

DRAWN_BY: Final = 3.0
"""Bites at the line's rate that the rate of a hot stretch is drawn toward it by: what was called
hot flatters itself even where it was left out (docs/scores.md).  Where fish come in twos, twice as
many fish."""

LEAST_SAVED_S: Final = 60.0
"""Of a pass, below which a shorter drift is not worth saying.  Common practice, no source."""


def hot_stretches(
    lines: gpd.GeoDataFrame,
    drifts: gpd.GeoDataFrame,
    samples: pd.DataFrame,
    *,
    bin_m: float = BIN_M,
    rounded_s: float = 0.0,
    replicates: int = 999,
    seed: int = 0,
    say: Say = in_metres,
) -> gpd.GeoDataFrame:
    """Find the hottest stretch of each line and say what shortening the drift to it would do.

    Places along a line are measured on its longest drift, in bins of `bin_m`; every drift's effort
    and fish count where they were.  What is beyond its ends is none of its stretches, but counts
    for the whole line.  `scan_stretch` finds it, and shifts the fish of each visit along their own
    tracks for its p, so that fish that come together are no proof of a place.

    rounded_s: of the log's times (`rounding_s`): where a boat drifts far in that time, nothing is
        hot.
    Returned: rows of `STRETCHES`, in the order of `lines`, for those that have one.
    """
    LINES.check(lines, "line", "geometry")
    ON_LINES.check(drifts, "line", "duration_s", "geometry")
    SAMPLES.check(
        samples, "line", "drift_id", "trip", "longitude", "latitude", "sog_mps", "rod_hours", "fish"
    )
    if not len(lines) or not len(samples):
        return STRETCHES.empty()
    crs = utm_of(lines)
    axes = line_axes(drifts, crs)
    seconds = drifts.groupby("line")["duration_s"].mean()
    places = np.column_stack(metres_of(samples["longitude"], samples["latitude"], crs))
    hours, fish = samples["rod_hours"].to_numpy(float), weights_of(samples)
    drift, visit = samples["drift_id"].to_numpy(), samples["trip"].to_numpy()
    pace = samples.groupby("line")["sog_mps"].median().fillna(0.0)
    candidates, worths = [], []
    for name, rows in samples.groupby("line").indices.items():
        along = line_fish(
            axes[name], places[rows], hours[rows], fish[rows], bin_m, drift[rows], visit[rows]
        )
        stretch = scan_stretch(
            along.hours, along.fish, strew=along.strew(), replicates=replicates, seed=seed
        )
        if stretch is not None:
            candidates.append((name, along, stretch))
    hot = _not_by_luck([stretch.p for _, _, stretch in candidates])
    for (name, along, stretch), true in zip(candidates, hot, strict=True):
        blur = _Blur(rounded_s, rounded_s * float(pace[name]))
        worth = _worth(
            along, stretch, float(seconds[name]), hot=bool(true) and not blur.hides(along)
        )
        why = _why(along, stretch, worth, blur, say=say, seed=seed)
        worths.append({"line": name, **worth, "why": why})
    order = {name: place for place, name in enumerate(lines["line"])}
    worths.sort(key=lambda row: order[row["line"]])
    pieces = gpd.GeoSeries([row["geometry"] for row in worths], crs=crs).to_crs("EPSG:4326")
    return STRETCHES.frame(
        [
            row | _ends(piece) | {"geometry": piece}
            for row, piece in zip(worths, pieces, strict=True)
        ]
    )


def _not_by_luck(chances: list[float]) -> Mask:
    """Say which findings hold with the false share controlled (Benjamini & Hochberg 1995)."""
    p, count = np.asarray(chances, float), len(chances)
    share = min(FALSE_SHARE, LINE_SHARE * count)
    allowed = share * np.arange(1, count + 1) / max(count, 1)
    passed = np.flatnonzero(np.sort(p) <= allowed)
    return np.asarray(p <= (np.sort(p)[passed[-1]] if len(passed) else -1.0))


@dataclass(frozen=True, slots=True)
class _Blur:
    """How round the times of a log are, and how far the boat drifts meanwhile."""

    seconds: float
    metres: float

    def hides(self, along: LineFish) -> bool:
        """Whether places along a line are not known for it."""
        return bool(self.metres > ROUNDEST * along.axis.length)


def _worth(along: LineFish, stretch: Stretch, drift_s: float, *, hot: bool) -> dict[str, Any]:
    """Give what a stretch pays; its geometry still on the plane."""
    length, bin_m = along.axis.length, along.bin_m
    start = max(stretch.first * bin_m - LEAD_M, 0.0)
    end = min((stretch.last + 1) * bin_m + LEAD_M, length)
    inside = float(along.hours[stretch.first : stretch.last + 1].sum())
    here, elsewhere, line = rates_beside(stretch.fish, inside, along.all_fish, along.all_hours)
    if hot:
        here = _rate_left_out(along, here, line)
    return {
        "start_m": start, "end_m": end, "line_length_m": length, "hot": hot, "p": stretch.p,
        "fish": round(stretch.fish), "fish_elsewhere": round(along.all_fish - stretch.fish),
        "expected": stretch.expected, "rod_hours": inside,
        "share_of_effort": inside / along.all_hours, "rate_here": here,
        "rate_elsewhere": elsewhere, "rate_line": line,
        "saves_s": drift_s * (1.0 - (end - start) / length), "gives": here - line,
        "geometry": shapely.ops.substring(along.axis, start, end),
    }  # fmt: skip


def _why(
    along: LineFish, stretch: Stretch, worth: dict[str, Any], blur: _Blur, *, say: Say, seed: int
) -> str:
    if blur.hides(along):
        return (
            f"Times in the log are round to {rounded(blur.seconds / 60)} min, {say(blur.metres)} "
            "of drift: they can't show a stretch."
        )
    where = f"from {say(worth['start_m'])} to {say(worth['end_m'])} of its {say(along.axis.length)}"
    came = f"{rounded(stretch.fish)} of {rounded(along.all_fish)} fish"
    share = f"{came} in {worth['share_of_effort']:.0%} of the hours"
    if not worth["hot"]:
        chance = chance_to_see(along.hours, round(along.fish.sum()), seed=seed)
        if chance < ENOUGH_CHANCE:
            return (
                f"{rounded(along.all_fish)} fish cannot show a stretch: about {chance:.0%} chance "
                "to see a threefold one."
            )
        return f"{share} ({luck_words(stretch.p)}), {where}: luck explains it."
    here, line = (rounded(worth[name], 1) for name in ("rate_here", "rate_line"))
    gain = f"about {here} fish a rod-hour instead of {line}."
    if worth["saves_s"] < LEAST_SAVED_S:
        return f"{share} ({luck_words(stretch.p)}): drift all of this, {where}; it gives {gain}"
    less = f"each pass is {rounded(worth['saves_s'] / 60)} min shorter and gives {gain}"
    return f"{share} ({luck_words(stretch.p)}): drift it shorter, {where}; {less}"


def _rate_left_out(along: LineFish, here: float, line_rate: float) -> float:
    """Rate in the hottest stretch of all other visits, over the visits left out one by one.

    The best of many windows flatters itself on the fish that chose it, not on those left out
    (cross-validation: Stone 1974).  Where none of the others shows one, `here` stays.
    """
    hours, fish = 0.0, 0.0
    for visit in dict.fromkeys(along.visit):
        other = scan_stretch(*along.without(visit), replicates=0)
        if other is not None:
            inside = (along.place >= other.first) & (along.place <= other.last)
            inside &= along.visit == visit
            hours += float(along.sample_hours[inside].sum())
            fish += float(along.sample_fish[inside].sum())
    drawn = DRAWN_BY * along.bunching
    return (fish + drawn) / (hours + drawn / line_rate) if hours > 0 else here


def _ends(line: Any) -> dict[str, float]:
    (west, south), (east, north) = line.coords[0][:2], line.coords[-1][:2]
    return {
        "start_longitude": west, "start_latitude": south,
        "end_longitude": east, "end_latitude": north,
    }  # fmt: skip
