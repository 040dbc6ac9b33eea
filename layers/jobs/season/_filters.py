"""Part of a logbook: some species, months, stages of the tide, winds."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd

from layers.area import Area
from layers.area.keys import speed_range
from layers.jobs.requests import SeasonRequest
from layers.water.times import to_local
from seabed.errors import SeabedError, UnitError
from seabed.units import convert

FILTERS = ("species", "months", "stage", "wind_between")
"""Fields of a request that choose."""

Tables = tuple[gpd.GeoDataFrame, gpd.GeoDataFrame]


def filtered(
    drifts: gpd.GeoDataFrame, catches: gpd.GeoDataFrame, request: SeasonRequest, area: Area
) -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame, list[str]]:
    """Keep the drifts and catches that a request chooses, and say what was chosen.

    A species chooses fish alone: hours without it count as well.  SeabedError if nothing is left.
    """
    choices: list[str] = []
    kept = drifts
    if request.months:
        first, last = _months(request.months)
        month = to_local(kept["start"], area.timezone).month
        inside = (month >= first) & (month <= last) if first <= last else (
            (month >= first) | (month <= last)
        )  # fmt: skip
        kept = kept[inside]
        choices.append(f"months {first} to {last}")
    if request.stage:
        kept = kept[_known(kept, "stage", "stage").eq(request.stage)]
        choices.append(request.stage)
    if request.wind_between:
        low, high = _winds(request.wind_between, area)
        kept = kept[_known(kept, "wind_mps", "wind_between").between(low, high)]
        unit = area.units.speed
        choices.append(f"wind {convert(low, unit):.0f} to {convert(high, unit):.0f} {unit}")
    fish = catches[_places(catches).isin(_places(kept)) | ~_places(catches).isin(_places(drifts))]
    if request.species:
        wanted = {name.strip().lower() for name in request.species}
        known = sorted(set(catches["species"].str.lower()))
        if not wanted.intersection(known):
            raise SeabedError(
                f"no fish in the logbook is a {' or '.join(sorted(wanted))}",
                key="species",
                do=f"There are: {', '.join(known)}.",
            )
        fish = fish[fish["species"].str.lower().isin(wanted)]
        choices.append(", ".join(sorted(wanted)))
    if not choices:
        return drifts, catches, []
    if not len(kept):
        raise SeabedError(
            f"no drift of the logbook is left: {'; '.join(choices)}", do="Choose less narrowly."
        )
    note = f"Only {'; '.join(choices)}: {len(kept)} of {len(drifts)} drifts."
    return kept.reset_index(drop=True), fish.reset_index(drop=True), [note]


def _places(table: gpd.GeoDataFrame) -> gpd.GeoSeries:
    return table["trip"].astype(str) + " " + table["drift_id"].astype(str)


def _known(drifts: gpd.GeoDataFrame, column: str, key: str) -> gpd.GeoSeries:
    if column not in drifts:
        raise SeabedError(
            "no drift in the logbook has it",
            key=key,
            do="Log trips with tide heights and {wind} named.",
        )
    return drifts[column]


def _months(words: str) -> tuple[int, int]:
    first, _, last = words.partition("-")
    try:
        months = int(first), int(last or first)
    except ValueError:
        months = 0, 0
    if not all(1 <= month <= 12 for month in months):
        raise SeabedError(f"{words!r} are not months", key="months", do="Write them like 5-9.")
    return months


def _winds(words: str, area: Area) -> tuple[float, float]:
    unit = "" if words.rstrip()[-1:].isalpha() else f" {area.units.speed}"
    try:
        return speed_range(words + unit, Path())
    except (UnitError, ValueError) as error:
        cure = "Write two rising speeds and a unit, like 0-10 kn."
        raise SeabedError(f"{words!r} can't be right", key="wind_between", do=cure) from error
