"""What a grid file is, what is wrong with it, and how to fix it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from seabed.errors import GridError, with_settings
from seabed.geodesy import cell_metres
from seabed.grid import Bounds
from seabed.loaders.formats import is_url, open_layer
from seabed.loaders.layer import Cells, Layer
from seabed.loaders.meaning import Meaning, Tally, blank_usual_voids, settle, tally
from seabed.loaders.placing import check_reach, edges, geographic_edges, place

READ_AT_ONCE: Final = 16_000_000
SAMPLE: Final = 1024
"""Side of the block that is read of a file on the network, in cells."""
DEEPEST_M: Final = 11_100.0
"""Deeper than any sea (Challenger Deep, 10 935 m: Greenaway et al. 2021), with room."""

FEW_VALID: Final = 0.01
COARSE_M: Final = 100.0
"""Cells above this blur an edge that a boat can drift along (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong or worth knowing, and what to do about it, settings in braces."""

    what: str
    do: str
    stops: bool = False


@dataclass(frozen=True, slots=True)
class FileReport:
    """What a grid file is.

    Attributes
    ----------
    file, kind, format, variable : str
    rows, columns : int
    crs, crs_code : str
        Name and authority code, ``""`` if there is none.
    cell_easting_m, cell_northing_m : float
        Size of a cell over the ground at the middle, metres; NaN where the CRS is not known.
    cell_step : (float, float)
        The same in the units of the file's coordinates.
    bounds : Bounds or None
        Degrees, WGS 84.
    depth_min_m, depth_max_m : float
        Metres positive down, land left out; NaN where there are none.
    sign, unit, vertical_datum : str
    valid_share, land_share, void_share : float
        Of all cells; they add up to 1.
    uncertainty : bool
        Whether the file carries an uncertainty of any of its depths.
    others : tuple of str
        All bands or variables.
    guesses : tuple of str
    problems : tuple of Problem
    """

    file: str
    kind: str
    format: str
    variable: str
    rows: int
    columns: int
    crs: str
    crs_code: str
    cell_easting_m: float
    cell_northing_m: float
    cell_step: tuple[float, float]
    bounds: Bounds | None
    depth_min_m: float
    depth_max_m: float
    sign: str
    unit: str
    vertical_datum: str
    valid_share: float
    land_share: float
    void_share: float
    uncertainty: bool
    others: tuple[str, ...]
    guesses: tuple[str, ...]
    problems: tuple[Problem, ...]

    def as_dict(self) -> dict[str, Any]:
        """As plain values that JSON can hold: NaN becomes None."""

        def plain(value: Any) -> Any:
            if isinstance(value, dict):
                return {key: plain(item) for key, item in value.items()}
            if isinstance(value, list | tuple):
                return [plain(item) for item in value]
            return None if isinstance(value, float) and not np.isfinite(value) else value

        values: dict[str, Any] = plain(asdict(self))
        for problem in values["problems"]:
            problem["do"] = with_settings(problem["do"])
        return values

    @property
    def usable(self) -> bool:
        """Whether ``open_grid`` would take it as it is."""
        return not any(problem.stops for problem in self.problems)


def describe(
    path: str | Path,
    *,
    crs: Any = None,
    sign: Any = "auto",
    unit: str = "auto",
    variable: str | None = None,
    vertical_datum: str | None = None,
    progress: Callable[[float], None] | None = None,
) -> FileReport:
    """Say what a grid file is, what is wrong with it and how to fix it.

    The whole file is read, a strip at a time, so a truncated one is found out; of an address only
    a block in the middle, which the report's guesses say.

    Parameters
    ----------
    path : str or Path
        A file, or an http(s) address.
    crs, sign, unit, variable, vertical_datum
        As for ``open_grid``.
    progress : callable, optional
        Given the share done, 0 to 1.

    Raises
    ------
    GridError
        If there is no such file or it is no grid.  The report says all else.

    Examples
    --------
    >>> report = describe("sound.tif")
    >>> report.usable, report.rows, report.columns
    (True, 1200, 1500)
    """
    layer = open_layer(path, variable=variable)
    problems: list[Problem] = []
    try:
        layer = place(layer, crs)
    except GridError as error:
        problems.append(Problem(error.what, error.do or "", stops=True))
    placed = not problems
    problems += _reach_problems(layer) if placed and crs is None else []
    counts, extra = _count(layer, problems, progress)
    meaning = settle(layer, counts, sign=sign, unit=unit, vertical_datum=vertical_datum)
    low, high, land = _depths(layer, counts, meaning)
    problems += _data_problems(counts, meaning, high, land)
    sure = _is_sure(layer, problems)
    easting, northing = _cell_metres(layer) if placed else (float("nan"), float("nan"))
    problems += _place_problems(layer, meaning, easting, northing)
    valid, cells = counts.valid - land, max(counts.cells, 1)
    code = layer.crs.to_authority(min_confidence=70) if layer.crs else None
    return FileReport(
        file=str(path),
        kind="depth grid",
        format=layer.format,
        variable=layer.variable,
        rows=layer.shape[0],
        columns=layer.shape[1],
        crs=layer.crs.name if layer.crs else "",
        crs_code=":".join(code) if code else "",
        cell_easting_m=easting,
        cell_northing_m=northing,
        cell_step=(abs(layer.transform.a), abs(layer.transform.e)),
        bounds=geographic_edges(layer) if placed else None,
        depth_min_m=low,
        depth_max_m=high,
        sign=meaning.sign,
        unit=meaning.unit,
        vertical_datum=meaning.vertical_datum,
        valid_share=valid / cells,
        land_share=land / cells,
        void_share=1 - counts.valid / cells,
        uncertainty=sure,
        others=layer.others,
        guesses=tuple(dict.fromkeys((*meaning.guesses, *extra))),
        problems=tuple(problems),
    )


def _is_sure(layer: Layer, problems: list[Problem]) -> bool:
    """Say whether any cell has an uncertainty; strips are read until one has."""
    read = layer.uncertainty
    if read is None:
        return False
    sure = any(bool(np.isfinite(read(cells)).any()) for cells in _strips(layer))
    if not sure:
        problems.append(
            Problem("its uncertainty is void in every cell", "The depths are used without one.")
        )
    return sure


def _strips(layer: Layer) -> list[Cells]:
    rows, columns = layer.shape
    if is_url(layer.source):
        down, across = min(rows, SAMPLE), min(columns, SAMPLE)
        return [Cells((rows - down) // 2, (columns - across) // 2, down, across)]
    height = max(1, min(rows, READ_AT_ONCE // max(1, columns)))
    return [Cells(first, 0, min(height, rows - first), columns) for first in range(0, rows, height)]


def _count(
    layer: Layer, problems: list[Problem], progress: Callable[[float], None] | None
) -> tuple[Tally, list[str]]:
    counts, extra = Tally(), dict[str, None]()
    strips = _strips(layer)
    if is_url(layer.source) and strips[0] != layer.whole:
        extra["Depths and shares are those of a block in the middle of the file."] = None
    for cells in strips:
        try:
            array = layer.read(cells)
        except GridError as error:
            problems.append(Problem(error.what, error.do or "", stops=True))
            break
        if not layer.declared_void:
            extra.update(dict.fromkeys(blank_usual_voids(array)))
        counts += tally(array)
        if progress is not None:
            progress((cells.row + cells.rows) / layer.shape[0])
    return counts, list(extra)


def _depths(layer: Layer, counts: Tally, meaning: Meaning) -> tuple[float, float, int]:
    """Shallowest and deepest depth in metres, and how many cells are land."""
    wet = counts.negative if meaning.sign == "elevation" else counts.positive
    if wet == 0:
        return float("nan"), float("nan"), counts.valid
    if meaning.sign == "elevation":
        low, high = -counts.shoal_up, -counts.least
    else:
        low, high = counts.shoal_down, counts.greatest
    return low * meaning.factor, high * meaning.factor, counts.valid - wet


def _data_problems(counts: Tally, meaning: Meaning, high: float, land: int) -> list[Problem]:
    remarks = []
    if counts.valid == 0:
        return [
            Problem(
                "every cell is void",
                "Choose another file, or another band or variable with {variable}.",
                stops=True,
            )
        ]
    if land == counts.valid:
        other = "depth" if meaning.sign == "elevation" else "elevation"
        remarks.append(
            Problem(
                f"all of it is land when read as {meaning.sign}",
                f"If its numbers are {other}s, say so with {{sign}}: {other}.",
                stops=True,
            )
        )
    if high > DEEPEST_M:
        remarks.append(
            Problem(
                f"a depth of {high:,.0f} m is deeper than any sea",
                "Its number for no depth is perhaps not declared, or its unit is another: {unit}.",
            )
        )
    if 0 < counts.valid < FEW_VALID * counts.cells:
        remarks.append(
            Problem(
                f"only {counts.valid / counts.cells:.2%} of the cells hold a value",
                "It may be scattered soundings burnt into a raster, or mostly outside the survey.",
            )
        )
    return remarks


def _reach_problems(layer: Layer) -> list[Problem]:
    """Doubt a CRS that the file names, if its area of use is far from the grid."""
    if layer.crs is None:
        return []
    try:
        check_reach(layer, layer.crs, given=True)
    except GridError as error:
        return [Problem(error.what, error.do or "")]
    return []


def _place_problems(
    layer: Layer, meaning: Meaning, easting: float, northing: float
) -> list[Problem]:
    remarks = []
    if max(easting, northing) > COARSE_M:
        remarks.append(
            Problem(
                f"cells of {easting:,.0f} x {northing:,.0f} m are too coarse for edges and humps "
                "that a boat can drift over",
                "Look for a finer grid of this water.",
            )
        )
    if meaning.vertical_datum == "unknown":
        remarks.append(
            Problem(
                "no vertical datum is named, so tide heights can't be added safely",
                "Look it up where the file came from, and set {vertical_datum}; {offset} shifts "
                "depths.",
            )
        )
    return remarks


def _cell_metres(layer: Layer) -> tuple[float, float]:
    """Width and height of the middle cell over the ground, metres."""
    crs = layer.crs
    width, height = abs(layer.transform.a), abs(layer.transform.e)
    if crs is None:
        return float("nan"), float("nan")
    edge = edges(layer)
    easting, northing = cell_metres(crs, width, height, (edge.south + edge.north) / 2)
    return float(easting), float(northing)
