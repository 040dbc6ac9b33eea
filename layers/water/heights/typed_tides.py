"""Tide tables as they are typed or pasted: turns found line by line, in any columns.

A line may hold one turn (``Sat 14 June 2031  3:12 AM  High Tide 6.2 ft``) or a day's four; a date
holds until the next; a unit may follow each height, or be in a line above.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from seabed.errors import WaterError
from seabed.tables.spreadsheets import ENDINGS, sheets_of, split_sheet
from seabed.tables.text_layout import decoded
from seabed.tables.text_table import TextTable

HIGH_WORDS: Final = {
    "h", "hh", "lh", "hw", "hwl", "high", "hochwasser", "pm", "hoogwater", "højvande", "høyvann",
    "högvatten", "pleamar", "preia-mar", "preiamar", "pm.", "alta", "flo",
}  # fmt: skip
LOW_WORDS: Final = {
    "l", "ll", "hl", "lw", "lwl", "low", "niedrigwasser", "nw", "bm", "laagwater", "lavvande",
    "lavvann", "lågvatten", "bajamar", "baixa-mar", "baixamar", "bm.", "bassa", "fjære",
}  # fmt: skip
"""Words for the turns in ten languages; PM and BM are French, NW is German."""

_MONTH: Final = r"[^\W\d_]{3,}\.?"
_DATE: Final = re.compile(
    r"\b(\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/]\d{1,2}[-/]\d{2,4}|\d{1,2}\.\s?\d{1,2}\.\s?\d{4}"
    rf"|\d{{1,2}}\.?[\s-](?:de )?{_MONTH},?[\s-](?:de )?\d{{4}}"
    rf"|{_MONTH} \d{{1,2}}(?:st|nd|rd|th)?,? \d{{4}})"
    r"(?!\d)"
)
_MONTH_TITLE: Final = re.compile(rf"\W*(?:tides? \w+ )?({_MONTH}),? (\d{{4}})\W*", re.IGNORECASE)
_DAY: Final = re.compile(
    r"(?:[^\W\d_]{2,10}\.?,? )?(\d{1,2})\.? (?:[^\W\d_]{2,10}\.?,? )?(?=\d)(?!\d{1,2}[.,]\d)"
)
"""A month above, and the day of it at the beginning of a line: ``14 Sa 0312 3.4``."""
_TIME: Final = re.compile(
    r"(?<![\d.,:])(\d{1,2}[:h]\d{2}(?::\d{2})?\s*(?:[ap]\.?m\b\.?)?"
    r"|\d{1,2}(?:\.\d{2})?\s*[ap]\.?m\b\.?)(?![\d:])",
    re.IGNORECASE,
)
_DECIMAL: Final = re.compile(r"[(]?[+\-−]?\d{1,2},\d{1,3}[^\d,]*")
_PACKED: Final = re.compile(r"(?<![\d.,:+-])([01]\d[0-5]\d|2[0-3][0-5]\d)(?![\d.,:])")
_HEIGHT: Final = re.compile(
    r"(?<![\w.,:+-])([+\-−]?(?:\d{3,4}(?=\s*cm\b)|\d{1,2}(?!\d))(?:[.,]\d{1,3})?)\s*"
    r"(m\b|met(?:er|re)s?\b|ft\b|feet\b|'|cm\b)?",
    re.IGNORECASE,
)
_TURN: Final = re.compile(
    rf"\b({'|'.join(sorted(map(re.escape, HIGH_WORDS | LOW_WORDS), key=len, reverse=True))})\b",
    re.IGNORECASE,
)
_UNIT: Final = re.compile(
    r"(?:[(\[]\s*|\bin\s+|\b(?:heights?|höhen?|hauteurs?|units?)\s*[:(]?\s*)"
    r"(m|cm|met(?:er|re)s?|metern?|mètres|ft|feet|foot)\b",
    re.IGNORECASE,
)

_UNIT_CELL: Final = re.compile(r"(?:^|\s)(m|cm|ft|feet)(?=\s|$)", re.IGNORECASE)


@dataclass(slots=True)
class _Turns:
    """Of one line: clocks, heights with their units, and words for the turns."""

    times: list[str]
    heights: list[str]
    kinds: list[str]


def unit_in(title: str) -> str:
    """Give the unit of heights that lines above a table name; ``""`` for none."""
    match = _UNIT.search(title)
    if match is None:  # a cell of a line of headings
        plain = (line for line in title.splitlines() if not re.search(r"\d", line))
        match = next(filter(None, map(_UNIT_CELL.search, plain)), None)
    unit = "" if match is None else match[1].lower()
    return {"": "", "f": "ft", "c": "cm"}.get(unit[:1], "m")


def typed_tides(name: str | Path) -> TextTable:
    """Find the turns in a table of any shape, as a table of time, height and perhaps event.

    Raises WaterError if no line holds a turn, or a line has more times than heights.
    """
    path, sheet = split_sheet(name)
    rows: list[list[str]] = []
    lines: list[int] = []
    titles: list[str] = []
    day = month = ""
    for number, line in lines_of(path, sheet):
        bare = _DATE.sub(" ", line, count=1)
        if match := _DATE.search(line):
            day = match[1]
        elif title := _MONTH_TITLE.fullmatch(line):
            month, bare = f"{title[1]} {title[2]}", ""
        elif month and (match := _DAY.match(line)):
            day, bare = f"{match[1]} {month}", line[match.end() :]
        turns = _turns_of(bare)
        if not turns.times:
            titles.append(line)
            continue
        _hold_paired(turns, day, path, number)
        kinds = turns.kinds if len(turns.kinds) == len(turns.times) else [""] * len(turns.times)
        for clock, height, kind in zip(turns.times, turns.heights, kinds, strict=True):
            rows.append([f"{day} {clock}", height, kind])
            lines.append(number)
    if not rows:
        raise WaterError(
            "no line holds a time of high or low water",
            file=path,
            do="Give columns time, height_m and kind, or lines like 2031-06-14 3:12 AM "
            "high 6.2 ft.",
        )
    return _table(str(path), rows, lines, "\n".join(titles))


def _table(file: str, rows: list[list[str]], lines: list[int], title: str) -> TextTable:
    headings, meanings = ["time", "height", "kind"], ["time", "height", "event"]
    if not all(row[2] for row in rows):
        rows, headings, meanings = [row[:2] for row in rows], headings[:2], meanings[:2]
    note = f"{file}: {len(rows)} turns were found line by line; check the first and the last"
    return TextTable(
        file, headings, 0, list(meanings), rows, lines, 0, [note], WaterError, title=title
    )


def lines_of(path: Path, sheet: str | None) -> Iterator[tuple[int, str]]:
    """Give the lines of a table, numbered, cells parted by blanks."""
    if path.suffix.lower() in ENDINGS:
        for _, rows in sheets_of(path, sheet, WaterError):
            yield from ((at, " ".join(filter(None, row))) for at, row in enumerate(rows, 1))
            return
    else:
        text = decoded(path, WaterError)[0]
        mark = _separator(text)
        for number, line in enumerate(text.splitlines(), 1):
            yield number, " ".join((line.replace(mark, " ") if mark else line).split())


def _separator(text: str) -> str:
    """Give what parts the cells of most lines; "" for blanks, since a comma may be a decimal's."""
    lines = [line for line in text.splitlines() if line.strip()]
    for mark in ";\t|":
        if sum(mark in line for line in lines) > len(lines) / 2:
            return mark
    parted = sum(line.count(",") > 1 and not _only_decimals(line) for line in lines)
    return "," if parted > len(lines) / 2 else ""


