"""A whole plan: short on screen, and the same on screen, sheet, map and in its files."""

import json
import re
from dataclasses import asdict, replace
from itertools import groupby
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pypdf
import pytest
import shapely
from coarse_demo import coarse_demo
from thoroughness import THOROUGH

from layers.cli.commands.plan import show
from layers.cli.main import main
from layers.jobs import plan
from layers.jobs.plan._plan_result import map_of_plan
from layers.jobs.plan.printed_rows import push_words
from layers.jobs.requests import PlanRequest
from layers.planning import PLAN
from layers.present.sheet.content import NO_HAZARDS
from seabed.grid.extent import metric_crs
from seabed.grid.places import sample

DEMO = coarse_demo(4) / "area.toml"
HOURS = {"begin": "7:00", "end": "12:00"}

PRINTED = {
    "min": ("drift_s",), "toward": ("bearing_deg",), "kn": ("sog_mps",),
    "water ft": ("depth_min_m", "depth_max_m"), "in band": ("share_in_band",),
    "fan": ("fan_in_band",),
}  # fmt: skip
"""Columns of the screen, and what they hold of a line."""


def day_of(out, **more):
    return plan.run(
        PlanRequest(
            date="2031-06-14", out=out, **({"area": DEMO, "wind": ("SW 8 kn",)} | HOURS | more)
        )
    )  # fmt: skip


@pytest.fixture(scope="module")
def day(tmp_path_factory):
    return day_of(tmp_path_factory.mktemp("plan"))


@pytest.fixture(scope="module")
def day_with_a_logbook(tmp_path_factory):
    out = tmp_path_factory.mktemp("book")
    words = ["trip", str(DEMO.parent / "trip_2a.gpx"), str(DEMO.parent / "trip_2b.gpx"), "--area",
             str(DEMO), "--catches", str(DEMO.parent / "catches.csv"), "--log",
             str(out / "log.gpkg"), "--out", str(out), "--json"]  # fmt: skip
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code in (0, None)
    hours = {} if THOROUGH else {"begin": "10:00"}
    return day_of(out / "plan", log=out / "log.gpkg", **hours)


@pytest.fixture(params=["day", "day_with_a_logbook"])
def either(request):
    return request.getfixturevalue(request.param)


def screen_of(day, capsys):
    show(day)
    return capsys.readouterr().out


def test_the_day_fits_in_forty_lines(either, capsys):
    lines = [*either.warnings, *screen_of(either, capsys).splitlines()]
    assert len(lines) <= 40
    assert lines.index(next(one for one in lines if one.startswith("from "))) > 1  # times come last


