"""The report of a look at the bottom: what is on it, and what may not be."""

import math
import re
from xml.etree import ElementTree

import pytest

from layers.cautions import CAUTIONS
from layers.present.pictures.cut import Cut
from layers.present.report import Prospect, Report, write_report

FOOT = 0.3048


def cut(depths, spread=0.1):
    half = len(depths) // 2
    offsets = [10.0 * (k - half) for k in range(len(depths))]
    return Cut(offsets, depths, depths, [spread] * len(depths), ("shallow side", "deep side"))


def prospect(name="R1", **told):
    whole = {
        "name": name, "kind": "edge", "why": "Falls 12 ft in 60 ft.", "score": 61.4,
        "merits": ["drop"], "faults": [], "position": (-33.41, 46.19),
        "cut": cut([5.0, 5.2, 6.5, 8.0, 8.4]),
    } | told  # fmt: skip
    return Prospect(**whole)


def written(tmp_path, *prospects, **told):
    whole = {
        "title": "Where to look first: Tollivane Sound", "about": ["Your band: 18 ft to 26 ft."],
        "charts": [], "prospects": prospects, "band_m": (18 * FOOT, 26 * FOOT), "depth_unit": "ft",
    } | told  # fmt: skip
    write_report(tmp_path / "report.html", Report(**whole))
    return (tmp_path / "report.html").read_text(encoding="utf-8")


def drawings(page):
    return [ElementTree.fromstring(one) for one in re.findall(r"<svg.*?</svg>", page)]


def test_each_place_has_name_position_reasons_and_drawing(tmp_path):
    page = written(tmp_path, prospect(), prospect("R2", kind="hump"))
    assert CAUTIONS in page
    for words in ("R1", "R2", "46°11.400", "033°24.600", "Falls 12 ft in 60 ft.", "score 61"):
        assert words in page
    assert len(drawings(page)) == 2


def test_merits_and_faults_are_words(tmp_path):
    page = written(tmp_path, prospect(merits=["drop"], faults=["length", "steepness"]))
    assert ">For it: drop. Against it: length, steepness.<" in page
    assert "For it" not in written(tmp_path, prospect(merits=[]))


def test_it_loads_nothing(tmp_path):
    page = written(tmp_path, prospect())
    assert "http:" not in page and "https:" not in page
    assert not re.search(r"<(script|link|img|iframe)|url\(|@import", page)


def test_text_of_files_is_never_markup(tmp_path):
    bad = "<script>alert(1)</script>"
    page = written(tmp_path, prospect(why=bad, kind=bad), title=bad, about=[bad], charts=[bad])
    assert "<script" not in page
    assert page.count("&lt;script&gt;") == 6  # the title is there twice


def test_deeper_is_lower_and_the_band_is_shaded_where_it_is(tmp_path):
    (drawing,) = drawings(written(tmp_path, prospect()))
    lines = drawing.findall("polyline")
    points = [tuple(map(float, pair.split(","))) for pair in lines[0].get("points").split()]
    across, down = zip(*points, strict=True)
    assert list(across) == sorted(across)
    assert list(down) == sorted(down)
    # the same scale for the band: 18 ft and 26 ft, from the profile's 5.0 and 8.4 m
    per_metre = (down[-1] - down[0]) / 3.4
    band = drawing.find("rect")
    top, height = float(band.get("y")), float(band.get("height"))
    assert top == pytest.approx(down[0] + per_metre * (18 * FOOT - 5.0), abs=0.2)
    assert height == pytest.approx(per_metre * 8 * FOOT, abs=0.2)


def test_ticks_are_round_depths_in_the_readers_unit(tmp_path):
    (drawing,) = drawings(written(tmp_path, prospect()))
    texts = [one.text for one in drawing.findall("text")]
    assert [text for text in texts if text.isdigit() and text != "0"] == ["20", "25"]
    assert texts.count("66 ft") == 2  # 20 m to each side
    (drawing,) = drawings(written(tmp_path, prospect(), depth_unit="m"))
    texts = [one.text for one in drawing.findall("text")]
    assert {"5", "6", "7", "8"} <= set(texts)
    assert texts.count("20 m") == 2


def test_unknown_depths_break_the_line(tmp_path):
    broken = cut([5.0, 5.2, 5.4, math.nan, 8.0, 8.4, 8.5])
    page = written(tmp_path, prospect(cut=broken))
    assert len(drawings(page)[0].findall("polyline")) == 2
    assert "nan" not in page
    nothing = cut([math.nan] * 5)
    assert "No profile" in written(tmp_path, prospect(cut=nothing))


def test_flat_ground_far_from_the_band_is_drawn_too(tmp_path):
    (drawing,) = drawings(written(tmp_path, prospect(cut=cut([90.0] * 5, spread=0.0))))
    assert float(drawing.find("rect").get("height")) == 0
    assert drawing.findall("polyline")


def test_warnings_stand_out_and_nothing_found_is_said(tmp_path):
    page = written(tmp_path, charts=["The chart's 10 m line.", "Warning: another datum."])
    assert '<li class="warning">Warning: another datum.</li>' in page
    assert "<li>The chart&#x27;s 10 m line.</li>" in page
    assert "No edge, hump or hole was found here." in page
