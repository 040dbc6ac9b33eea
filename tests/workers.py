"""How tests are shared out between workers: a file is one piece of work, the longest ones first.

Fixtures of a module are then made once, and no worker begins a long file when the other is done.
"""

from __future__ import annotations

from typing import Any

import pytest
from xdist.scheduler import LoadFileScheduling

LONGEST = (
    "test_whole_job.py", "test_trip_page.py", "test_keyboard.py", "test_desk_in_firefox.py",
    "test_pages.py", "test_hard_places.py", "test_demo_run.py", "test_plan_limits.py",
    "test_plan.py", "test_map_of_plan.py", "test_killed.py", "test_examples.py",
    "test_attacked.py", "test_nothing_calls_out.py", "test_own_water_page.py", "test_changes.py",
    "test_picture.py", "test_day_told_alike.py", "test_map_in_browser.py", "test_own_grid.py",
    "test_logbook_whole.py", "test_every_reader.py", "test_wheel.py", "test_runs_in_chunks.py",
    "test_main.py", "test_plan_followed.py", "test_map_tools.py", "test_backups.py",
    "test_compiled.py", "test_map_in_firefox.py", "test_map_for_everybody.py",
    "test_scout_against.py", "test_share_attacked.py", "test_limits.py",
)  # fmt: skip
"""Files that take long, the longest first; who waits for a browser or a server begins early."""
APART = "docs/test_pages.py"
"""A file whose tests share nothing."""


class ByFile(LoadFileScheduling):
    """Give a worker a file at a time, in the order of collection."""

    def __init__(self, config: pytest.Config, log: Any) -> None:
        super().__init__(config, log)
        config.option.loadscopereorder = False

    def _split_scope(self, nodeid: str) -> str:
        return nodeid if APART in nodeid else str(super()._split_scope(nodeid))


def longest_first(items: list[pytest.Item]) -> None:
    """Put the tests of the longest files before all others."""
    rank = {name: number for number, name in enumerate(LONGEST)}
    items.sort(key=lambda item: rank.get(item.path.name, len(rank)))
