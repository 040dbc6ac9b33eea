"""Days without a logbook that are hard to cover: calm, opposing wind, free, a scrap of a grid."""

import re

import numpy as np
import pytest
from coarse_demo import coarse_demo
from thoroughness import THOROUGH

from layers.jobs import plan
from layers.jobs.requests import PlanRequest
from layers.planning.day.plan_day import STRUCTURE_SCORE
from seabed.errors import SeabedError

DEMO = coarse_demo(4)
HOURS = {"date": "2031-06-14", "begin": "8:00", "end": "10:00"}
LEAST_WATER_M = 5 * 0.3048


@pytest.fixture
def unwritten(monkeypatch):
    """No files of the plan: its answer alone is looked at."""
    monkeypatch.setattr("layers.jobs.plan.write_plan", lambda plan, paper: ())


def day_of(tmp_path, **more):
    words = {"area": DEMO / "area.toml", "wind": ("SW 8 kn",), "out": tmp_path / "out"}
    return plan.run(PlanRequest(**(words | HOURS | more)))


DAYS = {
    "opposing": {"wind": ("N 15 kn",)},
    "free": {"wind": ("N 8 kn",), "free": True},
    "scrap": {"box": "-33.403,46.186,-33.398,46.190"},  # another ground
    "calm": {"wind": ("calm",)},
    "gale": {"wind": ("SW 25 kn",), "beyond_limits": True},
    "slack": {"begin": "6:15", "end": "8:15"},  # low water and slack
    "deep band": {"band": "30-60 ft"},
}


@pytest.mark.usefixtures("unwritten")
@pytest.mark.parametrize("name", [*DAYS] if THOROUGH else [*DAYS][:3])
def test_what_is_planned_can_be_made(tmp_path, name):
    more = DAYS[name]
    day = day_of(tmp_path, **more)
    passes, when = day.plan.passes, day.when
    assert day.worth_kind == STRUCTURE_SCORE and len(passes) > 0
    assert (day.lines["passes"] == 1).all() and len(passes) == len(day.lines)
    start = passes["start"].dt.tz_localize(None).to_numpy()
    lasts = (passes["drift_s"].to_numpy() * 1e9).astype("timedelta64[ns]")
    assert start[0] >= when.start and start[-1] + lasts[-1] <= when.end
    # lines up, and lines down after settling: half a minute, a minute and half a minute
    assert (start[1:] >= start[:-1] + lasts[:-1] + np.timedelta64(120, "s")).all()
    assert (passes["drift_s"] >= 600.0).all()
    assert (passes["depth_min_m"] >= LEAST_WATER_M - 1e-6).all()
    assert (passes["fan_stopped"] <= 256 / 50).all()
    assert (passes["worth"] > 0).all()
    assert bool(day.safety.beyond) == bool(more.get("beyond_limits"))


@pytest.mark.parametrize("table", ["heights", "currents"])
def test_a_table_that_ends_within_the_hours_is_refused(tmp_path, table):
    name = {"heights": "tide_table.csv", "currents": "current_table.csv"}[table]
    head, *rows = (DEMO / name).read_text(encoding="utf-8").splitlines()
    ends = next(at for at, row in enumerate(rows) if row >= "2031-06-14T09:00")
    short = tmp_path / name
    short.write_text("\n".join([head, *rows[:ends]]) + "\n", encoding="utf-8")
    area = (DEMO / "area.toml").read_text(encoding="utf-8").replace(name, short.as_posix())
    for file in ("sound.tif", "XX5TOLLI.000", "tide_table.csv", "current_table.csv"):
        area = area.replace(f'"{file}"', f'"{(DEMO / file).as_posix()}"')
    (tmp_path / "area.toml").write_text(area, encoding="utf-8")
    with pytest.raises(SeabedError, match=r"runs from .* to 2031-06-14 0\d:\d\d"):
        day_of(tmp_path, area=tmp_path / "area.toml")
    assert not (tmp_path / "out").exists()


def test_a_gale_leaves_no_hour(tmp_path):
    with pytest.raises(SeabedError, match=re.escape("wind up to 25 kn (limit 20 kn)")):
        day_of(tmp_path, wind=("SW 25 kn",))
    assert not (tmp_path / "out").exists()


@pytest.mark.usefixtures("unwritten")
def test_hours_too_short_for_a_drift_are_refused(tmp_path):
    with pytest.raises(SeabedError, match="too short for a drift of 10 min"):
        day_of(tmp_path, begin="7:00", end="7:09")
    assert len(day_of(tmp_path, begin="7:00", end="7:10").plan.passes) == 1
