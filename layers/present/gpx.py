"""Marks, routes and tracks for the plotter, as GPX 1.1 (topografix.com/GPX/1/1)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import shapely

from layers.cautions import CAUTIONS, DRIFT_CAUTION, MARK_CAUTION, NOT_A_CHART
from layers.present.names import ShortNames
from layers.scoring.ranking import LINES
from seabed.files import MAKER, write_text
from seabed.markup import markup_text
from seabed.structure.edges import EDGES
from seabed.structure.highs import FEATURES
from seabed.units import format_quantity, half_turned

Position = tuple[float, float]
"""Longitude, latitude, degrees, WGS 84."""

ROUTE_POINTS: Final = 30
"""Plotters cap the points of a route; 30 is taken by all (common practice, no source)."""


BEST: Final = 10
"""Edges ranked so high get a mark of their own beside their track."""
THINNING_DEG: Final = 1.5e-5
"""Points of an edge that move it by less than this, 1.7 m of latitude, are left out."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A waypoint."""

    name: str
    kind: str
    about: str
    position: Position


@dataclass(frozen=True, slots=True)
class GpxLine:
    """A route or a track, in one part or several."""

    name: str
    kind: str
    about: str
    parts: tuple[tuple[Position, ...], ...]


@dataclass(frozen=True, slots=True)
class GpxContent:
    """All that goes into one file."""

    marks: tuple[Mark, ...] = ()
    routes: tuple[GpxLine, ...] = ()
    tracks: tuple[GpxLine, ...] = ()

    @property
    def names(self) -> list[str]:
        """Every name in the file."""
        ways = [way.name for way in (*self.routes, *self.tracks)]
        return [mark.name for mark in self.marks] + ways


def write_marks(
    path: str | Path,
    lines: gpd.GeoDataFrame | None = None,
    edges: gpd.GeoDataFrame | None = None,
    features: gpd.GeoDataFrame | None = None,
    *,
    name_length: int = 10,
    depth_unit: str = "ft",
    title: str = "seabed-layers",
    warnings: Sequence[str] = (),
    symbols: Mapping[str, str] | None = None,
) -> GpxContent:
    """Write drift lines, edges and humps as GPX 1.1, whole or not at all.

    Parameters
    ----------
    path : str or Path
    lines, edges, features, name_length, depth_unit
        As `marks_of`.
    title : str
        Name of the file's content.
    warnings : sequence of str
        What could hurt, the worst first: before the cautions in the file's description.
    symbols : dict of str to str, optional
        What the plotter calls the symbol of each kind of mark: GPX's ``sym``.

    Returns
    -------
    GpxContent
        What was written.

    Raises
    ------
    OutputError
        If it can't be written, or names can't be kept apart in `name_length` letters.

    Examples
    --------
    >>> from seabed import edges, example_grid, humps
    >>> marks = write_marks("bottom.gpx", None, edges(example_grid()), humps(example_grid()))
    >>> marks.names
    ['H0', 'ED0', 'ED1', 'ED2']
    """
    marks = marks_of(lines, edges, features, name_length=name_length, depth_unit=depth_unit)
    write_text(path, gpx_text(marks, title=title, warnings=warnings, symbols=symbols))
    return marks


def marks_of(
    lines: gpd.GeoDataFrame | None = None,
    edges: gpd.GeoDataFrame | None = None,
    features: gpd.GeoDataFrame | None = None,
    *,
    name_length: int = 10,
    depth_unit: str = "ft",
) -> GpxContent:
    """Name and place what a plotter is to show; every name is used once, whatever its case.

    lines: with ``line`` (name) and perhaps ``why``, ``warning`` (what could hurt, first) and
    ``care`` (instead of `DRIFT_CAUTION`): a mark at the start ("…-A") and the end ("…-B"), and a
    route of at most 30 points. edges: a track each, "ED" and its number (a line to the east may be
    "E1"), thinned within 1.7 m. With ``rank`` it is "R3 edge", and the best ten have a mark, "R3",
    where to look. features: a mark each at the crest, "H" or "D" (deep) and its number; with
    ``rank`` "R3 hump".
    """
    _check(lines, edges, features)
    names = ShortNames(name_length)
    marks: list[Mark] = []
    routes: list[GpxLine] = []
    for row in _rows(lines):
        route, ends = _line_marks(row, names)
        routes.append(route)
        marks += ends
    tracks = [_edge_track(row, names, depth_unit) for row in _rows(edges)]
    marks += [_edge_mark(row, names) for row in _best_edges(edges)]
    marks += [_feature_mark(row, names, depth_unit) for row in _feature_rows(features)]
    return GpxContent(tuple(marks), tuple(routes), tuple(tracks))


