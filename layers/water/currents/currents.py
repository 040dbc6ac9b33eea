"""Which way and how fast the water runs, at any moment."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, ClassVar, Final, Protocol, runtime_checkable

import numpy as np

from layers.water._tables import Ints, TimedTable, between_rows, read_table, stretches
from layers.water.times import as_utc, hours_between
from seabed.array_types import Floats, Mask, Pair, Times
from seabed.errors import Question, WaterError
from seabed.tables.text_layout import number
from seabed.units import SPEED, parse_speed

STRONGEST_MPS: Final = 25.0 * SPEED["kn"]
"""A stronger current is a slip of the pen: the fastest tidal streams run some 20 kn.  From memory,
no source."""

LONGEST_GAP_HOURS: Final = 16.0
"""From one event to the next; diurnal currents run about twelve hours each way."""


EVENT_SIGNS: Final = {
    **dict.fromkeys(
        ("flood", "f", "flut", "flutstrom", "flot", "vloed", "vloedstroom", "flod", "flo",
         "flodstrøm", "flodstrom", "flodström", "flujo", "creciente", "entrante", "enchente",
         "flusso", "montante"), 1.0),
    **dict.fromkeys(
        ("ebb", "e", "ebbe", "ebbstrom", "jusant", "eb", "ebstroom", "ebbestrøm", "ebbström",
         "reflujo", "vaciante", "saliente", "vazante", "riflusso", "calante"), -1.0),
    **dict.fromkeys(
        ("slack", "s", "slack water", "stauwasser", "kenterung", "kenterpunkt", "étale", "etale",
         "renverse", "kentering", "stil water", "stille vand", "strømstille", "stille vann",
         "strømkantring", "stillvatten", "estoa", "repunte", "estofo", "estofa", "stanca"), 0.0),
}  # fmt: skip
"""Words for flood, ebb and slack in ten languages, from memory; no source."""

_GREATEST: Final = re.compile(
    r"\b(?:max(?:imum|imal|imo|ima|i)?|greatest|größte[rs]?|grösste[rs]?|strongest|"
    r"max(?:imale|imaler))\b\.?"
)


@runtime_checkable
class Currents(Protocol):
    """Anything that knows how the water runs."""

    def velocity(self, times: Any, longitude: Any = None, latitude: Any = None) -> Pair:
        """East and north, m/s, at UTC times; NaN where it does not know."""
        ...


def same_everywhere(currents: Currents) -> bool:
    """Say whether a source, or the one it is derived from, is the same everywhere."""
    while (source := getattr(currents, "currents", None)) is not None:
        currents = source
    return bool(getattr(currents, "everywhere", False))


def check_current(speed_mps: float, words: str) -> None:
    """Refuse the speed of a current that can't be right; WaterError quotes its words."""
    if not 0.0 <= speed_mps <= STRONGEST_MPS:
        raise WaterError(
            f"a current of {speed_mps / SPEED['kn']:.0f} kn in {words!r} can't be right",
            do=f"Give 0 to {STRONGEST_MPS / SPEED['kn']:.0f} kn, and the direction that it runs "
            "toward.",
        )


def own_spread(currents: Currents, times: Any) -> Floats | None:
    """Covariance of east and north, (n, 2, 2), NaN where unknown; None of one without a doubt."""
    spread = getattr(currents, "spread", None)
    return None if spread is None else spread(times)


def vector(speed: Any, toward_deg: Any) -> Pair:
    """East and north of a speed toward a direction (degrees true)."""
    angle = np.radians(toward_deg)
    return np.asarray(speed * np.sin(angle), float), np.asarray(speed * np.cos(angle), float)


@dataclass(frozen=True, slots=True)
class FixedCurrent:
    """The same set and drift always: m/s, degrees true."""

    speed_mps: float
    toward_deg: float
    everywhere: ClassVar[bool] = True

    def velocity(self, times: Any, longitude: Any = None, latitude: Any = None) -> Pair:
        """East and north, m/s."""
        east, north = vector(self.speed_mps, self.toward_deg)
        shape = as_utc(times).shape
        return np.full(shape, east), np.full(shape, north)


@dataclass(frozen=True, slots=True)
class CurrentTable:
    """Slacks and greatest floods and ebbs, with a quarter sine between slack and greatest.

    The interpolation is the hand method printed with such tables (the U.S. agency's Table 3,
    "Speed of current at any time"); between a flood and an ebb with no slack listed, half a cosine.

    Attributes
    ----------
    times : ndarray of datetime64[ns], shape (n,)
        UTC, rising.
    along_mps : ndarray of float64, shape (n,)
        Positive at a greatest flood, negative at a greatest ebb, 0 at slack.
    slack : ndarray of bool, shape (n,)
    flood_toward_deg, ebb_toward_deg : float
        Degrees true.
    bare : bool
        Whether the table names no unit for some of its speeds.
    """

    times: Times
    along_mps: Floats
    slack: Mask
    flood_toward_deg: float
    ebb_toward_deg: float
    bare: bool = False
    everywhere: ClassVar[bool] = True

    def speed_along(self, times: Any) -> Floats:
        """Speed in m/s, flood positive and ebb negative; NaN outside the table's stretches."""
        along, slack = self.along_mps, self.slack

        def value(before: Ints, after: Ints, passed: Floats) -> Floats:
            quarter = np.pi / 2 * passed
            turning = (1 - np.cos(2 * quarter)) / 2
            listed = [slack[before], slack[after]]
            curves = [along[after] * np.sin(quarter), along[before] * np.cos(quarter)]
            between = along[before] + (along[after] - along[before]) * turning
            return np.asarray(np.select(listed, curves, between), np.float64)

        return between_rows(self.times, times, value)

    def velocity(self, times: Any, longitude: Any = None, latitude: Any = None) -> Pair:
        """East and north, m/s, the same everywhere; NaN outside the table's stretches."""
        moments = as_utc(times)
        if moments.size > 1 and (moments == moments.flat[0]).all():  # many boats at one moment
            east, north = self.velocity(moments.flat[0])
            return np.full(moments.shape, east), np.full(moments.shape, north)
        along = self.speed_along(moments)
        toward = np.where(along >= 0, self.flood_toward_deg, self.ebb_toward_deg)
        return vector(np.abs(along), toward)


