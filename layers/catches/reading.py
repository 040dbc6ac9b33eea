"""Catch logs as skippers keep them: CSV of any common make."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.catches.headers import columns_of, meanings_with
from layers.catches.marked_fish import read_marked_fish
from layers.water.times import zone_of
from seabed.errors import CatchError, Question, UnitError
from seabed.markup import FORMULA
from seabed.schema import Table, documented
from seabed.tables.headings import read_heading
from seabed.tables.positions import LIKE, Side, east_letter, read_angle, read_position
from seabed.tables.text_layout import number as plain_number
from seabed.tables.text_table import TextTable, read_text_table
from seabed.units import parse_length

CATCHES: Final = Table.of(
    "catches",
    "layers.catches.read_catches",
    """
    time [time empty "Time"] UTC; NaT for a waypoint without one
    species [text empty "Species"] ``""`` where not given
    length_m ["Length" fish empty] NaN where not given
    kept [maybe empty "Fate"] NA where the log does not say
    rod [text empty "Rod"] ``""`` where not given
    person [text empty "Person"] ``""`` where not given
    bait [text empty "Bait"] ``""`` where not given
    lead [text empty "Lead"] as written; ``""`` where not given
    angle [text empty "Line's angle"] from straight down, as written; ``""`` where not given
    contact [text empty "Contact"] of the lead with the bottom, as written; ``""`` where not given
    note [text empty "Note"] ``""`` where not given
    longitude, latitude [empty] NaN where not given
    file [text] it was read from
    row [int] line in the file; number of the waypoint; 0 for a photo
    geometry [Point] None where there is no position
    """,
)

PLAIN_YES: Final = {
    "yes", "y", "true", "1", "x", "✓", "ja", "j", "oui", "o", "si", "sí", "sì", "sim",
}  # fmt: skip
PLAIN_NO: Final = {"no", "n", "false", "0", "nein", "nee", "nej", "nei", "non", "não", "nao"}
"""Answers to the header's own question; every other word says itself what became of the fish."""
YES: Final = PLAIN_YES | {"kept", "keep", "keeper", "k", "retained", "legal"}
NO: Final = PLAIN_NO | {
    "short", "s", "released", "release", "back", "returned", "undersized", "r",
}  # fmt: skip
LENGTH_WORDS: Final = {"in": "inches", "cm": "centimetres"}
TACKLE: Final = ("rod", "person", "bait", "lead", "angle", "contact")
"""Columns of what a fish was caught with, what the line did, and by whom."""
LONGEST_FISH_M: Final = 5.0
"""A length above this is a slip of the pen or of the unit."""
MOST_OF_A_ROW: Final = 200
"""Fish that a row may count; more is a slip of the pen.  Our choice, no source."""
_FRACTION: Final = re.compile(r"(?<!\d)(\d{1,6})(?:\s+|\s*-\s*)([1-9]\d?)/([1-9]\d?)(?!\d)")
"""``14 1/2``, as rulers in inches are read."""


