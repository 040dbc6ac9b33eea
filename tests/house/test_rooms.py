"""No room is crowded, and no module long."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FILES = [
    file
    for package in ("seabed", "layers")
    for file in (ROOT / package).rglob("*")
    if file.is_file() and file.suffix in {".py", ".pyi", ".js", ".css"}
]
MOST_FILES, MOST_LINES = 20, 450


def test_no_room_has_more_than_twenty_files_side_by_side():
    rooms = Counter(file.parent.relative_to(ROOT).as_posix() for file in FILES)
    assert len(rooms) > 20
    assert {room: count for room, count in rooms.items() if count > MOST_FILES} == {}


@pytest.mark.parametrize("suffix", [".py", ".js"])
def test_no_module_is_long(suffix: str):
    lines = {
        file.relative_to(ROOT).as_posix(): len(file.read_text(encoding="utf-8").splitlines())
        for file in FILES
        if file.suffix == suffix
    }
    assert len(lines) > 20
    assert {file: count for file, count in lines.items() if count > MOST_LINES} == {}
