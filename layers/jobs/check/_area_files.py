"""What ``check`` finds out about an area file, with all that it names, and about a folder."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Final

from layers.area import Area, is_current, load_area
from layers.jobs.check._checked import Checked
from seabed.errors import SeabedError
from seabed.files import LIST, UNFINISHED
from seabed.tables.spreadsheets import split_sheet
from seabed.units import format_quantity

Check = Callable[[str, Area], Checked]
Fault = tuple[str, str]

LITTLE_ROOM: Final = 200_000_000
"""Bytes below which a disk is called short of room: some three scouts of a middling grid."""

FAR_DEGREES: Final = 1.0
"""Further than this from the grid a launch is mistyped (common practice, no source)."""

FITTING: Final = {
    "grid.files": {"depth grid"},
    "charts.files": {"chart"},
    "water.heights": {"table of tide heights", "station"},
    "water.currents": {"table of currents", "station", "station of currents", "learned current"},
    "logbook.file": {"logbook"},
}
"""Kinds of files that a key may name."""


def check_area(name: str, check: Check) -> Checked:
    """Read an area file, look at every file that it names, and at whether they fit together."""
    area = load_area(name)
    wrong: list[Fault] = []
    names: list[str] = []
    usable = True
    for key, path in files_named(area):
        fault, good, kind = file_fault(key, path, area, check)
        usable &= good
        wrong += [(f"{{{key}}}: {path}: {what}", do) for what, do in fault]
        shown = Path(path).name or str(path)
        names.append(f"{shown} ({kind})" if kind else shown)
    if usable:
        wrong += _misfits(area)
    craft = _craft_fault(area)
    unit = area.units.depth
    facts = {
        "name": area.name,
        "time zone": area.timezone,
        "names": ", ".join(names),
        "band": " to ".join(format_quantity(m, unit) for m in area.depths.band_m or ()) or "none",
        "species": ", ".join(area.species),
    }
    return Checked(name, "area file", facts, [*craft, *wrong], usable=usable and not craft)


def check_folder(name: str) -> Checked:
    """Say whether results could be written into a folder, and what to check in it."""
    path = Path(name)
    try:
        inside = sorted(path.iterdir())
    except OSError as error:
        raise SeabedError(
            f"can't be opened: {error.strerror}", file=path, do="Look at its permissions."
        ) from error
    room = shutil.disk_usage(path).free
    wrong: list[Fault] = []
    can_write = os.access(path, os.W_OK)
    if not can_write:
        wrong.append(("nothing can be written here", "Choose another folder with {out}."))
    if room < LITTLE_ROOM:
        wrong.append((f"only {room / 1e6:,.0f} MB are free on its disk", "Make room first."))
    left = [file.name for file in inside if file.name.startswith(UNFINISHED)]
    if left:
        wrong.append(
            (
                f"a command was killed while it wrote here: {', '.join(left)}",
                "Run it again; its leftovers are removed a day later.",
            )
        )
    facts = {
        "for results": "yes, with {out}" if can_write else "no",
        "free": f"{room / 1e9:,.1f} GB",
        "files in it": str(sum(file.is_file() and file.name != LIST for file in inside)),
    }
    return Checked(name, "folder", facts, wrong, usable=can_write)


def files_inside(name: str) -> list[str]:
    """Name the files of a folder, but hidden ones; none if it is no folder."""
    if name.startswith(("http://", "https://")) or not Path(name).is_dir():
        return []
    try:
        inside = sorted(Path(name).iterdir())
    except OSError:
        return []  # `check_folder` says so
    return [str(path) for path in inside if path.is_file() and not path.name.startswith(".")]


def files_named(area: Area) -> Iterator[tuple[str, Path | str]]:
    """Give every file that an area names, with its key; not a logbook that is yet to be begun."""
    yield from (("grid.files", path) for path in area.grid.files)
    yield from (("charts.files", path) for path in area.charts.files)
    for key, path in (
        ("water.heights", area.water.heights),
        ("water.currents", area.water.currents),
    ):
        if path is not None and not (isinstance(path, str) and is_current(path)):
            yield key, path
    if area.logbook.file is not None and area.logbook.file.exists():
        yield "logbook.file", area.logbook.file


def file_fault(
    key: str, path: Path | str, area: Area, check: Check
) -> tuple[list[Fault], bool, str]:
    """Say what is wrong with a file that a key names, whether it can be used, and what it is."""
    if isinstance(path, str):  # an address, whose host would learn of the water
        what = "on the network, and was not fetched"
        return [(what, f"Check it by name: {{seabed check}} {path}")], True, "depth grid"
    if not split_sheet(path)[0].exists():
        folder = Path() if area.file is None else area.file.parent
        return [("no such file", f"Check its name: paths start from {folder}.")], False, ""
    if Path(path).suffix.lower() == ".toml":  # it may name this file
        return [("this is an area file", "Name another file.")], False, ""
    checked = check(str(path), area)
    kind = checked.kind.removesuffix(", or meant to be")
    if checked.usable and kind not in FITTING[key]:
        wanted = sorted(FITTING[key])[-1]
        what = f"this is a {kind}, where a {wanted} is wanted"
        return [(what, "Name another file.")], False, kind
    faults = [(what.removeprefix(f"{path}: "), do) for what, do in checked.wrong]
    return faults, checked.usable, kind


def _craft_fault(area: Area) -> list[Fault]:
    from layers.water import leeway_of

    try:
        leeway_of(area.boat.craft)
    except SeabedError as error:
        return [(f"{{boat.craft}}: {error.what}", error.do or "")]
    return []


def _misfits(area: Area) -> list[Fault]:
    """Say where files that are whole don't go together: places apart, a launch off the water."""
    if not area.grid.files or any(isinstance(file, str) for file in area.grid.files):
        return []
    from layers.jobs.parts.area_water import heights_of
    from layers.jobs.parts.settings import zone_words
    from layers.jobs.parts.structure import hazards_of, open_area_grid
    from layers.water.heights.datums import datum_fault
    from seabed.grid import degree_bounds

    grid = open_area_grid(area)
    box, hazards = degree_bounds(grid), hazards_of(area, grid)
    misfits: list[Fault] = []
    if words := zone_words(area, date.today(), box.middle[0]):
        what, _, do = words.partition(". ")
        misfits.append((what, do))
    named = str(grid.attrs.get("vertical_datum") or "")
    fault = datum_fault(named, heights_of(area), offset_m=area.grid.offset_m)
    if fault is not None and "unknown" not in named:  # that is a fault of the file
        misfits.append(fault)
    if hazards is not None and not len(hazards):
        misfits.append(
            (
                "{charts.files}: no hazard is on the grid's ground",
                "Check that the cell covers it; without hazards a plan keeps clear of nothing.",
            )
        )
    if area.plan.launch is not None:
        east, north = area.plan.launch
        away = max(box.west - east, east - box.east, box.south - north, north - box.north)
        if away > FAR_DEGREES:
            misfits.append(
                (
                    f"{{plan.launch}}: {away:.0f} degrees off the grid",
                    "Check that latitude comes first, and the sign of each.",
                )
            )
    return misfits
