"""Earlier results as marks for the plotter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from layers.jobs.parts.earlier import choose, read_results
from layers.jobs.parts.outputs import keep_inputs
from layers.jobs.parts.results import write_area_marks
from layers.jobs.parts.settings import area_of
from layers.jobs.progress import Progress, ignored
from layers.jobs.requests import MarksRequest
from layers.jobs.result import Result
from layers.present import GpxContent


@dataclass(frozen=True, kw_only=True)
class MarksResult(Result):
    """Marks as they were written."""

    marks: GpxContent

    @property
    def counts(self) -> dict[str, int]:
        """How many of each there are."""
        return {kind: len(getattr(self.marks, kind)) for kind in ("marks", "routes", "tracks")}

    def answer(self) -> dict[str, Any]:
        """Give what was written for machines."""
        return {"files": self.files, "counts": self.counts, "names": self.marks.names}


def run(request: MarksRequest, progress: Progress = ignored) -> MarksResult:
    """Write the lines, edges, humps and holes of earlier results as GPX."""
    area = area_of(request)
    keep_inputs([request.out], request, area)
    progress("reading results", 0.0)
    tables = choose(read_results(request.results), names=request.line, best=request.best)
    progress("writing marks", 0.5)
    marks = write_area_marks(
        request.out, area, area.name or "Marks", tables.get("lines"),
        edges=tables.get("edges"), features=tables.get("features"),
    )  # fmt: skip
    return MarksResult(area=area, files={"marks": request.out}, marks=marks)