@documented(CATCHES)
def read_catches(
    paths: Sequence[str | Path] | str | Path,
    *,
    timezone: str = "UTC",
    default_unit: str = "in",
    table_unit: str | None = None,
    salvage: bool = False,
    date_order: str = "",
    columns: Mapping[str, str] | None = None,
) -> gpd.GeoDataFrame:
    """Read catch logs (text or spreadsheets) and fish marked as waypoints (GPX).

    Parameters
    ----------
    paths : path or sequence of paths
        Tables as `seabed.tables.text_table` reads them, with headings in ten languages
        (`seabed.tables.headings`), or GPX whose waypoints name fish (`layers.catches.marked_fish`).
    timezone : str
        The zone of times without an offset.
    default_unit : str
        The unit of lengths without one.
    table_unit : str, optional
        That of lengths in tables, where it is another; where it is ``""`` these are refused.
    salvage : bool
        Of a damaged GPX file take the fish before the damage.
    date_order : str
        ``"dmy"`` or ``"mdy"``, of dates that can be read two ways.
    columns : mapping of str to str, optional
        What headings mean that are not known, in the letters of `seabed.tables.headings.plain`.

    Returns
    -------
    GeoDataFrame, EPSG:4326, in order of time
        No paths give no rows.  ``attrs["without_zone"]`` counts the rows whose times had no offset,
        ``attrs["bare_lengths"]`` those of lengths without a unit, ``attrs["notes"]`` says what was
        assumed.

        {catches}

    Raises
    ------
    CatchError
        At the first thing that can't be read, with its file and line.  Nothing is guessed or
        passed over: a fish left out would make its line look worse than it is.

    Examples
    --------
    >>> catches = read_catches("catches.csv", timezone="Etc/GMT+2")
    >>> len(catches), int(catches["kept"].sum())
    (35, 28)
    """
    if isinstance(paths, (str, Path)):
        paths = [paths]
    zone = zone_of(timezone)
    rows: list[dict[str, Any]] = []
    notes: list[str] = []
    bare = 0
    for path in paths:
        if Path(path).suffix.lower() == ".gpx":
            rows += read_marked_fish(path, default_unit=default_unit, salvage=salvage)
        else:
            text = read_text_table(
                path, partial(meanings_with, own=columns or {}), error=CatchError
            )
            unit = default_unit if table_unit is None else table_unit
            rows += _fish_of(text, str(path), zone, unit, date_order)
            bare += _bare_lengths(text)
            notes += text.notes
    table = as_catches(rows)
    table.attrs["notes"], table.attrs["bare_lengths"] = notes, bare
    table.attrs["without_zone"] = sum(bool(row.get("without_zone")) for row in rows)
    return table


def as_catches(rows: Iterable[dict[str, Any]]) -> gpd.GeoDataFrame:
    """Make the table of catches from rows that have its columns but the geometry.

    Examples
    --------
    >>> import pandas as pd
    >>> row = {"time": pd.Timestamp("2031-06-14T08:00Z"), "species": "flatfish", "length_m": 0.4}
    >>> row |= {"kept": True, "rod": "", "note": "", "longitude": 3.0, "latitude": 46.0}
    >>> as_catches([row | {"file": "by hand", "row": 1}])["species"].tolist()
    ['flatfish']
    """
    unsaid = dict.fromkeys(TACKLE, "")  # marks and photos name none
    table = pd.DataFrame([unsaid | row for row in rows], columns=CATCHES.names[:-1])
    table = table.astype({"longitude": np.float64, "latitude": np.float64})
    points = gpd.points_from_xy(table["longitude"], table["latitude"])
    placed = table["longitude"].notna() & table["latitude"].notna()
    table["geometry"] = gpd.GeoSeries(points).where(placed.to_numpy(), None)
    return CATCHES.frame(table).sort_values("time", kind="stable", ignore_index=True)


def _fish_of(
    table: TextTable, path: str, zone: ZoneInfo, default_unit: str, date_order: str
) -> list[dict[str, Any]]:
    columns = columns_of(table)
    times, placed = table.moments(zone, need_time=True, date_order=date_order or None)
    unit = table.unit("length")
    if default_unit and _bare_lengths(table):
        words = LENGTH_WORDS.get(default_unit, default_unit)
        table.notes.append(f"{table.file}: lengths without a unit are read as {words}")
    o_is = _o_of(table)
    rows = []
    for at, (cells, line) in enumerate(zip(table.rows, table.lines, strict=True)):
        row = {name: cells[column] for name, column in columns.at.items()}
        if "released" in row:
            row["kept"] = _turned(row["released"])
        longitude, latitude = _position(row, table, at, o_is)
        rows += _count(row.get("count", ""), table, at) * [
            {
                "time": pd.Timestamp(times[at], tz="UTC"),
                "without_zone": not placed[at],
                "species": _unguarded(row.get("species", "")).lower(),
                "length_m": _length(row.get("length", ""), table, at, unit or default_unit),
                "kept": _kept(row.get("kept", ""), table, at),
                **{name: _unguarded(row.get(name, "")) for name in TACKLE},
                "note": _unguarded(columns.note_of(cells, table.headings)),
                "longitude": longitude,
                "latitude": latitude,
                "file": path,
                "row": line,
            }
        ]
    if "count" in columns.at:
        table.notes.append(f"{table.file}: {len(table)} rows count {len(rows)} fish")
    return rows


