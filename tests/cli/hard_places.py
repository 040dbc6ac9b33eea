"""Run commands in hard places, each in a fork of one warm process.

``python hard_places.py JOBS.json`` with a list of ``{"words": [...], "hard": ..., "out": ...}``
prints a list of ``[exit codes, standard error]``.  What is hard:

- ``""``: nothing
- ``"permissions"``: nothing may be written in `out`
- ``"size"``: no file may grow beyond 300 bytes, as on a full disk
- ``"almost"``: `out` holds older results of the names in `like`, and the largest new one of them
  finds no room
- ``"kill"``: `out` holds older results of the names in `like`; killed as one of them is renamed
- ``"twice"``: two at once, into the same `out`
"""

# ruff: noqa: T201

from __future__ import annotations

import contextlib
import ctypes
import importlib
import io
import json
import os
import random
import resource
import signal
import sys
from pathlib import Path

from numba.extending import is_jitted

from layers.cautions import NOT_A_CHART

CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH = 1, 2
LIMIT = 300
OURS = ("seabed.", "layers.")
LATE = ("fpdf", "fontTools.subset", "PIL.Image", "dask.array", "pyarrow")
"""What commands import when they write."""
OLD = f"{NOT_A_CHART} Old.".encode()  # by the caution a run knows a README of its own


class _Header(ctypes.Structure):
    _fields_ = (("version", ctypes.c_uint32), ("pid", ctypes.c_int))


class _Sets(ctypes.Structure):
    _fields_ = (
        ("effective", ctypes.c_uint32), ("permitted", ctypes.c_uint32),
        ("inheritable", ctypes.c_uint32),
    )  # fmt: skip


def obey_permissions() -> None:
    """Make root obey the permission bits of files, as everybody must (capset(2), version 3)."""
    if os.geteuid() != 0:
        return
    libc = ctypes.CDLL(None, use_errno=True)
    header, sets = _Header(0x20080522, 0), (_Sets * 2)()
    assert libc.capget(ctypes.byref(header), sets) == 0
    for kind in ("effective", "permitted"):
        kept = getattr(sets[0], kind) & ~(1 << CAP_DAC_OVERRIDE | 1 << CAP_DAC_READ_SEARCH)
        setattr(sets[0], kind, kept)
    assert libc.capset(ctypes.byref(header), sets) == 0


def limit_files(size: int) -> None:
    """Let no file grow beyond `size` bytes: writing fails as on a full disk."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))


def die_at_rename(number: int) -> None:
    """Kill this process when the so-manieth result is about to take its place."""
    rename, done = Path.replace, 0

    def replace(path: Path, target: Path) -> Path:
        nonlocal done
        done += 1
        if done == number:
            os.kill(os.getpid(), signal.SIGKILL)
        return rename(path, target)

    Path.replace = replace  # type: ignore[method-assign]


def prepare(job: dict) -> int:
    """Make the place ready; give the number of the rename to die at, or the room there is."""
    out = Path(job["out"])
    out.mkdir()
    if job["hard"] == "permissions":
        out.chmod(0o555)
    if job["hard"] not in {"kill", "almost"}:
        return 0
    like = [
        file
        for file in sorted(Path(job["like"]).rglob("*"))
        if file.is_file() and not file.name.startswith(".")
    ]  # the list of results
    for file in like:
        older = out / file.relative_to(job["like"])
        older.parent.mkdir(parents=True, exist_ok=True)
        older.write_bytes(OLD)
    if job["hard"] == "almost":
        return max(file.stat().st_size for file in like) - 1
    return random.Random(str(job["words"])).randint(1, max(len(like), 1))


def forked(job: dict, number: int, writer: int) -> int:
    """Run one command in a fork."""
    child = os.fork()
    if child == 0:
        os.dup2(writer, 2)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        sys.stderr = os.fdopen(2, "w", encoding="utf-8", closefd=False)
        from layers.cli.main import main

        if job["hard"] == "permissions":
            obey_permissions()
        elif job["hard"] == "size":
            limit_files(LIMIT)
        elif job["hard"] == "almost":
            limit_files(number)
        elif job["hard"] == "kill":
            die_at_rename(number)
        signal.alarm(600)
        code = 0
        try:
            main(job["words"])
        except SystemExit as left:
            code = left.code or 0
        except BaseException as error:  # noqa: BLE001 (a fork must not go on)
            print(f"Traceback: {error!r}", file=sys.stderr)
            code = 1
        sys.stderr.flush()
        os._exit(code)
    return child


def run(job: dict) -> tuple[list[int], str]:
    """Run one command, or two at once; give the exit codes and the messages."""
    number = prepare(job)
    reader, writer = os.pipe()
    children = [forked(job, number, writer) for _ in range(1 + (job["hard"] == "twice"))]
    os.close(writer)
    with os.fdopen(reader, encoding="utf-8") as said:
        errors = said.read()
    codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
    Path(job["out"]).chmod(0o755)
    return codes, errors


def load_compiled() -> None:
    """Load the inner loops that are kept on disk, which each fork would load for itself."""
    modules = [module for name, module in sys.modules.items() if name.startswith(OURS)]
    loops = {loop for module in modules for loop in vars(module).values() if is_jitted(loop)}
    for loop in loops:
        for signature, *_ in loop._cache._cache_file._load_index() or ():
            loop.compile(signature)


def load_options() -> None:
    """Load the library of options, as a refused command does; each fork would load it again."""
    from layers.cli.main import main

    with contextlib.redirect_stderr(io.StringIO()), contextlib.suppress(SystemExit):
        main(["season", "--log", "no.gpkg"])


def main() -> None:
    """Run them all."""
    from layers.cli.app import COMMANDS

    # what is slow to import, once; nothing is opened, since threads do not outlive a fork
    for slow in (*(f"layers.jobs.{name}" for name in COMMANDS), *LATE):
        importlib.import_module(slow)
    load_compiled()
    load_options()
    print(json.dumps([run(job) for job in json.loads(Path(sys.argv[1]).read_text("utf-8"))]))


if __name__ == "__main__":
    main()
