"""Run commands where writing is forbidden or cut short; each in a fork of one warm process.

``python hard_places.py JOBS.json`` with a list of ``{"words": [...], "hard": ..., "limit": ...}``
prints a list of ``[exit code, standard error]``.
"""

# ruff: noqa: T201

from __future__ import annotations

import ctypes
import json
import os
import resource
import signal
import sys
from pathlib import Path

CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH = 1, 2


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


def run(job: dict) -> tuple[int, str]:
    """Run one command in a fork."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        os.dup2(writer, 2)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        sys.stderr = os.fdopen(2, "w", encoding="utf-8", closefd=False)
        from layers.cli.main import main

        if job["hard"] == "permissions":
            obey_permissions()
        else:
            limit_files(job["limit"])
        signal.alarm(120)
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
    os.close(writer)
    with os.fdopen(reader, encoding="utf-8") as said:
        errors = said.read()
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), errors


def main() -> None:
    """Run them all."""
    # what is slow to import, once; nothing is opened, since threads do not outlive a fork
    import layers.cli.day_plan
    import layers.cli.outings
    import layers.cli.scouting  # noqa: F401

    print(json.dumps([run(job) for job in json.loads(Path(sys.argv[1]).read_text("utf-8"))]))


if __name__ == "__main__":
    main()