def test_a_boat_left_alone_in_a_gale_adds_a_row_a_line(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("layers.jobs.plan.write_plan", lambda plan, paper: ())
    area = coarse_demo() / "area.toml"
    gale = day_of(tmp_path, area=area, wind=("SW 40 kn",), free=True, beyond_limits=True)
    assert len(gale.lines) > 15  # each with one pass
    screen = screen_of(gale, capsys)
    rest = len([*gale.warnings, *screen.splitlines()]) - len(gale.lines)
    assert rest <= 22  # so forty, with up to 18 lines
    down = [
        one for words in re.findall("lines down ([0-9:, ]+)", screen) for one in words.split(", ")
    ]
    starts = gale.plan.passes["start"].dt.tz_convert(gale.area.timezone)
    assert down == [f"{start:%H:%M}" for start in starts.sort_values()]


def screen_rows(screen):
    """The table of lines: its columns by name, for each line."""
    head, *lines = (
        re.split(r"\s{2,}", one.strip()) for one in screen.split("\nworth:")[0].split("\n")
    )
    assert head[0] == "line"
    return {words[0]: dict(zip(head, words, strict=True)) for words in lines}


def map_data(day):
    page = day.files["map"].read_text(encoding="utf-8")
    return json.loads(re.search(r'id="data">(.*?)</script>', page, re.DOTALL)[1])


def sheet_texts(day):
    """Words of the sheet's PDF, and of its page, each as one line."""
    pages = pypdf.PdfReader(day.files["sheet"]).pages
    page = re.sub(r"<[^>]+>", " ", day.files["page"].read_text(encoding="utf-8"))
    texts = " ".join(one.extract_text() for one in pages), page.replace("&nbsp;", " ")
    return [re.sub(r"\s+", " ", text) for text in texts]


def test_every_line_is_the_same_everywhere(either, capsys):
    day = either
    screen = screen_rows(screen_of(day, capsys))
    units = asdict(day.area.units)
    others = {
        "csv": pd.read_csv(day.files["plan"]).to_dict("records"),
        "json": day.answer()["plan"],
        "map": map_data(day)["plan"],
    }
    pdf, page = sheet_texts(day)
    assert list(screen) == [row.plan_id for row in day.lines.itertuples()]
    assert len(screen) > 1
    for words in screen.values():
        for name, rows in others.items():
            (row,) = (SimpleNamespace(**one) for one in rows if one["plan_id"] == words["line"])
            for column, parts in PRINTED.items():
                own = "-".join(PLAN.words(row, part, units) for part in parts)
                assert own == words[column], (name, column)
            assert f"{row.fan_stopped} of {row.fan_boats}" == words["stopped"], name
            assert str(row.passes) == words["passes"], name
            assert push_words(row, "kn") == words["push"], name
        least, most = words["water ft"].split("-")
        told = (
            f"{words['toward']}°T, .{{3,20}}, {words['min']} min at {words['kn']} kn, "
            f"{words['passes']} pass(es)? {least} to {most} ft, {words['in band']} in band, "
            f"{words['fan']} if water and wind differ, {words['stopped']} stopped"
        )
        for text in (pdf, page):
            header = f"{words['line']} {words['from']} to "
            assert re.search(told, text[text.index(header) :][:800]), (header, told)


def test_every_pass_is_the_same_on_sheet_map_and_in_the_timetable(either):
    day = either
    units = asdict(day.area.units)
    table = pd.read_csv(day.files["timetable"])
    drifts = table[table["what"] == "drift"].to_dict("records")
    mapped = map_data(day)["plan_passes"]
    passes = day.answer()["passes"]
    pdf, page = sheet_texts(day)
    assert len(drifts) == len(mapped) == len(passes) > 3
    for row, on_map, own in zip(drifts, mapped, passes, strict=True):
        assert row["plan_id"] == on_map["plan_id"] == own["plan_id"]
        lasts = pd.Timestamp(row["end"]) - pd.Timestamp(row["start"])
        assert lasts.total_seconds() == pytest.approx(on_map["drift_s"], abs=1.0)
        assert on_map["depth_min_m"] == pytest.approx(row["least_water_m"], rel=1e-3)
        for name in ("drift_s", "bearing_deg", "depth_min_m", "share_in_band", "fan_in_band"):
            assert on_map[name] == pytest.approx(own[name], rel=1e-3, abs=1e-3)
    for name, group in groupby(passes, key=lambda one: one["plan_id"]):
        rows = [SimpleNamespace(**one) for one in group]
        for label, column in (("minutes", "drift_s"), ("least ft", "depth_min_m"),
                              ("in band", "share_in_band"), ("fan", "fan_in_band")):  # fmt: skip
            cells = [PLAN.words(row, column, units) for row in rows]
            if len(set(cells)) > 1:  # what is the same for all passes is with the line
                for text in (pdf, page):
                    at = re.search(rf"{name} \d\d:\d\d to", text).start()
                    printed = re.findall(rf"{label} ((?:\d+%? )+)", text[at:])
                    assert " ".join(cells) in " ".join(" ".join(printed).split()), (name, label)


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


def test_the_map_warns_that_no_chart_was_read(day):
    assert NO_HAZARDS not in map_of_plan(day).warnings
    assert map_of_plan(replace(day, charted=None)).warnings[-1] == NO_HAZARDS
