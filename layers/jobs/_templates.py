"""Empty tables to fill in, as text and as spreadsheets."""

from __future__ import annotations

from pathlib import Path

from layers.area import Units
from seabed.files import replacing, write_text

__all__ = ["template_files", "write_templates"]

_NAMES = ("catches", "tide_heights", "currents", "wind")


def template_files(folder: Path) -> dict[str, Path]:
    """Files that `write_templates` makes, by name."""
    return {
        f"{name}_{kind}": folder / f"{name}.{kind}" for name in _NAMES for kind in ("csv", "xlsx")
    }


def write_templates(folder: Path, units: Units) -> None:
    """Write the headings of each table, in the units of an area."""
    import openpyxl

    depth = "ft" if units.depth == "ft" else "m"
    headings = {
        "catches": ["date", "time", "species", f"length_{units.fish}", "kept", "rod", "note"],
        "tide_heights": ["time", f"height_{depth}", "kind"],
        "currents": ["time", "event", "speed_kn"],
        "wind": ["time", "speed_kn", "from", "gust_kn"],
    }
    files = template_files(folder)
    for name, columns in headings.items():
        write_text(files[f"{name}_csv"], ",".join(columns) + "\n")
        book = openpyxl.Workbook()
        book.active.title = name
        book.active.append(columns)
        with replacing(files[f"{name}_xlsx"]) as partial:
            book.save(partial)
