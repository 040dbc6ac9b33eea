"""The ground of an area: its bottom, charts, structure and scores, kept for the next plan.

A process that plans one day after another, as the desk's does, reads and searches the ground once.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import geopandas as gpd
import xarray as xr

from layers.area import Area
from layers.jobs.parts.scores import score_book
from layers.jobs.parts.structure import Structure, find_structure, hazards_of, open_area_surface
from layers.jobs.progress import Step
from layers.jobs.scout.prospects import Prospects, ranked
from layers.logbook import Logbook
from layers.planning import structure_worth
from layers.scoring import Scores
from seabed.loaders import Surface
from seabed.structure.ranking import rank_structure, with_ranks


@dataclass
class KnownGround:
    """What an area's files say of the ground; each part is worked out when it is first asked for.

    step: told what is being done.
    """

    area: Area
    step: Step = lambda doing: None
    _scores: list[tuple[Any, Scores | None]] = field(default_factory=list)

    @cached_property
    def surface(self) -> Surface:
        """Depths, with their uncertainty."""
        return open_area_surface(self.area)

    @property
    def grid(self) -> xr.DataArray:
        """Depths alone."""
        return self.surface.depth

    @cached_property
    def hazards(self) -> gpd.GeoDataFrame | None:
        """Hazards of the charts; None where no chart is named."""
        return hazards_of(self.area, self.grid)

    @cached_property
    def structure(self) -> Structure:
        """Contours, band, edges, humps and holes."""
        return find_structure(self.grid, self.area, self.step)

    @cached_property
    def prospects(self) -> Prospects:
        """Structure as a scouting ranks and names it."""
        return ranked(
            self.structure, self.area, uncertainty=self.surface.uncertainty, hazards=self.hazards,
            step=self.step,
        )  # fmt: skip

    @cached_property
    def structure_score(self) -> xr.DataArray:
        """Worth of each cell by its band and structure alone."""
        edges, features = self.structure.edges, self.structure.features
        ranking = rank_structure(edges, features, band=self.area.depths.band_m)
        own = [with_ranks(table, ranking) for table in (edges, features)]
        return structure_worth(self.grid, self.area.depths.sought_m, own)

    def scores(self, area: Area, *, required: bool = False) -> Scores | None:
        """Score an area's logbook; None without drifts, and where it is not there nor `required`.

        Raises LogbookError if it can't be read.
        """
        path = area.logbook.file
        if path is None or not (required or path.exists()):
            return None
        key = (area, [_stamp(one) for one in (path, area.water.heights, area.water.currents)])
        if not self._scores or self._scores[0][0] != key:
            book = Logbook(path)
            drifts, scores = book.drifts(), None
            if len(drifts):
                scores = score_book(drifts, book.catches(), book.lines(), area, self.structure)
            self._scores = [(key, scores)]
        return self._scores[0][1]


def ground_of(area: Area, step: Step = lambda doing: None) -> KnownGround:
    """Give the ground of an area: the last one again, where its files and settings are the same."""
    files = [*area.grid.files, *area.charts.files]
    sections = area.grid, area.charts, area.depths, area.structure, area.units
    key = (sections, [_stamp(path) for path in files])
    if not _last or _last[0][0] != key:
        _last[:] = [(key, KnownGround(area))]
    ground = _last[0][1]
    ground.step = step
    return ground


_last: list[tuple[Any, KnownGround]] = []


def _stamp(path: Any) -> Any:
    """Tell one state of a file from another."""
    try:
        state = Path(path).stat()
    except (OSError, TypeError):
        return path
    return str(path), state.st_mtime_ns, state.st_size, state.st_ino
