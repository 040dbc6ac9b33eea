"""The guarded process: it reads files within limits until its parent closes the pipe."""

from __future__ import annotations

import os
import pickle
import sys
from contextlib import suppress
from importlib import import_module
from typing import Any, BinaryIO

from seabed.guarded import _fences

Answer = tuple[str, Any]
Limits = tuple[float, float, int, int]


def main() -> None:
    """Answer requests from standard input on standard output, arrays last."""
    requests, answers = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(nowhere, stream)
    _fences.leave_network()
    for work in sys.argv[1:]:
        with suppress(Exception):  # who asks for it hears why
            import_module(f"seabed.guarded.works.{work}")
    while True:
        try:
            number, work, path, rest, limits = pickle.load(requests)  # noqa: S301  (from who began it)
        except EOFError:
            return
        _give(number, _done(work, path, rest, limits), answers)


def _done(work: str, path: str, rest: tuple[Any, ...], limits: Limits) -> Answer:
    module, function = work.split(".")
    try:
        reader = getattr(import_module(f"seabed.guarded.works.{module}"), function)
        with _fences.limited(*limits):
            return "done", reader(path, *rest)
    except MemoryError as error:
        return "memory", str(error)
    except Exception as error:  # noqa: BLE001  (whatever the library raises, the file is at fault)
        return "failed", str(error)[:300]


def _give(number: int, answer: Answer, answers: BinaryIO) -> None:
    how, what = answer
    buffers: list[pickle.PickleBuffer] = []
    body = pickle.dumps(what, protocol=5, buffer_callback=buffers.append)
    parts = [buffer.raw() for buffer in buffers]
    pickle.dump((number, how, body, [part.nbytes for part in parts]), answers)
    for part in parts:
        answers.write(part)
    answers.flush()


if __name__ == "__main__":
    main()