def read_current_table(
    path: str | Path,
    *,
    timezone: str = "UTC",
    date_order: str = "",
    unit: str = "",
    flood_toward: float | None = None,
    ebb_toward: float | None = None,
) -> CurrentTable:
    """Read a table of slacks and greatest floods and ebbs.

    Columns: ``time``, ``event`` (``slack``, ``flood`` or ``ebb``, in ten languages), and
        ``speed_kn`` or ``speed_mps`` (empty or 0 at slack; its sign is not read).

    timezone, date_order, unit: of times without an offset, of dates that can be read two ways
        (``"dmy"`` or ``"mdy"``), of speeds that name none.
    flood_toward, ebb_toward: degrees true; one alone gives the other its opposite.

    Raises WaterError if no direction is given, a flood follows a flood or an ebb an ebb, a value
    can't be right, or a row is missing.
    """
    flood, ebb = _directions(flood_toward, ebb_toward, path)
    table = read_table(path, timezone=timezone, date_order=date_order)
    sign = _signs(table)
    words = table.needed("speed", like="time,event,speed_kn")
    words = [
        "0 kn" if s == 0 and not word.strip("-–— ") else word
        for word, s in zip(words, sign, strict=True)
    ]
    speed = np.abs(
        table.quantities(
            "speed",
            words,
            partial(parse_speed, default=unit or None),
            like="speed_kn or speed_mps",
            question=Question("currents_unit", {"kn": "knots", "m/s": "metres a second"}),
        )
    )
    named = table.text.unit("speed")
    moving = [word for s, word in zip(sign, words, strict=True) if s]
    bare = not named and any(np.isfinite(number(word)) for word in moving)
    for i, (mps, word) in enumerate(zip(speed, words, strict=True)):
        try:
            check_current(float(mps), word)
        except WaterError as error:
            table.refuse(i, error.what, error.do or "")
    for part in stretches(table.times):
        _check_order(table, sign, part)
    return CurrentTable(table.times, speed * sign, sign == 0, flood, ebb, bare)


def _directions(flood: float | None, ebb: float | None, path: str | Path) -> tuple[float, float]:
    """Check the directions of flood and ebb; one that is not given is opposite to the other."""
    if flood is None and ebb is None:
        raise WaterError(
            "the way the flood runs is not given",
            file=path,
            do="Say it in degrees true: {water.flood_toward}.",
            question=Question("flood_toward"),
        )
    for degrees in (flood, ebb):
        if degrees is not None and not 0.0 <= degrees <= 360.0:
            raise WaterError(
                f"the current can't run toward {degrees:g} degrees",
                file=path,
                do="Give degrees true from 0 to 360.",
            )
    flood = float(flood if flood is not None else (ebb or 0.0) + 180.0) % 360
    return flood, float(ebb if ebb is not None else flood + 180.0) % 360


def _signs(table: TimedTable) -> Floats:
    words = table.needed("event", like="time,event,speed_kn")
    sign = np.empty(len(words))
    for i, word in enumerate(words):
        bare = _GREATEST.sub(" ", word.casefold()).strip(" .:-")
        if bare not in EVENT_SIGNS:
            table.refuse(i, f"{word!r} is not an event", "Write slack, flood or ebb.")
        sign[i] = EVENT_SIGNS[bare]
    return sign


def _check_order(table: TimedTable, sign: Floats, part: slice) -> None:
    """Refuse the first row before which one is missing."""
    rows, signs = np.arange(part.start, part.stop), sign[part]
    hours = hours_between(table.times[rows[:-1]], table.times[rows[1:]])
    late = rows[1:][hours > LONGEST_GAP_HOURS]
    slacks = rows[1:][(signs[1:] == 0) & (signs[:-1] == 0)]
    moving = rows[signs != 0]
    again = moving[1:][sign[moving[1:]] == sign[moving[:-1]]]
    for i in sorted({*late[:1].tolist(), *slacks[:1].tolist(), *again[:1].tolist()})[:1]:
        if i in late:
            table.refuse(
                i,
                f"{hours[i - part.start - 1]:.1f} hours without a slack, flood or ebb before this "
                "row",
                "Add the rows that are missing (days left out on purpose must be more than three).",
            )
        if i in slacks:
            table.refuse(i, "a slack follows a slack", "Add the flood or ebb between them.")
        name = "flood" if sign[i] > 0 else "ebb"
        table.refuse(
            i,
            f"{name} follows {name}",
            "Add the row between them; one too weak to be listed has speed 0.",
        )
