"""Own depths checked, gridded, laid on the open grid, and written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd
import xarray as xr

from layers.area import Area
from layers.cautions import CAUTIONS, SOUND_CAUTION
from layers.jobs.parts.words import counted
from layers.jobs.progress import Step, large_arrays_apart
from layers.present import write_table_csv
from layers.present.gpx import write_marks
from layers.present.pictures.survey import soundings_picture
from seabed.errors import GridError, TrackError
from seabed.files import write_text
from seabed.grid import Bounds as Box
from seabed.grid import bounds, cell_size
from seabed.grid.extent import window
from seabed.grid.places import sample
from seabed.loaders import Surface
from seabed.soundings import (
    MergedGrid,
    Mounting,
    OwnGrid,
    flagged,
    grid_soundings,
    merge_onto,
    read_soundings,
    reduced,
)
from seabed.soundings.checks.crossovers import (
    CrossoverStatistics,
    crossover_statistics,
    crossovers,
)
from seabed.soundings.checks.lag import LagFit, estimate_lag
from seabed.soundings.checks.tide_check import ChartFit, TideFit, fit_to_chart, tide_of_crossovers
from seabed.soundings.checks.tracks import without_lag
from seabed.soundings.flags.flagging import CleaningReport
from seabed.soundings.proposals.proposing import lines_to_sound
from seabed.soundings.surface.lattice import choose_lattice, finer
from seabed.soundings.surface.merging import write_merged
from seabed.soundings.surface.owngrid import write_own
from seabed.units import format_quantity

if TYPE_CHECKING:
    import geopandas as gpd

    from layers.water import Heights


SOUNDING_STEPS: Final = 9
MOST_CELLS: Final = 40_000_000
MOST_SPLIT: Final = 10
MOST_CROSSINGS: Final = 100_000
MOST_CHARTED: Final = 1_000_000
NO_TIDE_SIGMA_M: Final = 1.0
"""How far apart outings may lie if no tide was taken off (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class SurveyOptions:
    """How a survey is worked out; None lets the soundings decide.

    lag_s: of the sounder.
    cell_m, reach_m: of the own grid.
    tide_sigma_m: standard deviation of the tide of an outing.
    next_m: length of the lines to sound next; 0: none.
    day: of logs without dates.
    """

    mounting: Mounting
    lag_s: float | None
    cell_m: float | None
    reach_m: float | None
    tide_sigma_m: float
    next_m: float
    salvage: bool
    day: date | None


@dataclass(frozen=True, slots=True)
class Survey:
    """A survey worked out.

    lag: as it was found; ``lag_s`` is what was taken off.
    crossovers: 100,000 at most, drawn at random.
    """

    soundings: pd.DataFrame
    notes: list[str]
    cleaning: CleaningReport
    lag: LagFit
    lag_s: float
    crossovers: pd.DataFrame
    statistics: CrossoverStatistics
    tide: TideFit
    chart: ChartFit
    own: OwnGrid
    merged: MergedGrid
    proposals: gpd.GeoDataFrame | None


@large_arrays_apart()
def sound(
    logs: Sequence[Path],
    surface: Surface,
    area: Area,
    options: SurveyOptions,
    *,
    heights: Heights | None,
    step: Step,
    settled: Callable[[pd.DataFrame], None] | None = None,
) -> Survey:
    """Work a survey out without writing anything.

    surface: the open grid, with its uncertainty.
    heights: of the tide over the open grid's datum; None: depths stay those of the day, and only
        their shape is laid on the open grid.
    settled: called with the soundings as soon as they no longer change.
    """
    table, cleaning, notes = _read_and_cleaned(logs, area, options, heights=heights, step=step)
    grid = surface.depth.load()

    def chart(longitude: Any, latitude: Any) -> Any:
        return sample(grid, longitude, latitude)

    step("finding the sounder's lag")
    lag = estimate_lag(table, chart=chart)
    lag_s = _lag_of(lag, options)
    table = without_lag(table, lag_s)
    if settled is not None:
        settled(table)
    step("comparing crossings")
    crossed, statistics, tide = _crossings(table, heights, notes)
    some = table.iloc[:: len(table) // MOST_CHARTED + 1]
    fit = fit_to_chart(some, chart(some["longitude"].to_numpy(), some["latitude"].to_numpy()))
    del some
    step("gridding")
    own, merged = _on_grid(table, surface, area, options, heights=heights, notes=notes, step=step)
    step("choosing where to sound next")
    return Survey(
        table, notes, cleaning, lag, lag_s, crossed, statistics, tide, fit, own,
        merged, _proposals(merged, own, area, options, notes),
    )  # fmt: skip


def _read_and_cleaned(
    logs: Sequence[Path], area: Area, options: SurveyOptions, *, heights: Heights | None, step: Step
) -> tuple[pd.DataFrame, CleaningReport, list[str]]:
    """Soundings flagged and reduced to the datum, how they were cleaned, and notes."""
    step("reading logs")
    log = read_soundings(
        logs,
        mounting=options.mounting,
        timezone=area.timezone,
        date_order=area.date_order,
        salvage=options.salvage,
        day=options.day,
    )
    step("cleaning")
    table, cleaning = flagged(log.soundings)
    notes = list(log.notes)
    del log  # columns that were replaced since
    step("taking off the tide")
    table, more = _reduced(table, heights)
    _some_good(table)
    return table, cleaning, notes + more


def _crossings(
    table: pd.DataFrame, heights: Heights | None, notes: list[str]
) -> tuple[pd.DataFrame, CrossoverStatistics, TideFit]:
    """Crossings, at most as many as are kept, with the statistics and the tide of all."""
    crossed = crossovers(table)
    statistics = crossover_statistics(crossed)
    tide = tide_of_crossovers(crossed if heights is not None else crossed.iloc[:0])
    if len(crossed) > MOST_CROSSINGS:
        notes.append(
            f"of {len(crossed)} crossings {MOST_CROSSINGS}, drawn at random, are in crossovers.csv"
        )
        crossed = crossed.sample(MOST_CROSSINGS, random_state=0).sort_index()
    return crossed, statistics, tide


def _on_grid(
    table: pd.DataFrame,
    surface: Surface,
    area: Area,
    options: SurveyOptions,
    *,
    heights: Heights | None,
    notes: list[str],
    step: Step,
) -> tuple[OwnGrid, MergedGrid]:
    """Soundings as a grid, and that laid on the open one."""
    grid = surface.depth
    split = finer(grid, _split(table, grid, options.cell_m))
    notes += _cell_note(cell_size(split).typical, options.cell_m, area.units.depth)
    own = grid_soundings(
        table,
        like=split,
        reach_m=options.reach_m,
        tide_sigma_m=options.tide_sigma_m if heights is not None else NO_TIDE_SIGMA_M,
        vertical_datum=str(grid.attrs.get("vertical_datum", "unknown")),
    )
    step("laying them on the open grid")
    unsure = surface.uncertainty
    if unsure is not None and split is not grid:
        unsure = finer(unsure, split.shape[0] // grid.shape[0])
    merged = merge_onto(
        split, own, open_uncertainty=unsure, bias="shared" if heights is not None else "own"
    )
    return own, merged


def _reduced(table: pd.DataFrame, heights: Heights | None) -> tuple[pd.DataFrame, list[str]]:
    """Reduce, and flag what the tide table does not cover."""
    if heights is None:
        return reduced(table, 0.0), [
            "no tide was taken off: depths are those of the day, and only their shape is used"
        ]
    table = reduced(table, heights.height_m)
    unknown = np.isnan(table["height_m"].to_numpy())
    if unknown.all():
        raise TrackError(
            "the tide is not known at the time of any sounding",
            do="Give a tide table of those days with {heights}, or go without: {no_tide}.",
        )
    if not unknown.any():
        return table, []
    unknown_tide = "tide not known"
    flag = table["flag"].cat.add_categories(unknown_tide)
    table = table.assign(flag=flag.where(~unknown | (flag != ""), unknown_tide))
    return table, [f"{int(unknown.sum())} soundings are of times that the tide does not cover"]


def _some_good(table: pd.DataFrame) -> None:
    """Make sure that something is left to grid; else say what became of it all."""
    flags = table["flag"].value_counts()
    if flags.get("", 0) and np.isfinite(table["depth_m"].to_numpy()[table["flag"] == ""]).any():
        return
    why = ", ".join(f"{count} {flag}" for flag, count in flags.items() if flag and count)
    raise TrackError(
        f"none of {counted(len(table), 'sounding')} is good" + (f": {why}" if why else ""),
        do="Check the sounder, its log, and the days of the tide table; "
        "docs/soundings.md says what each means.",
    )


def _cell_note(size_m: float, wanted_m: float | None, unit: str) -> list[str]:
    """Say so if cells are not as asked for: they are the open grid's, whole or split evenly."""
    if wanted_m is None or abs(size_m - wanted_m) <= 0.25 * wanted_m:
        return []
    size, wanted = (format_quantity(m, unit, digits=1) for m in (size_m, wanted_m))
    return [
        f"cells are {size}, not {wanted} as asked for: they are the open grid's, split at most "
        f"into {MOST_SPLIT} each way"
    ]


def _lag_of(lag: LagFit, options: SurveyOptions) -> float:
    """Lag to take off: the one asked for, else the one found if it is sure."""
    if options.lag_s is not None:
        return options.lag_s
    return lag.lag_s if lag.sure and abs(lag.lag_s) > 2 * lag.sigma_s else 0.0


def _split(table: pd.DataFrame, grid: xr.DataArray, cell_m: float | None) -> int:
    """Give into how many parts the open grid's cells are split each way, to show the soundings."""
    size = cell_size(grid).typical
    if cell_m is None:
        good = (table["flag"] == "").to_numpy() & np.isfinite(table["depth_m"].to_numpy())
        good &= np.isfinite(table["longitude"].to_numpy())
        longitude, latitude = (table[name].to_numpy()[good] for name in ("longitude", "latitude"))
        lattice, _ = choose_lattice(longitude, latitude)
        cell_m = lattice.cell_m
    split = int(np.clip(np.floor(size / cell_m + 0.25), 1, MOST_SPLIT))
    return max(1, min(split, int(np.sqrt(MOST_CELLS / max(grid.size, 1)))))


def _proposals(
    merged: MergedGrid, own: OwnGrid, area: Area, options: SurveyOptions, notes: list[str]
) -> gpd.GeoDataFrame | None:
    if options.next_m <= 0:
        return None
    depth = near(merged.depth, own.depth)
    sigma = near(merged.uncertainty, own.depth)
    try:
        return lines_to_sound(depth, sigma, length_m=options.next_m, band=area.depths.band_m)
    except GridError as error:  # the soundings are worth keeping anyway
        notes.append(f"no lines to sound next are proposed: {error.what}")
        return None


def near(grid: xr.DataArray, own: xr.DataArray) -> xr.DataArray:
    """Part of a grid around the soundings, half as much again each way."""
    box = bounds(own)
    east, north = (box.east - box.west) / 2, (box.north - box.south) / 2
    return window(grid, Box(box.west - east, box.south - north, box.east + east, box.north + north))


def sounding_files(out: Path) -> dict[str, Path]:
    """Files that are written."""
    names = {
        "own_depth": "own_depth.tif",
        "merged": "merged_depth.tif",
        "crossovers": "crossovers.csv",
        "soundings": "soundings.fgb",
        "next_lines": "next_lines.gpx",
        "picture": "soundings.svg",
        "map": "map.html",
    }
    return {key: out / name for key, name in names.items()}


@large_arrays_apart()
def write_survey(out: Path, survey: Survey, area: Area, step: Step) -> dict[str, Path]:
    """Write everything but the soundings themselves and the map; give where it all is."""
    step("writing")
    files = sounding_files(out)
    write_own(files["own_depth"], survey.own, caution=CAUTIONS)
    write_merged(files["merged"], survey.merged, caution=CAUTIONS)
    write_table_csv(files["crossovers"], survey.crossovers)
    proposals = survey.proposals
    if proposals is None or not len(proposals):
        files.pop("next_lines")
    else:
        write_marks(
            files["next_lines"], proposals.assign(care=SOUND_CAUTION), depth_unit=area.units.depth,
            title="Lines to sound next",
        )  # fmt: skip
    depth = near(survey.merged.depth, survey.own.depth)
    write_text(
        files["picture"],
        soundings_picture(
            survey.soundings,
            survey.crossovers,
            depth,
            near(survey.merged.uncertainty, survey.own.depth),
            proposals,
            title=f"{area.name or 'Own'} soundings",
            depth_unit=area.units.depth,
            distance_unit=area.units.distance,
        ),
    )
    return files