def _only_decimals(line: str) -> bool:
    """Whether each comma of a line is a decimal's: ``HW 03:12 3,9 m  NW 09:20 0,4 m``."""
    return all(_DECIMAL.fullmatch(word) for word in line.split() if "," in word)


def _turns_of(line: str) -> _Turns:
    """Part a line without its date into times, heights and words; times first."""
    spans = list(_TIME.finditer(line)) or list(_PACKED.finditer(line))
    rest = line
    for match in spans:
        rest = rest[: match.start()] + " " * (match.end() - match.start()) + rest[match.end() :]
    if not spans:
        return _Turns([], [], [])
    heights = [
        match
        for match in _HEIGHT.finditer(rest)
        if match.start() > spans[0].start() or not _is_day(rest, match)
    ]
    with_unit = [match for match in heights if match[2]]
    heights = with_unit if len(with_unit) == len(spans) else heights
    words = [match[1] for match in _TURN.finditer(rest)]
    return _Turns(
        [match[1] for match in spans],
        [f"{match[1]} {match[2] or ''}".strip().replace("−", "-") for match in heights],
        words,
    )


def _is_day(line: str, match: re.Match[str]) -> bool:
    """Whether a bare whole number follows the name of a weekday: ``Sat 14``."""
    before = line[: match.start()].rstrip(" ,.|;\t")
    return bool(re.fullmatch(r"\W*[^\W\d_]{2,10}", before)) and match[1].isdigit() and not match[2]


def _hold_paired(turns: _Turns, day: str, path: Path, number: int) -> None:
    if not day:
        raise WaterError(
            "there is no date for this time of the tide",
            file=path,
            where=f"line {number}",
            do="Write the date, with its year, in the line or in one above it.",
        )
    if len(turns.times) != len(turns.heights):
        raise WaterError(
            f"{len(turns.times)} times and {len(turns.heights)} heights",
            file=path,
            where=f"line {number}",
            do="Give each time its height; leave out columns of sun and moon.",
        )
