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
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.array_types import Ints
from seabed.errors import TrackError
from seabed.logs.scanning import KINDS, NO_SUM, RIGHT_SUM, Scan, scan

_LOOK: Final = re.compile(rb"(?:^|[\s\\])[$!][A-Z]{2}[A-Z]{3},", re.MULTILINE)
_PIECE: Final = 1 << 22
_THREADS: Final = 2
_SECOND_BEST: Final = {"RMC": ("GGA", "GLL"), "GGA": ("GLL",)}
_POSITION: Final = ("clock_s", "latitude", "longitude")
_KEPT: Final = {
    "RMC": (*_POSITION, "knots", "course_deg", "day"),
    "GGA": _POSITION,
    "GLL": _POSITION,
    "ZDA": ("clock_s", "day"),
    "VTG": ("", "", "", "knots", "course_deg"),
    "DPT": ("metres", "offset_m"),
    "DBS": ("metres",),
    "DBT": ("metres",),
    "DBK": ("metres",),
    "MTW": ("celsius",),
}
"""Values kept of each kind, by their names, in the order of `seabed.logs.scanning`."""

_SHORT: Final = frozenset({"knots", "course_deg", "day"})  # 32 bits hold them


def looks_like_nmea(head: bytes) -> bool:
    """Say whether the start of a file holds NMEA 0183 sentences."""
    return _LOOK.search(head) is not None


@dataclass(frozen=True, slots=True)
class NmeaLog:
    """All that was read of a log.

    kinds: the sentences of each kind, in the order of the log: ``at``, bytes from the start of the
        file; ``line``, from 1; ``talker``, its letters as ``256 * first + second``; and its values,
        NaN where blank or not readable: ``clock_s`` since midnight, ``latitude`` and ``longitude``
        in degrees, ``knots``, ``course_deg``, ``day`` since 1970, ``metres``, ``offset_m``,
        ``celsius``.  Every kind is there, if without rows.
    started: how many sentences of these kinds begin in the file.
    damaged: how many of them were cut off, had a wrong sum, or none where others have one.
    summed: whether the log has checksums.
    """

    kinds: dict[str, pd.DataFrame]
    started: int
    damaged: int
    summed: bool

    def notes(self, file: str) -> list[str]:
        """Say what was left out, in plain sentences."""
        notes = []
        if self.started > self.damaged and not self.summed:
            notes.append(f"{file}: its sentences have no checksums; they were taken as they are")
        if self.damaged:
            notes.append(
                f"{file}: {self.damaged} of {self.started} sentences were damaged or cut off; "
                "left out"
            )
        return notes


def read_sentences(
    path: str | Path, *, progress: Callable[[int, int], None] | None = None
) -> NmeaLog:
    """Read the sentences of a log, holding little more than what is kept of them.

    Where a log has RMC, its GGA and GLL are not kept, and where it has GGA, its GLL are not.
    `progress` is called with bytes read and bytes in all.
    """
    gathered = _Gathered()
    try:
        size = Path(path).stat().st_size
        with ThreadPoolExecutor(_THREADS) as pool:
            for octets, start, scanned in _ahead(pool, _pieces(Path(path))):
                gathered.add(scanned.result(), start)
                if progress is not None:
                    progress(start + len(octets), size)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise TrackError(f"can't read it: {reason}", file=path, do="Check the name.") from error
    return gathered.log()


def _ahead(
    pool: ThreadPoolExecutor, pieces: Iterator[tuple[NDArray[np.uint8], int]]
) -> Iterator[tuple[NDArray[np.uint8], int, Future[Scan]]]:
    """Scan pieces in threads, a few ahead of the one that is read."""
    waiting: deque[tuple[NDArray[np.uint8], int, Future[Scan]]] = deque()
    for octets, start in pieces:
        waiting.append((octets, start, pool.submit(scan, octets)))
        if len(waiting) > _THREADS:
            yield waiting.popleft()
    yield from waiting


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
    """Sentences of each kind, piece by piece; those without a sum apart until it is known."""

    parts: dict[tuple[str, int], list[pd.DataFrame]] = field(default_factory=dict)
    started: int = 0
    summed: bool = False
    forgotten: int = 0
    lines: int = 0

    def add(self, scanned: Scan, start: int) -> None:
        """Take in one piece, which begins at the byte `start`."""
        self.summed |= bool((scanned.check != NO_SUM).any())
        for code, kind in enumerate(KINDS):
            for state in (RIGHT_SUM,) if self.summed else (RIGHT_SUM, NO_SUM):
                rows = np.flatnonzero((scanned.kind == code) & (scanned.check == state))
                if len(rows):
                    part = _sentences(scanned, rows, kind, start, self.lines)
                    self.parts.setdefault((kind, state), []).append(part)
        for best, others in _SECOND_BEST.items():
            if (best, RIGHT_SUM) in self.parts:
                for other in others:
                    self.forgotten += sum(map(len, self.parts.pop((other, RIGHT_SUM), [])))
        self.started += scanned.started
        self.lines += scanned.lines

    def log(self) -> NmeaLog:
        """Join the pieces."""
        state = RIGHT_SUM if self.summed else NO_SUM
        kinds = {}
        for kind in KINDS:
            parts = self.parts.pop((kind, state), [])
            kinds[kind] = pd.concat(parts, ignore_index=True) if parts else _none(kind)
        kept = sum(map(len, kinds.values())) + self.forgotten
        return NmeaLog(kinds, self.started, self.started - kept, self.summed)


def _sentences(scanned: Scan, rows: Ints, kind: str, start: int, lines: int) -> pd.DataFrame:
    """Give some sentences of a piece that begins at the byte `start`, after some lines."""
    values = {
        name: scanned.values[rows, i].astype(np.float32 if name in _SHORT else np.float64)
        for i, name in enumerate(_KEPT[kind])
        if name
    }
    line = (scanned.line[rows] + lines + 1).astype(np.int32)
    return pd.DataFrame(
        {"at": scanned.at[rows] + start, "line": line, "talker": scanned.talker[rows], **values},
        copy=False,
    )


def _none(kind: str) -> pd.DataFrame:
    return _sentences(scan(np.frombuffer(b"\n", np.uint8)), np.empty(0, np.int64), kind, 0, 0)
