"""Scan bytes for NMEA 0183 sentences and read their fields, in machine code.

A sentence is ``$``, two capitals of its talker, three of its kind, a comma, printable characters
without ``$`` and ``*``, and ``*`` with two hexadecimal digits or nothing.  The sum is the exclusive
or of all between ``$`` and ``*`` (the standard's own rule, which NMEA publishes).
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints
from seabed.compiled import compiled

KINDS: Final = ("RMC", "GGA", "GLL", "ZDA", "VTG", "DPT", "DBS", "DBT", "DBK", "MTW")
RMC, GGA, GLL, ZDA, VTG, DPT, DBS, DBT, DBK, MTW = range(len(KINDS))
"""Codes of the kinds of sentence.

Values of each, in order; NaN where a field is blank or can't be read:

====================  ========================================================================
RMC                   clock, latitude, longitude, knots, course, date
GGA, GLL              clock, latitude, longitude
ZDA                   clock, date
VTG                   -, -, -, knots, course
DPT                   metres below the transducer, offset
DBS, DBT, DBK         metres (of feet or fathoms where the metres are blank)
MTW                   degrees Celsius
====================  ========================================================================

A clock is seconds since midnight, a date days since 1970; positions are degrees, NaN where the
receiver says that it has none.
"""

NO_SUM, RIGHT_SUM, WRONG_SUM = 0, 1, 2
VALUES: Final = 6
_WORDS: Final = np.array([int.from_bytes(kind.encode(), "big") for kind in KINDS])

_DOLLAR, _STAR, _COMMA, _POINT, _SPACE = 36, 42, 44, 46, 32
_FIELDS: Final = 12
_TENS: Final = 10.0 ** np.arange(16)
# A bit for each field that `_read` takes a number from, by the code of the kind.
_NUMBERS: Final = np.array([
    0b11010101, 0b1011, 0b10101, 0b1111, 0b1010001, 0b11, 0b10101, 0b10101, 0b10101, 0b1,
])  # fmt: skip
_FEET, _FATHOMS, _KMH = 0.3048, 1.8288, 1.852


class Scan(NamedTuple):
    """The sentences of some lines: a value a sentence, in their order."""

    kind: NDArray[np.uint8]
    talker: NDArray[np.uint16]  # its two letters, 256 * first + second
    check: NDArray[np.uint8]  # state of the sum
    at: Ints  # place within the bytes, from 0
    line: Ints  # from 0
    values: Floats  # shape (n, VALUES)
    started: int  # beginnings of one, damaged ones with them
    lines: int  # line ends


@compiled
def scan(octets: NDArray[np.uint8]) -> Scan:
    """Find the sentences of `octets`, whole lines."""
    most = 0
    for octet in octets:
        most += octet == _DOLLAR
    kind, check = np.empty(most, np.uint8), np.empty(most, np.uint8)
    talker, values = np.empty(most, np.uint16), np.empty((most, VALUES))
    at, line = np.empty(most, np.int64), np.empty(most, np.int64)
    count = started = lines = 0
    size = len(octets)
    commas = np.empty(_FIELDS + 1, np.int64)
    numbers, letters = np.empty(_FIELDS), np.empty(_FIELDS, np.int64)
    i = 0
    while i < size:
        octet = octets[i]
        if octet == 10 or (octet == 13 and not (i + 1 < size and octets[i + 1] == 10)):
            lines += 1
        if octet != _DOLLAR or i + 6 > size:
            i += 1
            continue
        code = _kind(octets, i)
        if code < 0 or (i + 6 < size and _is_word(octets[i + 6])):
            i += 1
            continue
        started += 1
        if i + 6 >= size or octets[i + 6] != _COMMA:
            i += 1
            continue
        end, checksum = _body(octets, i, commas)
        state = _sum_state(octets, end, checksum)
        if state < 0:
            i += 1
            continue
        kind[count] = code
        talker[count] = octets[i + 1] * 256 + octets[i + 2]
        check[count] = state
        at[count] = i
        line[count] = lines
        _split(octets, commas, _NUMBERS[code], numbers, letters)
        _read(octets, code, commas, numbers, letters, values[count])
        count += 1
        i = end
    return Scan(
        kind[:count], talker[:count], check[:count], at[:count], line[:count], values[:count],
        started, lines,
    )  # fmt: skip


@compiled
def _body(octets: NDArray[np.uint8], start: int, commas: Ints) -> tuple[int, int]:
    """End of a sentence's body and the exclusive or of it; `commas` before and behind each field.

    Fields that are not there are empty ones at the end; those beyond the twelfth do not count.
    """
    checksum = fields = 0
    for i in range(start + 1, start + 6):
        checksum ^= octets[i]
    end = start + 6
    while end < len(octets):
        octet = octets[end]
        if octet in (_DOLLAR, _STAR) or octet < 0x20 or octet > 0x7E:
            break
        if octet == _COMMA and fields <= _FIELDS:
            commas[fields] = end
            fields += 1
        checksum ^= octet
        end += 1
    for i in range(fields, _FIELDS + 1):
        commas[i] = end
    return end, checksum


@compiled
def _sum_state(octets: NDArray[np.uint8], end: int, checksum: int) -> int:
    """State of the sum at `end`; -1 for a star without two digits."""
    size = len(octets)
    if end >= size or octets[end] != _STAR:
        return NO_SUM
    if end + 2 >= size:
        return -1
    high, low = _hex(octets[end + 1]), _hex(octets[end + 2])
    if high < 0 or low < 0 or (end + 3 < size and _hex(octets[end + 3]) >= 0):
        return -1
    return RIGHT_SUM if high * 16 + low == checksum else WRONG_SUM


@compiled
def _hex(octet: int) -> int:
    if 48 <= octet <= 57:
        return octet - 48
    if 65 <= octet <= 70:
        return octet - 55
    if 97 <= octet <= 102:
        return octet - 87
    return -1


@compiled
def _is_word(octet: int) -> bool:
    return 48 <= octet <= 57 or 65 <= octet <= 90 or 97 <= octet <= 122 or octet == 95


@compiled
def _kind(octets: NDArray[np.uint8], at: int) -> int:
    """Code of the kind of a sentence whose dollar sign is at `at`; -1 for any other."""
    if 65 <= octets[at + 1] <= 90 and 65 <= octets[at + 2] <= 90:
        word = (octets[at + 3] << 16) | (octets[at + 4] << 8) | octets[at + 5]
        for code in range(len(_WORDS)):
            if word == _WORDS[code]:
                return code
    return -1


@compiled
def _read(  # noqa: PLR0912, PLR0917  (one branch a kind; compiled)
    octets: NDArray[np.uint8],
    code: int,
    commas: Ints,
    numbers: Floats,
    letters: Ints,
    values: Floats,
) -> None:
    values[:] = np.nan
    if code == RMC:
        values[0] = _clock(numbers[0])
        if letters[1] != 86:  # V: no fix
            values[1] = _degrees(numbers[2], letters[3], 78, 83)
            values[2] = _degrees(numbers[4], letters[5], 69, 87)
        values[3], values[4] = numbers[6], numbers[7]
        values[5] = _packed_date(octets, commas[8] + 1, commas[9])
    elif code == GGA:
        values[0] = _clock(numbers[0])
        if letters[5] != 48:  # 0: no fix
            values[1] = _degrees(numbers[1], letters[2], 78, 83)
            values[2] = _degrees(numbers[3], letters[4], 69, 87)
    elif code == GLL:
        values[0] = _clock(numbers[4])
        if letters[5] != 86:
            values[1] = _degrees(numbers[0], letters[1], 78, 83)
            values[2] = _degrees(numbers[2], letters[3], 69, 87)
    elif code == ZDA:
        values[0] = _clock(numbers[0])
        values[1] = _day(numbers[3], numbers[2], numbers[1])
    elif code == VTG:
        values[4] = numbers[0]
        values[3] = numbers[6] / _KMH if np.isnan(numbers[4]) else numbers[4]
    elif code == DPT:
        values[0], values[1] = numbers[0], numbers[1]
    elif code == MTW:
        values[0] = numbers[0]
        if letters[1] == 70:  # F, against the standard
            values[0] = (numbers[0] - 32.0) / 1.8
    else:
        values[0] = numbers[2]
        if np.isnan(values[0]):
            values[0] = numbers[0] * _FEET
        if np.isnan(values[0]):
            values[0] = numbers[4] * _FATHOMS


@compiled
def _split(
    octets: NDArray[np.uint8], commas: Ints, wanted: int, numbers: Floats, letters: Ints
) -> None:
    """Read fields as plain numbers (else NaN) where wanted, and as single characters (else 0)."""
    for field in range(_FIELDS):
        first, end = commas[field] + 1, commas[field + 1]
        if (wanted >> field) & 1:
            numbers[field] = _number(octets, first, end)
        letters[field] = octets[first] if end - first == 1 else 0


@compiled
def _number(octets: NDArray[np.uint8], first: int, end: int) -> float:
    """Plain decimal number, exact as long as its digits fit 53 bits; NaN for anything else."""
    i = first
    while i < end and octets[i] == _SPACE:
        i += 1
    while end > i and octets[end - 1] == _SPACE:
        end -= 1
    negative = i < end and octets[i] == 45
    if i < end and (octets[i] == 45 or octets[i] == 43):
        i += 1
    digits = decimals = whole = 0
    pointed = read = False
    while i < end:
        octet = octets[i]
        if octet == _POINT and not pointed:
            pointed = True
        elif 48 <= octet <= 57:
            read = True
            if digits < 15:
                whole = whole * 10 + (octet - 48)
                decimals += pointed
                digits += whole > 0
            elif not pointed:
                return np.nan
        else:
            return np.nan
        i += 1
    value = whole / (_TENS[decimals] if decimals < len(_TENS) else 10.0**decimals)
    if not read or value >= 1e9:
        return np.nan
    return -value if negative else value


@compiled
def _clock(packed: float) -> float:
    """Seconds since midnight of ``093012.25``."""
    if not 0.0 <= packed < 240000.0:
        return np.nan
    hours, minutes, seconds = packed // 10000, packed // 100 % 100, packed % 100
    if minutes >= 60 or seconds >= 61:
        return np.nan
    return hours * 3600 + minutes * 60 + round(seconds * 1e6) / 1e6


@compiled
def _degrees(packed: float, side: int, plus: int, minus: int) -> float:
    """Degrees of ``3130.125`` and a side."""
    if side not in (plus, minus):
        return np.nan
    whole = np.floor(packed / 100.0)
    value = float(whole + (packed - 100.0 * whole) / 60.0)
    return value if side == plus else -value


@compiled
def _packed_date(octets: NDArray[np.uint8], first: int, end: int) -> float:
    """Days since 1970 of ``140631``; years 80 to 99 are of the last century."""
    if end - first != 6:
        return np.nan
    for i in range(first, end):
        if not 48 <= octets[i] <= 57:
            return np.nan
    day = (octets[first] - 48) * 10 + octets[first + 1] - 48
    month = (octets[first + 2] - 48) * 10 + octets[first + 3] - 48
    year = (octets[first + 4] - 48) * 10 + octets[first + 5] - 48
    return _day(float(year + (1900 if year >= 80 else 2000)), float(month), float(day))


@compiled
def _day(year: float, month: float, day: float) -> float:
    """Days since 1970 in the Gregorian calendar; NaN where there is no such day.

    Counted in years that begin in March, of 1461 days in four and 146097 in four hundred.
    """
    if not (1700 <= year <= 2200 and 1 <= month <= 12 and 1 <= day <= 31):
        return np.nan
    y, m, d = int(year), int(month), int(day)
    leap = y % 4 == 0 and (y % 100 != 0 or y % 400 == 0)
    longest = 30 if m in (4, 6, 9, 11) else 31
    if m == 2:
        longest = 29 if leap else 28
    if d > longest:
        return np.nan
    if m < 3:
        y -= 1
        m += 12
    return float(365 * y + y // 4 - y // 100 + y // 400 + (153 * (m - 3) + 2) // 5 + d - 719469)
