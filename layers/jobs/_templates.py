"""Tables to fill in, as text and as spreadsheets; and how each looks when it is filled in."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from layers.area import Units
from seabed.files import replacing, write_text

EXAMPLES: Final[dict[str, tuple[str, ...]]] = {
    "catches": (
        "2031-06-14,07:42,brindle flounder,41,yes,1,on the edge",
        "2031-06-14,07:55,brindle flounder,28,no,2,",
        "2031-06-14,08:20,tasset gurnard,35,yes,1,two in a minute",
    ),
    "tide_heights": (
        "2031-06-14 03:12,1.9,high", "2031-06-14 09:20,0.1,low",
        "2031-06-14 15:40,1.8,high", "2031-06-14 21:55,0.3,low",
    ),
    "currents": (
        "2031-06-14 00:40,slack,", "2031-06-14 03:50,flood,1.2", "2031-06-14 06:45,slack,",
        "2031-06-14 10:05,ebb,1.4", "2031-06-14 13:10,slack,",
    ),
    "wind": (
        "2031-06-14 06:00,6,SW,", "2031-06-14 09:00,9,SW,14", "2031-06-14 12:00,12,W,18",
    ),
    "soundings": (
        "2031-06-14 07:40:00,46.19120,-33.38600,8.4", "2031-06-14 07:40:02,46.19122,-33.38601,8.5",
        "2031-06-14 07:40:04,46.19125,-33.38603,8.7", "2031-06-14 07:40:06,46.19127,-33.38604,8.8",
    ),
}  # fmt: skip
"""Rows below the headings that `headings_of` gives, in metres, centimetres and knots; invented."""


def headings_of(units: Units) -> dict[str, list[str]]:
    """Give the headings of each table, in the units of an area."""
    depth = "ft" if units.depth == "ft" else "m"
    return {
        "catches": ["date", "time", "species", f"length_{units.fish}", "kept", "rod", "note"],
        "tide_heights": ["time", f"height_{depth}", "kind"],
        "currents": ["time", "event", "speed_kn"],
        "wind": ["time", "speed_kn", "from", "gust_kn"],
        "soundings": ["time", "latitude", "longitude", f"depth_{depth}"],
    }


def template_files(folder: Path) -> dict[str, Path]:
    """Files that `write_templates` makes, by name."""
    return {
        f"{name}_{kind}": folder / f"{name}.{kind}" for name in EXAMPLES for kind in ("csv", "xlsx")
    }


def write_templates(folder: Path, units: Units) -> None:
    """Write the headings of each table, in the units of an area."""
    import openpyxl

    files = template_files(folder)
    for name, columns in headings_of(units).items():
        write_text(files[f"{name}_csv"], ",".join(columns) + "\n")
        book = openpyxl.Workbook()
        book.active.title = name
        book.active.append(columns)
        with replacing(files[f"{name}_xlsx"]) as partial:
            book.save(partial)
