"""A plan over a published survey in invented water, its files followed by another integrator."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import real_inputs as real
import rioxarray
import shapely
from thoroughness import THOROUGH

from benchmarks.planning.followed import Heights, Streams, World, check_plan
from layers.cli.main import main

EPOCH = np.datetime64("2031-06-14T08:00", "ns")  # midnight in the zone
STREAMS = Streams(
    EPOCH, (2.0, 5.0, 8.25, 11.25, 14.5, 17.5), (0.0, -0.8, 0.0, 0.95, 0.0, -0.9), 130.0
)
HEIGHTS = Heights((1.5, 8.0, 14.25, 20.5), (2.9, 0.2, 2.6, 0.9))
KNOT = 1852.0 / 3600.0
TO, LASTS_MIN = ("11:15", 210) if THOROUGH else ("9:45", 120)
FREE = {False: "held"} | ({True: "free"} if THOROUGH else {})


def clock(hour):
    return pd.Timestamp(EPOCH + np.timedelta64(round(hour * 60), "m")).strftime("%Y-%m-%dT%H:%MZ")


@pytest.fixture(scope="module")
def area(registry_file, tmp_path_factory):
    """The survey with streams and heights of our own making, as their published tables would be."""
    folder = tmp_path_factory.mktemp("survey")
    names = {0.0: "slack"} | {
        along: "flood" if along > 0 else "ebb" for along in STREAMS.along if along
    }
    streams = [
        f"{clock(hour)},{names[along]},{abs(along)}"
        for hour, along in zip(STREAMS.hours, STREAMS.along, strict=True)
    ]
    heights = [
        f"{clock(hour)},{metres},{'high' if metres > 1.5 else 'low'}"
        for hour, metres in zip(HEIGHTS.hours, HEIGHTS.metres, strict=True)
    ]
    (folder / "streams.csv").write_text("\n".join(["time,event,speed_mps", *streams]), "utf-8")
    (folder / "heights.csv").write_text("\n".join(["time,height_m,kind", *heights]), "utf-8")
    file = folder / "area.toml"
    file.write_text(
        f"""
[area]
timezone = "Etc/GMT+8"
[units]
depth = "m"
[grid]
files = ['{registry_file(*real.TIFF)}']
[depths]
band = "40-50 m"
contours = "40:65:5 m"
[water]
heights = "heights.csv"
currents = "streams.csv"
flood_toward = 130
[plan]
shortest_drift = "5 min"
""",
        "utf-8",
    )
    return file


@pytest.fixture(scope="module", params=FREE, ids=FREE.get)
def plan(request, area, tmp_path_factory):
    """A plan of hours about a turn of the tide: whether free, its folder, its layers."""
    free, out = request.param, tmp_path_factory.mktemp("plan")
    words = ["plan", "--area", str(area), "--date", "2031-06-14", "--from", "7:45", "--to", TO,
             "--wind", "SW 10 kn", *["--free"] * free, "--json", "--out", str(out)]  # fmt: skip
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code in (0, None)
    return (
        free,
        out,
        *(gpd.read_file(out / "plan.gpkg", layer=name) for name in ("plan", "timetable")),
    )


def test_every_pass_over_the_survey_goes_as_the_files_say(plan, registry_file):
    free, out, lines, legs = plan
    survey = rioxarray.open_rasterio(registry_file(*real.TIFF), masked=True)[0]
    speed = 0.0287 * 10 * KNOT + 0.0398  # skiff, V-hull (Allen & Plourde 1999)
    toward = np.radians(225.0 + 180.0)
    world = World(
        EPOCH, STREAMS, HEIGHTS, (speed * np.sin(toward), speed * np.cos(toward)),
        None if free else (0.4 * KNOT, 0.9 * KNOT), -survey, (-30.0, -15.0, 15.0, 30.0),
    )  # fmt: skip
    hours = EPOCH + np.array([465, 465 + LASTS_MIN], "timedelta64[m]")
    # on 26 degrees, the survey's steepest by the raster library, a metre between looks hides 0.25 m
    check_plan(world, lines, legs, tuple(hours), 1.524, within_m=0.25)  # 5 ft
    table = pd.read_csv(out / "timetable.csv", encoding="utf-8-sig")
    assert table["what"].tolist() == legs["what"].tolist()
    assert table["least_water_m"].to_numpy() == pytest.approx(
        legs["least_water_m"].to_numpy(), abs=1e-4, nan_ok=True
    )
    assert set(legs.geometry.geom_type) == {"LineString"}


def test_no_two_lines_of_a_tide_share_a_mark(plan):
    lines = plan[2].to_crs("EPSG:26910")
    marks = shapely.points([line.coords[0] for line in lines.geometry])
    # the streams turn at 8:15; between turns they run the same way
    flood = (lines["slot_start"] >= clock(8.25)).to_numpy()
    same = flood[:, None] == flood[None]
    near = shapely.distance(marks[:, None], marks[None]) <= 20.0
    assert (near & same).sum() == len(lines)
    assert flood.sum() > 1
    # without a logbook a day covers ground: each line is passed once, the next is another
    assert (lines["passes"] == 1).all()
