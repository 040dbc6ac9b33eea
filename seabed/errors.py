"""One family of errors, whose messages say what was wrong, where, and what to do."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, Final, NamedTuple

__all__ = [
    "AreaError",
    "CatchError",
    "GridError",
    "LogbookError",
    "OutputError",
    "Question",
    "SeabedError",
    "TableError",
    "TrackError",
    "UnitError",
    "WaterError",
]


_SETTING: Final = re.compile(r"\{((?:seabed )?[a-z_]{3,}(?:\.[a-z_]+)?)\}")
"""A setting, a key of the area file with its section, or a command, in braces."""


_SENTENCE_ENDS: Final = re.compile(r"(?<=[.!?]) (?=[A-Z{])")
_BREAKS: Final = re.compile(r"\s*[\r\n]+\s*")
LONGEST: Final = 800
"""Characters of a part of a message; names of all columns of a wide table are not longer."""


def with_settings(text: str, name: Callable[[str], str] = str) -> str:
    """Put the words that a door has for settings in place of those in braces.

    A sentence about a setting for which the door has no word, ``""``, is left out.

    >>> with_settings("Name it with {crs}.", "--{}".format)
    'Name it with --crs.'
    >>> with_settings("Take a smaller {box}. Or less {zoom}.", {"box": "part", "zoom": ""}.get)
    'Take a smaller part.'
    """
    words = {key: name(key) for key in _SETTING.findall(text)}
    if not all(words.values()):
        sentences = [
            one
            for one in _SENTENCE_ENDS.split(text)
            if all(words[key] for key in _SETTING.findall(one))
        ]
        text = " ".join(sentences)
    return _SETTING.sub(lambda match: words[match[1]], text)


def without_settings(texts: Iterable[str]) -> list[str]:
    """Leave the sentences about settings out of texts, for paper and maps, where none is set.

    >>> without_settings(["The grid ends here. Say how far it goes on with {water.open_fetch}."])
    ['The grid ends here.']
    """
    return [with_settings(text, lambda key: "") for text in texts]


def _shortened(text: str) -> str:
    """Put a text on one line, without its middle if it is too long, as a value in a file may be."""
    text = _BREAKS.sub(" ", text)
    if len(text) <= LONGEST:
        return text
    return f"{text[: LONGEST // 2]} … {text[-LONGEST // 4 :]}"


class Question(NamedTuple):
    """What a file leaves open, so that a door may ask for it and go on.

    setting: the one that answers it: ``"date_order"``.
    choices: the words to choose from, and what each would mean here; none where it is free.
    """

    setting: str
    choices: Mapping[str, str] = {}


class SeabedError(Exception):
    """Anything a user can correct.  The command prints it and exits with code 2.

    Parameters
    ----------
    what : str
        What is wrong, with the offending value.  It may name settings as `do` does.
    file : str or Path, optional
        The file it was found in.
    where : str, optional
        Where in the file: ``"row 12"``, ``"line 340"``, ``"key [boat] craft"``.
    do : str, optional
        What to do about it.  Settings that help are in braces, ``"Name it with {crs}."``, and so
        do commands, ``"{seabed area}"``, since each door has its own word for them.
    key : str, optional
        The setting whose value is wrong: ``"band"``.
    question : Question, optional
        What a user can answer, so that the same is done again with the answer.

    Examples
    --------
    >>> error = SeabedError("no such band", key="band", do="Give {band} or {contours}.")
    >>> str(error)
    'band: no such band. Give band or contours.'
    >>> error.text("--{}".format)
    '--band: no such band. Give --band or --contours.'
    >>> error.keys
    ('band', 'contours')
    """

    def __init__(
        self,
        what: str,
        *,
        file: str | Path | None = None,
        where: str | None = None,
        do: str | None = None,
        key: str | None = None,
        question: Question | None = None,
    ) -> None:
        self.what, self.file, self.key = _shortened(what), file, key
        self.question = question
        self.where, self.do = where and _shortened(where), do and _shortened(do)
        super().__init__(self.text())

    def text(self, name: Callable[[str], str] = str) -> str:
        """Write the whole message, each setting called as `name` gives it."""
        file = self.file and _shortened(str(self.file))
        parts = (file, self.where, self.key and name(self.key))
        place = ", ".join(str(part) for part in parts if part)
        what = with_settings(self.what, name)
        message = f"{place}: {what}" if place else what
        cure = with_settings(self.do or "", name)
        return f"{message.rstrip('.')}. {cure}" if cure else message

    @property
    def keys(self) -> tuple[str, ...]:
        """Settings that this is about, the wrong one first."""
        named = [self.key] if self.key else []
        return tuple(dict.fromkeys([*named, *_SETTING.findall(self.do or "")]))


class UnitError(SeabedError):
    """A number or unit that can't be read."""


class GridError(SeabedError):
    """A depth grid that can't be read or used."""


class TableError(SeabedError):
    """A table that lacks a column, or holds something else in one."""


class TrackError(SeabedError):
    """A track that can't be read or used."""


class CatchError(SeabedError):
    """A catch log that can't be read or used."""


class WaterError(SeabedError):
    """A tide, current or wind source that can't be read or used."""


class LogbookError(SeabedError):
    """A logbook that can't be read or written."""


class AreaError(SeabedError):
    """An area file that can't be read or used.

    notation: how the file writes what `do` asks for; for those who write the file themselves.
    """

    def __init__(self, what: str, *, notation: str = "", **about: Any) -> None:
        self.notation = notation
        super().__init__(what, **about)

    def text(self, name: Callable[[str], str] = str) -> str:
        """Write the whole message, and the notation."""
        return f"{super().text(name)} {self.notation}".rstrip()


class OutputError(SeabedError):
    """An output that can't be written."""
