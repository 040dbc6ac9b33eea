"""Positions as people write them: degrees, with minutes and seconds, letters of ten languages.

``46.19``, ``46,19``, ``46°11.400'N``, ``N 46 11 24.5``, ``46d11m24s``, ``33°24,6' V``.  North and
south are N and S, or Z (Dutch); east is E, Ø, Ö or L (Portuguese); west is W or V (Scandinavian).
An O is east to some (Ost, Oost) and west to others (Ouest, Oeste, Ovest): the other letters of its
column, or its language, decide.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from typing import Final, Literal

LIKE: Final = "46.19, 46°11.400'N or 46°11'24\"N"
Axis = Literal["latitude", "longitude"]
Side = Literal["east", "west"]

_NORTH_SOUTH: Final = {"N": 1, "S": -1, "Z": -1}
_EAST_WEST: Final = {"E": 1, "Ø": 1, "Ö": 1, "L": 1, "W": -1, "V": -1}
_LETTERS: Final = {**_NORTH_SOUTH, **_EAST_WEST, "O": 0}
_LIMIT: Final = {"latitude": 90.0, "longitude": 180.0}
_OST: Final = {
    "breite", "breitengrad", "lange", "laenge", "langengrad", "breedte", "lengte", "breedtegraad",
    "lengtegraad", "bredde", "breddegrad", "uhrzeit", "zeit", "fischart", "fisch", "tijd",
    "vissoort", "vis", "bemerkung", "opmerking", "datum", "dato", "tid", "richtung",
    "windrichtung", "windrichting", "retning", "vindretning", "riktning", "vindriktning", "boen",
    "vlagen", "tiefe", "diepte", "dybde", "djup",
}  # fmt: skip
"""Headings of languages whose O is east (Ost, Oost, Øst), in plain letters."""
_OESTE: Final = {
    "latitud", "longitud", "latitudine", "longitudine", "heure", "espece", "poisson", "taille",
    "garde", "hora", "fecha", "especie", "talla", "ora", "orario", "specie", "taglia",
    "comprimento", "vent", "viento", "vento", "rafales", "rachas", "rajadas", "raffiche",
    "direccion", "direcao", "direzione", "profondeur", "profundidad", "profundidade", "profondita",
}  # fmt: skip
"""Headings of languages whose O is west (Ouest, Oeste, Ovest)."""

_MARKS: Final = re.compile(r"[°º'′’\"″”*]|\bDEG\b")
_LONG: Final = re.compile(r"(\d)\s*D\s*(\d+(?:[.,]\d+)?)\s*M(?:\s*(\d+(?:[.,]\d+)?)\s*S)?(?![A-Z])")
_WORD: Final = re.compile(r"[+-]?\d+(?:[.,]\d+)?|[A-ZØÖ]+|\S")
_NUMBER: Final = re.compile(r"[+-]?\d+(?:[.,]\d+)?")


def read_angle(word: str, axis: Axis, *, o_is: Side | None = None) -> float:
    """Read a latitude or a longitude, degrees; north and east positive.

    axis: {"latitude", "longitude"}.
    o_is: {"east", "west"}; what an O means; where it is None an O is refused.

    Raises ValueError where it can't be read, or read in two ways, or is out of bounds.

    >>> read_angle("33°24,6' V", "longitude")
    -33.41
    """
    letters, numbers = _parts(word)
    inside = letters and letters[0] not in (_words(word)[0], _words(word)[-1])
    if len(letters) > 1 or inside or not 1 <= len(numbers) <= 3:
        raise ValueError(f"{word!r} is not a {axis}")
    return _angle(letters[0] if letters else "", numbers, axis, o_is)


def read_position(word: str, *, o_is: Side | None = None) -> tuple[float, float]:
    """Read longitude and latitude from one text, latitude first unless its letters say otherwise.

    >>> read_position("46°11.400'N 033°24.600'W")
    (-33.41, 46.19)
    """
    letters, numbers = _parts(word)
    if len(numbers) == 1 and "," in numbers[0]:
        numbers = numbers[0].split(",")
    half = len(numbers) // 2
    if len(numbers) not in {2, 4, 6} or len(letters) not in {0, 2}:
        raise ValueError(f"{word!r} is not a position")
    if letters:
        half = _second_angle(word)
    first, second = numbers[:half], numbers[half:]
    one, two = letters or ("", "")
    if one in _EAST_WEST or two in _NORTH_SOUTH:
        one, two, first, second = two, one, second, first
    return _angle(two, second, "longitude", o_is), _angle(one, first, "latitude", o_is)


def east_letter(words: Iterable[str], headings: Sequence[str] = ()) -> Side | None:
    """Tell what an O means in a column, by its other letters or the language of plain headings."""
    letters = {letter for word in words for letter in _parts(word)[0]}
    names = set(headings)
    east = bool(letters & {"W", "V"}) or bool(names & _OST)
    west = bool(letters & {"E", "L", "Ø", "Ö"}) or bool(names & _OESTE)
    return None if east == west else "east" if east else "west"


def _words(word: str) -> list[str]:
    text = _LONG.sub(r"\1 \2 \3 ", word.upper().replace("−", "-"))
    return [one for one in _WORD.findall(_MARKS.sub(" ", text)) if one not in ",;/|"]


def _parts(word: str) -> tuple[list[str], list[str]]:
    """Letters of the compass and numbers of a text; no numbers if there is anything else."""
    letters = [one for one in _words(word) if one in _LETTERS]
    numbers = [one for one in _words(word) if _NUMBER.fullmatch(one)]
    return (letters, numbers) if len(letters) + len(numbers) == len(_words(word)) else ([], [])


def _second_angle(word: str) -> int:
    """How many numbers belong to the first of two angles with letters."""
    words = _words(word)
    at = [place for place, one in enumerate(words) if one in _LETTERS]
    return at[1] - 1 if at[0] == 0 else at[0]


def _angle(letter: str, numbers: list[str], axis: Axis, o_is: Side | None) -> float:
    sides = _NORTH_SOUTH if axis == "latitude" else _EAST_WEST
    text = " ".join([*numbers, letter]).strip()
    values = [abs(float(number.replace(",", "."))) for number in numbers]
    if letter == "O" and axis == "longitude":
        if o_is is None:
            raise ValueError(f"the O in {text!r} may be east or west: write E or W")
        sign = 1 if o_is == "east" else -1
    elif letter and letter not in sides:
        raise ValueError(f"{text!r} is not a {axis}")
    else:
        sign = sides.get(letter, 1)
    signed = [number[0] in "+-" for number in numbers]
    whole = all(value.is_integer() for value in values[:-1])
    if not values or any(signed[1:]) or (signed[0] and letter) or not whole:
        raise ValueError(f"{text!r} is not a {axis}")
    if any(value >= 60 for value in values[1:]):
        raise ValueError(f"{text!r} has 60 minutes or seconds, or more")
    if numbers[0].startswith("-"):
        sign = -sign
    angle = sum(value / 60**place for place, value in enumerate(values))
    if not math.isfinite(angle) or angle > _LIMIT[axis]:
        raise ValueError(f"{text!r} is not a {axis}")
    return float(sign * angle)
