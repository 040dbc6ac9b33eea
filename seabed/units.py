"""Quantities as people write them ("25 ft", "0.8 kn"), SI inside.

Factors are exact by definition: international foot 0.3048 m, fathom 6 ft, statute mile 1609.344 m,
nautical mile 1852 m (BIPM SI brochure, 9th ed., table 8 and NIST SP 811, appendix B).
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final, TypeVar

from seabed.errors import UnitError

if TYPE_CHECKING:
    from seabed.array_types import Floats

__all__ = [
    "convert",
    "format_quantity",
    "parse_depths",
    "parse_length",
    "parse_range",
    "parse_speed",
    "parse_weight",
]

Amount = TypeVar("Amount", float, "Floats")
Say = Callable[[float], str]
"""Writes a length in metres for the reader: ``"60 m"``, ``"200 ft"``."""

LENGTH: Final[dict[str, float]] = {
    "m": 1.0,
    "ft": 0.3048,
    "fm": 1.8288,
    "in": 0.0254,
    "cm": 0.01,
    "mm": 0.001,
    "km": 1000.0,
    "nm": 1852.0,
    "mi": 1609.344,
}
"""Metres in one unit of length."""

SPEED: Final[dict[str, float]] = {
    "m/s": 1.0,
    "kn": 1852.0 / 3600.0,
    "mph": 1609.344 / 3600.0,
    "km/h": 1000.0 / 3600.0,
}
"""Metres a second in one unit of speed."""

WEIGHT: Final[dict[str, float]] = {"g": 0.001, "kg": 1.0, "oz": 0.028349523125, "lb": 0.45359237}
"""Kilograms in one unit of weight: the avoirdupois ounce and pound."""

_HAIR: Final = 1e-6  # rounding of binary numbers: 1.524 m is 5 ft

_SPELLINGS: Final[dict[str, str]] = {
    "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "foot": "ft", "feet": "ft", "'": "ft", "′": "ft",
    "fathom": "fm", "fathoms": "fm", "fath": "fm", "ftm": "fm",
    "inch": "in", "inches": "in", '"': "in", "″": "in",
    "centimetre": "cm", "centimetres": "cm", "centimeter": "cm", "centimeters": "cm",
    "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
    "kilometre": "km", "kilometres": "km", "kilometer": "km", "kilometers": "km",
    "nmi": "nm", "mile": "mi", "miles": "mi",
    "knot": "kn", "knots": "kn", "kt": "kn", "kts": "kn", "knoten": "kn", "knopen": "kn",
    "knob": "kn", "knop": "kn", "nœuds": "kn", "noeuds": "kn", "nds": "kn", "nd": "kn",
    "nudos": "kn", "nós": "kn", "nodi": "kn",
    "ounce": "oz", "ounces": "oz", "gram": "g", "grams": "g", "pound": "lb", "pounds": "lb",
    "mps": "m/s", "ms": "m/s", "ms-1": "m/s", "m s-1": "m/s", "kmh": "km/h", "kph": "km/h",
}  # fmt: skip

_NUMBER = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)"
_QUANTITY = re.compile(rf"\s*({_NUMBER})\s*([^\d\s,;].*?)?\s*")
_RANGE = re.compile(rf"\s*({_NUMBER})\s*(\D*?)\s*(?:-|–|—|\.\.|\bto\b)\s*({_NUMBER})\s*(.*?)\s*")


def half_turned(degrees: Any) -> Any:
    """Bring an angle, or an array or column of them, to -180 to 180: of two directions, the turn.

    -180 itself is in, 180 is not; NaN stays NaN.

    >>> half_turned(350.0 - 10.0)
    -20.0
    """
    return (degrees + 180.0) % 360.0 - 180.0


def round_step(least: float) -> float:
    """Give the smallest of 1, 2 and 5 times a power of ten that is not below `least` (above 0).

    >>> round_step(3.2), round_step(0.07), round_step(20)
    (5.0, 0.1, 20.0)
    """
    power = 10.0 ** math.floor(math.log10(least))
    return float(next(size for size in (power, 2 * power, 5 * power, 10 * power) if size >= least))


def parse_length(text: str | float, *, default: str | None = None) -> float:
    """Read a length or depth in metres.

    Parameters
    ----------
    text : str or float
        ``"25 ft"``, ``"7m"``, ``"3.5 fathoms"``; a bare number needs `default`.
    default : str, optional
        The unit of a bare number.

    Returns
    -------
    float
        Metres.

    Raises
    ------
    UnitError
        If there is no number, no unit and no default, or a unit that is not known.

    Examples
    --------
    >>> parse_length("25 ft")
    7.62
    """
    return _parse(text, LENGTH, default, "25 ft, 7.5 m or 4 fm")


def parse_speed(text: str | float, *, default: str | None = None) -> float:
    """Read a speed in metres a second: ``"0.8 kn"``, ``"1 mph"``.  As `parse_length`.

    Examples
    --------
    >>> round(parse_speed("8 kn"), 2)
    4.12
    """
    return _parse(text, SPEED, default, "0.8 kn, 1 mph or 0.5 m/s")


def parse_weight(text: str | float, *, default: str | None = None) -> float:
    """Read a weight in kilograms: ``"1.5 oz"``, ``"40 g"``.  As `parse_length`.

    Examples
    --------
    >>> round(parse_weight("1.5 oz"), 4)
    0.0425
    """
    return _parse(text, WEIGHT, default, "1.5 oz or 40 g")


def parse_range(text: str, *, default: str | None = None) -> tuple[float, float]:
    """Read a band of depth, ``"6-9 m"``, ``"5 m to 8 m"``, as two metres, lesser first.

    A unit that only one of the two has holds for both.

    Raises
    ------
    UnitError
        If it is not two depths, or they are equal.

    Examples
    --------
    >>> [round(depth, 2) for depth in parse_range("20-30 ft")]
    [6.1, 9.14]
    """
    match = _RANGE.fullmatch(text)
    if match is None:
        raise UnitError(f"{text!r} is not a band of depth", do="Write it like 6-9 m.")
    low, low_unit, high, high_unit = match.groups()
    unit = high_unit or low_unit or default
    first = _parse(f"{low} {low_unit or unit or ''}", LENGTH, default, "6-9 m")
    second = _parse(f"{high} {unit or ''}", LENGTH, default, "6-9 m")
    if first == second:
        raise UnitError(f"the band {text!r} has no width", do="Write two depths, like 6-9 m.")
    return min(first, second), max(first, second)


def parse_depths(text: str | Sequence[str], *, default: str | None = None) -> list[float]:
    """Read a list of depths, ``"10,15,20 ft"`` or ``"10 ft, 5 m"``, as ascending metres.

    A unit after the last depth holds for those before it that have none.  ``"10:40:5 ft"`` is every
    5 ft from 10 to 40.

    Examples
    --------
    >>> [round(depth, 2) for depth in parse_depths("10, 15, 20 ft")]
    [3.05, 4.57, 6.1]
    """
    words = [text] if isinstance(text, str) else list(text)
    parts = [
        part for word in words for part in re.split(r"[,;]\s*|\s+and\s+", word) if part.strip()
    ]
    if not parts:
        raise UnitError("no depth given", do="Write depths like 10,15,20 ft.")
    last = _QUANTITY.fullmatch(parts[-1].rsplit(":", 1)[-1])
    unit = (last.group(2) if last else None) or default
    depths: set[float] = set()
    for part in parts:
        depths.update(_depths_of(part, unit))
    return sorted(depths)


def convert(metres: Amount, unit: str) -> Amount:
    """Turn metres (or metres a second), or an array of them, into `unit`.

    Examples
    --------
    >>> round(convert(10.0, "ft"), 2)
    32.81
    """
    name = _canonical(unit)
    table = LENGTH if name in LENGTH else SPEED
    if name not in table:
        raise UnitError(f"unknown unit {unit!r}", do=f"Use one of {', '.join([*LENGTH, *SPEED])}.")
    return metres / table[name]


def format_quantity(metres: float, unit: str, *, digits: int = 0) -> str:
    """Write metres (or metres a second) in `unit`, as ``"25 ft"``; NaN gives ``"unknown"``.

    Examples
    --------
    >>> format_quantity(7.62, "ft")
    '25 ft'
    """
    value = convert(metres, unit)
    return "unknown" if math.isnan(value) else f"{rounded(value, digits)} {_canonical(unit)}"


def rounded(value: float, digits: int = 0) -> str:
    """Write a number, its halves rounded away from 0, as maps do too (`words.js`).

    >>> rounded(2.5), rounded(0.25, 1), rounded(-1.5), rounded(-0.2)
    ('3', '0.3', '-2', '0')
    """
    if not math.isfinite(value):
        return f"{value}"
    size = math.floor(abs(value) * 10**digits + 0.5 + _HAIR) / 10**digits
    return f"{-size if value < 0 and size else size:.{digits}f}"


def percent(part: float) -> str:
    """Write a share as percent."""
    return f"{rounded(100.0 * part)}%"


def luck_words(p: float) -> str:
    """Write how often luck alone shows as much.

    >>> luck_words(0.214), luck_words(0.021), luck_words(0.001)
    ('luck alone: 21 in 100', 'luck alone: 2 in 100', 'luck alone: 1 in 1,000')
    """
    return f"luck alone: {f'{rounded(100 * p)} in 100' if p >= 0.015 else f'1 in {1 / p:,.0f}'}"


def rounded_down(value: float, digits: int = 0) -> str:
    """Write what a number is at least."""
    return f"{math.floor(value * 10**digits + _HAIR) / 10**digits:.{digits}f}"


def in_metres(length_m: float) -> str:
    """Write a length in whole metres."""
    return format_quantity(length_m, "m")


def _depths_of(part: str, unit: str | None) -> list[float]:
    pieces = part.split(":")
    if len(pieces) == 1:
        return [_parse(part, LENGTH, unit, "10,15,20 ft")]
    if len(pieces) != 3:
        raise UnitError(
            f"{part!r} is not a row of depths", do="Write first:last:step, like 10:40:5 ft."
        )
    first, last, step = (_parse(piece, LENGTH, unit, "10:40:5 ft") for piece in pieces)
    if step <= 0 or last < first or (last - first) / step > 1000:
        raise UnitError(f"{part!r} gives no depths", do="Write first:last:step, like 10:40:5 ft.")
    return [first + i * step for i in range(int((last - first) / step + 1e-9) + 1)]


def _parse(text: str | float, table: dict[str, float], default: str | None, like: str) -> float:
    match = _QUANTITY.fullmatch(str(text))
    if match is None:
        raise UnitError(f"can't read {str(text)!r}", do=f"Write a number and a unit, like {like}.")
    number, unit = match.groups()
    name = _canonical(unit or default or "")
    if not name:
        raise UnitError(f"{str(text)!r} has no unit", do=f"Add one: {', '.join(table)}.")
    if name not in table:
        raise UnitError(
            f"unknown unit {unit or default!r} in {str(text)!r}",
            do=f"Use one of {', '.join(table)}.",
        )
    return float(number.replace(",", ".")) * table[name]


def _canonical(unit: str) -> str:
    name = unit.strip().rstrip(".").lower()
    return _SPELLINGS.get(name, name)
