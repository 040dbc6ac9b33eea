"""A day without a logbook: short on screen, and the same on screen, sheet, map and file."""

import json
import re
from dataclasses import asdict
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import shapely

from layers.cli.commands.plan import show
from layers.jobs import plan
from layers.jobs.requests import PlanRequest
from layers.planning import PLAN
from seabed.grid.extent import metric_crs
from seabed.grid.places import sample

DEMO = Path(__file__).parents[2] / "demo_area" / "area.toml"


@pytest.fixture(scope="module")
def day(tmp_path_factory):
    request = PlanRequest(
        area=DEMO, date="2031-06-14", begin="7:00", end="12:00", wind=("SW 8 kn",),
        out=tmp_path_factory.mktemp("plan"),
    )  # fmt: skip
    return plan.run(request)


@pytest.fixture
def screen(day, capsys):
    show(day)
    return capsys.readouterr().out


def test_the_day_is_told_in_forty_lines(screen):
    lines = screen.splitlines()
    assert len(lines) <= 40
    assert lines.index(next(one for one in lines if one.startswith("from "))) > 1  # times come last


def test_minutes_water_and_shares_are_the_same_everywhere(day, screen):
    table = pd.read_csv(day.files["plan"])
    sheet = re.sub(r"<[^>]+>", " ", day.files["page"].read_text(encoding="utf-8"))
    page = day.files["map"].read_text(encoding="utf-8")
    packed = page.partition('"plan_passes":')[2]
    passes = {one["plan_id"]: one for one in json.JSONDecoder().raw_decode(packed)[0]}
    units = asdict(day.area.units)
    assert len(table) == len(day.lines) > 3
    for own, row in zip(table.itertuples(), day.lines.itertuples(), strict=True):
        (printed,) = re.findall(rf"^{row.plan_id} +(.+?)  +\d of 256", screen, re.MULTILINE)
        words = printed.split()
        assert int(words[2]) == round(own.drift_s / 60)
        water = "-".join(PLAN.words(row, name, units) for name in ("depth_min_m", "depth_max_m"))
        assert water in words
        least_ft, most_ft = (int(word) for word in water.split("-"))
        assert least_ft == np.floor(own.depth_min_m / 0.3048 + 1e-6)  # least water is never more
        assert most_ft == pytest.approx(own.depth_max_m / 0.3048, abs=0.51)
        assert words[-2] == f"{round(100 * own.share_in_band)}%"
        assert words[-1] == f"{round(100 * own.fan_in_band)}%"
        about = sheet[sheet.index(f"{row.plan_id} &nbsp;") :][:1500]
        assert f"{words[2]} min" in about
        assert f"{least_ft}" in about
        mapped = passes[row.plan_id]
        for name in ("drift_s", "depth_min_m", "share_in_band", "fan_in_band"):
            assert mapped[name] == pytest.approx(getattr(own, name), rel=1e-3)


def test_twice_the_edges_of_a_day_of_bits_are_passed(day):
    """Plans of one long edge in bits passed 2.1 km of edges in the band on this day."""
    crs = metric_crs(day.grid)
    edges = shapely.segmentize(
        shapely.union_all(day.structure.edges.to_crs(crs).geometry.to_numpy()), 5.0
    )
    pieces = np.array([
        piece for line in shapely.get_parts(edges)
        for piece in np.stack([line.coords[:-1], line.coords[1:]], axis=1)
    ])  # fmt: skip
    middle = shapely.points(pieces.mean(axis=1))
    degrees = day.structure.edges.iloc[:0].to_crs(crs).geometry.__class__(middle, crs=crs)
    degrees = degrees.to_crs("EPSG:4326")
    depth = sample(day.grid, degrees.x.to_numpy(), degrees.y.to_numpy())
    shallow, deep = day.area.depths.band_m
    passed = shapely.union_all(day.plan.passes.to_crs(crs).geometry.buffer(40.0).to_numpy())
    near = shapely.contains(passed, middle) & (depth >= shallow) & (depth <= deep)
    metres = np.hypot(*(pieces[:, 1] - pieces[:, 0]).T)[near].sum()
    assert metres >= 2 * 2100.0
    assert (day.plan.passes["drift_s"] >= day.area.plan.shortest_drift_s).all()
