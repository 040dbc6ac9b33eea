"""What waves, line, light, launch and sightings add to a day of the tide and to a plan.

The part of the job's own processor time that goes into them on the demo, loaded: no start-up.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from time import process_time
from types import ModuleType
from typing import Any

from benchmarks.rows import Row

__all__ = ["run"]

DEMO = Path(__file__).parents[1] / "demo_area"
OF_TIDE = (
    "grid_for_sea", "sea_of", "sea_facts", "sea_dangers", "lead_facts", "seen_facts", "line_facts",
    "correct", "light_of", "launch_of", "air_facts",
)  # fmt: skip
OF_PLAN = ("sea_of", "_trough_m", "launch_of", "put_afloat", "facts_of_day")


def run() -> list[Row]:
    """Seconds with the physics against seconds without it; 0.3 s and a tenth are allowed."""
    from layers.jobs import plan, tide
    from layers.jobs.plan import _day_plan
    from layers.jobs.requests import PlanRequest, TideRequest

    with tempfile.TemporaryDirectory() as folder:
        area = Path(shutil.copytree(DEMO, Path(folder) / "demo")) / "area.toml"
        asked: dict[str, Any] = {
            "area": area, "date": "2031-06-14", "wind": ("SW 8 kn",),
            "seen": ("7:40 0.5 kn toward 340",),
        }  # fmt: skip
        day = TideRequest(**asked, line="30 deg toward 160, 1.5 oz, 25 ft")
        hours = PlanRequest(**asked, begin="9:00", end="11:00", out=Path(folder) / "plan")
        rows = []
        for work, module, names, job in (
            ("tide: a day with its physics", tide, OF_TIDE, lambda: tide.run(day)),
            ("plan: two hours with their physics", _day_plan, OF_PLAN, lambda: plan.run(hours)),
        ):
            job()  # loaded, and inner loops compiled
            whole, part = measured(module, names, job)
            rows.append(Row.of(work, "without it", whole, whole - part))
    return rows


def measured(
    module: ModuleType, names: tuple[str, ...], job: Callable[[], Any]
) -> tuple[float, float]:
    """Give the processor time of a job, and of it that of some functions of a module."""
    spent = [0.0]
    with timed(module, names, spent):
        begin = process_time()
        job()
        return process_time() - begin, spent[0]


@contextmanager
def timed(module: ModuleType, names: tuple[str, ...], spent: list[float]) -> Iterator[None]:
    """Add up the processor time of functions while they run in place of themselves."""
    own = {name: getattr(module, name) for name in names}

    def watched(function: Callable[..., Any]) -> Callable[..., Any]:
        def call(*words: Any, **options: Any) -> Any:
            begin = process_time()
            try:
                return function(*words, **options)
            finally:
                spent[0] += process_time() - begin

        return call

    try:
        for name, function in own.items():
            setattr(module, name, watched(function))
        yield
    finally:
        for name, function in own.items():
            setattr(module, name, function)
