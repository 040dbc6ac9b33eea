"""What is left of an error that nobody foresaw: a file to send, in which nothing is the user's."""

from __future__ import annotations

import platform
import re
import sys
import sysconfig
import tempfile
import traceback
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Final

import layers
from seabed import __version__
from seabed.errors import SeabedError
from seabed.files import write_text

LIBRARIES: Final = (
    "numpy", "pandas", "geopandas", "xarray", "rasterio", "pyogrio", "shapely", "pyproj", "scipy",
)  # fmt: skip
_OPTION: Final = re.compile(r"--[a-z][a-z-]*")
_COMMAND: Final = re.compile(r"[a-z]+")


def words_of_bug(error: BaseException, arguments: Sequence[str]) -> str:
    """Write the report of an error into this folder, else the system's; give the two lines."""
    kind = type(error).__name__
    first = f"seabed: this is a mistake of the program, not yours ({kind})."
    name = f"seabed-report-{datetime.now(UTC):%Y%m%d-%H%M%S}.txt"
    for folder in (Path(), Path(tempfile.gettempdir())):
        try:
            write_text(folder / name, report_text(error, arguments))
        except SeabedError:
            continue
        return (
            f"{first}\nPlease report it with the file {folder / name}, "
            "which holds no position, name or path of yours."
        )
    return f"{first}\nPlease report it; no file about it could be written here."


def report_text(error: BaseException, arguments: Sequence[str]) -> str:
    """Tell where the program failed: lines of code, names of options; no message, value or path."""
    command = [word for word in arguments[:1] if _COMMAND.fullmatch(word)]
    options = [match[0] for word in arguments if (match := _OPTION.match(word))]
    lines = [
        f"seabed-layers {__version__}",
        f"Python {platform.python_version()}, {platform.system()} {platform.machine()}",
        ", ".join(f"{name} {_version(name)}" for name in LIBRARIES),
        f"command: {' '.join(['seabed', *command, *options])}",
        "",
        *_failures(error),
    ]
    return "\n".join(lines) + "\n"


def _failures(error: BaseException | None) -> Iterator[str]:
    """Each error of a chain, the first cause first, and the lines of code that it passed."""
    if error is None:
        return
    yield from _failures(
        error.__cause__ or (None if error.__suppress_context__ else error.__context__)
    )
    yield f"{type(error).__module__}.{type(error).__name__}"
    for frame in traceback.extract_tb(error.__traceback__):
        file = _of_package(frame.filename)
        where = f"  {file}, line {frame.lineno}, in {frame.name}"
        yield "  code of somebody else" if file is None else f"{where}: {frame.line}"


def _of_package(name: str) -> str | None:
    """Path of a file within this program, a library or Python; None of any other."""
    roots = (
        Path(layers.__file__).parents[1], *map(Path, (sysconfig.get_path("purelib"),
        sysconfig.get_path("platlib"), sysconfig.get_path("stdlib"), sys.base_prefix)),
    )  # fmt: skip
    for root in roots:
        if Path(name).is_relative_to(root):
            return Path(name).relative_to(root).as_posix()
    return None


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "missing"
