"""What the bottom holds, from a depth grid."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import Any

from layers.jobs.parts.area_ground import area_ground
from layers.jobs.parts.outputs import keep_inputs
from layers.jobs.parts.results import basemap_warnings
from layers.jobs.parts.settings import area_of
from layers.jobs.progress import Progress, ignored, steps_of
from layers.jobs.requests import ScoutRequest
from layers.jobs.result import Result, records
from layers.jobs.scout._coast import (
    chunk_words,
    coast_steps,
    forget_chunks,
    scout_stored,
    stored_grid,
)
from layers.jobs.scout._remarks import band_words, change_lines, change_words, changes_of
from layers.jobs.scout._scouting import SCOUT_STEPS, Scouted, scout_area, scout_files, write_scout


@dataclass(frozen=True, kw_only=True)
class ScoutResult(Result):
    """What was found on the bottom, in memory or in chunks."""

    scouted: Scouted
    in_chunks: bool = False

    @property
    def guesses(self) -> list[str]:
        """What was guessed of the grid, a sentence each."""
        return list(self.scouted.structure.grid.attrs.get("guesses", []))

    @property
    def depths(self) -> list[str]:
        """Lines on the grid's depths and the bands worth asking for; none where one is."""
        return list(band_words(self.scouted.structure, self.area))

    @property
    def moved(self) -> list[str]:
        """What moved since an older survey, a line for each of the greatest changes."""
        changes = self.scouted.changes
        return [] if changes is None else list(change_lines(changes, self.area))

    @property
    def charts(self) -> list[str]:
        """What the charts say of the grid, a sentence each."""
        charted = self.scouted.prospects.charted
        return [] if charted is None else list(charted.remarks)

    def answer(self) -> dict[str, Any]:
        """Give counts and ranking for machines."""
        return {
            "files": self.files,
            "counts": {name: len(table) for name, table in self.scouted.layers.items()},
            "guesses": self.guesses,
            "charts": self.charts,
            "notes": list(self.notes),
            "depths": self.depths,
            "ranking": records(self.scouted.prospects.ranking),
            **self._changes(),
        }

    def _changes(self) -> dict[str, Any]:
        """Give what moved since an older survey, if one was named."""
        changes = self.scouted.changes
        if changes is None:
            return {}
        return {
            "moved": self.moved,
            "alignment": asdict(changes.alignment),
            "changes": records(changes.patches),
            "moves": records(changes.moves),
        }


def run(request: ScoutRequest, progress: Progress = ignored) -> ScoutResult:
    """Find edges, humps and holes, rank them, and write layers, marks, report and map.

    A grid too large for memory is worked through in chunks; a run that was broken off goes on from
    those that are finished.
    """
    area = area_of(request)
    outputs = scout_files(request.out, compared=request.against is not None).values()
    keep_inputs(outputs, request, area)
    stored = stored_grid(area, request)
    about: tuple[str, ...] = ()
    if stored is None:
        step = steps_of(progress, SCOUT_STEPS)
        step("reading depths")
        ground = area_ground(area, step)
        scouted = scout_area(ground)
        changes = changes_of(ground.surface, area, request)
    else:
        about = (chunk_words(stored, request),)
        progress(about[0], 0.0)
        step = steps_of(progress, coast_steps(stored, request))
        scouted = scout_stored(stored, area, request, step)
        changes = changes_of(scouted.structure.bottom, area, request)
    if changes is not None and request.against is not None:
        words = tuple(change_words(changes, area, request.against))
        scouted = replace(scouted, changes=changes, notes=(*scouted.notes, *words))
    files = write_scout(request.out, scouted, area, step)
    forget_chunks(scouted.structure.bottom)
    return ScoutResult(
        area=area, files=files, notes=(*about, *scouted.notes), warnings=basemap_warnings(area),
        scouted=scouted, in_chunks=stored is not None,
    )  # fmt: skip
