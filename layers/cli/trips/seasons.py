"""What ``season`` does with a logbook."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Final

import geopandas as gpd

from layers.area import Area
from layers.cli.basemap import basemap_of
from layers.cli.bottom import Structure, find_structure, hazards_of, open_area_grid
from layers.cli.outputs import files_of, keep_inputs, same_file
from layers.cli.progress import progress
from layers.cli.settings import currents_of, heights_of
from layers.cli.showing import (
    counted,
    print_json,
    print_places,
    print_ranking,
    records,
    say_length,
    table_text,
)
from layers.cli.trips.expecting import expected_over, onto_paths, write_onto
from layers.cli.trips.score_files import naming_of, print_scores, score_paths, write_scores
from layers.exports import write_geojson, write_geopackage, write_marks, write_table_csv
from layers.logbook import Logbook, merge, shared_layers
from layers.maps import MapContent, write_map
from layers.scoring import Ground, Scores, score_season
from layers.tracks import with_conditions
from seabed.errors import SeabedError
from seabed.files import replacing
from seabed.units import format_quantity, parse_length

__all__ = ["export", "listed", "merge_in", "rank", "remove", "share", "show", "update"]

FORMATS: Final = ("csv", "geojson", "geoparquet")


def listed(path: Path, *, as_json: bool) -> None:
    """Print a line a trip, and the season's totals."""
    trips = Logbook(path).trips()
    if as_json:
        print_json({"trips": records(trips.drop(columns=["digest", "files"]))})
        return
    headers = ["trip", "hours", "drifts", "rod-h", "kept", "short", "fish"]
    rows = [
        [
            row.trip, f"{(row.end - row.start).total_seconds() / 3600:.1f}", str(row.drifts),
            f"{row.rod_hours:.1f}", str(row.kept), str(row.short), str(row.fish),
        ]
        for row in trips.itertuples()
    ]  # fmt: skip
    print(table_text(headers, rows))
    print(
        f"\n{counted(len(trips), 'trip')}, {counted(int(trips['drifts'].sum()), 'drift')}, "
        f"{trips['rod_hours'].sum():.1f} "
        f"rod-hours, {trips['kept'].sum()} kept of {trips['fish'].sum()} fish"
    )


def show(path: Path, trip: str, area: Area, *, as_json: bool) -> None:
    """Print a trip drift by drift."""
    entry = Logbook(path).entry(trip)
    fish = entry.catches.groupby("drift_id").size()
    if as_json:
        print_json(
            {
                "trip": trip,
                "files": list(entry.files),
                "drifts": records(entry.drifts),
                "catches": records(entry.catches),
            }
        )
        return
    print(f"{trip}: {', '.join(entry.files)}\n")
    headers = ["drift", "start", "min", "rod-h", "speed", "depth", "fish"]
    rows = [
        [
            row.drift_id, f"{row.start.tz_convert(area.timezone):%H:%M}",
            f"{row.duration_s / 60:.0f}", f"{row.rod_hours:.2f}",
            format_quantity(row.sog_mps, area.units.speed, digits=1),
            format_quantity(row.depth_mean_m, area.units.depth), str(fish.get(row.drift_id, 0)),
        ]
        for row in entry.drifts.itertuples()
    ]  # fmt: skip
    print(table_text(headers, rows))
    print(f"\n{len(entry.catches)} fish, {fish.get('', 0)} tied to no drift")


def remove(path: Path, trip: str, area: Area, *, as_json: bool) -> None:
    """Take a trip out."""
    Logbook(path).remove(trip, naming=naming_of(area))
    if as_json:
        print_json({"removed": trip})
    else:
        print(f"Removed: {trip}")


def rank(path: Path, area: Area, out: Path, *, onto: str | None = None, as_json: bool) -> None:
    """Rank the lines of all trips; write table, layers, marks and map; tell other water `onto`."""
    book = Logbook(path)
    files = {
        "map": out / "map.html",
        "marks": out / "marks.gpx",
        "ranking": out / "lines.csv",
        "layers": out / "season.gpkg",
        **score_paths(out),
    }
    outputs = [*files.values(), *(onto_paths(out).values() if onto else ())]
    keep_inputs(outputs, [path, onto, *files_of(area)])
    said: list[str] = []
    with progress(8, quiet=as_json) as step:
        step("reading the logbook")
        drifts, catches, known = book.drifts(), book.catches(), book.lines()
        structure = hazards = None
        if area.grid.files:
            grid = open_area_grid(area)
            hazards = hazards_of(area, grid)
            structure = find_structure(grid, area, step)
        step("ranking lines")
        scores = _scores(drifts, catches, known, area, structure)
        drifts, lines = scores.drifts, scores.lines
        step("writing tables and marks")
        write_table_csv(files["ranking"], lines)
        write_geopackage(files["layers"], {"lines": lines, "drifts": drifts, "catches": catches})
        expected = expected_over(scores, structure)
        if "expected_fish" not in write_scores(out, scores, expected):
            del files["expected_fish"]
        write_marks(
            files["marks"],
            lines,
            name_length=area.marks.name_length,
            depth_unit=area.units.depth,
            title=area.name or "Drift lines",
        )
        step("drawing the map")
        write_map(
            files["map"],
            MapContent(
                basemap=basemap_of(area),
                units=area.units,
                title=area.name or "Season",
                timezone=area.timezone,
                drifts=with_conditions(drifts, heights=heights_of(area)),
                lines=lines,
                catches=catches,
                stretches=scores.stretches,
                expected=expected,
                hazards=hazards,
                **({} if structure is None else structure.on_map),
            ),
        )
        if onto:
            written, said = write_onto(out, scores, area, onto, step)
            files |= written
    if as_json:
        print_json(
            {
                "files": files,
                "lines": records(lines),
                "stretches": records(scores.stretches),
                "notes": said,
            }
        )
        return
    print_ranking(lines, area)
    print()
    print_scores(scores, area)
    for sentence in said:
        print(sentence)
    print()
    labels = {"map": "Map", "marks": "Marks", "ranking": "Ranking"}
    print_places(files, labels | ({"onto_map": "Other water"} if onto else {}))