def _bare_lengths(table: TextTable) -> int:
    """Count the lengths that name no unit, nor has their heading one."""
    words = [] if table.unit("length") else table.words("length") or []
    return sum(bool(word) and word.strip("0123456789.,") == "" for word in words)


def _length(word: str, table: TextTable, row: int, unit: str) -> float:
    if not word:
        return float("nan")
    number = _FRACTION.sub(lambda part: str(int(part[1]) + int(part[2]) / int(part[3])), word)
    try:
        length = parse_length(number, default=unit)
    except UnitError as error:
        if unit or np.isnan(plain_number(number)):
            table.refuse(row, f"can't read the length {word!r}", meaning="length", do=error.do)
        table.refuse(
            row,
            f"the length {word!r} has no unit",
            meaning="length",
            do="Name it in the heading, like length_cm, or set {length_unit}.",
            question=Question("length_unit", {"cm": "centimetres", "in": "inches"}),
        )
    if not 0 < length <= LONGEST_FISH_M:
        table.refuse(
            row,
            f"a fish of length {word!r} ({unit} if none is given)",
            meaning="length",
            do="Correct it, or leave the cell empty.",
        )
    return length


def _count(word: str, table: TextTable, row: int) -> int:
    """Tell how many fish a row is about; one where it doesn't say."""
    count = plain_number(word) if word else 1.0
    if count not in range(MOST_OF_A_ROW + 1):
        table.refuse(
            row,
            f"{word!r} is not a count of fish",
            meaning="count",
            do=f"Write a whole number up to {MOST_OF_A_ROW}, or leave the cell empty.",
        )
    return int(count)


def _kept(word: str, table: TextTable, row: int) -> bool | None:
    name = word.strip().lower()
    if not name or name in {"?", "-", "na", "n/a"}:
        return None
    if name in YES:
        return True
    if name in NO:
        return False
    table.refuse(row, f"can't tell whether {word!r} is kept", meaning="kept", do="Write yes or no.")


def _turned(word: str) -> str:
    """Turn yes and no over, under a header that asks whether the fish went back."""
    name = word.strip().lower()
    return "no" if name in PLAIN_YES else "yes" if name in PLAIN_NO else word


def _unguarded(text: str) -> str:
    """Take off the ``'`` that keeps a spreadsheet from running text as a formula."""
    return text[1:].strip() if text[:1] == "'" and FORMULA.match(text[1:]) else text


def _o_of(table: TextTable) -> Side | None:
    """Tell whether an O is east or west in this table's longitudes."""
    words = [*(table.words("longitude") or []), *(table.words("position") or [])]
    return east_letter(words, [read_heading(heading).name for heading in table.headings])


def _position(
    words: dict[str, str], table: TextTable, row: int, o_is: Side | None
) -> tuple[float, float]:
    both = words.get("position", "")
    east, north = words.get("longitude", ""), words.get("latitude", "")
    if not (both or east or north):
        return float("nan"), float("nan")
    try:
        if both and not (east or north):
            return read_position(both, o_is=o_is)
        return read_angle(east, "longitude", o_is=o_is), read_angle(north, "latitude")
    except ValueError as problem:
        table.refuse(
            row,
            f"can't read the position {both or f'{north!r}, {east!r}'}: {problem}",
            meaning="position" if both else "latitude",
            do=f"Write it like {LIKE}, west and south negative or with letters, or leave it empty.",
        )
