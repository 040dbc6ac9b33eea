"""The map in Chromium: first picture, recolouring, and panning over a season of 1,000 trips.

Run: ``python -m benchmarks.map_in_browser``.  Needs Chromium; figures are milliseconds in the
page, by its own clock.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.rows import Row

SIDE = 2000
TRIPS, DRIFTS_A_TRIP, FISH_A_TRIP = 1000, 20, 10
FIRST_MS, RECOLOUR_MS, FRAME_MS, TASK_MS, MOST_MB = 2000, 50, 1000 / 30, 60, 12
REDRAW = """async () => {
  const began = performance.now();
  for (const layer of bulkLayers()) { layer.redraw(); await layer.drawing; }
  return performance.now() - began;
}"""
DRAG = "(from) => { window.frames = []; let last = performance.now(); const tick = () => {" \
       " const now = performance.now(); window.frames.push(now - last); last = now;" \
       " window.ticking = requestAnimationFrame(tick); }; tick(); }"  # fmt: skip


def ground() -> Any:
    """Slopes, sand waves and noise of 3 cm; 4 m cells, UTM 24 north."""
    from affine import Affine

    from seabed.grid import make_grid

    rng = np.random.default_rng(1)
    y, x = np.mgrid[0:SIDE, 0:SIDE].astype(np.float32)
    depth = 20 + 12 * np.sin(x / 170) * np.cos(y / 190) + 0.4 * np.sin((x + y) / 7)
    depth += rng.normal(0, 0.03, depth.shape).astype(np.float32)
    depth[: SIDE // 20] = np.nan
    corner = Affine(4, 0, 600_000, 0, -4, 5_120_000)
    return make_grid(depth, transform=corner, crs="EPSG:32624", source="invented")


def season() -> dict[str, Any]:
    """Drifts of a thousand trips on 60 lines, with a fix every ten seconds, and their fish."""
    import geopandas as gpd
    import pandas as pd
    from shapely.geometry import LineString

    rng = np.random.default_rng(2)
    count = TRIPS * DRIFTS_A_TRIP
    day = pd.Timestamp("2027-03-01T06:00Z") + pd.to_timedelta(
        np.arange(count) // DRIFTS_A_TRIP * 36, unit="h"
    )
    start = day + pd.to_timedelta(np.arange(count) % DRIFTS_A_TRIP * 20, unit="min")
    home = rng.uniform((601_000, 5_113_000), (607_000, 5_119_000), (60, 2))
    line = rng.integers(0, 60, count)
    paths = []
    for number in range(count):
        steps = rng.normal((0.6, 3.0), 1.2, (90, 2)).cumsum(axis=0)
        paths.append(LineString(home[line[number]] + rng.normal(0, 25, 2) + steps))
    names = [f"{begin:%Y-%m-%d} #{i % DRIFTS_A_TRIP + 1}" for i, begin in enumerate(start)]
    drifts = gpd.GeoDataFrame(
        {
            "drift_id": names, "line": [f"N{n + 1}" for n in line], "start": start,
            "duration_s": 900.0, "distance_m": 280.0, "sog_mps": 0.31, "course_deg": 11.0,
            "depth_mean_m": 9.5, "rod_hours": 0.5, "hours_from_high": rng.uniform(-6, 6, count),
            "stage": rng.choice(["flood", "ebb", "slack"], count),
        },
        geometry=paths, crs="EPSG:32624",
    )  # fmt: skip
    took = rng.choice(count, TRIPS * FISH_A_TRIP)
    catches = gpd.GeoDataFrame(
        {
            "time": start[took], "species": rng.choice(["dab", "brindle flounder"], len(took)),
            "kept": pd.array(rng.random(len(took)) < 0.5, dtype="boolean"), "length_m": 0.4,
            "rod": "1", "note": "", "drift_id": np.array(names)[took], "why": "",
        },
        geometry=gpd.points_from_xy(*home[line[took]].T + rng.normal(0, 60, (2, len(took)))),
        crs="EPSG:32624",
    )  # fmt: skip
    return {"drifts": drifts, "catches": catches}


def write_maps(folder: Path) -> tuple[dict[str, Path], dict[str, float]]:
    """Write a map of four million cells with contours, and one of a long season over it."""
    from layers.maps import MapContent, write_map
    from seabed.structure import contours

    grid = ground()
    lines = contours(grid, [10.0, 15.0, 20.0, 25.0, 30.0])
    contents = {
        "bottom": MapContent(grid=grid, contours=lines, band_m=(15, 20)),
        "season": MapContent(grid=grid, band_m=(15, 20), **season()),
    }
    files, took = {}, {}
    for name, content in contents.items():
        files[name] = folder / f"{name}.html"
        began = time.perf_counter()
        write_map(files[name], content)
        took[name] = time.perf_counter() - began
    return files, took


def opened(browser: Any, path: Path) -> tuple[Any, dict[str, float]]:
    page = browser.new_page(viewport={"width": 1440, "height": 900})
    page.set_default_timeout(60_000)
    page.goto(path.as_uri())
    page.wait_for_selector("body[data-ready]")
    marks = page.evaluate(
        "Object.fromEntries(performance.getEntriesByType('mark').map((m) => [m.name, m.startTime]))"
    )
    return page, marks


def recolour_ms(page: Any) -> float:
    times = []
    for end in range(60, 75):
        page.get_by_label("Amber to", exact=True).evaluate(
            "(input, to) => { input.value = to; input.dispatchEvent(new Event('input')); }", end
        )
        page.evaluate("new Promise((d) => requestAnimationFrame(() => requestAnimationFrame(d)))")
        times.append(page.evaluate("seabedMap.picture.repaintMs"))
    return float(np.median(times))


def drag_frames(page: Any) -> list[float]:
    """Frames while the map is dragged by the mouse, to and fro, with rests."""
    page.evaluate(DRAG, None)
    for _ in range(3):
        page.mouse.move(800, 450)
        page.mouse.down()
        for step in range(60):
            page.mouse.move(800 + 6 * step, 450 + 2 * step)
        page.mouse.up()
        page.mouse.move(1160, 570)
        page.mouse.down()
        for step in range(60):
            page.mouse.move(1160 - 6 * step, 570 - 2 * step)
        page.mouse.up()
    return page.evaluate("(cancelAnimationFrame(window.ticking), window.frames.slice(2))")


def longest_task_ms(browser: Any, page: Any) -> float:
    """Give the longest piece of work of the page's main thread in a drag, on the processor.

    Frames by the clock tell as much of what else the machine does.
    """
    browser.start_tracing(page=page, categories=["toplevel", "devtools.timeline"])
    drag_frames(page)
    events = json.loads(browser.stop_tracing())["traceEvents"]
    main = {
        (one["pid"], one["tid"])
        for one in events
        if one["name"] == "thread_name" and one["args"]["name"] == "CrRendererMain"
    }
    tasks = [
        one.get("tdur", 0) / 1000
        for one in events
        if one["name"].endswith("RunTask") and (one["pid"], one["tid"]) in main
    ]
    return max(tasks, default=float("nan"))


def run() -> list[Row]:
    from playwright.sync_api import sync_playwright

    named = (os.environ.get("SEABED_CHROMIUM"), "chromium", "chromium-headless-shell")
    path = next((found for name in named if name and (found := shutil.which(name))), None)
    if path is None:
        print("no Chromium: nothing measured; tests/browser.sh says what to install")
        return []
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        files, took = write_maps(Path(folder))
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        rows = []
        for name, file in files.items():
            size = file.stat().st_size / 1e6
            rows.append(Row.of(f"{name}: write, s", "asked: 10 s", took[name], 10))
            rows.append(Row.of(f"{name}: MB", "asked: 12 MB", size, MOST_MB))
            page, marks = opened(browser, file)
            for mark, asked in (("first picture", FIRST_MS), ("controls", 0), ("whole picture", 0)):
                words = f"asked: {asked / 1000:g} s" if asked else "-"
                rows.append(
                    Row.of(f"{name}: {mark}, s", words, marks[mark] / 1e3,
                           asked / 1e3 or float("nan"))
                )  # fmt: skip
            rows.append(
                Row.of(
                    f"{name}: recolour, ms",
                    "asked: 50 ms",
                    recolour_ms(page),
                    RECOLOUR_MS,
                )
            )
            frames = drag_frames(page)
            rows += [
                Row.of(f"{name}: drag, frame at {share} %, ms", "30 a second",
                       float(np.percentile(frames, share)), FRAME_MS)
                for share in (95, 100)
            ]  # fmt: skip
            rows.append(
                Row.of(f"{name}: drag, longest task, ms", "asked: 60 ms",
                       longest_task_ms(browser, page), TASK_MS)
            )  # fmt: skip
            if page.evaluate("bulkLayers().length"):
                took_ms = float(np.median([page.evaluate(REDRAW) for _ in range(7)]))
                rows.append(
                    Row.of(f"{name}: tracks and fish drawn at rest, ms", "-", took_ms,
                           float("nan"))
                )  # fmt: skip
            page.close()
        browser.close()
    return rows


if __name__ == "__main__":
    for row in run():
        print(*row)
