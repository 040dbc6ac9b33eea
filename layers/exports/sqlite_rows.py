"""Rows put into an empty table of a SQLite file, page by page.

A statement for each row takes some four microseconds; filling the pages of the table's tree takes a
tenth of that.  The format is published, and its authors keep it for good: "Database File Format",
sqlite.org/fileformat2, of which sections 1.5 (tree pages), 1.6 (how tables are kept), 2.1 (records)
and 1.3 (header) are used here.  Only tables without overflowing rows and without indices can be
filled.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, Final

import numpy as np
from numpy.typing import NDArray

from seabed.compiled import compiled

__all__ = ["MOST_OCTETS", "POINT", "REAL", "TIME", "WHOLE", "WORD", "Rows", "append_rows"]

POINT, TIME, REAL, WHOLE, WORD = range(5)
"""Kinds of column: a point of EPSG:4326 (as GeoPackage 1.3 keeps one, section 2.1.3), UTC in
milliseconds since 1970 as ISO 8601 text, a number, a whole number, an index of a list of words."""

MOST_OCTETS: Final = 3_000
"""Words of a row may be so long together: what is longer would overflow its page."""

_LEAF, _INNER = 13, 5
_INNER_HEAD: Final = 12
_INNER_CELL: Final = 2 + 4 + 9
_LOCK_OCTET: Final = 1 << 30  # its page is never used
_POINT_OCTETS: Final = 29
_SHORT: Final = 2.0**31  # whole numbers below it take four octets

Rows = tuple[NDArray[np.float64], NDArray[np.float64]]
"""Some rows: values, of shape (n, columns) with the column of points left out, and x and y, of
shape (n, 2).  NaN is NULL."""


def append_rows(
    path: Path, table: str, kinds: list[int], parts: Iterator[Rows], words: list[bytes]
) -> int:
    """Fill an empty table of a SQLite file that nobody has open.

    Parameters
    ----------
    path : Path
    table : str
        Its first column is the number of the row, which counts from 1.
    kinds : list of int
        Of its other columns; `POINT`, if any, comes first.
    parts : iterator of Rows
    words : list of bytes
        UTF-8, for columns of the kind `WORD`.

    Returns
    -------
    int
        Rows written.
    """
    with sqlite3.connect(path) as base:
        (root,) = base.execute(
            "SELECT rootpage FROM sqlite_master WHERE type = 'table' AND name = ?", (table,)
        ).fetchone()
        (size,) = base.execute("PRAGMA page_size").fetchone()
    base.close()
    with path.open("r+b") as stream:
        return _Tree(stream, size).filled(root, kinds, parts, words)


class _Tree:
    """The tree of a table, grown at the end of the file from its leaves up."""

    def __init__(self, stream: BinaryIO, size: int) -> None:
        self.stream, self.size = stream, size
        self.pages = stream.seek(0, 2) // size

    def filled(self, root: int, kinds: list[int], parts: Iterator[Rows], words: list[bytes]) -> int:
        kind = np.array(kinds, np.int64)
        letters = np.frombuffer(b"".join(words) or b"\0", np.uint8)
        edges = np.cumsum([0, *map(len, words)])
        children: list[tuple[NDArray[np.int64], NDArray[np.int64]]] = []
        done = 0
        for values, places in parts:
            if not len(values):
                continue
            pages, last = _leaves(values, places, kind, letters, edges, done + 1, self.size)
            children.append((self._add(pages), last))
            done += len(values)
        if not done:
            return 0
        numbers, last = (np.concatenate(side) for side in zip(*children, strict=True))
        if len(numbers) == 1:
            self._moved(root)
        else:
            self._grown(root, numbers, last)
        self._head()
        return done

    def _grown(self, root: int, numbers: NDArray[np.int64], last: NDArray[np.int64]) -> None:
        """Put inner pages over others, until one is enough: the root."""
        a_page = (self.size - _INNER_HEAD) // _INNER_CELL
        while len(numbers) > a_page:
            parts = [slice(begin, begin + a_page) for begin in range(0, len(numbers), a_page)]
            pages = np.array([self._inner(numbers[part], last[part]) for part in parts])
            last = np.array([last[part][-1] for part in parts])
            numbers = self._add(pages)
        self.stream.seek((root - 1) * self.size)
        self.stream.write(self._inner(numbers, last).tobytes())

    def _add(self, pages: NDArray[np.uint8]) -> NDArray[np.int64]:
        """Write pages at the end; give their numbers, from 1."""
        locked = _LOCK_OCTET // self.size + 1
        numbers = self.pages + 1 + np.arange(len(pages))
        if self.pages < locked:
            numbers[numbers >= locked] += 1
        before = int(np.count_nonzero(numbers < locked))
        self.stream.seek(self.pages * self.size)
        self.stream.write(pages[:before].tobytes())
        if self.pages < locked < numbers[-1]:
            self.stream.write(bytes(self.size))
        self.stream.write(pages[before:].tobytes())
        self.pages = int(numbers[-1])
        return numbers

    def _moved(self, root: int) -> None:
        """Make the only leaf, which is the last page, the root."""
        self.pages -= 1
        self.stream.seek(self.pages * self.size)
        page = self.stream.read(self.size)
        self.stream.truncate(self.pages * self.size)
        self.stream.seek((root - 1) * self.size)
        self.stream.write(page)

    def _inner(self, children: NDArray[np.int64], last: NDArray[np.int64]) -> NDArray[np.uint8]:
        page = np.zeros(self.size, np.uint8)
        _inner_page(page, children, last)
        return page

    def _head(self) -> None:
        """Count the pages, and say that the file has changed."""
        self.stream.seek(24)
        changes = (int.from_bytes(self.stream.read(4), "big") + 1) & 0xFFFFFFFF
        self.stream.seek(24)
        self.stream.write(changes.to_bytes(4, "big") + self.pages.to_bytes(4, "big"))
        self.stream.seek(92)
        self.stream.write(changes.to_bytes(4, "big"))


def _leaves(  # noqa: PLR0917
    values: NDArray[np.float64],
    places: NDArray[np.float64],
    kind: NDArray[np.int64],
    letters: NDArray[np.uint8],
    edges: NDArray[np.int64],
    first: int,
    size: int,
) -> tuple[NDArray[np.uint8], NDArray[np.int64]]:
    """Leaf pages of rows, and the last row of each."""
    longest = 0 if len(edges) < 2 else int(np.diff(edges).max())
    a_row = 40 + 12 * len(kind) + 24 * int((kind == TIME).sum()) + _POINT_OCTETS
    a_row += longest * int((kind == WORD).sum())
    most = -(-len(values) // max(1, (size - 8) // (a_row + 2)))
    pages, last = np.zeros((most, size), np.uint8), np.empty(most, np.int64)
    used = _leaf_pages(values, places, kind, letters, edges, first, pages, last)
    return pages[:used], last[:used]


@compiled
def _leaf_pages(  # noqa: PLR0917 (compiled code is called by position)
    values: NDArray[np.float64],
    places: NDArray[np.float64],
    kind: NDArray[np.int64],
    letters: NDArray[np.uint8],
    edges: NDArray[np.int64],
    first: int,
    pages: NDArray[np.uint8],
    last: NDArray[np.int64],
) -> int:
    size = pages.shape[1]
    record = np.empty(size + 64, np.uint8)
    page = cells = 0
    top = size
    for i in range(len(values)):
        long = _record(values[i], places[i], kind, letters, edges, record)
        needed = long + _varint_size(long) + _varint_size(first + i)
        if top - needed < 8 + 2 * (cells + 1):
            _close(pages[page], cells, top)
            page += 1
            cells, top = 0, size
        top -= needed
        at = _varint(pages[page], top, long)
        at = _varint(pages[page], at, first + i)
        pages[page, at : at + long] = record[:long]
        pages[page, 8 + 2 * cells] = top >> 8
        pages[page, 9 + 2 * cells] = top & 255
        last[page] = first + i
        cells += 1
    _close(pages[page], cells, top)
    return page + 1


@compiled
def _close(page: NDArray[np.uint8], cells: int, top: int) -> None:
    page[0] = _LEAF
    page[3], page[4] = cells >> 8, cells & 255
    page[5], page[6] = (top >> 8) & 255, top & 255


@compiled
def _inner_page(
    page: NDArray[np.uint8], children: NDArray[np.int64], last: NDArray[np.int64]
) -> None:
    cells = len(children) - 1
    top = len(page)
    for i in range(cells):
        top -= 4 + _varint_size(last[i])
        _whole(page, top, children[i], 4)
        _varint(page, top + 4, last[i])
        page[_INNER_HEAD + 2 * i], page[_INNER_HEAD + 2 * i + 1] = top >> 8, top & 255
    _close(page, cells, top)
    page[0] = _INNER
    _whole(page, 8, children[cells], 4)


@compiled
def _record(  # noqa: PLR0912, PLR0917 (one branch a kind; compiled)
    values: NDArray[np.float64],
    place: NDArray[np.float64],
    kind: NDArray[np.int64],
    letters: NDArray[np.uint8],
    edges: NDArray[np.int64],
    out: NDArray[np.uint8],
) -> int:
    """Write a row as a record; how long it is.  The first value, the row's number, is left NULL."""
    real = np.empty(1)
    octets = real.view(np.uint8)
    head = 2
    for turn in range(2):
        if turn == 1:  # the head's length is known: the values follow it
            out[0], out[1] = head, 0
        at, column = head, 0
        for k in kind:
            if k == POINT:
                value = place[0] + place[1]
            else:
                value = values[column]
                column += 1
            if np.isnan(value):
                if turn == 0:
                    head = _varint(out, head, 0)
                continue
            if turn == 0:
                if k == POINT:
                    code = 12 + 2 * _POINT_OCTETS
                elif k == TIME:
                    code = 13 + 2 * 24
                elif k == REAL:
                    code = 7
                elif k == WHOLE:
                    code = 4 if abs(value) < _SHORT else 6
                else:
                    code = 13 + 2 * (edges[int(value) + 1] - edges[int(value)])
                head = _varint(out, head, code)
            elif k == POINT:
                at = _point(out, at, place, real, octets)
            elif k == TIME:
                at = _time(out, at, int(value))
            elif k == REAL:
                real[0] = value
                for m in range(8):
                    out[at + m] = octets[7 - m]
                at += 8
            elif k == WHOLE:
                long = 4 if abs(value) < _SHORT else 8
                _whole(out, at, int(value), long)
                at += long
            else:
                for m in range(edges[int(value)], edges[int(value) + 1]):
                    out[at] = letters[m]
                    at += 1
    return at