def _check(lines: Any, edges: Any, features: Any) -> None:
    needed = {
        "line geometry": (LINES, lines),
        "edge_id top_depth_m foot_depth_m faces_deg geometry": (EDGES, edges),
        "feature_id kind crest_depth_m height_m peak_x peak_y geometry": (FEATURES, features),
    }
    for names, (table, given) in needed.items():
        if given is not None:
            table.check(given, *names.split())


def gpx_text(
    marks: GpxContent,
    *,
    title: str,
    warnings: Sequence[str] = (),
    symbols: Mapping[str, str] | None = None,
) -> str:
    """Write out GPX 1.1, with warnings and cautions as the file's description."""
    about = " ".join([*warnings, CAUTIONS])
    body = [_waypoint(mark, (symbols or {}).get(mark.kind, "")) for mark in marks.marks]
    body += [_route(route) for route in marks.routes]
    body += [_track(track) for track in marks.tracks]
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<gpx version="1.1" creator="{MAKER}" xmlns="http://www.topografix.com/GPX/1/1">\n'
        f"<metadata><name>{markup_text(title)}</name><desc>{markup_text(about)}</desc></metadata>\n"
        + "".join(body)
        + "</gpx>\n"
    )


def _rows(table: gpd.GeoDataFrame | None) -> list[dict[str, Any]]:
    """Rows with their geometry in degrees; those without one are left out."""
    if table is None or not len(table):
        return []
    placed = table.to_crs("EPSG:4326")
    return [
        row
        for row in placed.to_dict("records")
        if row["geometry"] is not None and not row["geometry"].is_empty
    ]


def _feature_rows(table: gpd.GeoDataFrame | None) -> list[dict[str, Any]]:
    """Rows whose geometry is the point of the crest, or deepest point."""
    if table is None or not len(table):
        return []
    points = gpd.points_from_xy(table["peak_x"], table["peak_y"], crs=table.crs)
    return _rows(table.set_geometry(points))


def _best_edges(table: gpd.GeoDataFrame | None) -> list[dict[str, Any]]:
    """Rows of the edges among the best ranked, whose geometry is the point to look at."""
    if table is None or not len(table) or "rank" not in table:
        return []
    EDGES.check(table, "middle_x", "middle_y")
    best = table[table["rank"] <= BEST].sort_values("rank")
    points = gpd.points_from_xy(best["middle_x"], best["middle_y"], crs=table.crs)
    return _rows(best.set_geometry(points))


def _line_marks(row: dict[str, Any], names: ShortNames) -> tuple[GpxLine, list[Mark]]:
    name = str(row["line"])
    care = _first_of(row.get("warning"), row.get("care", DRIFT_CAUTION))
    why = str(row.get("why") or "")
    route = _few_points(row["geometry"])
    points = _positions(route)
    middle, start, end = names.family(name, ["", "-A", "-B"])
    return (
        GpxLine(middle, "drift line", _first_of(care, why), (points,)),
        [
            Mark(start, "drift start", _first_of(care, f"Start of {name}.", why), points[0]),
            Mark(end, "drift end", _first_of(care, f"End of {name}."), points[-1]),
        ],
    )


