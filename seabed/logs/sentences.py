"""The sentences of an NMEA 0183 log, read a piece at a time into columns.

Sentences are those of any talker; what a logger puts before one on its line (its own clock, a tag
block) is passed over.  Everything else, proprietary and AIS sentences among it, is left alone.  The
standard ends lines with 0D 0A; any ending is taken.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from seabed.errors import TrackError
from seabed.logs import scanning
from seabed.logs.scanning import DBK, DBS, DBT, DPT, GGA, GLL, MTW, RMC, VTG, ZDA

__all__ = ["NmeaLog", "Sentences", "looks_like_nmea", "read_sentences"]

_LOOK: Final = re.compile(rb"(?:^|[\s\\])[$!][A-Z]{2}[A-Z]{3},", re.MULTILINE)
_PIECE: Final = 1 << 22
_THREADS: Final = 2
_SECOND_BEST: Final = {RMC: (GGA, GLL), GGA: (GLL,)}
# Values kept of each kind, by their names, in the order of `scanning`.
_KEPT: Final = {
    RMC: ("clock_s", "latitude", "longitude", "knots", "course_deg", "day"),
    GGA: ("clock_s", "latitude", "longitude"),
    GLL: ("clock_s", "latitude", "longitude"),
    ZDA: ("clock_s", "day"),
    VTG: ("", "", "", "knots", "course_deg"),
    DPT: ("metres", "offset_m"),
    DBS: ("metres",),
    DBT: ("metres",),
    DBK: ("metres",),
    MTW: ("celsius",),
}
_SHORT: Final = frozenset({"knots", "course_deg", "day"})  # 32 bits hold them


def looks_like_nmea(head: bytes) -> bool:
    """Say whether the start of a file holds NMEA 0183 sentences."""
    return _LOOK.search(head) is not None


@dataclass(frozen=True, slots=True)
class Sentences:
    """Sentences of one kind, in the order of the log.

    Attributes
    ----------
    at : ndarray of int64
        Place in the file, bytes from its start.
    line : ndarray of int32
        Line in the file, from 1.
    talker : ndarray of uint16
        The talker's two letters, ``256 * first + second``.
    values : dict of str to ndarray
        ``clock_s`` since midnight, ``latitude`` and ``longitude`` in degrees, ``knots``,
        ``course_deg``, ``day`` since 1970, ``metres``, ``offset_m``, ``celsius``: those that the
        kind has.  NaN where blank or not readable.
    """

    at: NDArray[np.int64]
    line: NDArray[np.int32]
    talker: NDArray[np.uint16]
    values: dict[str, NDArray[Any]]

    def __len__(self) -> int:
        return len(self.at)

    def taken(self, rows: NDArray[Any]) -> Sentences:
        """Give some of them, by a mask or by indices."""
        values = {name: column[rows] for name, column in self.values.items()}
        return Sentences(self.at[rows], self.line[rows], self.talker[rows], values)


@dataclass(frozen=True, slots=True)
class NmeaLog:
    """All that was read of a log.

    Attributes
    ----------
    kinds : dict of int to Sentences
        By the codes of `seabed.logs.scanning`; every kind is there, if without sentences.
    started : int
        How many sentences of these kinds begin in the file.
    damaged : int
        How many of them were cut off, had a wrong sum, or none where others have one.
    summed : bool
        Whether the log has checksums.
    lines : int
        Line ends.
    """

    kinds: dict[int, Sentences]
    started: int
    damaged: int
    summed: bool
    lines: int

    def notes(self, file: str) -> list[str]:
        """Say what was left out, in plain sentences."""
        told = []
        if self.started > self.damaged and not self.summed:
            told.append(f"{file}: its sentences have no checksums; they were taken as they are")
        if self.damaged:
            told.append(
                f"{file}: {self.damaged} of {self.started} sentences were damaged or cut off; "
                "left out"
            )
        return told


def read_sentences(
    path: str | Path, *, progress: Callable[[int, int], None] | None = None
) -> NmeaLog:
    """Read the sentences of a log, holding little more than what is kept of them.

    Where a log has RMC, its GGA and GLL are not kept, and where it has GGA, its GLL are not.

    Parameters
    ----------
    path : str or Path
    progress : callable, optional
        Called with bytes read and bytes in all.

    Returns
    -------
    NmeaLog

    Raises
    ------
    TrackError
        If the file can't be read.
    """
    gathered = _Gathered()
    try:
        size = Path(path).stat().st_size
        with ThreadPoolExecutor(_THREADS) as pool:
            for octets, start, found in _ahead(pool, _pieces(Path(path))):
                gathered.add(found.result(), start)
                if progress is not None:
                    progress(start + len(octets), size)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise TrackError(f"can't read it: {reason}", file=path, do="Check the name.") from error
    return gathered.log()


def _ahead(
    pool: ThreadPoolExecutor, pieces: Iterator[tuple[NDArray[np.uint8], int]]
) -> Iterator[tuple[NDArray[np.uint8], int, Future[_Found]]]:
    """Scan pieces in threads, a few ahead of the one that is asked for."""
    waiting: deque[tuple[NDArray[np.uint8], int, Future[_Found]]] = deque()
    for octets, start in pieces:
        waiting.append((octets, start, pool.submit(_scanned, octets)))
        if len(waiting) > _THREADS:
            yield waiting.popleft()
    yield from waiting


@dataclass(frozen=True, slots=True)
class _Found:
    """What `scanning.scan` finds in a piece."""

    kind: NDArray[np.uint8]
    talker: NDArray[np.uint16]
    check: NDArray[np.uint8]
    at: NDArray[np.int64]
    line: NDArray[np.int64]
    values: NDArray[np.float64]
    started: int
    lines: int


def _scanned(octets: NDArray[np.uint8]) -> _Found:
    room = scanning.room_for(octets)
    count, started, lines = scanning.scan(octets, *room)
    kind, talker, check, at, line, values = (part[:count] for part in room)
    return _Found(kind, talker, check, at, line, values, started, lines)


def _pieces(path: Path) -> Iterator[tuple[NDArray[np.uint8], int]]:
    """Whole lines, a piece at a time, with the place of each piece in the file."""
    start, rest = 0, b""
    with path.open("rb") as stream:
        while block := stream.read(_PIECE):
            data = rest + block
            cut = max(data.rfind(b"\n"), data.rfind(b"\r", 0, len(data) - 1)) + 1
            cut = cut or len(data)  # a "line" longer than a piece is none
            yield np.frombuffer(data, np.uint8, cut), start
            start, rest = start + cut, data[cut:]
    if rest:
        yield np.frombuffer(rest, np.uint8), start


@dataclass(slots=True)
class _Gathered:
    """Columns of each kind, piece by piece; those without a sum apart until it is known."""

    parts: dict[tuple[int, bool], list[Sentences]] = field(default_factory=dict)
    started: int = 0
    summed: int = 0
    forgotten: int = 0
    lines: int = 0

    def add(self, found: _Found, start: int) -> None:
        """Take in one piece."""
        kind, check, values = found.kind, found.check, found.values
        self.summed += int(np.count_nonzero(check != scanning.NO_SUM))
        for code, names in _KEPT.items():
            for state in (scanning.RIGHT_SUM, scanning.NO_SUM):
                rows = np.flatnonzero((kind == code) & (check == state))
                if len(rows) and not (state == scanning.NO_SUM and self.summed):
                    self.parts.setdefault((code, state == scanning.RIGHT_SUM), []).append(
                        Sentences(
                            found.at[rows] + start,
                            (found.line[rows] + self.lines + 1).astype(np.int32),
                            found.talker[rows],
                            {
                                name: values[rows, i].astype(
                                    np.float32 if name in _SHORT else np.float64
                                )
                                for i, name in enumerate(names)
                                if name
                            },
                        )
                    )
        for best, others in _SECOND_BEST.items():
            if (best, True) in self.parts:
                for other in others:
                    self._forget(other)
        self.started += found.started
        self.lines += found.lines

    def _forget(self, kind: int) -> None:
        """Keep the count of a kind that is not wanted, and nothing else."""
        for part in self.parts.get((kind, True), []):
            self.forgotten += len(part)
        self.parts.pop((kind, True), None)

    def log(self) -> NmeaLog:
        """Join the pieces."""
        summed = self.summed > 0
        kinds = {code: _joined(self.parts.pop((code, summed), []), code) for code in _KEPT}
        kept = sum(len(sentences) for sentences in kinds.values()) + self.forgotten
        return NmeaLog(kinds, self.started, self.started - kept, summed, self.lines)


def _joined(parts: list[Sentences], code: int) -> Sentences:
    if not parts:
        none = {
            name: np.empty(0, np.float32 if name in _SHORT else np.float64)
            for name in _KEPT[code]
            if name
        }
        return Sentences(np.empty(0, np.int64), np.empty(0, np.int32), np.empty(0, np.uint16), none)
    names = list(parts[0].values)
    return Sentences(
        np.concatenate([part.at for part in parts]),
        np.concatenate([part.line for part in parts]),
        np.concatenate([part.talker for part in parts]),
        {name: np.concatenate([part.values[name] for part in parts]) for name in names},
    )
