"""What ``tide --learn`` computes and writes: the current of a ground, from own drifts."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np

from layers.area import Area
from layers.cli.basemap import basemap_of
from layers.cli.bottom import open_area_grid
from layers.cli.settings import cut_settings
from layers.maps import MapContent, water_of_day, write_map
from layers.tracks import clean, cut, drifts_of, read_fixes
from layers.water import (
    Heights,
    LearnedCurrent,
    Wind,
    day_bounds,
    drift_motions,
    leeway_of,
    to_local,
    write_learned,
)
from layers.water.learning import learn_current
from layers.water.rose import rose_lines, rose_picture
from seabed.errors import WaterError
from seabed.files import write_text
from seabed.units import convert

__all__ = [
    "learn_from_tracks",
    "learned_lines",
    "learned_records",
    "learning_files",
    "write_learning",
]


def learn_from_tracks(
    area: Area, tracks: Sequence[Path], heights: Heights | None, wind: Wind
) -> tuple[LearnedCurrent, gpd.GeoDataFrame]:
    """Clean and cut tracks, and learn the current from their drifts; give both.

    Raises
    ------
    WaterError
        If no tide heights are named, or too few drifts have a known tide and wind.
    """
    if heights is None:
        raise WaterError(
            "a current is learned by the tide, and no tide heights are named",
            do="Name them with --heights, or heights under [water] of the area file.",
        )
    settings = cut_settings(area)
    fixes, _ = clean(read_fixes(tracks), settings)
    drifts = drifts_of(cut(fixes, settings), fixes, timezone=area.timezone)
    motions = drift_motions(fixes, drifts, wind)
    return learn_current(motions, heights, leeway_of(area.boat.craft)), drifts


def learned_lines(learned: LearnedCurrent, area: Area) -> str:
    """Tell a learned current by hour of the tide, as plain text."""
    unit = area.units.speed
    scale, doubt = learned.leeway_scale
    lines = [
        f"Learned from {learned.drifts} drifts of {learned.outings} outings. "
        f"The wind moves the boat {scale:.2f} ± {doubt:.2f} times as much as published for "
        f"{area.boat.craft}.",
        "",
        f"{'Hours from high':<17}{'Current':<18}{'90 % interval':<18}Seen",
    ]
    lines += [_hour_line(row, unit) for row in learned.by_hour().to_dict("records")]
    return "\n".join(lines) + "\n"


def _hour_line(row: dict[str, Any], unit: str) -> str:
    head = f"{row['hours_from_high']:+8.0f}         "
    if np.isnan(row["speed_mps"]):
        return f"{head}{row['words']}"
    speed, low, high = (convert(row[f"{name}_mps"], unit) for name in ("speed", "low", "high"))
    way = f"{speed:.1f} {unit} to {row['toward_deg']:03.0f}"
    interval = f"{low:.1f} to {high:.1f} {unit}"
    return f"{head}{way:<18}{interval:<18}{row['drift_pieces']} pieces  {row['words']}".rstrip()


def learned_records(learned: LearnedCurrent) -> dict[str, Any]:
    """Give a learned current for machines: SI, None for unknown."""
    table = learned.by_hour()
    return {
        "outings": learned.outings,
        "drifts": learned.drifts,
        "leeway_scale": learned.leeway_scale,
        "by_hour": table.astype(object).where(table.notna(), None).to_dict("records"),
    }


def learning_files(out: Path, area: Area) -> dict[str, Path]:
    """Files that `write_learning` makes in a folder, by name."""
    files = {
        "current": out / "learned_current.json",
        "table": out / "current_by_hour.csv",
        "rose": out / "current_rose.svg",
        "arrows": out / "current_rose.geojson",
    }
    return {**files, "map": out / "map.html"} if area.grid.files else files


def write_learning(
    out: Path, learned: LearnedCurrent, drifts: gpd.GeoDataFrame, area: Area
) -> dict[str, Path]:
    """Write the learned current, its table, its rose, and the rose's arrows for other maps.

    Where the area has a grid, a map as well: the drifts, and the current through the last day that
    was drifted on, by its hour control.
    """
    files = learning_files(out, area)
    table = learned.by_hour()
    write_learned(files["current"], learned)
    write_text(files["table"], table.round(3).to_csv(index=False, lineterminator="\n"))
    title = f"{area.name or 'This ground'}: current by hour of the tide"
    write_text(files["rose"], rose_picture(table, title=title, speed_unit=area.units.speed))
    write_text(files["arrows"], rose_lines(table, learned.centre).to_json(drop_id=True) + "\n")
    if "map" in files:
        write_map(files["map"], _map_content(learned, drifts, area, title))
    return files


def _map_content(
    learned: LearnedCurrent, drifts: gpd.GeoDataFrame, area: Area, title: str
) -> MapContent:
    last = to_local(learned.span[1], area.timezone)[0].date()
    start, end = day_bounds(last, area.timezone)
    return MapContent(
        basemap=basemap_of(area),
        grid=open_area_grid(area),
        band_m=area.depths.band_m,
        drifts=drifts,
        pieces=drifts.assign(kind="drift"),
        rose=rose_lines(learned.by_hour(), learned.centre),
        water=water_of_day(start, end, heights=learned.heights, currents=learned),
        title=title,
        timezone=area.timezone,
        units=area.units,
    )
