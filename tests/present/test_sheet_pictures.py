"""The pictures of the sheet: the ground around a line, its profile, the tide of the day."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations

import geopandas as gpd
import numpy as np
import pytest
from affine import Affine
from shapely.geometry import LineString, Point, box
from sheet_lines import LINE, START, degrees, line_of, plane_grid

from layers.present.pictures.drawing import Box, Drawing, Stroke, Words, enlarged, svg
from layers.present.sheet.content import TideCurve
from layers.present.sheet.ground_plan import ground_plan
from layers.present.sheet.pictures import (
    MAP_SIZE,
    PROFILE_SIZE,
    ground_picture,
    profile_picture,
    tide_picture,
)
from seabed.grid import make_grid


def test_ground_lies_where_it_should() -> None:
    other = degrees((620800, 5117500), (620800, 5117300))
    hazards = gpd.GeoDataFrame(
        {"kind": ["wreck", "cable area", "rock"]},
        geometry=[Point(620650, 5117450), box(620720, 5117200, 620760, 5117260),
                  Point(630000, 5117450)],
        crs=32624,
    )  # fmt: skip
    ground = ground_plan(
        plane_grid(), LINE, shape=MAP_SIZE, unit="m", others=[("P2", other)], hazards=hazards
    )
    assert ground.width_m / ground.height_m == pytest.approx(MAP_SIZE[0] / MAP_SIZE[1])
    # the line runs 400 m to the south through the middle; UTM's scale here is within 0.04 % and
    # its north 1.1 degrees off: 7.7 m to the side at either end
    (x0, y0), (x1, y1) = ground.track[0], ground.track[-1]
    assert (x0 + x1, y0 + y1) == pytest.approx((0, 0), abs=1.0)
    assert y0 - y1 == pytest.approx(400, abs=1.5) and abs(x0 - x1) < 9
    assert ground.height_m > 400  # all of it is seen
    depths = sorted({depth for depth, _ in ground.contours})
    # over some 800 m the bottom falls by 8 m: steps of 2 m are the finest that give six or fewer
    assert np.diff(depths) == pytest.approx(2.0) and 3 <= len(depths) <= 6
    for depth, part in ground.contours:
        # depth at easting E is 5 + (E - 620000) / 100, the line's easting 620700 is x = 0 at y = 0
        eastings = 620700 + part[np.argmin(abs(part[:, 1])), 0]
        assert 5 + (eastings - 620000) / 100 == pytest.approx(depth, abs=0.02)
    ((name, track),) = ground.others
    assert name == "P2" and np.median(track[:, 0]) == pytest.approx(100, abs=2)
    assert [kind for kind, _ in ground.hazards] == ["wreck", "cable area"]  # the rock is far
    assert ground.hazards[0][1] == pytest.approx(np.array([[-50, 50]]), abs=2)


def test_a_short_line_is_shown_with_room_and_off_the_grid_nothing_fails() -> None:
    short = degrees((620700, 5117600), (620700, 5117590))
    ground = ground_plan(plane_grid(), short, shape=MAP_SIZE, unit="ft")
    assert ground.width_m >= 239
    far = degrees((720700, 5117600), (720700, 5117200))
    assert ground_plan(plane_grid(), far, shape=MAP_SIZE, unit="ft").contours == []


def test_where_the_survey_ends_is_no_shore() -> None:
    # what has no depth ends at easting 620300, beside 8 m of water that falls by 0.1 m a cell
    by_end = degrees((620330, 5117850), (620330, 5117600))
    ground = ground_plan(plane_grid(), by_end, shape=MAP_SIZE, unit="ft")
    assert len(ground.shore) == 0
    east = max(part[:, 0].max() for part in ground.ends)
    # between the centres of its last cell and the first of water
    assert east == pytest.approx(-30, abs=6)
    drawn = ground_picture(ground, "P1")
    assert strokes(drawn, lambda part: part.width == 0.3 and bool(part.dash))
    assert not strokes(drawn, lambda part: part.width == 0.7)


def test_a_shore_and_the_end_of_the_survey_part_where_the_ground_dips() -> None:
    """A beach of 0.4 m a cell; from row 60 on, the survey ends over 6 m instead."""
    x = np.arange(160) * np.ones((120, 1))
    depth = np.where(x < 20, np.nan, 0.4 * (x - 19.5))
    depth[60:] = np.where(x[60:] < 35, np.nan, depth[60:])
    grid = make_grid(
        depth, transform=Affine(10, 0, 620000, 0, -10, 5118000), crs="EPSG:32624", source="invented"
    )
    line = degrees((620400, 5117600), (620400, 5117200))  # its middle is at row 60
    ground = ground_plan(grid, line, shape=MAP_SIZE, unit="m")
    shore, ends = np.vstack(ground.shore), np.vstack(ground.ends)
    assert shore[:, 1].min() > -25 and shore[:, 0].max() < -150  # the beach, easting 620200
    assert np.median(ends[:, 0]) == pytest.approx(-50, abs=8)  # easting 620350
    assert ends[:, 1].max() < 25


@pytest.mark.parametrize("west", [-33.4, 179.99])
def test_ground_at_the_rim_of_a_geographic_grid_is_drawn(west: float) -> None:
    """A slope of 1 m in 0.001 degrees to the east; the window goes beyond the western rim."""
    x = np.arange(100) * np.ones((80, 1))
    grid = make_grid(
        2 + 0.1 * x, transform=Affine(1e-4, 0, west, 0, -1e-4, 46.2), crs=4326, source="invented"
    )
    line = LineString([(west + 0.001, 46.1965), (west + 0.001, 46.1945)])
    ground = ground_plan(grid, line, shape=MAP_SIZE, unit="m")
    metres = 111_320 * np.cos(np.radians(46.1955))  # of a degree of longitude, within 1 %
    assert {depth for depth, _ in ground.contours} >= {3.0, 4.0}
    for depth, part in ground.contours:  # 2.05 m is the depth in the middle of the first cell
        along = (depth - 1.95) / 0.1 * 1e-4 - 0.001
        np.testing.assert_allclose(part[:, 0], along * metres, rtol=0.01, atol=1.0)


def test_words_of_the_strip_keep_apart() -> None:
    hours = np.arange(4, 15, 0.25)
    tide = TideCurve(
        hours.tolist(), np.cos(hours).tolist(), [(7.0, 7.2, "P1"), (7.2, 9.0, "P2")],
        [(6.6, 1.0, "Low 06:36, 1.0 ft"), (7.4, 1.2, "High 07:24, 1.2 ft")],
        speeds=(8 - abs(hours - 6.5)).tolist(), toward=np.full(len(hours), 90.0).tolist(),
        slack=[(7.0, 7.6)], sun=[(6.2, "sunrise 06:12")],
    )  # fmt: skip
    for width in (90.0, 134.0, 190.0):
        words = [one for one in tide_picture(tide, "ft", width).parts if isinstance(one, Words)]
        kept = [one for one in words if len(one.text) > 2]
        boxes = []
        for one in kept:
            half = 0.25 * one.size * len(one.text)  # half the width of a letter of common fonts
            boxes.append((one.x - half, one.y - 0.7 * one.size, one.x + half, one.y))
        assert len(boxes) == 5
        assert all(left >= 0 and right <= width for left, _, right, _ in boxes)
        for i, a in enumerate(boxes):
            for b in boxes[:i]:
                apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
                assert apart, (width, kept[i].text)


def test_words_of_the_strip_keep_off_the_lines_bars() -> None:
    hours = np.arange(4, 15, 0.25)
    tide = TideCurve(
        hours.tolist(), (4 - 3 * np.cos((hours - 6.6) / 2)).tolist(),
        [(7.0, 7.3, "P1"), (7.3, 8.1, "P2"), (8.2, 12.0, "P3")],
        [(6.6, 1.0, "Low 06:38, 1.3 ft"), (12.9, 7.0, "High 12:30, 7.3 ft")],
        speeds=(1.2 * abs(np.sin((hours - 7) / 2))).tolist(),
        toward=np.full(len(hours), 9.0).tolist(),
        slack=[(6.9, 7.6)], sun=[(4.4, "sunrise 04:21")],
    )  # fmt: skip
    drawn = tide_picture(tide, "ft", 190.0)
    bars = [one for one in drawn.parts if isinstance(one, Box) and one.fill]
    words = [one for one in drawn.parts if isinstance(one, Words) and one.halo]
    assert len(bars) == 3 and len(words) == 3
    for one in words:
        half = 0.25 * one.size * len(one.text)
        for bar in bars:
            beside = one.x + half <= bar.left or bar.left + bar.width <= one.x - half
            assert beside or one.y + 0.2 * one.size <= bar.top + 1e-9, one.text


def test_names_of_short_bars_cover_no_other() -> None:
    """Half a bold letter of common fonts is at most 0.35 of its size wide."""
    hours = np.arange(4, 15, 0.25)
    begins = 9 + 0.25 * np.arange(8)
    slots = [(at, at + 0.2, f"P{i}") for i, at in enumerate(begins.tolist(), 8)]
    drawn = tide_picture(TideCurve(hours.tolist(), np.cos(hours).tolist(), slots), "ft", 134.0)
    names = [one for one in drawn.parts if isinstance(one, Words) and one.bold]
    assert [one.text for one in names] == [name for _, _, name in slots]
    letters = [
        box(one.x - half, one.y - 0.7 * one.size, one.x + half, one.y)
        for one in names
        for half in [0.35 * one.size * len(one.text)]
    ]
    assert not any(a.intersects(b) for a, b in combinations(letters, 2))


@pytest.mark.parametrize("after_high", [0.0, 2.1, 3.7, 6.2, 9.3])
def test_the_words_on_the_current_lie_on_no_curve(after_high: float) -> None:
    hours = np.arange(5, 13, 0.25)
    tide = TideCurve(
        hours.tolist(), np.cos((hours - 5 - after_high) / 2).tolist(), [(7.0, 8.0, "P1")],
        speeds=(1.2 * abs(np.sin((hours - 6) / 2))).tolist(),
        toward=np.full(len(hours), 9.0).tolist(),
    )  # fmt: skip
    drawn = tide_picture(tide, "ft", 134.0)
    (words,) = (one for one in drawn.parts if isinstance(one, Words) and "kn" in one.text)
    half = 0.25 * words.size * len(words.text)
    letters = box(words.x - half, words.y - 0.7 * words.size, words.x + half, words.y)
    curves = strokes(drawn, lambda part: part.width >= 0.4 and len(part.points) > 9)
    assert len(curves) == 2
    assert not any(letters.intersects(LineString(curve.points)) for curve in curves)


def test_an_enlarged_drawing_is_larger_in_every_length() -> None:
    drawing = Drawing(4, 3, [Stroke([(0, 0), (1, 2)], 0.5, dash=(1, 2)), Box(1, 1, 2, 1, line=0.2),
                             Words(1, 2, "a", 3)])  # fmt: skip
    parts = [Stroke([(0, 0), (2, 4)], 1.0, dash=(2, 4)), Box(2, 2, 4, 2, line=0.4),
             Words(2, 4, "a", 6)]  # fmt: skip
    assert svg(enlarged(drawing, 2)) == svg(Drawing(8, 6, parts))
    assert enlarged(drawing, 1) is drawing


def strokes(drawing: Drawing, test: Callable[[Stroke], bool]) -> list[Stroke]:
    return [part for part in drawing.parts if isinstance(part, Stroke) and test(part)]


def filled(drawing: Drawing) -> list[Box]:
    return [part for part in drawing.parts if isinstance(part, Box) and part.fill]


def test_the_profile_runs_deeper_downward_over_its_band() -> None:
    picture = profile_picture(line_of(), "ft")
    (track,) = strokes(picture, lambda part: len(part.points) == 3)
    heights = [y for _, y in track.points]
    assert heights[1] > heights[2] > heights[0]  # 25, 21, 20 ft
    (band,) = filled(picture)
    top, bottom = band.top, band.top + band.height
    # linear: 18 to 24 ft shaded, 20 and 25 ft on the track
    scale = (heights[1] - heights[0]) / 5
    assert top == pytest.approx(heights[0] - 2 * scale, abs=1e-6)
    assert bottom == pytest.approx(heights[0] + 4 * scale, abs=1e-6)
    assert (picture.width, picture.height) == PROFILE_SIZE
    assert profile_picture(line_of(profile=[]), "ft") is None


def test_the_tide_has_slots_and_gaps() -> None:
    tide = TideCurve([6, 7, 8, 9, 10], [1, 2, np.nan, 3, 1], [(7, 8, "P1")], [])
    picture = tide_picture(tide, "ft")
    curves = strokes(picture, lambda part: part.width == 0.8)
    assert [len(curve.points) for curve in curves] == [2, 2]  # nothing across the unknown
    (slot,) = filled(picture)
    left, right = slot.left, slot.left + slot.width
    middle = curves[0].points[1][0]
    assert left == pytest.approx(middle) and right > left
    assert tide_picture(TideCurve([6, 7], [np.nan, np.nan]), "ft") is None


def test_the_strip_has_current_slack_and_sun() -> None:
    hours = np.arange(5, 12.01, 0.25)
    tide = TideCurve(
        hours.tolist(), np.cos(hours).tolist(), [(7.0, 8.0, "P1")], speeds=(hours / 10).tolist(),
        toward=np.full(len(hours), 90.0).tolist(), slack=[(9.0, 9.5)],
        sun=[(6.0, "sunrise 06:00"), (20.0, "sunset 20:00")],
    )  # fmt: skip
    picture = tide_picture(tide, "ft")
    words = {part.text: part.x for part in picture.parts if isinstance(part, Words)}
    assert {"P1", "current 1.2 kn", "slack", "sunrise 06:00"} <= words.keys()
    assert "sunset 20:00" not in words  # after the hours shown
    # hours are even along the strip, by the middle of P1 (7.5) and of the slack (9.25)
    step = (words["slack"] - words["P1"]) / 1.75
    (run,) = strokes(picture, lambda part: part.dash == (1.6, 0.8))
    assert run.points[-1][0] - run.points[0][0] == pytest.approx(7 * step, rel=1e-6)
    assert run.points[0][1] > run.points[-1][1]  # faster is higher
    shafts = strokes(picture, lambda part: part.width == 0.3 and len(part.points) == 2)
    east = [part for part in shafts if part.points[0][1] == pytest.approx(part.points[1][1])]
    assert sum(part.points[1][0] - part.points[0][0] == pytest.approx(3.6) for part in east) == 7


def test_still_water_on_the_half_hour_has_no_arrow() -> None:
    hours = np.array([6.0, 6.5, 7.0, 7.5, 8.0])
    speeds, toward = [1.0, 0.5, 0.0, 0.0, 0.5], [90.0, 90.0, np.nan, np.nan, 270.0]
    tide = TideCurve(hours.tolist(), np.cos(hours).tolist(), speeds=speeds, toward=toward)
    places = [
        place
        for stroke in strokes(tide_picture(tide, "ft"), lambda part: True)
        for place in stroke.points
    ]
    assert np.isfinite(places).all()  # a PDF ends at the first number that is none


def test_a_line_of_one_place_still_has_a_map() -> None:
    point = LineString([START, START])
    ground = ground_plan(plane_grid(), point, shape=MAP_SIZE, unit="ft")
    assert "<svg" in svg(ground_picture(ground, "P1"))


def test_svg_escapes_words() -> None:
    drawing = Drawing(1, 1, [Words(0, 0, "<b>", 3)], 'a "label"')
    assert "&lt;b&gt;" in svg(drawing) and "&quot;label&quot;" in svg(drawing)
