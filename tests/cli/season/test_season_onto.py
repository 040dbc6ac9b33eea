"""``season --rank --onto``: what the logbook teaches of other water, and no more."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from taught_season import BAND_M, season, write_waters

from layers.cli.main import main
from layers.logbook import Logbook


def run(*arguments: str) -> int:
    with pytest.raises(SystemExit) as ended:
        main(("season", "--rank", "--area", "area.toml", "--out", "out", *arguments))
    return int(ended.value.code or 0)


@pytest.fixture
def here(tmp_path, monkeypatch) -> Path:
    """The current folder: a bottom of 3 to 13 m, and other water that is in part much deeper."""
    monkeypatch.chdir(tmp_path)
    write_waters(tmp_path)
    return tmp_path


def test_other_water_shows_where_its_like_was_fished(here, capsys):
    Logbook("book.gpkg").add(season(pattern=True))
    assert run("--onto", "there.tif") == 0
    said = capsys.readouterr().out
    with rasterio.open("out/onto_expected_fish.tif") as file:
        rate, low, high = file.read()
    with rasterio.open("there.tif") as file:
        depth = file.read(1)
    told = np.isfinite(rate)
    assert not told[np.isnan(depth)].any()
    assert not told[depth > 13].any() and not told[depth < 3].any()  # never fished: blank
    best = depth[np.unravel_index(np.nanargmax(rate), rate.shape)]
    assert BAND_M[0] - 0.3 <= best <= BAND_M[1] + 0.3
    assert (low[told] <= rate[told]).all() and (rate[told] <= high[told]).all()
    share = told.sum() / np.isfinite(depth).sum()
    assert f"there.tif: {share:.0%} of it is like water that was fished" in said
    assert Path("out/expected_fish.tif").exists()
    assert '"expected":{' in Path("out/onto_map.html").read_text(encoding="utf-8")
    assert '"expected":{' in Path("out/map.html").read_text(encoding="utf-8")


def test_where_nothing_is_known_nothing_is_claimed(here, capsys):
    Logbook("book.gpkg").add(season(pattern=False))
    Path("out").mkdir()
    Path("out/expected_fish.tif").write_bytes(b"of another season")
    assert run() == 2  # no earlier run made it
    assert run("--replace") == 0
    assert not Path("out/expected_fish.tif").exists()
    assert '"expected":null' in Path("out/map.html").read_text(encoding="utf-8")
    capsys.readouterr()
    assert run("--onto", "there.tif") == 2
    assert "--onto: the logbook shows nothing that holds" in capsys.readouterr().err
    assert not Path("out/onto_map.html").exists()


def test_only_ranking_tells_of_other_water(here, capsys):
    Logbook("book.gpkg").add(season(pattern=False)[:1])
    with pytest.raises(SystemExit):
        main(("season", "--area", "area.toml", "--onto", "there.tif"))
    assert "--onto: means nothing without --rank. Give --rank as well" in capsys.readouterr().err
