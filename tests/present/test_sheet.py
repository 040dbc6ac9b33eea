"""The printed sheet: what stands in it, read back by another library, and its pages."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pypdf
import pytest
from affine import Affine
from pyproj import Transformer
from shapely.geometry import LineString, Point, box

from layers.present.pictures.drawing import Box, Drawing, Stroke, Words, svg
from layers.present.sheet.content import BACK_BY_HAND, NO_HAZARDS, Sheet, SheetLine, TideCurve
from layers.present.sheet.fonts import find_fonts
from layers.present.sheet.ground_plan import ground_plan
from layers.present.sheet.html import write_sheet
from layers.present.sheet.paper import PAPERS
from layers.present.sheet.pdf import write_sheet_pdf
from layers.present.sheet.pictures import (
    MAP_SIZE,
    PROFILE_SIZE,
    ground_picture,
    profile_picture,
    tide_picture,
)
from seabed.errors import OutputError
from seabed.grid import make_grid

START, END = (-33.4100, 46.19), (-33.4101, 46.1925)
START_WORDS, END_WORDS = "46°11.400'N 033°24.600'W", "46°11.550'N 033°24.606'W"  # by hand
TO_DEGREES = Transformer.from_crs(32624, 4326, always_xy=True)


def plane_grid():
    """A slope of 1 m in 100 m to the east, from 5 m; 10 m cells, UTM 24 north; land in a corner."""
    x = np.arange(160) * np.ones((120, 1))
    depth = 5 + (x + 0.5) * 0.1
    depth[:30, :30] = np.nan
    return make_grid(
        depth, transform=Affine(10, 0, 620000, 0, -10, 5118000), crs="EPSG:32624", source="invented"
    )


def degrees(*points: tuple[float, float]) -> LineString:
    return LineString([TO_DEGREES.transform(x, y) for x, y in points])


LINE = degrees((620700, 5117600), (620700, 5117200))


def line_of(name: str = "P1", **more: object) -> SheetLine:
    given: dict[str, object] = {
        "name": name,
        "when": "07:00 to 07:45",
        "start": START,
        "end": END,
        "facts": ["352°T, 0.15 nm, 12 min at 0.7 kn, 2 passes", "20 to 25 ft; motor 0.3 kn"],
        "profile": [(0.0, 20.0), (100.0, 25.0), (280.0, 21.0)],
        "latest": "07:20",
        "band": (18.0, 24.0),
        "ground": ground_plan(plane_grid(), LINE, shape=MAP_SIZE, unit="ft"),
        "before": ["06:52  run to P1, 1.9 nm toward 080°T"],
        **more,
    }
    return SheetLine(**given)  # type: ignore[arg-type]


def sheet_of(count: int = 1, title: str = "Hollow Reach", **more: object) -> Sheet:
    hours = np.arange(4, 15, 0.25)
    given: dict[str, object] = {
        "title": title,
        "water": "Wind 8 kn from 225°T at 07:00",
        "depth_unit": "ft",
        "lines": [line_of(f"P{n}") for n in range(1, count + 1)],
        "tide": TideCurve(
            hours.tolist(), (4 - 3 * np.cos((hours - 6.6) / 2)).tolist(), [(7.0, 7.75, "P1")],
            [(6.6, 1.0, "Low 06:36, 1.0 ft")],
        ),
        "after": ["11:24  run home, 2.1 nm toward 231°T"],
        "what_if": [("If an hour late", "plan again"), ("If wind veers 45°", "keep to the plan"),
                    ("If wind freshens", "keep to the plan")],
        **more,
    }  # fmt: skip
    return Sheet(**given)  # type: ignore[arg-type]


def pages_of(path: Path) -> list[str]:
    """Text of each page; runs of white space are one space."""
    return [re.sub(r"\s+", " ", page.extract_text()) for page in pypdf.PdfReader(path).pages]


def sizes_of(path: Path) -> dict[str, float]:
    """The size in points in which each piece of text on the first page is set."""
    found: dict[str, float] = {}

    def visit(text: str, current: list, matrix: list, font: object, size: float) -> None:
        if text.strip():
            found[text.strip()] = size * abs(matrix[0])

    pypdf.PdfReader(path).pages[0].extract_text(visitor_text=visit)
    return found


def test_the_pdf_holds_all_that_is_read_afloat(tmp_path: Path) -> None:
    assert write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of()) == ""
    (page,) = pages_of(tmp_path / "sheet.pdf")
    for words in ("Hollow Reach", "Wind 8 kn from 225°T", "P1 07:00 to 07:45", "start by 07:20",
                  f"Start {START_WORDS}", f"End {END_WORDS}", "352°T, 0.15 nm", "motor 0.3 kn",
                  "06:52 run to P1", "run home", "If an hour late: plan again", "Kept", "Short",
                  "Low 06:36, 1.0 ft", NO_HAZARDS, "Not for navigation",
                  "a drifting boat is still under way under the collision regulations",
                  "Check the current local rule", "lightning", "fog", "lookout", "cut-off cord",
                  "lifejackets", "lights from sunset", "Leave the plan ashore"):  # fmt: skip
        assert words in page, words


def test_what_is_read_afloat_is_12_points_or_more(tmp_path: Path) -> None:
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of())
    sizes = sizes_of(tmp_path / "sheet.pdf")
    afloat = {
        text: size
        for text, size in sizes.items()
        if re.search(r"07:00|11\.400|0\.15 nm|motor|run |start by|If |Kept|Wind", text)
    }
    assert len(afloat) >= 8
    assert min(afloat.values()) >= 12 - 1e-6, afloat
    assert max(size for text, size in sizes.items() if "11.400" in text) >= 14 - 1e-6


@pytest.mark.parametrize(("lines", "pages"), [(1, 1), (6, 1), (7, 2), (16, 3)])
def test_six_lines_fill_a_page(tmp_path: Path, lines: int, pages: int) -> None:
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(lines))
    told = pages_of(tmp_path / "sheet.pdf")
    assert len(told) == pages
    for number in range(1, lines + 1):  # each line whole, on one page
        (page,) = [page for page in told if f"P{number} 07:00 to 07:45" in page]
        assert page.count(START_WORDS) == page.count(END_WORDS)
    for page in told:
        assert "Not for navigation" in page and NO_HAZARDS in page


def places_of(path: Path) -> list[list[tuple[float, str]]]:
    """Height above the foot, as a share of the page, and text of each piece, page by page."""
    made = []
    for page in pypdf.PdfReader(path).pages:
        found: list[tuple[float, str]] = []
        high = float(page.mediabox.height)

        def visit(text: str, current: list, matrix: list, font: object, size: float) -> None:
            if text.strip():
                found.append(((current[5] + matrix[5]) / high, text.strip()))  # noqa: B023

        page.extract_text(visitor_text=visit)
        made.append(found)
    return made


@pytest.mark.parametrize("name", PAPERS)
def test_every_paper_has_its_size_and_large_positions(tmp_path: Path, name: str) -> None:
    paper = PAPERS[name]
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(3), name)
    pages = pypdf.PdfReader(tmp_path / "sheet.pdf").pages
    width, height = (float(side) / 72 * 25.4 for side in pages[0].mediabox[2:])
    assert (width, height) == pytest.approx((paper.width, paper.height), abs=0.1)
    told = pages_of(tmp_path / "sheet.pdf")
    assert all("Not for navigation" in page for page in told)
    for number in (1, 2, 3):
        (page,) = [page for page in told if f"P{number} 07:00 to 07:45" in page]
        assert START_WORDS in page and END_WORDS in page
    assert sum("collision regulations" in page for page in told) >= 1
    sizes = sizes_of(tmp_path / "sheet.pdf")
    largest = {text: size for text, size in sizes.items() if "11.400" in text}
    assert min(largest.values(), default=14) >= max(14, 1.16 * paper.read_pt)


@pytest.mark.parametrize("lines", [7, 8, 11, 13])
def test_no_page_is_nearly_empty(tmp_path: Path, lines: int) -> None:
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(lines))
    pages = places_of(tmp_path / "sheet.pdf")
    assert len(pages) > 1
    for page in pages:
        words = " ".join(text for _, text in page)
        assert len(re.findall(r"P\d+ +07:00", words)) >= 2


def test_what_if_alone_does_not_take_a_page(tmp_path: Path) -> None:
    """Five lines with passes fill a page to the last rows: the rest is drawn together."""
    many = [(f"If case {n}", "keep to the plan") for n in range(4)]
    for lines in range(3, 7):
        write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(lines, what_if=many))
        pages = pages_of(tmp_path / "sheet.pdf")
        assert "07:00 to 07:45" in pages[-1], lines


def test_an_unknown_paper_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="no paper is called 'B5'"):
        write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(), "B5")


def test_cells_of_passes_keep_apart(tmp_path: Path) -> None:
    motor = "0.3 to 306, then 0.2 to 262"
    line = line_of(passes=[("Pass at", ["07:17", "07:47", "08:15", "08:40"]),
                           ("motor kn", [motor] * 4)])  # fmt: skip
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(lines=[line]))
    (page,) = pages_of(tmp_path / "sheet.pdf")
    assert page.count("0.3 to 306, then") == 4  # each wrapped in its own column
    write_sheet(tmp_path / "sheet.html", sheet_of(lines=[line]))
    assert (tmp_path / "sheet.html").read_text(encoding="utf-8").count(motor) == 4


def test_a_plan_beyond_the_limits_says_so_before_all_else(tmp_path: Path) -> None:
    """On every page: pages of a sheet get apart."""
    beyond, others = (
        "BEYOND THE BOAT'S LIMITS: wind 45 kn",
        ["P1: in the dark", "P2: strong current"],
    )
    sheet = sheet_of(7, beyond=beyond, warnings=others, home="Leave a copy ashore: back by 12:47.")
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet)
    pages = pages_of(tmp_path / "sheet.pdf")
    assert len(pages) == 2 and all(page.startswith(beyond) for page in pages)
    first = pages[0]
    order = [first.index(words) for words in (*others, "back by 12:47", "P1 07:00 to 07:45")]
    assert order == sorted(order)
    write_sheet(tmp_path / "sheet.html", sheet)
    page = html.unescape((tmp_path / "sheet.html").read_text(encoding="utf-8"))
    body = re.sub(r"<[^>]+>", " ", page.partition("<body>")[2]).split()
    assert " ".join(body).startswith(f"{beyond} Hollow Reach")
    order = [page.index(words) for words in (*others, "back by 12:47", "<svg", "P1")]
    assert order[:4] == sorted(order[:4])


def test_the_hour_home_is_left_to_the_hand_where_it_is_not_known(tmp_path: Path) -> None:
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of())
    write_sheet(tmp_path / "sheet.html", sheet_of())
    assert BACK_BY_HAND in (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert "with the hour at which you will be back: __" in pages_of(tmp_path / "sheet.pdf")[0]


def test_no_lines_say_so(tmp_path: Path) -> None:
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(0, tide=None))
    write_sheet(tmp_path / "sheet.html", sheet_of(0, tide=None))
    assert "No drift in this time is worth making" in pages_of(tmp_path / "sheet.pdf")[0]
    assert "No drift in this time" in (tmp_path / "sheet.html").read_text(encoding="utf-8")


def test_names_of_many_scripts_are_printed(tmp_path: Path) -> None:
    title = "Σκαρί Банка Kjølsvík Đá"
    assert write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(title=title)) == ""
    assert title in pages_of(tmp_path / "sheet.pdf")[0]


def test_letters_that_no_font_has_are_told_and_marked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("layers.present.sheet.fonts._font_folders", list)
    lacking = write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(title="Bay שלום"))
    assert set(lacking) == set("שלום")
    assert "Bay ????" in pages_of(tmp_path / "sheet.pdf")[0]
    page = tmp_path / "sheet.html"
    write_sheet(page, sheet_of(title="Bay שלום"))
    assert "Bay שלום" in page.read_text(encoding="utf-8")


def test_a_font_of_the_machine_steps_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from matplotlib import get_data_path  # carries DejaVu Sans, which has Hebrew

    folder = Path(get_data_path()) / "fonts" / "ttf"
    monkeypatch.setattr("layers.present.sheet.fonts._font_folders", lambda: [folder])
    assert [path.stem for path in find_fonts("Bay שלום").others] == ["DejaVuSans"]
    assert find_fonts("Bay").others == ()
    assert write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(title="Bay שלום")) == ""
    # right to left on paper: pypdf gives letters in the order in which they stand
    told = pages_of(tmp_path / "sheet.pdf")[0]
    assert "שלום" in told or "שלום"[::-1] in told


def test_the_page_is_text_and_loads_nothing(tmp_path: Path) -> None:
    hostile = "<script>window.hit=1</script>&"
    line = line_of(hostile, facts=[hostile], before=[hostile], beside=[(hostile, START, END)])
    sheet = sheet_of(title=hostile, lines=[line], what_if=[(hostile, hostile)], after=[hostile],
                     hazard_words=hostile)  # fmt: skip
    write_sheet(tmp_path / "sheet.html", sheet)
    raw = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert not re.search(r"(src|href)\s*=|https?://|<script", raw)
    page = html.unescape(raw)
    assert page.count(START_WORDS) == page.count(END_WORDS) == 2
    assert "Not for navigation" in page and page.count(hostile) >= 9


def test_nothing_is_left_where_it_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "sheet.pdf").mkdir()
    with pytest.raises(OutputError):
        write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of())
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.pdf"]


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


def test_the_shore_is_drawn() -> None:
    by_land = degrees((620330, 5117850), (620330, 5117600))
    ground = ground_plan(plane_grid(), by_land, shape=MAP_SIZE, unit="ft")
    east = max(part[:, 0].max() for part in ground.shore)
    # land ends at easting 620300: between the centres of its last cell and the first of water
    assert east == pytest.approx(-30, abs=6)


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


def test_a_line_of_one_place_still_has_a_map() -> None:
    point = LineString([START, START])
    ground = ground_plan(plane_grid(), point, shape=MAP_SIZE, unit="ft")
    assert "<svg" in svg(ground_picture(ground, "P1"))


def test_svg_escapes_words() -> None:
    drawing = Drawing(1, 1, [Words(0, 0, "<b>", 3)], 'a "label"')
    assert "&lt;b&gt;" in svg(drawing) and "&quot;label&quot;" in svg(drawing)
