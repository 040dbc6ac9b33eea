"""What ``check`` finds out about a file of any kind."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from layers.area import Area, load_area
from layers.cli.showing import counted
from layers.exports import degrees_minutes
from seabed.errors import SeabedError
from seabed.units import format_quantity

__all__ = ["Checked", "check_file", "kind_of"]

HEAD_BYTES: Final = 4096
BY_ENDING: Final = {
    ".toml": "area file",
    ".gpx": "GPX",
    ".000": "chart",
    ".gpkg": "logbook",
    ".json": "table of tide heights",
}
FISH_COLUMNS: Final = {"species", "fish", "kept", "keep", "keeper", "released", "length", "rod"}
DEPTH_COLUMNS: Final = {"depth", "z", "x", "y", "easting", "northing"}
_NO_HEADERS: Final = re.compile(r'#|"?sep=', re.IGNORECASE)
"""Lines before those that head the columns."""


@dataclass(frozen=True, slots=True)
class Checked:
    """What a file is.

    Attributes
    ----------
    file, kind : str
        ``"depth grid"``, ``"chart"``, ``"GPX"``, ``"track log"``, ``"sounder's log"``,
        ``"logbook"``,
        ``"catch log"``, ``"table of tide heights"``, ``"table of currents"``, ``"area file"``.
    facts : dict of str to str
        What to print.
    wrong : list of (what, cure)
    usable : bool
        Whether other commands take it as it is.
    detail : dict
        The same for machines.
    """

    file: str
    kind: str
    facts: dict[str, str] = field(default_factory=dict)
    wrong: list[tuple[str, str]] = field(default_factory=list)
    usable: bool = True
    detail: dict[str, Any] = field(default_factory=dict)

    def as_dict(self) -> dict[str, Any]:
        """Everything as plain values."""
        wrong = [{"what": what, "do": do} for what, do in self.wrong]
        return {
            "file": self.file,
            "kind": self.kind,
            "usable": self.usable,
            **(self.detail or self.facts),
            "wrong": wrong,
        }

    def text(self) -> str:
        """Set it out for people."""
        lines = [f"{self.file}: {self.kind}"]
        wide = max(map(len, self.facts), default=0)
        lines += [f"  {name:<{wide}}  {value}" for name, value in self.facts.items() if value]
        for what, do in self.wrong:
            lines.append(f"  ! {what.rstrip('.')}. {do}".rstrip())
        if not self.wrong:
            lines.append("  nothing wrong")
        return "\n".join(lines)


def check_file(name: str, area: Area) -> Checked:
    """Find out what a file is; what can't be read at all is told in the answer."""
    kind = kind_of(name)
    readers: dict[str, Callable[[], Checked]] = {
        "area file": lambda: _area(name),
        "GPX": lambda: _gpx(name),
        "track log": lambda: _track_log(name, area),
        "sounder's log": lambda: _sounder_log(name, area),
        "logbook": lambda: _logbook(name),
        "catch log": lambda: _catches(name, area),
        "table of tide heights": lambda: _heights(name, area),
        "table of currents": lambda: _currents(name, area),
        "chart": lambda: _chart(name, area),
        "depth grid": lambda: _grid(name, area),
    }
    try:
        return readers[kind]()
    except SeabedError as error:
        place = f"{error.where}: " if error.where else ""
        said = [(f"{place}{error.what}", error.do or "")]
        return Checked(name, f"{kind}, or meant to be", wrong=said, usable=False)


def kind_of(name: str) -> str:
    """Tell the kind of a file by its content, as far as that says it, else by its name."""
    if name.startswith(("http://", "https://")):
        return "depth grid"
    suffix = Path(name).suffix.lower()
    head = _head(Path(name))
    if suffix in BY_ENDING:
        return BY_ENDING[suffix]
    if re.search(r"<gpx[\s>]", head):
        return "GPX"
    if re.search(r"^[$!][A-Z]{5},", head, re.MULTILINE):
        sounded = re.search(r"\$[A-Z]{2}(DPT|DBT|DBS|DBK),", head)
        return "sounder's log" if sounded else "track log"
    if suffix in {".csv", ".txt", ".tsv", ".dat"}:
        return _kind_of_table(head)
    return "depth grid"


def _kind_of_table(head: str) -> str:
    """Tell tables apart by the names of their columns."""
    first = next(
        (line for line in head.splitlines() if line.strip() and not _NO_HEADERS.match(line)), ""
    )
    delimiter = max(",;\t|", key=first.count)
    words = {word.strip().lower() for word in next(csv.reader([first], delimiter=delimiter), [])}
    stems = {re.split(r"[_ (\[]", word)[0] for word in words}
    if stems & FISH_COLUMNS:
        return "catch log"
    timed = bool(stems & {"time", "date", "datetime", "timestamp"})
    if timed and stems & {"latitude", "lat"} and stems & {"longitude", "lon", "long", "lng"}:
        return "track log"
    if "event" in stems or ("speed" in stems and timed):
        return "table of currents"
    if stems & {"height", "level"} and timed:
        return "table of tide heights"
    return "catch log" if timed and not stems & DEPTH_COLUMNS else "depth grid"


