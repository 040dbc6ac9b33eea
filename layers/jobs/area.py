"""An area file to start from."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from layers.area import write_template
from layers.jobs.areas import area_of, in_depth_unit
from layers.jobs.progress import Progress, ignored
from layers.jobs.request import Request, Result, option, options_of

__all__ = ["AreaRequest"]


@dataclass(frozen=True, kw_only=True)
class AreaRequest(Request):
    """An area file with a line about every key, and what is known already."""

    out: Path = option(Path("area.toml"), metavar="FILE", help="The file to write.")
    name: str | None = option(
        None, metavar="TEXT", help="What the water is called.", overrules="area.name"
    )
    grid: tuple[str, ...] = ()
    timezone: str | None = None
    band: str | None = None
    contours: str | None = None
    replace: bool = option(False, help="Write over a file that is there.")

    def run(self, progress: Progress = ignored) -> Result:
        """Write the file; its values are read first, as a job will read them."""
        area = area_of(self)
        given: dict[tuple[str, str], str | list[str]] = {}
        for name, about in options_of(type(self)).items():
            value = getattr(self, name)
            if about.overrules and value:
                section, _, key = about.overrules.partition(".")
                given[section, key] = value
        for key in ("band", "contours"):
            if words := getattr(self, key):
                given["depths", key] = in_depth_unit(words, area)
        if self.grid:
            given["grid", "files"] = [_beside(file, self.out) for file in self.grid]
        write_template(self.out, given, replace=self.replace)
        return Result(area=area, files={"area": self.out})


def _beside(grid: str, out: Path) -> str:
    """Name a file from the folder of the area file, with / between folders."""
    if grid.startswith(("http://", "https://")):
        return grid
    try:
        return Path(os.path.relpath(grid, out.parent)).as_posix()
    except ValueError:  # another drive on Windows
        return Path(grid).resolve().as_posix()
