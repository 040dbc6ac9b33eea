"""What could hurt on a planned day: hours within the boat's limits, and warnings in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import xarray as xr

from layers.area import Area
from layers.jobs.parts.area_water import boat_limits, ends_inside
from layers.jobs.parts.facts import power_danger
from layers.jobs.parts.words import (
    beyond_words,
    clock,
    left_out_lines,
    limit_words,
    short_unit,
)
from layers.jobs.plan._inputs import Hours
from layers.planning import DayWater, Setting
from layers.planning.day.dangers import Danger, dangers_of
from layers.planning.day.timetable import arrival
from layers.water import Heights, OpenHours
from layers.water.boat.launch import LaunchHours
from layers.water.currents.currents import same_everywhere
from layers.water.day.limits import open_spans
from layers.water.heights.datums import datum_fault
from layers.water.times import moment
from seabed.errors import SeabedError
from seabed.geodesy import to_degrees
from seabed.grid import crs_of, degree_bounds
from seabed.units import format_quantity

MOST_PLACES: Final = 60
"""At which a current that differs from place to place is looked at."""


Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Safety:
    """What could hurt on a planned day, in the area's units and zone, the worst first.

    beyond: that the plan is beyond the boat's limits; ``""`` if not.
    """

    hours: OpenHours
    dangers: tuple[Danger, ...]
    words: tuple[str, ...]
    beyond: str

    @property
    def warnings(self) -> list[str]:
        """All but what `beyond` says, the worst first."""
        pairs = zip(self.dangers, self.words, strict=True)
        return [words for danger, words in pairs if danger.kind != "beyond limits"]

    def of_line(self, name: str) -> str:
        """Give the warnings of one line; that the plan is beyond the limits comes first."""
        own = [
            words
            for danger, words in zip(self.dangers, self.words, strict=True)
            if name in danger.lines
        ]
        return " ".join([*([self.beyond] if self.beyond else []), *own])

    def records(self) -> list[dict[str, Any]]:
        """Give the warnings for machines, times in UTC."""
        pairs = zip(self.dangers, self.words, strict=True)
        return [asdict(danger) | {"words": words} for danger, words in pairs]


def open_hours(
    area: Area, when: Hours, water: DayWater, grid: xr.DataArray, *, beyond: bool, least_s: float
) -> OpenHours:
    """Find the hours within the boat's limits; SeabedError if no span of them lasts `least_s`.

    beyond: whether hours beyond the limits are used anyway.
    """
    longitude, latitude = _places(
        grid, area.depths.sought_m, everywhere=same_everywhere(water.currents)
    )
    hours = open_spans(
        when.start, when.end, limits=boat_limits(area), wind=water.wind, currents=water.currents,
        longitude=longitude, latitude=latitude, sea=water.sea,
    )  # fmt: skip
    if beyond:
        return OpenHours.whole(when.start, when.end, hours.left_out)
    long_enough = [b - a >= np.timedelta64(round(least_s), "s") for a, b in hours.spans]
    if len(hours.left_out) and not any(long_enough):
        why = "; ".join(left_out_lines(hours.left_out, area))
        raise SeabedError(
            f"none of these hours is within the boat's limits: {why}",
            do="Choose other hours or another day. The limits are yours: {boat}. {beyond_limits} "
            "plans anyway.",
        )
    return hours


def beyond_at(area: Area, water: DayWater, place: Place, start: Any, end: Any) -> str:
    """Say beyond which limits of the boat it is out at a place; ``""`` for none."""
    hours = open_spans(
        moment(start), moment(end), limits=boat_limits(area), wind=water.wind,
        currents=water.currents, longitude=place[0], latitude=place[1], sea=water.sea,
    )  # fmt: skip
    words = [limit_words(row, area) for row in hours.left_out.itertuples()]
    return "; ".join(dict.fromkeys(words))


def safety_of(
    area: Area,
    ways: tuple[gpd.GeoDataFrame, gpd.GeoDataFrame],
    setting: Setting,
    when: Hours,
    hours: OpenHours,
    *,
    asked_mps: tuple[float, float],
    beyond: bool,
    launch: LaunchHours | None = None,
) -> Safety:
    """Say what could hurt on passes and runs; arguments as `dangers_of`.

    launch: when the launch can be used; None where the area asks for nothing.
    """
    heights, currents = setting.safe.heights, setting.water.currents
    power = [Danger("battery", cause=words)] if (words := power_danger(area, ways[0])) else []
    dangers = dangers_of(
        *ways, setting.water, hours, asked_mps=asked_mps, beyond=beyond,
        unknown=ends_inside(area, heights, currents, when.start, when.end),
        datum=_datum(setting.safe.grid, heights, area),
        others=[*_launch_dangers(area, ways, launch), *power],
    )  # fmt: skip
    sentences = tuple(_words(danger, area) for danger in dangers)
    return Safety(hours, dangers, sentences, beyond_words(hours.left_out, area) if beyond else "")


def _launch_dangers(
    area: Area, ways: tuple[gpd.GeoDataFrame, gpd.GeoDataFrame], launch: LaunchHours | None
) -> list[Danger]:
    """Say that the boat goes out or comes home while the launch can't be used."""
    passes, runs = ways
    if launch is None or not len(passes):
        return []
    homes = runs[runs["plan_id"] == ""]
    out = min([*passes["start"], *runs["start"]])
    back = arrival(homes.iloc[-1]) if len(homes) else passes["end"].max()
    dangers = []
    for word, time in (("comes home", back), ("goes out", out)):
        why = launch.shut_at(time)
        if not why:
            continue
        last = launch.last_before(time)
        cure = f" Be back by {clock(last, area)}." if last is not None else ""
        dangers.append(
            Danger(
                "launch", time, time,
                cause=f"the plan {word} while the launch is shut: {why}."
                f"{cure if word == 'comes home' else ''}",
            )
        )  # fmt: skip
    return dangers


