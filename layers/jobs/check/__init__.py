"""What files of any kind are, and what is wrong with them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from layers.jobs.check._area_files import FITTING as FITTING
from layers.jobs.check._area_files import file_fault as file_fault
from layers.jobs.check._area_files import files_inside as files_inside
from layers.jobs.check._area_files import files_named as files_named
from layers.jobs.check._checked import Checked as Checked
from layers.jobs.check._checking import check_file as check_file
from layers.jobs.check._kinds import kind_of as kind_of
from layers.jobs.parts.settings import area_of
from layers.jobs.progress import Progress, ignored, steps_of
from layers.jobs.requests import CheckRequest
from layers.jobs.result import Result


@dataclass(frozen=True, kw_only=True)
class CheckResult(Result):
    """What each file is, in the order asked."""

    checked: tuple[Checked, ...]

    @property
    def usable(self) -> bool:
        """Whether every file can be used as it is."""
        return all(one.usable for one in self.checked)

    def answer(self) -> dict[str, Any]:
        """Give all that was found for machines."""
        return {"files": [one.as_dict() for one in self.checked]}


def run(request: CheckRequest, progress: Progress = ignored) -> CheckResult:
    """Look at every file; the result says what is wrong with each."""
    area = area_of(request)
    files = [one for name in request.files for one in (name, *files_inside(name))]
    step = steps_of(progress, len(files))
    checked = []
    for name in files:
        step(f"reading {Path(name).name}")
        checked.append(check_file(name, area))
    return CheckResult(area=area, checked=tuple(checked))