def _head(path: Path) -> str:
    try:
        with path.open("rb") as stream:
            raw = stream.read(HEAD_BYTES)
    except FileNotFoundError as error:
        raise SeabedError("no such file", file=path, do="Check the name.") from error
    except OSError as error:
        raise SeabedError(f"can't be read: {error.strerror}", file=path) from error
    wide = raw.startswith((b"\xff\xfe", b"\xfe\xff"))
    return raw.decode("utf-16" if wide else "utf-8-sig", errors="replace")


def _area(name: str) -> Checked:
    found = load_area(name)
    wrong = [
        (f"{what} names a file that is not there: {path}", "Paths start from the area file.")
        for what, path in [
            *(("[grid] files", path) for path in found.grid.files),
            *(("[charts] files", path) for path in found.charts.files),
            ("[water] heights", found.water.heights),
            ("[water] currents", found.water.currents),
        ]
        if isinstance(path, Path) and not path.is_file()
    ]
    unit = found.units.depth
    facts = {
        "name": found.name,
        "time zone": found.timezone,
        "grids": ", ".join(map(str, found.grid.files)),
        "band": " to ".join(format_quantity(m, unit) for m in found.depths.band_m),
        "species": ", ".join(found.species),
    }
    return Checked(name, "area file", facts, wrong, usable=not wrong)


def _gpx(name: str) -> Checked:
    from layers.tracks import read_fixes, read_waypoints

    waypoints = read_waypoints(name)
    facts: dict[str, str] = {}
    wrong: list[tuple[str, str]] = []
    try:
        fixes = read_fixes(name)
    except SeabedError as error:
        if not len(waypoints):
            raise
        facts["tracks"] = f"none ({error.what})"
        fixes = None
    usable = True
    if fixes is not None:
        facts |= _track_facts(fixes)
        wrong, usable = _track_faults(fixes)
    if len(waypoints):
        facts["waypoints"] = str(len(waypoints))
    kind = "GPX" if fixes is None else "GPX track"
    return Checked(name, kind, facts, wrong, usable=usable)


def _track_log(name: str, area: Area) -> Checked:
    from layers.tracks import read_fixes

    fixes = read_fixes(name, timezone=area.timezone)
    wrong, usable = _track_faults(fixes)
    return Checked(name, "track log", _track_facts(fixes), wrong, usable=usable)


def _sounder_log(name: str, area: Area) -> Checked:
    from seabed.soundings import flagged, read_soundings

    log = read_soundings(name, timezone=area.timezone)
    table, report = flagged(log.soundings)
    longitude, latitude = table["longitude"].to_numpy(), table["latitude"].to_numpy()
    good = table[table["flag"] == ""]
    unit = area.units.depth
    deep = good["measured_m"]
    facts = {
        "soundings": f"{len(table)} in {table['line'].nunique()} lines",
        "good": _share((table["flag"] == "").to_numpy()),
        "depths": f"{format_quantity(deep.min(), unit, digits=1)} to "
        f"{format_quantity(deep.max(), unit, digits=1)}"
        if len(good)
        else "",
        "noise": f"{format_quantity(report.noise.metres, unit, digits=2)} and "
        f"{100 * report.noise.share:.1f} % of the depth",
        "time span": _span(table["time"]),
        "south-west": degrees_minutes(_least(latitude), _least(longitude)),
        "north-east": degrees_minutes(-_least(-latitude), -_least(-longitude)),
        "use it with": "seabed soundings, or seabed trip for its track",
    }
    wrong = [(note, "") for note in log.notes]
    set_aside = [f"{count} {flag}" for flag, count in report.counts.items() if flag and count]
    if set_aside:
        wrong.append((f"{', '.join(set_aside)}", "They are set aside, not deleted."))
    return Checked(name, "sounder's log", facts, wrong, usable=len(good) > 0)


def _track_faults(fixes: pd.DataFrame) -> tuple[list[tuple[str, str]], bool]:
    """Say what cleaning finds, and whether anything is left."""
    from layers.tracks import clean

    notes = [(str(note), "") for note in fixes.attrs.get("notes", [])]
    try:
        _, report = clean(fixes)
    except SeabedError as error:
        return [*notes, (error.what, error.do or "")], False
    return [*notes, *((said, "") for said in report.sentences()[1:])], True


def _logbook(name: str) -> Checked:
    from layers.logbook import Logbook

    trips = Logbook(name).trips()
    facts = {
        "trips": str(len(trips)),
        "time span": _span(pd.concat([trips["start"], trips["end"]])),
        "fish": f"{trips['fish'].sum()}, {trips['kept'].sum()} kept",
    }
    return Checked(name, "logbook", facts)


