"""The sheet's page as a browser prints it."""

from __future__ import annotations

import io
import math
from pathlib import Path
from typing import Any

import pypdf
import pytest
import xarray as xr
from shapely.geometry import LineString

from layers.present.sheet.content import Sheet, SheetLine, TideCurve
from layers.present.sheet.ground_plan import ground_plan
from layers.present.sheet.html import write_sheet
from layers.present.sheet.pictures import MAP_SIZE

pytestmark = pytest.mark.browser

ARTEFACTS = Path(__file__).parents[2] / "test_artefacts"


def day_of(lines: int, grid: xr.DataArray) -> Sheet:
    """A day in which every line has a run before it, and three things may come otherwise."""
    west, south, east, north = grid.rio.transform_bounds("EPSG:4326")
    middle = (west + east) / 2, (south + north) / 2
    track = LineString([middle, (middle[0], middle[1] + 0.001)])
    hours = [4 + n / 4 for n in range(44)]
    made = [
        SheetLine(
            name=f"P{n}",
            when="07:00 to 07:45",
            start=track.coords[0],
            end=track.coords[-1],
            facts=["352°T, 0.15 nm, 12 min at 0.7 kn, 2 passes", "20 to 25 ft, 90% in band"],
            profile=[(0, 20), (50, 24), (110, 21)],
            latest="07:20",
            band=(18, 24),
            ground=ground_plan(grid, track, shape=MAP_SIZE, unit="ft"),
            before=["07:32  time to spare; 07:42  run to P2, 0.41 nm toward 170°T"],
        )
        for n in range(1, lines + 1)
    ]
    return Sheet(
        "Hollow Reach, Saturday 2031-06-14",
        "Wind 8 kn from 225°T at 07:00",
        "ft",
        made,
        TideCurve(hours, [4 - 3 * math.cos((h - 6.6) / 2) for h in hours], [(7, 7.75, "P1")]),
        ["11:24  run home, 2.06 nm toward 231°T"],
        [(f"If {case}", "keep to the plan") for case in ("the wind veers", "late", "it blows")],
    )


@pytest.mark.parametrize(("lines", "pages"), [(6, 1), (9, 2)])
def test_six_lines_are_one_printed_page(
    browser: Any, small_grid: xr.DataArray, tmp_path: Path, lines: int, pages: int
) -> None:
    write_sheet(tmp_path / "sheet.html", day_of(lines, small_grid))
    page = browser.new_page()
    page.goto((tmp_path / "sheet.html").as_uri())
    printed = pypdf.PdfReader(
        io.BytesIO(page.pdf(prefer_css_page_size=True, print_background=True))
    )
    ARTEFACTS.mkdir(exist_ok=True)
    page.set_viewport_size({"width": 800, "height": 1123})
    page.screenshot(path=ARTEFACTS / f"sheet_{lines}.png")
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.close()
    assert len(printed.pages) == pages
    width, height = (float(side) / 72 * 25.4 for side in printed.pages[0].mediabox[2:])
    assert (width, height) == pytest.approx((210, 297), abs=1)
    text = "".join(one.extract_text() for one in printed.pages)
    assert text.count("start by 07:20") == lines and "Not for navigation" in text
