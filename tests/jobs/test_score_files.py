"""Files and words of the scores, on a toy season whose hot stretch and best depth are planted."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio
from geographiclib.geodesic import Geodesic
from rasterio.transform import from_origin
from shapely.geometry import LineString

from benchmarks.worlds.responses import open_season
from layers.area import default_area
from layers.catches import as_catches
from layers.cli.showing import print_scores
from layers.jobs.parts.scores import expected_over, known_lines, ranked_files, write_scores
from layers.jobs.season._ranked_lines import share_known, write_onto
from layers.logbook import Entry, Logbook, Naming
from layers.scoring import LINES, Ground, Scores, gather_lines, score_season
from layers.scoring.ground import response_over
from layers.scoring.naming import name_lines
from layers.scoring.response import fit_response
from seabed.errors import SeabedError
from seabed.grid import make_grid

DAY = pd.Timestamp("2031-06-14T08:00Z")
LENGTH_M, MINUTES = 400.0, 20
HOT = (205, 210, 215, 220, 222, 225, 228, 231, 234, 238, 240, 243)


def written(folder: Path, scores: Scores, expected=None) -> dict[str, Path]:
    files = ranked_files(folder, "season.gpkg")
    write_scores(files, scores, expected)
    of_scores = {"stretches", "by_species", "by_what", "by_tackle", "expected_fish"}
    return {name: path for name, path in files.items() if name in of_scores}


def north(metres: float, east: float = 0.0) -> tuple[float, float]:
    spot = Geodesic.WGS84.Direct(46.2, -33.4 + east, 0, metres)
    return spot["lon2"], spot["lat2"]


def drifts(count: int = 6, east: float = 0.0) -> gpd.GeoDataFrame:
    """`count` drifts 400 m straight north."""
    rows = [
        {
            "drift_id": f"d{i}", "trip": f"t{i % 3}", "start": DAY + pd.Timedelta(hours=i),
            "end": DAY + pd.Timedelta(hours=i, minutes=MINUTES), "duration_s": MINUTES * 60.0,
            "distance_m": LENGTH_M, "sog_mps": 1 / 3, "course_deg": 0.0, "depth_mean_m": 6.0,
            "rod_hours": 2 * MINUTES / 60,
            "geometry": LineString([north(m, east) for m in np.linspace(0, LENGTH_M, 41)]),
        }
        for i in range(count)
    ]  # fmt: skip
    return gpd.GeoDataFrame(rows, geometry="geometry", crs="EPSG:4326")


def catches(*places_m: float) -> gpd.GeoDataFrame:
    """A fish at each of these metres along, on one drift after the other; two species."""
    rows = [
        {
            "time": DAY + pd.Timedelta(hours=i % 6, seconds=metres / LENGTH_M * MINUTES * 60),
            "species": ("dab", "flounder")[i % 3 == 0], "length_m": np.nan, "kept": True,
            "rod": "", "note": "", "file": "log.csv", "row": i,
            "longitude": north(metres)[0], "latitude": north(metres)[1],
        }
        for i, metres in enumerate(places_m)
    ]  # fmt: skip
    table = as_catches(rows)  # in order of time
    ids = [f"d{row % 6}" for row in table["row"]]
    return table.assign(drift_id=ids, tied_by="time")


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture(scope="module")
def hot() -> Scores:
    return score_season(drifts(), catches(*HOT, 40, 330))


def test_tables_hold_the_planted_stretch_and_every_species(hot, tmp_path):
    files = written(tmp_path, hot)
    assert set(files) == {
        "stretches",
        "by_species",
        "by_what",
        "by_tackle",
    }  # no grid: no expected fish
    (row,) = rows_of(files["stretches"])
    assert row["hot"] == "True" and "drift it shorter, from " in row["why"]
    assert float(row["start_m"]) < 205 and float(row["end_m"]) > 243
    assert float(row["start_latitude"]) < north(205)[1] < float(row["end_latitude"])
    species = rows_of(files["by_species"])
    assert next(iter(species[0])) == "species"
    assert {one["species"]: one["fish"] for one in species} == {"dab": "9", "flounder": "5"}
    assert {row["factor"] for row in rows_of(files["by_what"])} >= {"sog_mps", "hour"}


def test_a_hot_stretch_is_said_and_none_is_said_too(hot, capsys):
    print_scores(hot)
    said = capsys.readouterr().out
    assert said.startswith("Hot stretch of N1: ") and "drift it shorter, from " in said
    even = score_season(drifts(), catches(*range(20, 400, 20)))
    print_scores(even)
    said = capsys.readouterr().out
    assert "No line shows a hot stretch" in said
    assert "drift it shorter, from " not in said


def test_the_screen_tells_of_the_best_lines_and_counts_the_rest(hot, capsys):
    many = pd.concat([hot.stretches] * 9, ignore_index=True)
    print_scores(replace(hot, stretches=many))
    said = capsys.readouterr().out
    assert said.count("Hot stretch of") == 6
    assert "And 3 more; stretches.csv lists them all." in said


def test_no_fish_gives_empty_tables_with_their_columns(tmp_path, capsys):
    none = score_season(drifts(), catches())
    files = written(tmp_path, none)
    assert rows_of(files["stretches"]) == [] and rows_of(files["by_species"]) == []
    assert files["by_species"].read_text("utf-8-sig").startswith("species,line,rank")
    print_scores(none)
    assert "No line shows a hot stretch" in capsys.readouterr().out


def test_expected_fish_lie_over_the_grid(hot, tmp_path):
    response = fit_response(open_season(np.random.default_rng(3)))
    assert response is not None and set(response.factors) == {"depth_m", "state"}
    depth = np.tile(np.array([np.nan, 4.0, 6.5, 9.0, 40.0], np.float32), (3, 1))
    grid = make_grid(depth, transform=from_origin(469_995.0, 5_116_005.0, 10, 10), crs="EPSG:32625")
    scores = replace(hot, response=response)
    expected = response_over(response, grid, height_m=0.5)
    path = written(tmp_path, scores, expected)["expected_fish"]
    assert share_known(expected, grid) == pytest.approx(3 / 4)  # of four cells with a depth
    with rasterio.open(path) as file:
        assert file.descriptions == ("rate", "rate_low", "rate_high")
        assert file.crs.to_epsg() == 32625
        assert file.transform == from_origin(469_995.0, 5_116_005.0, 10, 10)
        rate, low, high = file.read()
        assert np.isnan(file.nodata)
    truth = response.rate(pd.DataFrame({"depth_m": [4.5, 7.0, 9.5]}))["rate"]  # tide on top
    assert rate[1, 1:4] == pytest.approx(truth.to_numpy(), rel=1e-5)
    assert np.isnan(rate[:, [0, 4]]).all()
    assert (low <= rate)[:, 1:4].all() and (rate <= high)[:, 1:4].all()
    # a later run that can tell nothing leaves no file of an earlier one
    assert "expected_fish" not in written(tmp_path, scores) and not path.exists()


def test_a_trips_lines_take_their_names_from_the_logbook(tmp_path):
    path = tmp_path / "book.gpkg"
    naming = Naming(40.0, name_lines)
    assert known_lines(None, naming) is None
    new = known_lines(path, naming)
    assert new is not None and not len(new) and not path.exists()
    first = pd.concat([drifts(1, east=0.004), drifts(1)], ignore_index=True)
    first = first.assign(drift_id=["a", "b"], trip="t", start=[DAY, DAY + pd.Timedelta(hours=1)])
    end = DAY + pd.Timedelta(hours=2)
    fish = catches().drop(columns=["longitude", "latitude"])
    pieces = first.assign(kind="drift").drop(columns=["drift_id"])
    Logbook(path).add([Entry("t", DAY, end, (), first, pieces, fish)])
    known = known_lines(path, naming)
    assert known is not None and known["line"].tolist() == ["N1", "N2"]
    # alone, the same drift would be the first line of its trip
    assert set(gather_lines(drifts(1))["line"]) == {"N1"}
    assert set(gather_lines(drifts(1), known=known)["line"]) == {"N2"}


def test_columns_are_those_of_the_ranking(hot, tmp_path):
    (row, *_) = rows_of(written(tmp_path, hot)["by_species"])
    assert set(LINES.names) - {"geometry"} <= set(row)


@pytest.mark.parametrize("fish", [0, 2])
def test_a_season_without_a_drift_has_no_scores(tmp_path, fish):
    none = drifts().iloc[:0]
    grid = make_grid(
        np.full((4, 4), 6.0, np.float32),
        transform=from_origin(469_995.0, 5_116_005.0, 10, 10),
        crs="EPSG:32625",
    )
    log = catches(*range(fish)).assign(drift_id="")
    scores = score_season(none, log, ground=Ground(grid), timezone="Etc/GMT+2")
    assert scores.response is None
    files = written(tmp_path, scores)
    assert all(rows_of(path) == [] for path in files.values())


def test_what_holds_on_a_few_lines_is_laid_over_no_other_water(hot, tmp_path):
    response = fit_response(
        pd.DataFrame(
            {
                "depth_m": np.tile([6.0, 14.0], 200), "rod_hours": 0.5,
                "trip": np.repeat(np.arange(20), 20).astype(str),
                "line": [f"L{i % 24}" for i in range(400)],
                "drift_id": np.repeat(np.arange(100), 4).astype(str),
                "fish": np.random.default_rng(0).poisson(np.tile([2.0, 0.1], 200)),
            }
        )
    )  # fmt: skip
    assert response is not None and response.lines == 24
    few = replace(hot, response=response)
    assert "depth_m on these 24 lines: best at " in response.sentences()[0]
    with pytest.raises(SeabedError, match="the logbook has 24 lines: what pays on them need not"):
        write_onto(tmp_path, few, default_area(), "there.tif")
    assert expected_over(few, None) is None
