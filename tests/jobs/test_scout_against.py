"""Scouting against an older survey: sentences, tables, layers, map and report; a real survey."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from thoroughness import THOROUGH

from layers.jobs import run
from layers.jobs.requests import ScoutRequest
from seabed import changes_since, open_grid
from seabed.errors import GridError, SeabedError
from seabed.loaders.writing import write_bands
from tests.change.two_surveys import laid, noisy, ripples, still_ground

DEEP_M, SPREAD_M = 2.5, 15.0


def hole(east, south):
    return DEEP_M * np.exp(-((east - 200) ** 2 + (south - 200) ** 2) / 2 / SPREAD_M**2)


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """A survey, and an older one, 0.3 m shallower, in which a hole had not filled."""
    folder, ground = tmp_path_factory.mktemp("surveys"), still_ground(1)
    newer = noisy(laid(lambda x, y: ground(x, y) + ripples(x, y, 8.0)), 0.05, 1)
    older = laid(lambda x, y: ground(x, y) + hole(x, y) + ripples(x, y, 0.0) - 0.3)
    newer[100, 300] -= 3
    for name, grid in (("newer.tif", newer), ("older.tif", noisy(older, 0.05, 2))):
        write_bands(folder / name, {"depth": grid})
    return folder


@pytest.fixture(scope="module")
def scouted(files, tmp_path_factory):
    out = tmp_path_factory.mktemp("against") / "out"
    return run(
        ScoutRequest(
            grid=(str(files / "newer.tif"),), against=files / "older.tif", out=out, units="m"
        )
    )


def test_what_moved_is_said(scouted):
    words = " ".join(scouted.notes)
    assert "Against older.tif, on cells of 2 m:" in words
    assert "The newer survey is 0.30 m deeper on ground that did not move (taken off)" in words
    lines = " ".join(scouted.moved)
    assert "a hole that is gone" in lines
    assert "Sand waves moved" in lines


def test_tables_layers_report_and_map_have_it(scouted):
    changes, moves = (pd.read_csv(scouted.files[name]) for name in ("changes", "moves"))
    assert {"filled", "scoured"} == set(changes["kind"])
    assert len(gpd.read_file(scouted.files["changes.geojson"])) == len(changes)
    assert len(gpd.read_file(scouted.files["structure"], layer="moves")) == len(moves) > 0
    report = scouted.files["report"].read_text()
    assert "a hole that is gone" in report
    assert "Doubtful sounding:" in report
    page = scouted.files["map"].read_text()
    assert all(f'"{name}":[{{' in page for name in ("changes", "moves", "doubtful"))


def test_the_answer_for_machines_has_it_too(scouted):
    answer = scouted.answer()
    assert answer["alignment"]["deeper_m"] == pytest.approx(0.3, abs=0.02)
    assert len(answer["changes"]) == len(scouted.scouted.changes.patches)


@pytest.mark.skipif(not THOROUGH, reason="a second form: in the thorough set")
def test_by_chunks_it_is_compared_as_well(files, scouted, tmp_path, monkeypatch):
    monkeypatch.setattr("layers.jobs.scout.write_scout", lambda *_: {})
    grid, against = (str(files / "newer.tif"),), files / "older.tif"
    result = run(ScoutRequest(grid=grid, against=against, out=tmp_path / "out", chunk=200, jobs=1))
    whole, parts = (one.scouted.changes.patches for one in (scouted, result))
    assert len(parts) == len(whole)
    assert parts["volume_m3"].sum() == pytest.approx(whole["volume_m3"].sum(), rel=1e-3)


def test_what_can_not_be_compared_is_refused(files, tmp_path):
    grid = (str(files / "newer.tif"),)
    with pytest.raises(SeabedError, match="for an older survey"):
        run(ScoutRequest(grid=grid, unmatched=True, out=tmp_path))
    far = laid(still_ground(1))
    write_bands(tmp_path / "far.tif", {"depth": far.assign_coords(x=far["x"] + 90_000)})
    with pytest.raises(GridError, match="share 0 cells") as error:
        run(ScoutRequest(grid=grid, against=tmp_path / "far.tif", out=tmp_path / "out"))
    assert "far.tif" in str(error.value.file)
    assert not (tmp_path / "out").exists()


def test_a_real_survey_against_itself(registry_file):
    """F00788, 8 m cells: with noise and a shift of half a cell put in, and a layer of sand."""
    grid = open_grid(registry_file("s100py", "2.0.1", "tests/s102/F00788_SR_8m.tif"))
    rng = np.random.default_rng(1)
    older = grid.copy(data=(grid.values + 0.1 * rng.normal(size=grid.shape)).astype(np.float32))
    older = older.assign_coords(x=older["x"] + 4.0)
    newer = grid.copy(data=(grid.values + 0.1 * rng.normal(size=grid.shape)).astype(np.float32))
    still = changes_since(newer, older)
    assert still.alignment.east_m == pytest.approx(-4, abs=1)
    assert len(still.patches) <= 1
    known = np.argwhere(np.isfinite(grid.values))
    row, column = known[len(known) // 2]
    sanded = newer.copy()
    sanded[row - 6 : row + 7, column - 6 : column + 7] -= 1.0
    moved = changes_since(sanded, older).patches
    assert moved["kind"].iloc[0] == "filled"
    known = np.isfinite(sanded.values[row - 6 : row + 7, column - 6 : column + 7]).sum()
    assert moved["volume_m3"].iloc[0] == pytest.approx(-known * 64.0, rel=0.1)