def _places(
    grid: xr.DataArray, band_m: tuple[float, float], *, everywhere: bool
) -> tuple[Sequence[float], Sequence[float]]:
    """Places on the ground that is fished, the middle of the grid first."""
    middle = degree_bounds(grid).middle
    row, column = np.nonzero((grid.values >= band_m[0]) & (grid.values <= band_m[1]))
    if everywhere or not row.size:
        return [middle[0]], [middle[1]]
    some = np.linspace(0, row.size - 1, min(MOST_PLACES, row.size)).astype(int)
    x, y = grid["x"].values[column[some]], grid["y"].values[row[some]]
    longitude, latitude = to_degrees(crs_of(grid)).transform(x, y)
    return [middle[0], *longitude], [middle[1], *latitude]


def _datum(grid: xr.DataArray, heights: Heights | None, area: Area) -> str:
    named = str(grid.attrs.get("vertical_datum") or "")
    fault = datum_fault(named, heights, offset_m=area.grid.offset_m)
    if fault is None:
        return ""
    what, cure = fault
    return f"{what[0].upper()}{what[1:]}. {cure}"


def _words(danger: Danger, area: Area) -> str:
    """Say a danger in one sentence or two, where and when first."""
    if danger.kind in {"unknown water", "datum", "battery"}:
        return danger.cause
    sentence = _SAID[danger.kind](danger, area)
    lines = ", ".join(danger.lines)
    if danger.kind == "launch":
        return f"{clock(danger.start, area)}: {sentence}"
    span = f"{clock(danger.start, area)} to {clock(danger.end, area)}"
    return f"{f'{lines}, ' if lines else ''}{span}: {sentence}"


def _height(metres: float, area: Area) -> str:
    return format_quantity(metres, short_unit(area), digits=1)


def _speed(mps: float, area: Area) -> str:
    return format_quantity(mps, area.units.speed, digits=1)


_RUNNING: Final = {"run": "the run there", "home": "the run home"}

_SAID: Final[dict[str, Callable[[Danger, Area], str]]] = {
    "beyond limits": lambda danger, area: f"beyond the boat's limits: {limit_words(danger, area)}.",
    "launch": lambda danger, area: danger.cause,
    "breaking sea": lambda danger, area: (
        f"waves of up to {_height(danger.greatest_m, area)} break. Keep off."
    ),
    "steep sea": lambda danger, area: (
        f"short and steep waves of up to {_height(danger.greatest_m, area)}."
    ),
    "run": lambda danger, area: f"the run {'there' if danger.lines else 'home'} {danger.cause}.",
    "left out": lambda danger, area: (
        f"left out, beyond the boat's limits: {limit_words(danger, area)}."
    ),
    "out beyond limits": lambda danger, area: (
        f"{_RUNNING[danger.cause]} goes through hours beyond the boat's limits."
    ),
    "strong current": lambda danger, area: (
        f"current up to {_speed(danger.greatest_mps, area)}. Keep clear of overfalls and of all "
        "moored boats and gear."
    ),
    "wind against water": lambda danger, area: (
        f"wind up to {_speed(danger.greatest_mps, area)} against a current of up to "
        f"{_speed(danger.allowed_mps, area)}: steep, short waves."
    ),
    "fast drift": lambda danger, area: (
        f"drifts at up to {_speed(danger.greatest_mps, area)} over the ground, faster than the "
        f"{_speed(danger.allowed_mps, area)} asked for."
    ),
    "dark": lambda danger, area: "in the dark. Show lights, and keep a lookout all round.",
    "lights": lambda danger, area: "between sunset and sunrise. Show lights.",
}
