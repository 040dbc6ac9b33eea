"""The chart cell: two contours, a wreck, a rock, a cable, a closed area, soundings."""

from __future__ import annotations

import numpy as np
from rasterio.features import shapes
from rasterio.transform import Affine
from scipy.ndimage import gaussian_filter, uniform_filter1d

from making.bottom import depth_under
from making.place import CELL, HEIGHT, WIDTH, degrees
from making.s57_writer import Cell

# S-57 edition 3.1, appendix A: codes of object classes and attributes
CHART = {
    "name": "XX5TOLLI.000",
    "classes": {"DEPCNT": 43, "WRECKS": 159, "UWTROC": 153, "CBLSUB": 22, "RESARE": 112, "BOYLAT": 17, "SOUNDG": 129},
    "attributes": {"VALDCO": 174, "VALSOU": 179, "OBJNAM": 116, "INFORM": 102, "RESTRN": 131, "WATLEV": 187},
    "contours_m": (5.0, 10.0),
    "wreck": {"at": (4700.0, 3130.0), "stands_m": 2.4, "name": "Tin Ann", "note": "invented wreck"},
    "rock": {"at": (5060.0, 3960.0), "dries_m": 0.4, "name": "Cobbler Rock", "note": "invented rock"},
    "cable": [(600.0, 4560.0), (2400.0, 4620.0), (4200.0, 4590.0), (5900.0, 4640.0)],
    "closed": {"corners": (5350.0, 250.0, 5850.0, 700.0), "name": "Tollivane nursery", "restriction": "1,3"},
    "buoy": (3250.0, 4300.0),
}  # fmt: skip


def write_chart(folder, bottom):
    """A chart cell of the sound: two contours, drawn coarsely as charts are, and a few dangers."""
    cell, code, attribute = Cell(), CHART["classes"], CHART["attributes"]

    def mark(kind, place, told):
        (x,), (y,) = degrees([place])
        cell.feature(code[kind], 1, [cell.point(x, y)], {attribute[k]: v for k, v in told.items()})

    for level in CHART["contours_m"]:
        for line in chart_lines(bottom, level):
            edge = cell.edge(list(zip(*degrees(line), strict=True)))
            cell.feature(code["DEPCNT"], 2, [edge], {attribute["VALDCO"]: f"{level:g}"})
    wreck, rock = CHART["wreck"], CHART["rock"]
    depth = depth_under(bottom, wreck["at"]) - wreck["stands_m"]
    mark(
        "WRECKS",
        wreck["at"],
        {"VALSOU": f"{depth:.1f}", "OBJNAM": wreck["name"], "INFORM": wreck["note"], "WATLEV": "3"},
    )
    mark(
        "UWTROC",
        rock["at"],
        {
            "VALSOU": f"{-rock['dries_m']:.1f}",
            "OBJNAM": rock["name"],
            "INFORM": rock["note"],
            "WATLEV": "4",
        },
    )
    mark("BOYLAT", CHART["buoy"], {})
    cell.feature(code["CBLSUB"], 2, [cell.edge(list(zip(*degrees(CHART["cable"]), strict=True)))])
    west, south, east, north = CHART["closed"]["corners"]
    ring = [(west, south), (east, south), (east, north), (west, north), (west, south)]
    told = {
        attribute["OBJNAM"]: CHART["closed"]["name"],
        attribute["RESTRN"]: CHART["closed"]["restriction"],
    }
    cell.feature(code["RESARE"], 3, [cell.edge(list(zip(*degrees(ring), strict=True)))], told)
    grid = [(e, n) for e in range(900, 6000, 900) for n in range(500, 4800, 850)]
    known = [(place, depth_under(bottom, place)) for place in grid]
    deep = [(place, depth) for place, depth in known if depth > 0]
    x, y = degrees([place for place, _ in deep])
    soundings = [(a, b, depth) for a, b, (_, depth) in zip(x, y, deep, strict=True)]
    cell.feature(code["SOUNDG"], 1, [cell.soundings(soundings)])
    cell.write(folder / CHART["name"])


def chart_lines(bottom, level):
    """Lines of a depth on cells of 20 m, smoothed, a little to the safe side; metres from the corner."""
    coarse = gaussian_filter(np.nan_to_num(bottom, nan=-1.0), 5)[::5, ::5]
    inside = (coarse - 0.1 > level).astype(np.uint8)
    place = Affine(5 * CELL, 0, 0, 0, -5 * CELL, HEIGHT)
    for shape, deep in shapes(inside, transform=place):
        ring = np.array(shape["coordinates"][0])
        if not deep or len(ring) < 30:
            continue
        step = np.hypot(*np.diff(ring, axis=0).T)
        along = np.concatenate([[0], np.cumsum(step)])
        every = np.arange(0, along[-1], 20.0)
        east, north = (np.interp(every, along, ring[:, k]) for k in (0, 1))
        rim = (east < 60) | (east > WIDTH - 60) | (north < 60) | (north > HEIGHT - 60)
        east, north = (uniform_filter1d(part, 5, mode="wrap") for part in (east, north))
        start = np.argmax(rim)  # a ring that leaves the chart is cut there
        order = np.roll(np.arange(len(rim)), -start)
        for part in np.split(order, np.flatnonzero(np.diff(rim[order].astype(int))) + 1):
            if len(part) > 12 and not rim[part[0]]:
                thin = list(part[::3])
                thin += [part[0]] if len(part) == len(rim) else []
                yield np.column_stack([east[thin], north[thin]]).round(1).tolist()
