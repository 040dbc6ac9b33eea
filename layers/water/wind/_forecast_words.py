"""What forecasts and people call a wind, turned into point of the compass, speed and gusts.

Forces are the Beaufort scale's, with the limits in knots of the World Meteorological Organization
(Manual on Codes, WMO-No. 306, code table 1100).
"""

from __future__ import annotations

import re
from typing import Final

_FORCES_KN: Final = (
    (0, 0), (1, 3), (4, 6), (7, 10), (11, 16), (17, 21), (22, 27), (28, 33), (34, 40), (41, 47),
    (48, 55), (56, 63), (64, 71),
)  # fmt: skip
"""The last has no upper limit in the table: as wide as the one before."""

LIGHT_KN: Final = 5.0
"""A variable wind up to this is taken as a calm with such gusts.  Common practice, no source."""

_NUMBER: Final = r"\d+(?:[.,]\d+)?"
UNITS: Final = (
    r"kn|kts?|knots?|mph|mps|m/s|km/h|kmh|kph|nds?|nœuds|noeuds|nudos|nós|nodi|knoten|knopen|"
    "knob|knop"
)
"""Of speed, as forecasts in ten languages write them."""
_TO: Final = r"\s*(?:-|–|—|to)\s*"
_WIND_NAMES: Final = {"north": "n", "east": "e", "south": "s", "west": "w"}
_NAMED: Final = re.compile(
    r"\b(?:north|east|south|west)(?:[\s-]?(?:north|east|south|west)){0,2}(?:erly|ern)?\b"
)
_FORCE: Final = re.compile(
    rf"\b(?:force|bft\.?|beaufort|f)\s*(\d{{1,2}})(?:{_TO}(\d{{1,2}}))?\b"
    rf"|\b(\d{{1,2}})(?:{_TO}(\d{{1,2}}))?\s*(?:bft|beaufort)\b"
)
_RANGE: Final = re.compile(rf"\b({_NUMBER}){_TO}({_NUMBER})\s*({UNITS})?(?![\w:])")
_FILLING: Final = re.compile(r"\b(?:the|winds?|at|about|around|blowing)\b|,")
_SLASH: Final = re.compile(
    r"(?<=[nseowzvøöl°])\s*/\s*(?=\d)|(?<=\b\d{3})\s*/\s*(?=\d)|(?<=\d)\s*/\s*(?=[nseowzvøöl]{1,3}$)"
)
"""``W/28``, ``240/12``, ``28/W``."""
_GUSTS: Final = re.compile(r"\b(?:gust|g\s*\d)")
_VARIABLE: Final = re.compile(
    rf"(?:light\s+(?:and\s+)?)?(?:variable|vrb)(?:\s+({_NUMBER}(?:{_TO}{_NUMBER})?)\s*({UNITS})?)?"
)


def plain_wind(words: str) -> str:
    """Write a wind in the plain form: ``SW 12.5 kn gusting 15 kn``.

    A range, or a force, is its middle, with gusts up to its end where none are named.

    >>> plain_wind("southwest force 4"), plain_wind("12 mph from the west")
    ('sw 13.5 kn gusting 16 kn', '12 mph from w')
    """
    text = _SLASH.sub(" ", _FILLING.sub(" ", " ".join(words.casefold().split())))
    text = _NAMED.sub(_point, text)
    text = _FORCE.sub(_force, text)
    gusts = bool(_GUSTS.search(text))
    text = _RANGE.sub(lambda match: _middle(match, gusts=gusts), text, count=1)
    return " ".join(text.split())


def variable_words(words: str) -> tuple[str, str] | None:
    """Greatest speed, and its unit, of a wind of no direction; ``"0"`` if none is named."""
    match = _VARIABLE.fullmatch(_FORCE.sub(_force, " ".join(words.casefold().split())))
    if match is None:
        return None
    return re.findall(_NUMBER, match[1] or "0")[-1].replace(",", "."), match[2] or ""


def _point(match: re.Match[str]) -> str:
    names = re.findall("north|east|south|west", match[0])
    return "".join(_WIND_NAMES[name] for name in names)


def _force(match: re.Match[str]) -> str:
    low = match[1] or match[3]
    high = match[2] or match[4] or low
    if int(low) >= len(_FORCES_KN) or int(high) >= len(_FORCES_KN):
        return match[0]
    return f"{_FORCES_KN[int(low)][0]}-{_FORCES_KN[int(high)][1]} kn"


def _middle(match: re.Match[str], *, gusts: bool) -> str:
    low, high = (float(match[number].replace(",", ".")) for number in (1, 2))
    unit = f" {match[3]}" if match[3] else ""
    if not 0 <= low < high:
        return match[0] if low != high else f"{low:g}{unit}"
    end = "" if gusts else f" gusting {high:g}{unit}"
    return f"{(low + high) / 2:g}{unit}{end}"