def _scores(
    drifts: gpd.GeoDataFrame,
    catches: gpd.GeoDataFrame,
    known: gpd.GeoDataFrame,
    area: Area,
    structure: Structure | None,
) -> Scores:
    """Score a logbook.  It keeps no fixes: depths along a drift are the charted ones."""
    grid = edges = features = None
    if structure is not None:
        grid, edges, features = structure.grid, structure.edges, structure.features
    ground = Ground(grid, edges, features, heights_of(area), currents_of(area))
    return score_season(
        drifts,
        catches,
        ground=ground,
        corridor_m=area.lines.corridor_m,
        known=known,
        timezone=area.timezone,
        say=say_length(area),
    )


def export(path: Path, form: str, area: Area, out: Path, *, as_json: bool) -> None:
    """Write out every table."""
    if form not in FORMATS:
        raise SeabedError(
            f"{form!r} is no format", where="--export", do=f"Use {', '.join(FORMATS)}."
        )
    ending = {"csv": "csv", "geojson": "geojson", "geoparquet": "parquet"}[form]
    files = {name: out / f"{name}.{ending}" for name in ("drifts", "pieces", "catches")}
    files["trips"] = out / "trips.csv"
    keep_inputs(files.values(), [path, *files_of(area)])
    book = Logbook(path)
    tables = {"drifts": book.drifts(), "pieces": book.pieces(), "catches": book.catches()}
    for name, table in tables.items():
        if form == "csv":
            write_table_csv(files[name], table)
        elif form == "geojson":
            write_geojson(files[name], table)
        else:
            _write_geoparquet(files[name], table)
    write_table_csv(files["trips"], book.trips().drop(columns="digest"))
    if as_json:
        print_json({"files": files})
    else:
        print_places(files, {name: name for name in files})


def merge_in(path: Path, other: Path, *, prefer_other: bool, as_json: bool) -> None:
    """Add another logbook's trips."""
    if same_file(path, other):
        raise SeabedError(
            "is the logbook itself", file=other, where="--merge", do="Name another logbook."
        )
    done = merge(Logbook(path), Logbook(other), prefer_other=prefer_other)
    if as_json:
        print_json(asdict(done))
        return
    print(f"{len(done.added)} trips added, {len(done.same)} the same in both")
    if done.differing:
        kept = (
            "the other's taken" if prefer_other else "ours kept; --prefer-other takes the other's"
        )
        print(f"{len(done.differing)} differ ({kept}): {', '.join(done.differing)}")


def share(path: Path, target: Path, coarse: str, area: Area, *, as_json: bool) -> None:
    """Write a copy that gives no spot away."""
    if same_file(path, target):
        raise SeabedError(
            "is the logbook itself, which a coarse copy must not replace",
            file=target,
            where="--share",
            do="Name another file; nothing was changed.",
        )
    keep_inputs([target], files_of(area))
    layers = shared_layers(Logbook(path), parse_length(coarse))
    write_geopackage(target, layers)
    if as_json:
        print_json({"files": {"shared": target}, "coarse_m": parse_length(coarse)})
        return
    print(
        f"Positions are middles of squares of {coarse}; left out: tracks, courses, depths, hours, "
        "files and notes."
    )
    print_places({"shared": target}, {"shared": "Shared copy"})


def update(path: Path, *, as_json: bool) -> None:
    """Bring an older logbook up to date."""
    backup = Logbook(path).update()
    if as_json:
        print_json({"backup": backup})
    elif backup is None:
        print("The logbook is up to date.")
    else:
        print(f"Up to date; the old one is kept as {backup}")


def _write_geoparquet(path: Path, table: gpd.GeoDataFrame) -> None:
    with replacing(path) as partial:
        table.to_parquet(partial)
