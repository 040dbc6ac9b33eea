"""Lines keep their names, in whatever order trips are logged, in ``trip`` and in ``season``."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import pytest
from coarse_demo import coarse_demo

from layers.cli.main import main

DEMO = coarse_demo(4)
AREA = '[area]\nname = "Tollivane Sound"\ntimezone = "Etc/GMT+2"\n[logbook]\nfile = "book.gpkg"\n'


def run(*arguments: str) -> None:
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert not ended.value.code


def names(layers: Path) -> dict[str, str]:
    drifts = gpd.read_file(layers, layer="drifts")
    return dict(zip(drifts["drift_id"], drifts["line"], strict=True))


def test_the_season_calls_lines_as_each_trip_did(tmp_path, monkeypatch):
    """The demo's trips, the third first; then the season, also for another corridor."""
    monkeypatch.chdir(tmp_path)
    Path("area.toml").write_text(AREA)
    told: dict[str, str] = {}
    for trip in ("3", "1", "4"):
        run("trip", str(DEMO / f"trip_{trip}.gpx"), "--area", "area.toml", "--out", trip)
        told |= names(Path(trip, "trip.gpkg"))
    run("season", "--rank", "--area", "area.toml", "--out", "season")
    assert names(Path("season/season.gpkg")) == told
    run("trip", str(DEMO / "trip_1.gpx"), "--area", "area.toml", "--out", "again")
    assert names(Path("again/trip.gpkg")).items() <= told.items()
    Path("area.toml").write_text(AREA + '[lines]\ncorridor = "8 m"\n')
    run("season", "--rank", "--area", "area.toml", "--out", "narrow")
    narrow = names(Path("narrow/season.gpkg"))
    assert set(narrow.values()) - set(told.values())  # ground of its own now has a name of its own
    same = [drift for drift, name in narrow.items() if name == told[drift]]
    assert {told[drift] for drift in same} == set(told.values())  # and no name went elsewhere
