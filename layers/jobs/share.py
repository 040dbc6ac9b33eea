"""A copy of the logbook that gives no spot away."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from layers.area import Area
from layers.jobs.parts.outputs import files_of, keep_inputs, same_file
from layers.jobs.parts.scores import naming_of
from layers.jobs.parts.settings import area_of, length_of, logbook_of
from layers.jobs.progress import Progress, ignored
from layers.jobs.requests import ShareRequest
from layers.jobs.result import Result
from layers.logbook import Logbook, shared_layers, square_m
from layers.present import write_geopackage
from seabed.errors import SeabedError

__all__ = ["ShareResult", "run"]


@dataclass(frozen=True, kw_only=True)
class ShareResult(Result):
    """Where the copy is, and how coarse its positions are."""

    coarse: str
    coarse_m: float

    def answer(self) -> dict[str, Any]:
        """Give both for machines."""
        return {"files": self.files, "coarse_m": self.coarse_m}


def run(request: ShareRequest, progress: Progress = ignored) -> ShareResult:
    """Write a copy of a logbook whose positions are middles of squares, without what tells more.

    Raises
    ------
    SeabedError
        If no logbook is named, or the copy would replace it, or a file that is no earlier copy.
    """
    area = area_of(request)
    progress("writing", 0.0)
    return share(logbook_of(area), request.share, area, coarse=request.coarse)


def share(path: Path, target: Path, area: Area, *, coarse: str) -> ShareResult:
    """Write the copy; as `run`, which reads a request."""
    if same_file(path, target):
        raise SeabedError(
            "is the logbook itself, which a coarse copy must not replace",
            file=target,
            key="share",
            do="Name another file; nothing was changed.",
        )
    keep_inputs([target], files_of(area))
    coarse_m = length_of(coarse, "coarse")
    square = square_m(coarse_m)
    layers = shared_layers(Logbook(path), coarse_m, naming=naming_of(area))
    write_geopackage(target, layers)
    shown = coarse if square == coarse_m else f"{square / 1000:g} km"
    return ShareResult(area=area, files={"shared": target}, coarse=shown, coarse_m=square)
