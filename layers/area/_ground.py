"""Sections of the area file about the ground and the water over it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from layers.area._forms import box, file_or_current
from layers.area.keys import (
    choice,
    degrees,
    depth_band,
    depth_list,
    file,
    files,
    key,
    length,
    length_key,
    local_files,
    number,
    or_auto,
    pressure,
    speed_key,
    text,
)


@dataclass(frozen=True, slots=True)
class Units:
    """Units shown to people."""

    depth: str = key("ft", choice("m", "ft", "fm"), "Depths: m, ft or fm (fathoms).")
    distance: str = key("nm", choice("m", "km", "nm", "mi"), "Distances: m, km, nm or mi.")
    speed: str = key("kn", choice("kn", "mph", "km/h", "m/s"), "Speeds: kn, mph, km/h or m/s.")
    fish: str = key("in", choice("in", "cm"), "Lengths of fish: in or cm.")


@dataclass(frozen=True, slots=True)
class GridSource:
    """Where the depths come from."""

    files: tuple[Path | str, ...] = key(
        [], files, "Depth grids; several are one mosaic.", example='["sound.tif"]'
    )
    crs: str = key(
        "", text, "Coordinate reference system if the file names none.", example='"EPSG:32625"'
    )
    sign: str = key(
        "auto",
        choice("auto", "elevation", "depth"),
        "auto; or elevation (numbers increase upward), or depth (numbers increase downward).",
    )
    unit: str = key("auto", choice("auto", "m", "ft", "fm"), "auto, m, ft or fm.")
    vertical_datum: str = key(
        "", text, "Vertical datum of depths; empty: as the file says.", example='"MLLW"'
    )
    offset_m: float = length_key(
        "0 m",
        "Added to every depth, to bring the grid to the tide's datum.",
        like="0.4 m",
        least_m=-1000.0,
    )
    variable: str = key("", text, "Band or variable of the files, if they have several.")
    box: tuple[float, float, float, float] | None = key(
        "",
        box,
        "Only this part: west,south,east,north in degrees.",
        example='"-33.42,46.19,-33.40,46.21"',
    )


@dataclass(frozen=True, slots=True)
class Charts:
    """Official charts, for their hazards and contours."""

    files: tuple[Path, ...] = key(
        [], local_files, "Cells of official vector charts (S-57).", example='["cell.000"]'
    )


@dataclass(frozen=True, slots=True)
class Depths:
    """The depths that matter."""

    band_m: tuple[float, float] | None = key(
        "",
        depth_band,
        "Depth band; without one all depths count alike.",
        example='"20-30 ft"',
    )
    contours_m: tuple[float, ...] | None = key(
        "auto",
        or_auto(depth_list),
        "Contours: first:last:step, or a list: 10,15,20 ft; auto: a dozen over the grid's depths.",
        example='"4:16:2 m"',
    )

    @property
    def sought_m(self) -> tuple[float, float]:
        """The band, or every depth without one."""
        return (-math.inf, math.inf) if self.band_m is None else self.band_m


@dataclass(frozen=True, slots=True)
class StructureSettings:
    """The smallest features of the bottom that count."""

    edge_scale_m: float | None = key(
        "auto",
        or_auto(length("20 m", above=True)),
        "Smoothing of edges: wiggles narrower than this vanish; auto: 20 m, or two cells if more.",
        example='"20 m"',
    )
    edge_min_length_m: float | None = key(
        "auto",
        or_auto(length("80 m")),
        "Edges shorter than this are left out; auto: four times the scale.",
        example='"80 m"',
    )
    edge_min_drop_m: float = length_key("1 m", "Edges that drop less than this are left out.")
    hump_min_height_m: float = length_key(
        "1 m", "Humps and holes lower than this are left out.", above=True
    )
    significance: float | None = key(
        "auto",
        or_auto(number(0)),
        "How far humps, holes and contours must exceed the grid's noise, in standard deviations; "
        "auto: 4.5. 0 takes every sounding as it is, and drops from break to break.",
        example="4.5",
    )
    noise_m: float | None = key(
        "auto",
        or_auto(length("0.2 m")),
        "Standard deviation of the grid's noise; auto: measured.",
        example='"0.2 m"',
    )


@dataclass(frozen=True, slots=True)
class WaterSource:
    """Tide and current."""

    heights: Path | None = key(
        "", file, "Tide heights: a table of high and low water, or a station file."
    )
    heights_unit: str = key(
        "", choice("", "m", "ft"), "Unit of heights in a table without one: m or ft."
    )
    currents: Path | str | None = key(
        "",
        file_or_current,
        "Currents: a table of slacks, floods and ebbs or of hours from high water, a station "
        "file, a current learned from your drifts (JSON), or in words: 0.8 kn toward 40; or HW-5 "
        "0.5 kn toward 340, HW-2 0.9 kn toward 340, and so on.",
    )
    currents_unit: str = key(
        "", choice("", "kn", "m/s"), "Unit of speeds in a table without one: kn or m/s."
    )
    station_currents: Path | None = key(
        "",
        file,
        "The station's own currents, besides a learned one: for how much later the water turns "
        "here, and for hours without a drift.",
    )
    pressure_hpa: float | None = key(
        None,
        pressure,
        "Air pressure: each hPa above 1013 lowers the water by 1 cm; left out: as the table has "
        "it.",
        example='"998 hPa"',
    )
    open_fetch_m: float | None = length_key(
        None,
        "How far open water continues beyond the grid, to windward, for the waves.",
        like="3 nm",
    )
    flood_toward_deg: float | None = key(
        None, degrees, "Where the flood runs to, degrees true.", example="40"
    )
    ebb_toward_deg: float | None = key(
        None, degrees, "Where the ebb runs to, degrees true.", example="220"
    )


@dataclass(frozen=True, slots=True)
class WindNow:
    """Wind, if none is given."""

    speed_mps: float = speed_key(
        "0 kn",
        "Wind speed, if none is given; 0 kn is a calm.",
        like="8 kn",
        most="100 kn",
    )
    measured_at_m: float = length_key(
        "10 m",
        "Height over the water of the wind that you give: 10 m for a forecast, 2 m for a meter "
        "in the hand.",
        least_m=0.5,
    )
    from_deg: float = key(0, degrees, "Where the wind comes from, degrees true.")
    gust_mps: float | None = speed_key(
        None, "Speed of gusts; left out: as the wind.", like="14 kn", most="100 kn"
    )
