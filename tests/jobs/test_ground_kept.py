"""The ground of an area is searched once for all jobs, until its files or settings change."""

from __future__ import annotations

import os
import re
import shutil
from dataclasses import replace

import pytest
from coarse_demo import coarse_demo

from layers.area._fishing import LogbookFile
from layers.jobs import scout, trip
from layers.jobs.parts.area_ground import area_ground, stamp_of
from layers.jobs.parts.settings import area_of
from layers.jobs.plan._known_ground import ground_of
from layers.jobs.requests import ScoutRequest, TripRequest
from seabed.errors import LogbookError

DEMO = coarse_demo(4)


@pytest.fixture
def water(tmp_path):
    """A corner of the demo area."""
    file = shutil.copytree(DEMO, tmp_path / "water") / "area.toml"
    box = '[grid]\nbox = "-33.392,46.190,-33.380,46.197"\n'
    file.write_text(file.read_text("utf-8").replace("[grid]\n", box), encoding="utf-8")
    return file


def test_another_grid_chart_or_band_is_another_ground(water):
    area = area_of(ScoutRequest(area=water))
    first = area_ground(area)
    assert area_ground(replace(area, timezone="UTC")) is first
    assert area_ground(replace(area, depths=replace(area.depths, band_m=(3.0, 4.0)))) is not first
    again = area_ground(area)
    assert area_ground(area) is again
    for file in (*area.grid.files, *area.charts.files):
        os.utime(file, ns=(1, 1))
        assert area_ground(area) is not again
        again = area_ground(area)
    area.charts.files[0].with_suffix(".001").touch()
    assert area_ground(area) is not again


def test_a_sheet_of_a_workbook_has_the_state_of_the_workbook(tmp_path):
    book = tmp_path / "depths.xlsx"
    book.write_bytes(b"one")
    before = stamp_of(f"{book}#June")
    book.write_bytes(b"other")
    assert stamp_of(f"{book}#June") != before == (str(book), before[1])
    for given in (None, "https://example.org/grid.tif", tmp_path / "no" / "grid.tif"):
        assert stamp_of(given) == given


def test_one_job_after_another_answers_as_each_alone(water, tmp_path):
    """What is kept of the ground is not changed by a job that uses it."""
    of = {"area": water, "log": tmp_path / "book.gpkg"}
    tracks = {"tracks": (water.with_name("trip_2a.gpx"),)}
    fish = {"catches": (water.with_name("catches.csv"),)}
    jobs = [
        lambda out: trip.run(TripRequest(**of, **tracks, **fish, out=out)),
        lambda out: scout.run(ScoutRequest(area=water, out=out)),
    ]

    def told(name, grounds):
        of["log"].unlink(missing_ok=True)
        tables = []
        for number, job in enumerate(jobs):
            if not grounds:
                os.utime(water.with_name("sound.tif"))
            files = job(tmp_path / f"{name}{number}").files.values()
            texts = [one.read_text() for one in files if one.suffix in (".csv", ".html")]
            tables += [re.sub('"made":"[^"]*"', "", text) for text in texts]
        return tables

    alone, kept = told("alone", grounds=False), told("kept", grounds=True)
    assert len(alone) > 10
    assert alone == kept


def test_a_logbook_left_empty_by_a_kill_is_none_to_a_plan(water, tmp_path):
    book = tmp_path / "book.gpkg"
    book.touch()
    area = replace(area_of(ScoutRequest(area=water)), logbook=LogbookFile(book))
    assert ground_of(area).scores(area) is None
    with pytest.raises(LogbookError, match="the logbook is empty"):
        ground_of(area).scores(area, required=True)
