"""The bottom scouted: doubt of the grid, coarse cells."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from affine import Affine
from two_scarps import NORTH, TRANSFORM, WEST, bottom

from layers.area import default_area
from layers.jobs.parts.area_ground import AreaGround
from layers.jobs.scout._scouting import scout_area
from seabed.grid import make_grid
from seabed.loaders import Surface


def scouted(grid, area, uncertainty=None):
    ground = AreaGround(area)
    ground.surface = Surface(grid, uncertainty)
    return scout_area(ground).prospects


def test_doubt_of_the_grid_reaches_ranking_and_words():
    depth = make_grid(bottom(), transform=TRANSFORM, crs=32625)
    spread = make_grid(np.full((150, 300), 4.0), transform=TRANSFORM, crs=32625)
    sure, unsure = (scouted(depth, default_area(), doubt) for doubt in (None, spread))
    assert not sure.ranking["doubtful"].any()
    assert "uncertainty_m" not in sure.edges
    upper = unsure.edges.sort_values("top_depth_m").iloc[0]
    assert (upper["uncertainty_m"], upper["doubtful"]) == (4.0, True)
    row = unsure.ranking[unsure.ranking["rank"] == upper["rank"]].iloc[0]
    assert "Lower than the grid's own uncertainty of 13 ft: it may not be there." in row["why"]
    before = sure.ranking.set_index(["kind", "feature_id"])["score"]
    after = unsure.ranking.set_index(["kind", "feature_id"])["score"]
    assert (after < before.reindex(after.index)).all()


def test_coarse_cells_are_scouted_too():
    """Cells of 80 m: finer scales than these are not looked for, and nothing fails."""
    rows, columns = np.mgrid[:40, :60]
    grid = make_grid(
        20 + 6 * np.tanh((columns - 30) / 3) + 0 * rows,
        transform=Affine(80, 0, WEST, 0, -80, NORTH),
        crs=32625,
    )
    area = default_area()
    area = replace(area, structure=replace(area.structure, edge_scale_m=200.0))
    found = scouted(grid, area)
    assert found.ranking["kind"].tolist() == ["edge"]
    assert found.axes.empty
    assert found.waves.empty
