"""Files read by another process, which starts at the first read and stays for the next."""

from __future__ import annotations

import atexit
import io
import os
import pickle
import signal
import socket
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from threading import Lock, Timer
from typing import TYPE_CHECKING, Any, BinaryIO, Final

from seabed.guarded._fences import most_bytes
from seabed.guarded.errors import DAMAGED, ReadingError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

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
APART: Final[dict[str, Any]] = (
    {"start_new_session": True} if os.name == "posix" else {"creationflags": 0x200}
)  # (CREATE_NEW_PROCESS_GROUP)
"""Options of a process that a Ctrl-C in the window does not reach: who began it stops it."""
KILLED: Final = 1
"""What a killed process ends with on systems without signals."""
_PLAIN: Final = {
    ("types", "SimpleNamespace"), ("affine", "Affine"), ("_codecs", "encode"),
    ("numpy", "dtype"), ("numpy", "ndarray"),
    *((f"numpy.{core}", name) for core in ("core.multiarray", "_core.multiarray",
      "core.numeric", "_core.numeric") for name in ("_reconstruct", "scalar", "_frombuffer")),
}  # fmt: skip
"""What an answer may be made of, beside plain values: a library that a file has taken over answers
for the process, and may name anything."""
_ALONE: Final = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"), "1")


def ask(work: str, path: str | Path, *rest: Any, cells: int = 0) -> Any:
    """Have a file read in the guarded process.

    work: module of `seabed.guarded.works` and a function in it: ``"hdf5.read"``.
    cells: how many cells of a grid it is to give; time and memory are allowed for them.

    Raises ReadingError if the library fails or crashes, or needs more time or memory than a file of
    this size may.
    """
    return _process.ask(work, os.path.abspath(path), rest, cells)  # noqa: PTH100 (never an address)


def begin(*works: str) -> None:
    """Begin the guarded process and go on: it loads some of its works while others work."""
    _process.begin(works)


class _Process:
    """The process, and the ways to it and from it."""

    def __init__(self) -> None:
        self.forget()

    def forget(self) -> None:
        """Hold no process: a copy of the program must not use the pipes of the first one."""
        self._lock = Lock()
        self._running: tuple[subprocess.Popen[bytes], BinaryIO] | None = None
        self._requests = 0

    def begin(self, works: tuple[str, ...]) -> None:
        """Begin the process with some works loaded, if there is none."""
        with self._lock, suppress(OSError):  # the caller reports the error
            self._begun(works)

    def ask(self, work: str, path: str, rest: tuple[Any, ...], cells: int) -> Any:
        size = Path(path).stat().st_size
        more_s = size / BYTES_A_SECOND + cells / CELLS_A_SECOND
        with self._lock:
            process, answers = self._begun()
            self._requests += 1
            limits = CPU_S + more_s, WAIT_S + more_s, size, cells
            late = _Deadline(process, WAIT_S + more_s)
            try:
                with late:
                    pickle.dump((self._requests, work, path, rest, limits), process.stdin)
                    process.stdin.flush()
                    how, answer = self._answer(answers, most_bytes(size, cells))
            except Exception as error:  # whatever the bytes of a broken process mean
                raise ReadingError(self._end(wait_s=1.0)) from error
            except BaseException:  # half an answer would be taken for the next one
                self._end(wait_s=0.0)
                raise
            if late.over:
                self._end(wait_s=0.0)
        if how == "done":
            return answer
        raise ReadingError(TOO_MUCH if how == "memory" else DAMAGED, answer)

    def _answer(self, answers: BinaryIO, most: int) -> tuple[str, Any]:
        number, how, body, sizes = _PlainAnswers(answers).load()
        if number != self._requests or sum(sizes) > most:
            raise EOFError
        arrays = [_filled(answers, size) for size in sizes]
        return how, _PlainAnswers(io.BytesIO(body), buffers=arrays).load()

    def end(self) -> None:
        """Stop the process, if there is one."""
        if self._running is not None:
            self._end(wait_s=0.0)

    def _end(self, *, wait_s: float) -> str:
        """Stop the process and say why it had to be."""
        if self._running is None:
            return CRASHED
        (process, answers), self._running = self._running, None
        with suppress(subprocess.TimeoutExpired):
            process.wait(wait_s)  # it may just be ending
        process.kill()
        code = process.wait()
        for stream in filter(None, (process.stdin, answers)):
            with suppress(OSError):
                stream.close()
        late = {-getattr(signal, name, -KILLED) for name in ("SIGKILL", "SIGXCPU", "SIGALRM")}
        return TOO_LONG if code in late else CRASHED

    def _begun(self, works: tuple[str, ...] = ()) -> tuple[Any, BinaryIO]:
        if self._running is not None and self._running[0].poll() is not None:
            self.end()
        if self._running is None:
            self._running = _start(works)
        return self._running


def _start(works: tuple[str, ...]) -> tuple[Any, BinaryIO]:
    """Begin a process that loads some works at once; give it, and what its answers come through."""
    import seabed  # noqa: PLC0415  (this is a room of it)

    room = str(Path(seabed.__file__).parents[1])
    paths = os.pathsep.join(filter(None, (room, os.environ.get("PYTHONPATH"))))
    # Through a socket arrays come with a third of the work that a file in memory takes.
    ours, theirs = socket.socketpair() if HAS_SOCKETS else (None, None)
    process: Any = subprocess.Popen(  # noqa: S603  (works of ours)
        [sys.executable, "-P", "-m", "seabed.guarded._child", *works],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE if theirs is None else theirs.fileno(),
        env={**os.environ, **_ALONE, "PYTHONPATH": paths, "GDAL_DRIVER_PATH": "disable"},
        **APART,
    )
    if ours is None or theirs is None:
        return process, process.stdout
    theirs.close()
    with ours:  # the file keeps it open
        return process, ours.makefile("rb")


class _Deadline:
    """Kills a process that has not answered in time; ``over`` says whether it did.

    Once left it kills no more: the next request may be in the process then.
    """

    def __init__(self, process: Any, seconds: float) -> None:
        self.over = False
        self._process = process
        self._timer = Timer(seconds, self._kill)

    def _kill(self) -> None:
        self.over = True
        self._process.kill()

    def __enter__(self) -> None:
        self._timer.start()

    def __exit__(self, *_: object) -> None:
        self._timer.cancel()
        self._timer.join()


class _PlainAnswers(pickle.Unpickler):
    """Reads answers that are made of plain values and arrays, and no others."""

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) not in _PLAIN:
            raise pickle.UnpicklingError(f"{module}.{name}")
        return super().find_class(module, name)


def _filled(answers: Any, size: int) -> NDArray[np.uint8]:
    """Read the next bytes of an answer, into memory that numpy takes in large pages."""
    import numpy as np  # noqa: PLC0415  (the desk, which reads no grid, starts without it)

    array = np.empty(size, np.uint8)
    if size and answers.readinto(array) != size:
        raise EOFError
    return array


_process = _Process()
atexit.register(_process.end)
if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_process.forget)
