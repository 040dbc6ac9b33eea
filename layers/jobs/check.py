"""What files of any kind are, and what is wrong with them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layers.jobs.progress import Progress, ignored, steps_of
from layers.jobs.request import FormatFields, Result, option

if TYPE_CHECKING:
    from layers.jobs.checks.checked import Checked

__all__ = ["CheckRequest", "CheckResult"]


@dataclass(frozen=True, kw_only=True)
class CheckRequest(FormatFields):
    """A look at files before they are used."""

    files: tuple[str, ...] = option(
        metavar="FILE", help="Files of any kind, or a grid's address.", argument=True
    )
    area: Path | None = None
    timezone: str | None = None
    units: str | None = None

    def run(self, progress: Progress = ignored) -> CheckResult:
        """Read every file; one that can't be read is told in the result."""
        from layers.jobs.areas import area_of
        from layers.jobs.checks.checking import check_file

        area = area_of(self)
        step = steps_of(progress, len(self.files))
        checked = []
        for name in self.files:
            step(f"reading {Path(name).name}")
            checked.append(check_file(name, area))
        return CheckResult(area=area, checked=tuple(checked))


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
