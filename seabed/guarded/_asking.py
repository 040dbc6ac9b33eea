"""Files read by another process, which is begun when first asked and kept between reads."""

from __future__ import annotations

import atexit
import mmap
import os
import pickle
import signal
import socket
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from threading import Lock, Timer
from typing import Any, Final

from seabed.guarded.errors import DAMAGED, ReadingError

__all__ = ["ask"]

CPU_S: Final = 6.0
WAIT_S: Final = 60.0
BYTES_A_SECOND: Final = 500_000
CELLS_A_SECOND: Final = 1_000_000
"""A read may take so long on the processor, and so long by the clock, and a second more for so many
bytes of the file and cells asked for."""

TOO_LONG: Final = "reading it takes longer than a file of its size may"
TOO_MUCH: Final = "reading it needs more memory than a file of its size may"
CRASHED: Final = "its reader crashed on it: the file is damaged"
KILLED: Final = 1
"""What a killed process ends with on systems without signals."""
_ALONE: Final = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"), "1")


def ask(work: str, path: str | Path, *rest: Any, cells: int = 0) -> Any:
    """Have a file read in the guarded process.

    Parameters
    ----------
    work : str
        Module of `seabed.guarded.works` and a function in it: ``"hdf5.read"``.
    path : str or Path
    rest
        What the function takes beside the path.
    cells : int
        How many cells of a grid it is to give; time and memory are allowed for them.

    Returns
    -------
    Any
        What the function returns.  Its arrays lie in memory that both processes share, and are
        writable.

    Raises
    ------
    ReadingError
        If the library fails or crashes, or needs more time or memory than a file of this size may.
    """
    return _process.ask(work, os.path.abspath(path), rest, cells)  # noqa: PTH100 (never an address)


class _Process:
    """The process, and the pipes to it."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._process: subprocess.Popen[bytes] | None = None
        self._door: socket.socket | None = None
        self._owner = os.getpid()

    def ask(self, work: str, path: str, rest: tuple[Any, ...], cells: int) -> Any:
        size = Path(path).stat().st_size
        more_s = size / BYTES_A_SECOND + cells / CELLS_A_SECOND
        with self._lock:
            process = self._begun()
            late = Timer(WAIT_S + more_s, process.kill)
            late.start()
            try:
                pickle.dump((work, path, rest, CPU_S + more_s, size, cells), process.stdin)
                process.stdin.flush()
                how, body, sizes = pickle.load(process.stdout)  # noqa: S301  (our own process)
                answer = pickle.loads(body, buffers=self._shared(process, sizes))  # noqa: S301
            except (OSError, EOFError, pickle.UnpicklingError, ValueError) as error:
                raise ReadingError(self._end(process, wait_s=1.0)) from error
            except BaseException:  # half an answer would be taken for the next one
                self._end(process, wait_s=0.0)
                raise
            finally:
                late.cancel()
        if how == "done":
            return answer
        raise ReadingError(TOO_MUCH if how == "memory" else DAMAGED, answer)

    def _shared(self, process: Any, sizes: list[int]) -> list[memoryview]:
        """Bytes of the answer's arrays: in shared memory, or after it in the pipe."""
        total = sum(sizes)
        if not total:
            return [memoryview(bytearray(0)) for _ in sizes]
        if self._door is None:
            whole = memoryview(bytearray(process.stdout.read(total)))
        else:
            _, (file, *_), *_ = socket.recv_fds(self._door, 1, 1)
            try:
                whole = memoryview(mmap.mmap(file, total))
            finally:
                os.close(file)
        parts, start = [], 0
        for size in sizes:
            parts.append(whole[start : start + size])
            start += size
        return parts

    def end(self) -> None:
        """Stop the process, if there is one of our own."""
        if self._process is not None and self._owner == os.getpid():
            self._end(self._process, wait_s=0.0)

    def _end(self, process: Any, *, wait_s: float) -> str:
        """Stop the process and say why it had to be."""
        self._process = None
        with suppress(subprocess.TimeoutExpired):
            process.wait(wait_s)  # it may just be ending
        process.kill()
        code = process.wait()
        for stream in (process.stdin, process.stdout, self._door):
            if stream is not None:
                with suppress(OSError):
                    stream.close()
        atexit.unregister(self.end)
        late = {-getattr(signal, name, -KILLED) for name in ("SIGKILL", "SIGXCPU")}
        return TOO_LONG if code in late else CRASHED

    def _begun(self) -> Any:
        if self._owner != os.getpid():  # a copy of the process that began it has its pipes too
            self._process, self._owner = None, os.getpid()
        if self._process is not None and self._process.poll() is not None:
            self.end()
        if self._process is None:
            import seabed  # noqa: PLC0415  (this is a room of it)

            room = str(Path(seabed.__file__).parents[1])
            paths = os.pathsep.join(filter(None, (room, os.environ.get("PYTHONPATH"))))
            ours, theirs = socket.socketpair() if hasattr(os, "memfd_create") else (None, None)
            door = -1 if theirs is None else theirs.fileno()
            self._process = subprocess.Popen(  # noqa: S603  (this python, and a module of ours)
                [sys.executable, "-P", "-m", "seabed.guarded._child", str(door)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                pass_fds=() if theirs is None else (door,),
                env={**os.environ, **_ALONE, "PYTHONPATH": paths, "GDAL_DRIVER_PATH": "disable"},
            )
            if theirs is not None:
                theirs.close()
            self._door = ours
            atexit.register(self.end)
        return self._process


_process = _Process()
