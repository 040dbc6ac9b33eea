"""Drifts under motor are left out of a learned current, by the log's own word, and listed."""

import shutil

import pytest
from coarse_demo import coarse_demo

from layers.cli.commands.tide import show
from layers.jobs import tide
from layers.jobs.requests import TideRequest
from seabed.errors import WaterError

DEMO = coarse_demo(4)
TRIPS = ("trip_1.gpx", "trip_2a.gpx", "trip_2b.gpx", "trip_3.gpx", "trip_4.gpx")
WINDS = (("07", 7, 235), ("14", 10, 160), ("21", 5, 300), ("29", 12, 210))


@pytest.fixture(scope="module")
def request_of(tmp_path_factory):
    folder = tmp_path_factory.mktemp("ground")
    for name in ("area.toml", "tide_table.csv", "current_table.csv", *TRIPS):
        shutil.copy(DEMO / name, folder)
    rows = [f"2031-06-{day} {hour}:00,{kn},{way}" for day, kn, way in WINDS for hour in (6, 12)]
    (folder / "wind.csv").write_text("time,speed_kn,from\n" + "\n".join(rows))

    def request(*trips):
        return TideRequest(
            area=folder / "area.toml",
            learn=tuple(folder / name for name in trips),
            wind=(str(folder / "wind.csv"),),
        )

    return request


def test_the_hours_under_motor_are_left_out_and_said(request_of, capsys):
    before = tide.run(request_of(*TRIPS)).answer()
    folder = request_of().area.parent
    (folder / "trip_1.corrections.txt").write_text("2031-06-07 08:00-09:30 motor\n")
    result = tide.run(request_of(*TRIPS))
    after = result.answer()
    by_log = [one for one in after["motored"] if "corrections" in one["why"]]
    assert [one["trip"] for one in by_log] == ["2031-06-07"] * len(by_log)
    assert by_log
    in_part = sum("part of the time" in one["why"] for one in by_log)
    whole = before["drifts"] + len(before["motored"])
    assert after["drifts"] + len(after["motored"]) - in_part == whole
    show(result)
    printed = capsys.readouterr().out
    assert f"the motor ran or seems to have run, {len(after['motored'])} drifts" in printed
    for one in after["motored"]:
        assert f"  {one['drift_id']}, " in printed
        assert one["why"] in printed


def test_a_log_that_says_motor_of_all_leaves_nothing_to_learn(request_of):
    folder = request_of().area.parent
    beside = folder / "trip_3.corrections.txt"
    beside.write_text("2031-06-21 00:00-11:59 motor\n2031-06-21 11:59-23:59 motor\n")
    with pytest.raises(WaterError, match="the motor ran on every drift"):
        tide.run(request_of("trip_3.gpx"))
    beside.unlink()


def test_too_few_drifts_to_tell_are_said(request_of):
    assert any("all count as" in note for note in tide.run(
        request_of("trip_3.gpx", "trip_4.gpx")
    ).notes)  # fmt: skip
