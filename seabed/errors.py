"""One family of errors, whose messages say what was wrong, where, and what to do."""

from __future__ import annotations

from pathlib import Path

__all__ = [
    "AreaError",
    "CatchError",
    "GridError",
    "LogbookError",
    "OutputError",
    "SeabedError",
    "TableError",
    "TrackError",
    "UnitError",
    "WaterError",
]


class SeabedError(Exception):
    """Anything a user can mend.  The command prints it and exits with code 2.

    Parameters
    ----------
    what : str
        What is wrong, with the offending value.
    file : str or Path, optional
        The file it was found in.
    where : str, optional
        Where in the file: ``"row 12"``, ``"line 340"``, ``"key [boat] craft"``.
    do : str, optional
        What to do about it.
    """

    def __init__(
        self,
        what: str,
        *,
        file: str | Path | None = None,
        where: str | None = None,
        do: str | None = None,
    ) -> None:
        self.what, self.file, self.where, self.do = what, file, where, do
        place = ", ".join(str(part) for part in (file, where) if part)
        message = f"{place}: {what}" if place else what
        if do:
            message = f"{message.rstrip('.')}. {do}"
        super().__init__(message)


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
    """An area file that can't be read or used."""


class OutputError(SeabedError):
    """An output that can't be written."""
