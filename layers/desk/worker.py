"""The process that does a water's jobs: warm, one thing at a time, ended when nobody needs it.

It reads orders from its standard input and answers on its standard output, one line of JSON each.
What libraries print goes to the error output.

Orders: ``{"id", "job", "request", "answer"}`` (a job; the answer goes into that file),
``{"id", "look", "with"}`` (a quick look at files, of `layers.desk.looks`) and ``{"cancel": id}``.
"""

from __future__ import annotations

import gc
import json
import os
import queue
import re
import signal
import sys
import threading
import time
import traceback
from _thread import interrupt_main
from contextlib import suppress
from pathlib import Path
from typing import Any, Final, TextIO

from layers import jobs
from layers.desk.tasks import request_from
from layers.desk.texts import braced
from layers.jobs.progress import Cancelled, collect_seldom
from layers.jobs.result import json_text
from seabed.errors import SeabedError
from seabed.files import write_text

_BETWEEN_S: Final = 0.1
"""Progress is sent no more often."""

_WARM: Final = ("layers.jobs.plan", "layers.jobs.scout", "layers.jobs.trip", "layers.jobs.tide")


class Worker:
    """Does orders one after the other, and writes its answers to a stream of text."""

    def __init__(self, answers: TextIO) -> None:
        self._answers = answers
        self._writing = threading.Lock()
        self._orders: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()
        self._unwanted: set[str] = set()
        self._current: str | None = None

    def take(self, order: dict[str, Any]) -> None:
        """Queue an order; a cancellation acts at once."""
        if "cancel" in order:
            self._unwanted.add(order["cancel"])
            interrupt_main()
        else:
            self._orders.put(order)

    def interrupt(self, *_signal: Any) -> None:
        """Break off what is done now, if it is unwanted."""
        if self._current in self._unwanted:
            raise KeyboardInterrupt

    def work(self) -> None:
        """Do orders until the process ends."""
        while True:
            order = self._orders.get()
            self._say(order["id"], **self._ended(order))

    def _ended(self, order: dict[str, Any]) -> dict[str, Any]:
        try:
            self._current = order["id"]
            try:
                return {"end": "stopped"} if self._current in self._unwanted else self._done(order)
            finally:
                self._current = None
        except (Cancelled, KeyboardInterrupt):
            return {"end": "stopped"}
        except SeabedError as error:
            keys = error.keys or _quoted(error, order.get("request") or order.get("with") or {})
            return {"end": "wrong", "message": braced(error), "keys": keys}
        except Exception:  # noqa: BLE001 (a fault of ours ends the job, not the desk)
            if order["id"] in self._unwanted:  # compiled code makes another error of an interrupt
                return {"end": "stopped"}
            traceback.print_exc()
            return {"end": "broken", "message": ""}

    def _done(self, order: dict[str, Any]) -> dict[str, Any]:
        if "look" in order:
            from layers.desk import looks

            return {"end": "done", "value": looks.LOOKS[order["look"]](**order["with"])}
        result = jobs.run(request_from(order["job"], order["request"]), self._progress(order["id"]))
        write_text(order["answer"], json_text(result.answer()), result=False)
        folder = str(Path.cwd()) + os.sep
        return {
            "end": "done",
            "notes": [note.replace(folder, "") for note in (*_sentences(result), *result.notes)],
            "warnings": [warning.replace(folder, "") for warning in result.warnings],
            "files": {name: str(path) for name, path in result.files.items()},
        }

    def _progress(self, id_: str) -> jobs.Progress:
        last = 0.0

        def progress(words: str, share: float) -> None:
            nonlocal last
            if id_ in self._unwanted:
                raise Cancelled
            now = time.monotonic()
            if now - last >= _BETWEEN_S:
                last = now
                self._say(id_, doing=words, share=share)

        return progress

    def _say(self, id_: str, **what: Any) -> None:
        with self._writing:
            self._answers.write(json.dumps({"id": id_, **what}) + "\n")
            self._answers.flush()


def _sentences(result: Any) -> list[str]:
    """Give what a result says of itself in sentences, where it has some."""
    return list(result.sentences()) if hasattr(result, "sentences") else []


def _quoted(error: SeabedError, given: dict[str, Any]) -> tuple[str, ...]:
    """Name the fields whose words a message quotes; files are none."""
    quotes = re.findall(r"'([^']+)'", error.what)
    texts = {
        name: str(value) for name, value in given.items() if os.sep not in str(value)
    }  # fmt: skip
    return tuple(name for name, text in texts.items() if any(one in text for one in quotes))


def _warm() -> None:
    """Load what jobs need while the user still reads."""
    from importlib import import_module

    gc.disable()  # what libraries load stays
    for name in _WARM:
        with suppress(ImportError):
            import_module(name)
    gc.freeze()
    collect_seldom()
    gc.enable()


def main() -> None:
    """Work until the standard input ends."""
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # nothing that a library prints may pass for an answer
    worker = Worker(answers)
    signal.signal(signal.SIGINT, worker.interrupt)

    def read() -> None:
        for line in sys.stdin:
            worker.take(json.loads(line))
        os._exit(0)  # the desk is gone

    threading.Thread(target=read, daemon=True).start()
    _warm()
    worker.work()


if __name__ == "__main__":
    main()
