"""Run the standard library's XML parser over a GPX file, a piece at a time, and safely.

It is driven directly, which is several times quicker than building a tree.  It refuses what
``defusedxml`` refuses, by the same three hooks: declared entities ("billion laughs"), unparsed
entities, and anything outside the file.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, NoReturn, Protocol
from xml.parsers import expat

from seabed.errors import TrackError
from seabed.files import plain_file

_CHUNK: Final = 1 << 18

StartAndEnd = tuple[Callable[[str, dict[str, str]], None], Callable[[str], None]]


class Collector(Protocol):
    """What gathers things from the stream."""

    def attach(self, parser: Any) -> StartAndEnd:
        """Give the callbacks for the start and the end of an element."""
        ...


def parse_gpx(path: str | Path, collector: Collector) -> None:
    """Send a GPX file through a collector; TrackError if it is not GPX, damaged or not safe."""
    parser = _parser(path)
    start, end = collector.attach(parser)

    def first(name: str, attributes: dict[str, str]) -> None:
        if name.rpartition(":")[2] != "gpx":
            raise TrackError(
                f"it is XML, but not GPX: its first element is <{name}>",
                file=path,
                do="Export the track as GPX.",
            )
        parser.StartElementHandler = start
        parser.EndElementHandler = end
        start(name, attributes)

    parser.StartElementHandler = first
    plain_file(path)
    try:
        with Path(path).open("rb") as stream:
            while chunk := stream.read(_CHUNK):
                parser.Parse(chunk, False)
        parser.Parse(b"", True)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise TrackError(f"can't read it: {reason}", file=path, do="Check the name.") from error
    except expat.ExpatError as error:
        raise _damage(path, error, started=parser.StartElementHandler is start) from error
    except (ValueError, LookupError) as error:  # an encoding the parser doesn't know
        raise TrackError(f"can't read its text: {error}", file=path) from error


def _parser(path: str | Path) -> Any:
    parser = expat.ParserCreate()
    parser.buffer_text = True

    def refuse(*_: object) -> NoReturn:
        raise TrackError(
            "it declares entities or points outside itself, which no GPX needs and which can hang "
            "or spy on a program; it was not read",
            file=path,
            where=f"line {parser.CurrentLineNumber}",
            do="Ask where the file came from; export the track again.",
        )

    parser.EntityDeclHandler = refuse
    parser.UnparsedEntityDeclHandler = refuse
    parser.ExternalEntityRefHandler = refuse
    return parser


def _damage(path: str | Path, error: expat.ExpatError, *, started: bool) -> TrackError:
    where = f"line {error.lineno}"
    ended = error.code in _ENDED_EARLY
    if not started:
        empty = ended and Path(path).stat().st_size == 0
        return TrackError(
            "the file is empty" if empty else "this is not GPX (it is not XML)",
            file=path,
            where=None if empty else where,
            do="Export the track as GPX.",
        )
    return TrackError(
        "the file breaks off in the middle"
        if ended
        else f"the XML is damaged ({expat.ErrorString(error.code)})",
        file=path,
        where=where,
        do="Export it again, or keep what comes before the damage: {salvage}.",
    )


_ENDED_EARLY: Final = frozenset(
    expat.errors.codes[message]
    for message in (
        expat.errors.XML_ERROR_NO_ELEMENTS,
        expat.errors.XML_ERROR_UNCLOSED_TOKEN,
        expat.errors.XML_ERROR_PARTIAL_CHAR,
        expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION,
    )
)


def no_position(file: str, parser: Any, what: str, attributes: dict[str, str]) -> TrackError:
    """Make the error of a point without a position."""
    listed = ", ".join(f'{key}="{value}"' for key, value in attributes.items()) or "nothing"
    return TrackError(
        f"a {what} has no lat and lon that are numbers (it has {listed})",
        file=file,
        where=f"line {parser.CurrentLineNumber}",
        do="Correct or delete that point.",
    )
