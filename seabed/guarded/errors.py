"""The one guard of readers: it turns every error of a library into one of ours."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from seabed.errors import GridError, SeabedError

DAMAGED: Final = "the file can't be read to its end: it is cut short or damaged"

INCOMPLETE: Final = "the file lacks parts that its format needs: it is damaged or of another kind"


class ReadingError(Exception):
    """A file that the guarded process could not read: why, and the message of its library."""

    def __init__(self, what: str, detail: str = "") -> None:
        self.what, self.detail = what, detail
        super().__init__(detail or what)


def damaged(
    source: str | Path, error: type[SeabedError] = GridError, *, what: str = DAMAGED
) -> SeabedError:
    """Error for a file that ends too early, holds nonsense, or asks for too much."""
    return error(what, file=source, do="Fetch or export it again and compare the sizes.")


@contextmanager
def reading(source: str | Path, error: type[SeabedError] = GridError) -> Iterator[None]:
    """Turn whatever a reader raises into the one error; errors of ours pass.

    Libraries raise anything from OSError to TypeError, according to which byte is wrong.
    """
    try:
        yield
    except SeabedError:
        raise
    except ReadingError as problem:
        raise damaged(source, error, what=problem.what) from problem
    except LookupError as problem:
        raise damaged(source, error, what=INCOMPLETE) from problem
    except Exception as problem:
        raise damaged(source, error) from problem
