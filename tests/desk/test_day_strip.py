"""The strip of a day: the job's own picture, narrow, in the colours of the page."""

import re
from pathlib import Path

import pytest

from layers import jobs
from layers.desk.looks import day
from layers.jobs.requests import TideRequest
from layers.present.looks import css_variables
from seabed.errors import WaterError

AREA = Path(__file__).parents[2] / "demo_area" / "area.toml"
DATE, WIND = "2031-06-14", "SW 8 kn"
UNSEEN = {"seen": [], "pressure": ""}


@pytest.fixture(scope="module", params=[320, 640])
def strip(request):
    return request.param, day(str(AREA), DATE, [WIND], request.param, **UNSEEN)


def test_every_colour_follows_the_light_of_the_page(strip):
    _, shown = strip
    assert not re.findall(r"#[0-9a-f]{3,8}", shown["svg"])
    named = set(re.findall(r"var\((--[\w-]+)\)", shown["svg"]))
    assert named >= {"--mark-tide", "--mark-current", "--ink"}
    assert named <= set(re.findall(r"(--[\w-]+):", css_variables()))


def test_nothing_lies_outside(strip):
    width, shown = strip
    assert f'viewBox="0 0 {width} ' in shown["svg"]
    at = [float(x) for x in re.findall(r'\bx[12]?="([-\d.]+)"', shown["svg"])]
    assert len(at) > 20
    assert 0 <= min(at) <= max(at) <= width


def test_highs_and_lows_are_written_beside_the_curve():
    """By another library's geometry: no letters are on the curve, in a phone's width too."""
    from shapely import LineString, box

    svg = day(str(AREA), DATE, [WIND], 249, **UNSEEN)["svg"]
    tide = re.search(r'<polyline points="([^"]+)"[^>]*--mark-tide', svg)[1]
    curve = LineString([[float(at) for at in point.split(",")] for point in tide.split()])
    turns = re.findall(r'<text x="([\d.]+)" y="([\d.]+)" [^>]*>\d\d:\d\d [\d.-]+<', svg)
    assert len(turns) == 4
    for x, y in turns:  # 12 px: half the width of nine letters is 30 px or less
        letters = box(float(x) - 30, float(y) - 9, float(x) + 30, float(y))
        assert not curve.intersects(letters)


def test_hours_and_wind_are_those_of_the_job(strip):
    _, shown = strip
    table = jobs.run(TideRequest(area=AREA, date=DATE, wind=(WIND,))).windows
    assert [one["kind"] for one in shown["windows"]] == table["kind"].tolist()
    assert shown["windows"][0]["start"] == table["start"].iloc[0].isoformat()
    assert shown["wind"] == {"from": 225, "speed": 8.0}


def test_the_strip_takes_what_was_seen_and_the_pressure(monkeypatch):
    asked = []

    def stopped(request):
        asked.append(request)
        raise InterruptedError

    monkeypatch.setattr("layers.desk.looks.jobs.run", stopped)
    seen = ["7:40 0.5 kn toward 340"]
    for pressure in ("998 hPa", ""):
        with pytest.raises(InterruptedError):
            day(str(AREA), DATE, [WIND], 320, seen=seen, pressure=pressure)
    assert [(one.seen, one.pressure) for one in asked] == [
        (tuple(seen), "998 hPa"),
        (tuple(seen), None),
    ]


@pytest.mark.parametrize("given", [{"wind": ["x" * 5000]}, {"seen": ["x" * 5000]}])
def test_words_longer_than_any_name_of_a_file_are_refused(given):
    with pytest.raises(WaterError):
        day(str(AREA), DATE, wide=320, **({"wind": [WIND]} | UNSEEN | given))
