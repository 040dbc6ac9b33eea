"""A logbook in a folder of its own."""

from __future__ import annotations

import pytest

from layers.logbook import Logbook


@pytest.fixture
def book(tmp_path) -> Logbook:
    return Logbook(tmp_path / "Ås 日本.gpkg", wait_s=0.2)
