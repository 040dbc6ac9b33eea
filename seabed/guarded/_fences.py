"""What the guarded process may not have: a network, and time and memory without end.

The system sets each limit that it knows; without one, the parent that began the process
still stops it after a time.
"""

from __future__ import annotations

import ctypes
import math
import platform
import signal
import struct
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

PLAIN_BYTES: Final = 1_000_000_000
BYTES_A_BYTE: Final = 64
BYTES_A_CELL: Final = 32
"""Memory: so much (the libraries take 300 MB of it), and more for each byte of the file and each
cell asked for (float64, twice, and a mask)."""

NEW_USER, NEW_NETWORK = 0x10000000, 0x40000000  # CLONE_NEWUSER, CLONE_NEWNET of linux/sched.h
NO_NEW_PRIVILEGES, SECCOMP, FILTER = 38, 22, 2  # linux/prctl.h, linux/seccomp.h
CALLS: Final = {
    "x86_64": (0xC000003E, (41, 42, 49, 425)),
    "aarch64": (0xC00000B7, (198, 203, 200, 425)),
}
"""By machine: how the kernel names it (linux/audit.h), and its numbers of socket, connect, bind and
io_uring_setup."""
ALLOW, REFUSE = 0x7FFF0000, 0x00050000 | 1  # SECCOMP_RET_ALLOW, SECCOMP_RET_ERRNO with EPERM
LOAD, EQUAL, RETURN = 0x20, 0x15, 0x06  # linux/bpf_common.h


def leave_network() -> None:
    """Move into a network of one's own without any way out, and refuse new connections."""
    if sys.platform != "linux":
        return
    library = ctypes.CDLL(None)
    for flags in (NEW_NETWORK, NEW_USER | NEW_NETWORK):
        if library.unshare(flags) == 0:
            break
    _refuse_sockets(library)


def _refuse_sockets(library: ctypes.CDLL) -> None:
    """Filter calls of the system (seccomp, Linux 3.5): none that opens a socket is let through."""
    machine, numbers = CALLS.get(platform.machine(), (0, ()))
    if not numbers:
        return
    count = len(numbers)
    steps = [(LOAD, 0, 0, 4), (EQUAL, 0, count + 1, machine), (LOAD, 0, 0, 0)]
    steps += [(EQUAL, count - place, 0, number) for place, number in enumerate(numbers)]
    steps += [(RETURN, 0, 0, ALLOW), (RETURN, 0, 0, REFUSE)]
    program = ctypes.create_string_buffer(b"".join(struct.pack("HBBI", *step) for step in steps))
    head = struct.pack("HxxxxxxP", len(steps), ctypes.addressof(program))
    if library.prctl(NO_NEW_PRIVILEGES, 1, 0, 0, 0) == 0:
        library.prctl(SECCOMP, FILTER, ctypes.create_string_buffer(head))


def most_bytes(size: int, cells: int) -> int:
    """Give the bytes that reading `cells` of a file of `size` bytes may take."""
    return PLAIN_BYTES + BYTES_A_BYTE * size + BYTES_A_CELL * cells


@contextmanager
def limited(seconds: float, wait_s: float, size: int, cells: int) -> Iterator[None]:
    """Allow as much time and memory as a file of `size` bytes, and `cells` of it, can need.

    After `wait_s` by the clock the process ends, even where who began it is gone.
    """
    if sys.platform == "win32":
        yield
        return
    import resource  # noqa: PLC0415, TID251  (the system is asked for)

    usage = resource.getrusage(resource.RUSAGE_SELF)
    _set(resource.RLIMIT_CPU, math.ceil(usage.ru_utime + usage.ru_stime + seconds) + 1)
    _set(resource.RLIMIT_AS, most_bytes(size, cells))
    signal.setitimer(signal.ITIMER_REAL, wait_s)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        _set(resource.RLIMIT_AS, resource.RLIM_INFINITY)
        _set(resource.RLIMIT_CPU, resource.RLIM_INFINITY)


def _set(kind: int, value: int) -> None:
    """Set a limit that can be raised again, never above what the process has been given."""
    import resource  # noqa: PLC0415, TID251  (the system is asked for)

    if sys.platform != "win32":
        _, most = resource.getrlimit(kind)
        free = most == resource.RLIM_INFINITY
        unlimited = value == resource.RLIM_INFINITY
        resource.setrlimit(kind, (value if free else most if unlimited else min(value, most), most))
