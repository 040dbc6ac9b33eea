"""Names that any plotter takes: short, plain ASCII, each used once."""

from __future__ import annotations

import unicodedata
from typing import Final

from seabed.errors import OutputError

__all__ = ["ShortNames"]

SHORTEST: Final = 4
_PLAIN: Final = str.maketrans(
    {"ß": "ss", "ø": "o", "Ø": "O", "æ": "ae", "Æ": "AE", "ð": "d", "ł": "l"}
)
_ALLOWED: Final = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789 -_.#")


class ShortNames:
    """Gives out names that differ from each other even to a plotter that knows only capitals.

    Parameters
    ----------
    length : int
        The most letters a name may have, 4 or more.

    Raises
    ------
    OutputError
        If `length` is less than 4.
    """

    def __init__(self, length: int) -> None:
        if length < SHORTEST:
            raise OutputError(
                f"names of {length} letters can't be told apart",
                do=f"Give --name-length {SHORTEST} or more.",
            )
        self._length = length
        self._taken: set[str] = set()

    def give(self, words: str, *, suffix: str = "") -> str:
        """Shorten `words`, keeping `suffix`, and number it where it is taken.

        Letters outside ASCII lose their accents or fall away; nothing left gives ``"MARK"``.
        """
        plain = unicodedata.normalize("NFKD", words.translate(_PLAIN))
        kept = "".join(letter for letter in plain if letter in _ALLOWED)
        base = " ".join(kept.split()) or "MARK"
        number = 1
        while True:
            tail = suffix if number == 1 else f"{number}{suffix}"
            room = self._length - len(tail)
            if room < 1:
                raise OutputError(
                    f"there are too many marks for names of {self._length} letters",
                    do="Give a greater --name-length.",
                )
            name = base[:room].rstrip() + tail
            if name.upper() not in self._taken:
                self._taken.add(name.upper())
                return name
            number += 1
