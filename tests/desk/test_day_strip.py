"""The strip of a day: the job's own picture, narrow, in the colours of the page."""

import re
from pathlib import Path

import pytest

from layers import jobs
from layers.desk.looks import day
from layers.jobs.requests import TideRequest
from layers.present.looks import css_variables

AREA = Path(__file__).parents[2] / "demo_area" / "area.toml"
DATE, WIND = "2031-06-14", "SW 8 kn"


@pytest.fixture(scope="module", params=[320, 640])
def strip(request):
    return request.param, day(str(AREA), DATE, [WIND], request.param)


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


def test_hours_and_wind_are_those_of_the_job(strip):
    _, shown = strip
    table = jobs.run(TideRequest(area=AREA, date=DATE, wind=(WIND,))).windows
    assert [one["kind"] for one in shown["windows"]] == table["kind"].tolist()
    assert shown["windows"][0]["start"] == table["start"].iloc[0].isoformat()
    assert shown["wind"] == {"from": 225, "speed": 8.0}
