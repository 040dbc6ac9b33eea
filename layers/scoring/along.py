"""Effort and fish along the axis of a line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from layers.scoring.likeness import metric_lines
from layers.scoring.rates import SHAPE_GUESS
from layers.scoring.scan import Strew, shifted
from seabed.array_types import Floats, Ints, Mask, Pair
from seabed.geodesy import from_degrees, utm_zone

AXIS_M: Final = 2.0
"""Thinning of the drift that a line is measured on."""


@dataclass(frozen=True, slots=True)
class LineFish:
    """A line's axis, in metres, effort and fish (by weight) of its bins, and its samples."""

    axis: Any
    bin_m: float
    hours: Floats
    fish: Floats
    all_hours: float
    all_fish: float
    place: Ints
    sample_hours: Floats
    sample_fish: Floats
    drift: NDArray[Any]
    visit: NDArray[Any]

    def strew(self) -> Strew:
        """Shift fish along the tracks."""
        return shifted(self.place, self.sample_fish, self.drift, self.visit, len(self.hours))

    @property
    def bunching(self) -> float:
        """Variance over mean of a drift's fish nearby, by pairs in one sample or two running.

        Pairs that the rates of their places explain are taken out; at least 1, as of single fish.
        """
        fish, beside = self.sample_fish, self.drift[1:] == self.drift[:-1]
        rate = self.fish / np.maximum(self.hours, 1e-9)
        due = rate[self.place] * self.sample_hours
        pairs, by_rate = (
            own + float((one[1:] * one[:-1])[beside].sum())
            for one, own in (
                (fish, float((fish * (fish - 1)).sum()) / 2),
                (due, float((due**2).sum()) / 2),
            )
        )
        return 1.0 + 2.0 * max(pairs - by_rate, 0.0) / max(float(fish.sum()), 1.0)

    def without(self, visit: Any) -> Pair:
        """Effort and fish of the bins without one visit."""
        stay, bins = self.visit != visit, len(self.hours)
        hours = np.bincount(self.place[stay], self.sample_hours[stay], minlength=bins)
        fish = np.bincount(self.place[stay], self.sample_fish[stay], minlength=bins)
        return np.asarray(hours, np.float64), np.asarray(fish, np.float64)


def metres_of(longitude: Any, latitude: Any, crs: Any) -> tuple[Any, Any]:
    """Easting and northing of positions, metres."""
    x, y = from_degrees(crs).transform(np.asarray(longitude, float), np.asarray(latitude, float))
    return x, y


def on_plane(samples: pd.DataFrame) -> tuple[Floats, Any]:
    """Places of samples in metres, shape (n, 2), and the UTM zone of their middle."""
    places = samples[["longitude", "latitude"]].to_numpy(float)
    crs = utm_zone(*((np.nanmin(places, axis=0) + np.nanmax(places, axis=0)) / 2))
    return np.column_stack(metres_of(places[:, 0], places[:, 1], crs)), crs


def line_axes(drifts: gpd.GeoDataFrame, crs: Any) -> dict[Any, Any]:
    """Give the longest drift of each line, on a plane, thinned."""
    flat = metric_lines(drifts, crs)
    groups = drifts.groupby("line").indices
    longest = [rows[int(np.argmax(shapely.length(flat[rows])))] for rows in groups.values()]
    thin = shapely.simplify(flat[longest], AXIS_M, preserve_topology=False)
    return dict(zip(groups, thin, strict=True))


def line_fish(  # noqa: PLR0917
    axis: Any,
    places: Floats,
    hours: Floats,
    fish: Floats,
    bin_m: float,
    drift: NDArray[Any],
    visit: NDArray[Any],
) -> LineFish:
    """Place samples along an axis; those beyond its ends count for the whole line alone."""
    bins = max(int(np.ceil(axis.length / bin_m)), 1)
    located = shapely.line_locate_point(axis, shapely.points(places))
    on = ~_beyond(axis, places, located, bin_m)
    at = np.minimum((located[on] / bin_m).astype(np.int64), bins - 1)
    return LineFish(
        axis,
        bin_m,
        np.bincount(at, hours[on], minlength=bins).astype(float),
        np.bincount(at, fish[on], minlength=bins).astype(float),
        float(hours.sum()),
        float(fish.sum()),
        at,
        hours[on],
        fish[on],
        drift[on],
        visit[on],
    )


def _beyond(axis: Any, xy: Floats, located: Floats, reach_m: float) -> Mask:
    """Say which places are before the start or past the end of an axis, by more than a reach."""
    line = shapely.get_coordinates(axis)
    past = np.zeros(len(xy), bool)
    for end, before, level in ((line[0], line[1], 0.0), (line[-1], line[-2], axis.length)):
        way = (end - before) / max(np.hypot(*(end - before)), 1e-9)
        past |= (located == level) & ((xy - end) @ way > reach_m)
    return past


def rates_beside(
    fish: float, hours: float, all_fish: float, all_hours: float
) -> tuple[float, float, float]:
    """Rate in a window, drawn toward the whole's; elsewhere; of the whole."""
    whole = all_fish / all_hours
    here = (SHAPE_GUESS + fish) / (SHAPE_GUESS / whole + hours)
    rest = all_hours - hours
    return here, (all_fish - fish) / rest if rest > 0 else float("nan"), whole
