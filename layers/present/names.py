"""Names that any plotter takes: short, plain ASCII, each used once."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from typing import Final

from seabed.errors import OutputError

SHORTEST: Final = 4
_PLAIN: Final = str.maketrans(
    {"ß": "ss", "ø": "o", "Ø": "O", "æ": "ae", "Æ": "AE", "ð": "d", "ł": "l"}
)
_ALLOWED: Final = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789 -_.#")


class ShortNames:
    """Gives out names that differ from each other even to a plotter that knows only capitals.

    length: the most letters of a name; OutputError if it is less than 4.

    >>> names = ShortNames(6)
    >>> names.give("Hollow Reach"), names.give("Hollow Rise")
    ('Hollow', 'Holl.2')
    """

    def __init__(self, length: int) -> None:
        if length < SHORTEST:
            raise OutputError(
                f"names of {length} letters can't all differ",
                key="name_length",
                do=f"Give {SHORTEST} or more.",
            )
        self._length = length
        self._taken: set[str] = set()

    def give(self, words: str) -> str:
        """Shorten `words`, and number them where they are taken.

        Letters outside ASCII lose their accents or fall away; nothing left gives ``"MARK"``.  The
        number follows a dot (``"E1.2"``), unless names are too short, so that it is no part of a
        name that ends in one.
        """
        return self.family(words, [""])[0]

    def family(self, words: str, suffixes: Sequence[str]) -> list[str]:
        """Give names that differ by their suffixes alone, shortened and numbered as one."""
        plain = unicodedata.normalize("NFKD", words.translate(_PLAIN))
        kept = "".join(letter for letter in plain if letter in _ALLOWED)
        base = " ".join(kept.split()) or "MARK"
        longest = max(map(len, suffixes))
        count = 1
        while True:
            number = "" if count == 1 else f".{count}"
            if len(number) >= self._length - longest:
                number = number.lstrip(".")
            room = self._length - longest - len(number)
            if room < 0:
                raise OutputError(
                    f"there are too many marks for names of {self._length} letters",
                    do="Give a greater {name_length}.",
                )
            names = [base[:room].rstrip() + number + suffix for suffix in suffixes]
            if not self._taken.intersection(name.upper() for name in names):
                self._taken.update(name.upper() for name in names)
                return names
            count += 1
