"""Layers of a vector file, read with one driver alone: run by its path, in a process of its own.

The library asks every driver that it has, by content, whether a file is of its kind; some kinds are
instructions to read something else, over the network too.  Here one driver is left, the process
has no network where the system can take it away, and as much memory as a file of that size needs.
"""

from __future__ import annotations

import ctypes
import os
import pickle
import signal
import sys
from pathlib import Path
from typing import Any, Final

NOT_NEEDED: Final = ("geopandas", "pandas", "pyarrow", "shapely")
"""What the library would load, and does without."""

NEW_USER, NEW_NETWORK = 0x10000000, 0x40000000  # CLONE_NEWUSER, CLONE_NEWNET of linux/sched.h
PLAIN_MEMORY: Final = 2_000_000_000
MEMORY_A_BYTE: Final = 64


def _leave_network() -> None:
    """Move into a network of one's own without any way out, where the system allows it."""
    if sys.platform == "linux":
        library = ctypes.CDLL(None)
        for flags in (NEW_NETWORK, NEW_USER | NEW_NETWORK):
            if library.unshare(flags) == 0:
                return


def _limit_memory(path: str) -> None:
    """Allow as much memory as the file can need, on systems that know limits."""
    if sys.platform != "win32":
        import resource  # noqa: PLC0415, TID251  (the system is asked for)

        enough = PLAIN_MEMORY + MEMORY_A_BYTE * Path(path).stat().st_size
        _, most = resource.getrlimit(resource.RLIMIT_AS)
        if most != resource.RLIM_INFINITY:
            enough = min(enough, most)
        resource.setrlimit(resource.RLIMIT_AS, (enough, most))


def _layers(path: str) -> dict[str, int]:
    from pyogrio import list_layers, read_info  # noqa: PLC0415  (after the limits)

    return {
        str(name): int(read_info(path, layer=name, force_feature_count=True)["features"])
        for name in list_layers(path)[:, 0]
    }


def _read(path: str, layer: str, box: Any, options: dict[str, str]) -> tuple[Any, ...]:
    from pyogrio.raw import read  # noqa: PLC0415  (after the limits)

    about, _, shapes, columns = read(
        path, layer=layer, bbox=box, datetime_as_string=True, **options
    )
    kinds = about["ogr_types"]
    return about["crs"], list(about["fields"]), kinds, columns, shapes


def _main(driver: str, offline: dict[str, str]) -> int:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # who began it stops it
    requests, answers = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(nowhere, stream)
    _leave_network()
    sys.modules.update(dict.fromkeys(NOT_NEEDED))  # type: ignore[arg-type]
    import pyogrio  # noqa: PLC0415  (after what it is not to load)

    pyogrio.set_gdal_config_options(offline)
    if set(pyogrio.list_drivers()) != {driver}:
        return 1
    answer: tuple[str, Any]
    while True:
        try:
            work, path, *rest = pickle.load(requests)  # noqa: S301  (from the process that began it)
        except EOFError:
            return 0
        try:
            _limit_memory(path)
            answer = "done", (_layers if work == "layers" else _read)(path, *rest)
        except MemoryError:
            answer = "failed", "it needs more memory than a file of its size may"
        except Exception as error:  # noqa: BLE001  (whatever the library raises, the file is at fault)
            answer = "failed", str(error)
        pickle.dump(answer, answers, pickle.HIGHEST_PROTOCOL)
        answers.flush()


if __name__ == "__main__":
    sys.exit(_main(sys.argv[1], dict(word.split("=", 1) for word in sys.argv[2:])))