@compiled
def _point(
    out: NDArray[np.uint8],
    at: int,
    place: NDArray[np.float64],
    real: NDArray[np.float64],
    octets: NDArray[np.uint8],
) -> int:
    """Write "GP", version 0, little-endian without a box, EPSG:4326, and well-known binary."""
    head = (71, 80, 0, 1, 0xE6, 0x10, 0, 0, 1, 1, 0, 0, 0)
    for m in range(13):
        out[at + m] = head[m]
    for side in range(2):
        real[0] = place[side]
        for m in range(8):
            out[at + 13 + 8 * side + m] = octets[m]
    return at + _POINT_OCTETS


@compiled
def _time(out: NDArray[np.uint8], at: int, stamp: int) -> int:
    """``2031-06-01T06:00:00.250Z``, of milliseconds since 1970.

    Days to a date by years that begin in March, as days are counted in `seabed.logs.scanning`.
    """
    day, left = stamp // 86_400_000, stamp % 86_400_000
    day += 719_468
    era = day // 146_097
    of_era = day - era * 146_097
    year = (of_era - of_era // 1460 + of_era // 36_524 - of_era // 146_096) // 365
    of_year = of_era - (365 * year + year // 4 - year // 100)
    month = (5 * of_year + 2) // 153
    date = of_year - (153 * month + 2) // 5 + 1
    month = month + 3 if month < 10 else month - 9
    year += era * 400 + (month <= 2)
    _digits(out, at, year, 4)
    _digits(out, at + 5, month, 2)
    _digits(out, at + 8, date, 2)
    _digits(out, at + 11, left // 3_600_000, 2)
    _digits(out, at + 14, left // 60_000 % 60, 2)
    _digits(out, at + 17, left // 1000 % 60, 2)
    _digits(out, at + 20, left % 1000, 3)
    out[at + 4] = out[at + 7] = 45
    out[at + 10], out[at + 13], out[at + 16] = 84, 58, 58
    out[at + 19], out[at + 23] = 46, 90
    return at + 24


@compiled
def _digits(out: NDArray[np.uint8], at: int, value: int, count: int) -> None:
    for m in range(count - 1, -1, -1):
        out[at + m] = 48 + value % 10
        value //= 10


@compiled
def _whole(out: NDArray[np.uint8], at: int, value: int, count: int) -> None:
    for m in range(count):
        out[at + m] = (value >> (8 * (count - 1 - m))) & 255


@compiled
def _varint_size(value: int) -> int:
    count = 1
    while value >= 128:
        value >>= 7
        count += 1
    return count


@compiled
def _varint(out: NDArray[np.uint8], at: int, value: int) -> int:
    """Write a whole number of up to 56 bits, seven a byte, the greatest first."""
    count = _varint_size(value)
    for m in range(count):
        part = (value >> (7 * (count - 1 - m))) & 127
        out[at + m] = part | 128 if m < count - 1 else part
    return at + count
