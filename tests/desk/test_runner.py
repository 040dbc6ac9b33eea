"""Tasks are done in a process of their own, followed, stopped, and remembered."""

import asyncio
import json
import os
import shutil
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from coroutines import run_apart

from layers.area.editing import change_area
from layers.desk import runner as runners
from layers.desk.runner import Runner
from layers.desk.tasks import (
    Task,
    keep,
    new_task,
    plain_request,
    prune,
    request_from,
    task,
    tasks,
)
from layers.desk.waters import Water
from layers.jobs.requests import PlanRequest, TideRequest, TripRequest
from seabed.errors import SeabedError

DEMO = Path(__file__).parents[2] / "demo_area"


@pytest.fixture(scope="module")
def water(tmp_path_factory):
    folder = tmp_path_factory.mktemp("waters") / "sound"
    shutil.copytree(DEMO, folder)
    return Water(folder.resolve())


def finish(water, *steps):
    """Run steps, each given the runner, and close it."""

    async def all_of_them():
        runner = Runner(water)
        try:
            return [await step(runner) for step in steps]
        finally:
            await runner.close()

    return run_apart(all_of_them)


async def ended(runner, id_):
    while runner.now(id_).running:
        await asyncio.sleep(0.05)
    return runner.now(id_)


def asking(water, request):
    async def step(runner):
        wanted = new_task(water, request)
        await runner.submit(wanted)
        return await ended(runner, wanted.id)

    return step


def test_requests_go_to_json_and_back():
    for request in (
        TideRequest(area=Path("/a/area.toml"), date="2031-06-14", wind=("SW 8 kn",), every=30),
        TripRequest(tracks=(Path("/a/one.gpx"), Path("/a/two.gpx")), rods=2),
    ):
        job = type(request).__name__.removesuffix("Request").lower()
        plain = json.loads(json.dumps(plain_request(request)))
        assert request_from(job, plain) == request


@pytest.mark.parametrize(("job", "plain"), [("shell", {}), ("plan", {"nonsense": 1})])
def test_what_no_job_takes_is_refused(job, plain):
    with pytest.raises(SeabedError):
        request_from(job, plain)


def stopping(water, patience_s, until):
    """A plan that is stopped once a condition holds for it, by a runner of that patience."""

    async def step(runner):
        plan = PlanRequest(area=water.area_file, date="2031-06-14", wind=("SW 8 kn",))
        wanted = new_task(water, plan)
        with pytest.MonkeyPatch.context() as changes:
            changes.setattr(runners, "PATIENCE_S", patience_s)
            await runner.submit(wanted)
            while not until(runner.now(wanted.id)):
                await asyncio.sleep(0.01)
            await asyncio.wait_for(runner.cancel(wanted.id), 300)
        return runner.now(wanted.id)

    return step


@pytest.fixture(scope="module")
def came(water):
    """What came of steps that one runner did in this order: a worker takes long to start."""
    area = water.area_file
    day = TideRequest(area=area, date="2031-06-14")
    steps = {
        "ended": stopping(water, 0.2, lambda plan: plan.state != "waiting"),  # not yet warm
        "after that": asking(water, day),
        "done": asking(water, replace(day, every=180, out=Path("x"))),
        "wrong": asking(water, replace(day, wind=("sideways",))),
        "look": lambda runner: runner.look("depths", area_file=str(area)),
        "broken off": stopping(water, 1000.0, lambda plan: "contours" in plan.doing),
        "after it": asking(water, day),
    }
    return dict(zip(steps, finish(water, *steps.values()), strict=True))


def test_a_job_done_a_job_gone_wrong_and_a_look(water, came):
    done, wrong, depths = came["done"], came["wrong"], came["look"]
    assert done.state == "done"
    assert done.files
    assert all((water.folder / name).is_file() for name in done.files.values())
    assert all(name.startswith(f"results/{done.id}/") for name in done.files.values())
    assert done.answer(water)["cautions"]
    assert not done.stale(water)
    assert wrong.state == "wrong"
    assert "wind" in wrong.message or "wind" in wrong.keys
    assert str(water.folder) not in wrong.message
    assert depths["band"] == pytest.approx([18, 26])
    assert sum(depths["counts"]) == depths["cells"] > 1000
    of_tide = [came[step].id for step in ("after that", "done", "wrong", "after it")]
    assert [one.id for one in tasks(water, "tide")] == of_tide[::-1]  # two of one second too


def test_stopping_ends_a_job_and_the_next_one_is_done(water, came):
    assert (came["ended"].state, came["after that"].state) == ("stopped", "done")
    assert not (water.results / came["ended"].id).exists()


def test_a_plan_is_broken_off_in_the_middle_of_a_step(water, came):
    """Its process is not ended: that would be waited for."""
    assert (came["broken off"].state, came["after it"].state) == ("stopped", "done")
    assert not (water.results / came["broken off"].id).exists()


