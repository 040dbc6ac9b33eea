"""Without a band of depth all depths count alike, and the grid's own are shown."""

from __future__ import annotations

import json

import numpy as np
import pytest
from affine import Affine

from layers.cli.main import main
from layers.planning.day.reasons import why_words
from seabed.grid import make_grid
from seabed.structure import edges, humps, rank_structure
from seabed.structure.contours import round_levels


@pytest.fixture(scope="module")
def deep(tmp_path_factory):
    """A slope from 36 to 67 m (119 to 220 ft) with a hump and a lone sounding on its upper flat."""
    row, column = np.mgrid[:160, :200]
    depth = 36 + 31 / (1 + np.exp(-(column - 110) / 4.0))
    depth -= 1.8 * np.exp(-((row - 100) ** 2 + (column - 40) ** 2) / 2 / 7**2)
    depth += 0.05 * np.random.default_rng(1).normal(size=depth.shape)
    depth[40, 40] -= 2.5
    file = tmp_path_factory.mktemp("deep") / "deep.tif"
    grid = make_grid(
        -depth.astype(np.float32), transform=Affine(4, 0, 5e5, 0, -4, 6e6), crs="EPSG:32631"
    )
    grid.rio.to_raster(file)
    return file


def command(words):
    with pytest.raises(SystemExit) as left:
        main(words)
    assert left.value.code == 0


def test_scout_ranks_by_form_and_shows_the_depths(deep, tmp_path, capsys):
    words = ["scout", str(deep), "--sign", "elevation", "--out", str(tmp_path / "out"), "--json"]
    command(words)
    answer = json.loads(capsys.readouterr().out)
    kinds = {row["kind"] for row in answer["ranking"]}
    assert kinds == {"edge", "hump"}
    assert min(row["score"] for row in answer["ranking"]) > 10
    assert all(row["band_length_m"] is None for row in answer["ranking"])
    assert answer["counts"]["doubtful_soundings"] == 1
    assert answer["counts"]["contours"] > 8
    depths = "\n".join(answer["depths"])
    assert "210-220 ft" in depths
    assert "110-120 ft" in depths
    assert "Most edges are in these bands" in depths
    assert any("may be a rock" in note for note in answer["notes"])


def test_nothing_to_rank_says_what_to_lower(tmp_path, capsys):
    flat = make_grid(
        np.full((60, 60), -9.0, np.float32), transform=Affine(4, 0, 5e5, 0, -4, 6e6), crs=32631
    )
    flat.rio.to_raster(tmp_path / "flat.tif")
    out = str(tmp_path / "out")
    command(["scout", str(tmp_path / "flat.tif"), "--sign", "elevation", "--out", out])
    assert "Lower edge_min_drop, hump_min_height or edge_min_length" in capsys.readouterr().out


def test_a_band_that_holds_all_ranks_as_none_does():
    row, column = np.mgrid[:120, :160]
    depth = 20 + 4 / (1 + np.exp(-(column - 100) / 2.0))
    depth -= 2 * np.exp(-((row - 60) ** 2 + (column - 40) ** 2) / 2 / 5**2)
    grid = make_grid(
        depth.astype(np.float32), transform=Affine(4, 0, 5e5, 0, -4, 6e6), crs="EPSG:32631"
    )
    all_depths = (0.0, 100.0)
    banded = rank_structure(edges(grid, band=all_depths), humps(grid), band=all_depths)
    free = rank_structure(edges(grid), humps(grid))
    np.testing.assert_allclose(free["score"], banded["score"])
    assert free["band_length_m"].isna().all()
    assert not edges(grid)["in_band"].any()


@pytest.mark.parametrize(
    ("least", "greatest", "unit_m"), [(36.2, 67.3, 0.3048), (0.3, 1.1, 1.0), (-3.0, 4000.0, 1.0)]
)
def test_round_levels_are_about_a_dozen_within_the_depths(least, greatest, unit_m):
    levels = np.array(round_levels(least, greatest, unit_m=unit_m))
    assert 5 <= len(levels) <= 13
    assert least <= levels[0]
    assert levels[-1] <= greatest
    step = np.diff(levels)[0] / unit_m
    leading = step / 10.0 ** np.floor(np.log10(step) + 1e-9)
    assert min(abs(leading - one) for one in (1, 2, 5)) < 1e-6
    assert round_levels(5.0, 5.0) == ()
    assert round_levels(np.nan, np.nan) == ()


def test_words_of_a_line_leave_out_a_band_that_is_none():
    assert why_words({}, 400.0, np.nan, 900.0) == "Passes no structure"
    assert why_words({}, 400.0, 450.0, 900.0).endswith("8 of 15 min in the band")
