"""Earlier results as marks for the plotter."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layers.jobs.progress import Progress, ignored
from layers.jobs.request import Request, Result, option

if TYPE_CHECKING:
    from layers.exports import Marks

__all__ = ["MarksRequest", "MarksResult"]


@dataclass(frozen=True, kw_only=True)
class MarksRequest(Request):
    """Marks of lines, edges, humps and holes that earlier jobs found."""

    results: tuple[Path, ...] = option(
        metavar="FILE", help="GeoPackages that scout or trip wrote.", argument=True
    )
    line: tuple[str, ...] = option(
        (), metavar="NAME", help="Only this line; more than once for several."
    )
    best: int | None = option(None, metavar="N", help="Only the N best lines.")
    out: Path = option(Path("marks.gpx"), metavar="FILE", help="The GPX file to write.")
    area: Path | None = None
    units: str | None = None
    name_length: int | None = None

    def run(self, progress: Progress = ignored) -> MarksResult:
        """Read the results, and write one GPX file."""
        from layers.exports import write_marks
        from layers.jobs.areas import area_of
        from layers.jobs.earlier_results import choose_lines, read_results
        from layers.jobs.outputs import files_of, keep_inputs

        area = area_of(self)
        keep_inputs([self.out], [*self.results, *files_of(area)])
        progress("reading results", 0.0)
        tables = read_results(self.results)
        lines = choose_lines(tables.get("lines"), names=self.line, best=self.best)
        progress("writing marks", 0.5)
        marks = write_marks(
            self.out,
            lines,
            tables.get("edges"),
            tables.get("features"),
            name_length=area.marks.name_length,
            depth_unit=area.units.depth,
            title=area.name or "Marks",
        )
        return MarksResult(area=area, files={"marks": self.out}, marks=marks)


@dataclass(frozen=True, kw_only=True)
class MarksResult(Result):
    """Marks as they were written."""

    marks: Marks

    @property
    def counts(self) -> dict[str, int]:
        """How many of each there are."""
        kinds = {
            "marks": self.marks.marks,
            "routes": self.marks.routes,
            "tracks": self.marks.tracks,
        }
        return {kind: len(some) for kind, some in kinds.items()}

    def answer(self) -> dict[str, Any]:
        """Give what was written for machines."""
        return {"files": self.files, "counts": self.counts, "names": self.marks.names}