def _edge_track(row: dict[str, Any], names: ShortNames, unit: str) -> GpxLine:
    about = (
        f"Edge, {format_quantity(row['top_depth_m'], unit)} down to "
        f"{format_quantity(row['foot_depth_m'], unit)}, deeper toward "
        f"{row['faces_deg']:03.0f} deg true. {MARK_CAUTION}"
    )
    shape = row["geometry"].simplify(THINNING_DEG)
    parts = shape.geoms if isinstance(shape, shapely.MultiLineString) else [shape]
    name = _ranked(row, "edge") or f"ED{row['edge_id']}"
    return GpxLine(names.give(name), "edge", about, tuple(_positions(part) for part in parts))


def _edge_mark(row: dict[str, Any], names: ShortNames) -> Mark:
    name = names.give(f"R{row['rank']:.0f}")
    about = _first_of(row.get("why"), MARK_CAUTION)
    return Mark(name, "edge", about, _positions(row["geometry"])[0])


def _ranked(row: dict[str, Any], kind: str) -> str:
    """Name a feature by its rank; ``""`` if it has none."""
    rank = row.get("rank")
    return "" if rank is None or rank != rank else f"R{rank:.0f} {kind}"  # noqa: PLR0124 (NaN)


def _feature_mark(row: dict[str, Any], names: ShortNames, unit: str) -> Mark:
    hump = row["kind"] == "hump"
    about = (
        f"{'Hump' if hump else 'Hole'} at {format_quantity(row['crest_depth_m'], unit)}, "
        f"{format_quantity(row['height_m'], unit)} {'high' if hump else 'deep'}. {MARK_CAUTION}"
    )
    name = _ranked(row, str(row["kind"])) or f"{'H' if hump else 'D'}{row['feature_id']}"
    return Mark(names.give(name), str(row["kind"]), about, _positions(row["geometry"])[0])


def _first_of(*sentences: object) -> str:
    """Put sentences in order into one text; what is missing is left out."""
    parts = [str(part).strip() for part in sentences if isinstance(part, str)]
    return " ".join(
        part if part.endswith((".", "!", "?")) else f"{part}." for part in parts if part
    )


def _few_points(line: shapely.LineString) -> shapely.LineString:
    """Thin a line to what a route may hold, as little as need be."""
    tolerance = 1e-6
    thin = line
    while shapely.get_num_points(thin) > ROUTE_POINTS:
        thin = line.simplify(tolerance)
        tolerance *= 2
    return thin


def _positions(shape: Any) -> tuple[Position, ...]:
    """Positions to 1 cm, longitude -180 up to but not 180, as the schema wants."""
    at = np.round(shapely.get_coordinates(shape), 7)
    at[:, 0] = np.round(half_turned(at[:, 0]), 7)
    return tuple((float(longitude), float(latitude)) for longitude, latitude in at)


def _place(position: Position) -> str:
    return f'lat="{position[1]:.7f}" lon="{position[0]:.7f}"'


def _description(name: str, about: str, kind: str, symbol: str = "") -> str:
    if NOT_A_CHART not in about:  # however it came in
        about = _first_of(about, NOT_A_CHART)
    note = f"<desc>{markup_text(about)}</desc>"
    sign = f"<sym>{markup_text(symbol)}</sym>" if symbol else ""
    return f"<name>{markup_text(name)}</name>{note}{sign}<type>{markup_text(kind)}</type>"


def _waypoint(mark: Mark, symbol: str) -> str:
    description = _description(mark.name, mark.about, mark.kind, symbol)
    return f"<wpt {_place(mark.position)}>{description}</wpt>\n"


def _route(route: GpxLine) -> str:
    points = "".join(f"<rtept {_place(point)}/>" for part in route.parts for point in part)
    return f"<rte>{_description(route.name, route.about, route.kind)}{points}</rte>\n"


def _track(track: GpxLine) -> str:
    parts = "".join(f"<trkseg>{_points(part)}</trkseg>" for part in track.parts)
    return f"<trk>{_description(track.name, track.about, track.kind)}{parts}</trk>\n"


def _points(part: Iterable[Position]) -> str:
    return "".join(f"<trkpt {_place(point)}/>" for point in part)
