"""Files read by another process, which is begun when first asked and kept between reads."""

from __future__ import annotations

import atexit
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

import numpy as np
from numpy.typing import NDArray

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
HAS_SOCKETS: Final = os.name == "posix"
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
        What the function returns.  Its arrays are writable.

    Raises
    ------
    ReadingError
        If the library fails or crashes, or needs more time or memory than a file of this size may.
    """
    return _process.ask(work, os.path.abspath(path), rest, cells)  # noqa: PTH100 (never an address)


class _Process:
    """The process, and the ways to it and from it."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._process: subprocess.Popen[bytes] | None = None
        self._answers: Any = None
        self._owner = os.getpid()

    def ask(self, work: str, path: str, rest: tuple[Any, ...], cells: int) -> Any:
        size = Path(path).stat().st_size
        more_s = size / BYTES_A_SECOND + cells / CELLS_A_SECOND
        with self._lock:
            process, answers = self._begun()
            late = Timer(WAIT_S + more_s, process.kill)
            late.start()
            try:
                pickle.dump((work, path, rest, CPU_S + more_s, size, cells), process.stdin)
                process.stdin.flush()
                how, body, sizes = pickle.load(answers)  # noqa: S301  (our own process)
                arrays = [_filled(answers, size) for size in sizes]
                answer = pickle.loads(body, buffers=arrays)  # noqa: S301
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
        for stream in (process.stdin, self._answers):
            if stream is not None:
                with suppress(OSError):
                    stream.close()
        atexit.unregister(self.end)
        late = {-getattr(signal, name, -KILLED) for name in ("SIGKILL", "SIGXCPU")}
        return TOO_LONG if code in late else CRASHED

    def _begun(self) -> tuple[Any, Any]:
        if self._owner != os.getpid():  # a copy of the process that began it has its pipes too
            self._process, self._owner = None, os.getpid()
        if self._process is not None and self._process.poll() is not None:
            self.end()
        if self._process is None:
            import seabed  # noqa: PLC0415  (this is a room of it)

            room = str(Path(seabed.__file__).parents[1])
            paths = os.pathsep.join(filter(None, (room, os.environ.get("PYTHONPATH"))))
            # Through a socket arrays come with a third of the work that a file in memory takes.
            ours, theirs = socket.socketpair() if HAS_SOCKETS else (None, None)
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-m", "seabed.guarded._child"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE if theirs is None else theirs.fileno(),
                env={**os.environ, **_ALONE, "PYTHONPATH": paths, "GDAL_DRIVER_PATH": "disable"},
            )
            if ours is None or theirs is None:
                self._answers = self._process.stdout
            else:
                self._answers = ours.makefile("rb")
                ours.close()  # the file keeps it open
                theirs.close()
            atexit.register(self.end)
        return self._process, self._answers


def _filled(answers: Any, size: int) -> NDArray[np.uint8]:
    """Read the next bytes of an answer, into memory that numpy takes in large pages."""
    array = np.empty(size, np.uint8)
    if answers.readinto(array) != size:
        raise EOFError
    return array


_process = _Process()