def test_a_job_that_died_with_the_program_is_reported(water):
    left = new_task(water, TideRequest(area=water.area_file))
    left.changed(water, state="working")
    Runner(water)
    assert task(water, left.id).state == "broken"


def test_a_result_is_stale_when_what_it_was_made_from_changes(water):
    made = new_task(
        water, TideRequest(area=water.area_file, heights=water.folder / "tide_table.csv")
    )
    assert not made.stale(water)
    table = water.folder / "tide_table.csv"
    table.write_text(table.read_text() + "\n")
    assert made.stale(water) == ["tide_table.csv"]


def test_a_plan_is_stale_when_a_table_of_its_area_changes(water):
    made = new_task(water, PlanRequest(area=water.area_file, date="2031-06-14"))
    assert not made.stale(water)
    table = water.folder / "current_table.csv"
    table.write_text(table.read_text() + "\n")
    assert made.stale(water) == ["current_table.csv"]


def test_only_a_change_of_meaning_of_the_area_file_makes_stale(water):
    text = water.area_file.read_text()
    made = new_task(water, PlanRequest(area=water.area_file, date="2031-06-14"))
    change_area(water.area_file, {("marks", "name_length"): 6})
    water.area_file.write_text("# mine\n" + water.area_file.read_text())
    assert not made.stale(water)
    change_area(water.area_file, {("boat", "rods"): 7})
    assert made.stale(water) == ["area.toml"]
    water.area_file.write_text(text)


def test_a_trip_is_stale_when_its_track_is_corrected(water):
    made = new_task(water, TripRequest(area=water.area_file, tracks=(water.folder / "trip_1.gpx",)))
    assert not made.stale(water)
    (water.folder / "trip_1.corrections.txt").write_text("2031-06-07 09:00:00Z cut\n")
    assert made.stale(water) == ["trip_1.corrections.txt"]
    (water.folder / "trip_1.corrections.txt").unlink()
    assert not made.stale(water)


def test_records_that_are_damaged_are_left_out(water):
    (water.results / "20990101-000000-tide.json").write_text("{")
    (water.results / "20990101-000001-tide.json").write_text('{"id": 3}')
    assert all(one.id.startswith("20") and one.id[:4] != "2099" for one in tasks(water))


def kept_plan(water, number, **values):
    """A plan of a day, done, with the files that it wrote."""
    id_ = f"203106{number:02}-070000-plan"
    folder = water.results / id_
    folder.mkdir(parents=True)
    files = {"sheet": folder / "sheet.pdf", "marks": folder / "plan.gpx"}
    for file in files.values():
        file.write_text("made")
    named = {name: file.relative_to(water.folder).as_posix() for name, file in files.items()}
    now = datetime.now(UTC).isoformat(timespec="seconds")
    done = {"state": "done", "ended": now, "files": named, "by_itself": True}
    made = Task(**({"id": id_, "job": "plan", "request": {}} | done | values)).changed(water)
    (water.results / f"{id_}.answer.json").write_text("{}")
    return made


def test_of_plans_that_the_desk_laid_by_itself_the_last_stay_and_all_that_were_used(tmp_path):
    water = Water(tmp_path.resolve())
    theirs = kept_plan(water, 1, by_itself=False)
    saved, noted, mended, linked, running = (kept_plan(water, number) for number in range(2, 7))
    keep(water, saved.id)
    (water.results / noted.id / "my notes.txt").write_text("slack came early")
    later = datetime.fromisoformat(mended.ended).timestamp() + 60
    os.utime(water.folder / mended.files["sheet"], (later, later))
    (water.results / linked.id).rename(water.folder / "tracks")
    (water.results / linked.id).symlink_to(water.folder / "tracks")
    running.changed(water, state="working")
    away = kept_plan(water, 7)  # a record that leads out of the results
    record = water.results / f"{away.id}.json"
    record.write_text(record.read_text().replace(f'"id": "{away.id}"', '"id": "../tracks"'))
    away = task(water, away.id)
    gone = [kept_plan(water, number) for number in (8, 9)]
    last = [kept_plan(water, number) for number in range(10, 15)]
    before = {path for path in water.folder.rglob("*") if path.is_file()}
    prune(water)
    lost = before - {path for path in water.folder.rglob("*") if path.is_file()}
    ends = (".json", ".answer.json")
    wanted = {water.results / f"{one.id}{end}" for one in gone for end in ends}
    wanted |= {water.folder / name for one in gone for name in one.files.values()}
    assert lost == wanted
    stay = [theirs, saved, noted, mended, linked, running, *last]
    assert {one.id for one in tasks(water)} == {one.id for one in (*stay, away)}
    assert not any((water.results / one.id).exists() for one in gone)
    prune(water)
    assert {one.id for one in tasks(water)} == {one.id for one in (*stay, away)}