def _track_facts(fixes: pd.DataFrame) -> dict[str, str]:
    longitude, latitude = fixes["longitude"].to_numpy(), fixes["latitude"].to_numpy()
    depth = fixes["depth_m"].to_numpy()
    return {
        "points": f"{len(fixes)} in {counted(fixes['track'].nunique(), 'track')}",
        "time span": _span(fixes["time"]),
        "south-west": degrees_minutes(_least(latitude), _least(longitude)),
        "north-east": degrees_minutes(-_least(-latitude), -_least(-longitude)),
        "depth logged": _share(np.isfinite(depth)),
    } | ({"soundings": "seabed soundings reads them too"} if np.isfinite(depth).any() else {})


def _catches(name: str, area: Area) -> Checked:
    from layers.catches import read_catches

    caught = read_catches([Path(name)], timezone=area.timezone, default_unit=area.units.fish)
    kept = int(caught["kept"].fillna(False).astype(bool).sum())
    facts = {
        "fish": f"{len(caught)}, {kept} kept",
        "species": ", ".join(sorted({str(word) for word in caught["species"] if word})),
        "time span": _span(caught["time"]),
        "with position": _share(np.isfinite(caught["longitude"].to_numpy(float))),
    }
    return Checked(name, "catch log", facts)


def _heights(name: str, area: Area) -> Checked:
    from layers.water import read_heights

    found = read_heights(name, timezone=area.timezone)
    facts = {"source": type(found).__name__}
    if hasattr(found, "times"):
        facts = {"rows": str(len(found.times)), "time span": _span(pd.Series(found.times))}
    return Checked(name, "table of tide heights", facts)


def _currents(name: str, area: Area) -> Checked:
    from layers.water import read_currents

    flood = area.water.flood_toward_deg
    found = read_currents(
        name,
        timezone=area.timezone,
        flood_toward=0.0 if flood is None else flood,
        ebb_toward=area.water.ebb_toward_deg,
    )
    facts = {"source": type(found).__name__}
    if hasattr(found, "times"):
        facts = {"rows": str(len(found.times)), "time span": _span(pd.Series(found.times))}
    cure = "Set flood_toward under [water] of the area file, and name it with --area."
    wrong = [] if flood is not None else [("which way the flood runs is not in the file", cure)]
    return Checked(name, "table of currents", facts, wrong)


def _grid(name: str, area: Area) -> Checked:
    from seabed.loaders import describe

    source = area.grid
    report = describe(
        name,
        crs=source.crs or None,
        sign=source.sign,
        unit=source.unit,
        variable=source.variable or None,
    )
    unit = area.units.depth
    facts = {
        "format": report.format,
        "variable": report.variable,
        "cells": f"{report.columns} x {report.rows}",
        "CRS": " ".join(word for word in (report.crs_code, report.crs) if word) or "none",
        "cell size": f"{report.cell_easting_m:.3g} x {report.cell_northing_m:.3g} m",
        "depth": f"{format_quantity(report.depth_min_m, unit)} to "
        f"{format_quantity(report.depth_max_m, unit)}",
        "numbers are": f"{report.sign}, {report.unit}",
        "datum": report.vertical_datum,
        "cells with depth": f"{report.valid_share:.1%}, land {report.land_share:.1%}, "
        f"void {report.void_share:.1%}",
        "uncertainty": "in the file" if report.uncertainty else "",
        "others in it": ", ".join(report.others) if len(report.others) > 1 else "",
        "guessed": " ".join(report.guesses),
    }
    box = report.bounds
    if box is not None:
        facts["south-west"] = degrees_minutes(box.south, box.west)
        facts["north-east"] = degrees_minutes(box.north, box.east)
    wrong = [(problem.what, problem.do) for problem in report.problems]
    detail = {key: value for key, value in report.as_dict().items() if key not in ("file", "kind")}
    return Checked(name, report.kind, facts, wrong, report.usable, detail)


def _chart(name: str, area: Area) -> Checked:
    from seabed.loaders import describe_chart

    report = describe_chart(name)
    unit = area.units.depth
    facts = {
        "format": report.format,
        "hazards": ", ".join(f"{count} {kind}" for kind, count in report.hazards.items()),
        "depth contours": str(report.contours),
        "soundings": f"{report.soundings}, {format_quantity(report.depth_min_m, unit)} to "
        f"{format_quantity(report.depth_max_m, unit)}",
        "others in it": ", ".join(f"{n} {word}" for word, n in report.other_classes.items()),
    }
    wrong = []
    if report.hazards.get("unknown"):
        cure = "Look at them on the official chart; they are kept as hazards of kind unknown."
        wrong.append(("some objects are of a class that is not known here", cure))
    detail = {key: value for key, value in report.as_dict().items() if key not in ("file", "kind")}
    return Checked(name, report.kind, facts, wrong, True, detail)


def _span(times: pd.Series) -> str:
    known = pd.to_datetime(times, utc=True).dropna()
    if known.empty:
        return "no times"
    return f"{known.min():%Y-%m-%d %H:%M} to {known.max():%Y-%m-%d %H:%M} UTC"


def _least(values: Any) -> float:
    known = values[np.isfinite(values)]
    return float(known.min()) if known.size else float("nan")


def _share(known: Any) -> str:
    return f"{np.mean(known):.0%}" if len(known) and known.any() else "none"
