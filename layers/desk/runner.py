"""Gives a water's tasks to its worker process, follows them, and stops them."""

from __future__ import annotations

import asyncio
import json
import sys
import time
from collections.abc import AsyncIterator
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from layers.desk.tasks import Task, answer_file, task, tasks
from layers.desk.waters import Water
from seabed.errors import SeabedError
from seabed.guarded import APART

PATIENCE_S: Final = 2.0
"""A worker that was asked to stop and has not after so long is ended."""

CLOSES_S: Final = 1.0
"""A worker whose desk closes has so long to tidy up."""

_CLOSED: Final = ""
"""What whoever follows a runner hears instead of a task when it closes."""

_LINE: Final = 64 * 1024 * 1024


class RefusedError(SeabedError):
    """What a look found wrong, and the settings that it is about."""

    def __init__(self, words: str, keys: tuple[str, ...]) -> None:
        super().__init__(words)
        self._keys = keys

    @property
    def keys(self) -> tuple[str, ...]:
        """As the worker named them."""
        return self._keys


class Runner:
    """One worker for one water, and whoever wants to know how it gets on."""

    def __init__(self, water: Water) -> None:
        self.water = water
        self._process: asyncio.subprocess.Process | None = None
        self._starting = asyncio.Lock()
        self._replies: dict[str, asyncio.Future[dict[str, Any]]] = {}
        self._current: str | None = None
        self._waiting: asyncio.Queue[str] = asyncio.Queue()
        self._listeners: set[asyncio.Queue[str]] = set()
        self._looks = 0
        self._loops: set[asyncio.Task[None]] = set()
        self._at_work = False
        self._progress: dict[str, tuple[str, float]] = {}
        for left in tasks(water):
            if left.running:  # the program or the machine ended meanwhile
                left.changed(water, state="broken", ended=_now())

    async def start(self) -> None:
        """Start the worker if it isn't there, so that it is warm when it is needed."""
        async with self._starting:
            if self._process is not None and self._process.returncode is None:
                return
            self._process = await asyncio.create_subprocess_exec(
                sys.executable, "-P", "-m", "layers.desk.worker",  # -P: never code of that folder
                stdin=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.PIPE,
                cwd=self.water.folder, limit=_LINE, **APART,  # Ctrl-C is the desk's to answer
            )  # fmt: skip
            self._keep(self._listen(self._process))
            if not self._at_work:
                self._at_work = True
                self._keep(self._work())

    def now(self, id_: str) -> Task:
        """Give a task with how far it is at this moment."""
        kept = task(self.water, id_)
        doing, share = self._progress.get(id_, ("", 0.0))
        return replace(kept, doing=doing, share=share) if kept.state == "working" else kept

    @property
    def busy(self) -> bool:
        """Whether a task or a look is under way, or waits."""
        return bool(self._replies) or not self._waiting.empty()

    @property
    def current(self) -> str | None:
        """The task that is worked on."""
        return self._current

    async def submit(self, wanted: Task) -> None:
        """Put a task behind those that wait."""
        await self.start()
        self._publish(wanted.id)
        await self._waiting.put(wanted.id)

    async def look(self, name: str, **arguments: Any) -> Any:
        """Take a quick look at files, of `layers.desk.looks`; SeabedError if they are wrong."""
        await self.start()
        self._looks += 1
        reply = await self._ordered({"id": f"look-{self._looks}", "look": name, "with": arguments})
        if reply["end"] != "done":
            words = reply.get("message") or "this check failed; the fault is ours"
            raise RefusedError(words, tuple(reply.get("keys", ())))
        return reply["value"]

    async def cancel(self, id_: str) -> None:
        """Ask a task to stop; after `PATIENCE_S` its process is ended, and a warm one started."""
        wanted = task(self.water, id_)
        if self._current != id_:
            if wanted.running:
                self._changed(wanted, state="stopped", ended=_now())
            return
        process = self._process
        self._send({"cancel": id_})
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            await asyncio.sleep(0.05)
            if self._current != id_:
                return
        if process is not None and process.returncode is None:
            self._changed(task(self.water, id_), state="stopped", ended=_now())
            process.kill()
            await process.wait()
            await self.start()

    async def close(self) -> None:
        """End the worker, and whoever follows it; what it did is kept as stopped."""
        if self._current is not None:
            self._send({"cancel": self._current})
            for _ in range(20):
                await asyncio.sleep(0 if self._current is None else CLOSES_S / 20)
        for loop in self._loops:
            loop.cancel()
        self._answer_all("stopped")  # else the server would wait for pages that look at files
        for left in tasks(self.water):
            if left.running:
                left.changed(self.water, state="stopped", ended=_now())
        self._publish(_CLOSED)
        if self._process is not None and self._process.returncode is None:
            self._process.kill()
            await self._process.wait()

    async def changes(self) -> AsyncIterator[str]:
        """Give the id of each task that changes, as it changes."""
        queue: asyncio.Queue[str] = asyncio.Queue(maxsize=1000)
        self._listeners.add(queue)
        try:
            while (id_ := await queue.get()) != _CLOSED:
                yield id_
        finally:
            self._listeners.discard(queue)

    def _keep(self, work: Any) -> None:
        loop = asyncio.create_task(work)
        self._loops.add(loop)
        loop.add_done_callback(self._loops.discard)

    async def _work(self) -> None:
        """Do the tasks that wait, one after the other."""
        while True:
            id_ = await self._waiting.get()
            with suppress(SeabedError):
                wanted = task(self.water, id_)
                if wanted.running:
                    await self._do(wanted)

    async def _do(self, wanted: Task) -> None:
        self._current = wanted.id
        self._changed(wanted, state="working", begun=_now())
        order = {
            "id": wanted.id,
            "job": wanted.job,
            "request": wanted.request,
            "answer": str(answer_file(self.water, wanted.id)),
        }
        try:
            reply = await self._ordered(order)
        finally:
            self._current = None
            self._progress.pop(wanted.id, None)
        now = task(self.water, wanted.id)
        if now.running:
            self._ended(now, reply)

    def _ended(self, wanted: Task, reply: dict[str, Any]) -> None:
        names = {name: path for name, path in reply.get("files", {}).items() if path}
        files = {
            name: Path(path).relative_to(self.water.folder).as_posix()
            for name, path in names.items() if Path(path).is_relative_to(self.water.folder)
        }  # fmt: skip
        self._changed(
            wanted, state=reply["end"], ended=_now(), share=1.0, files=files,
            message=reply.get("message", ""), keys=tuple(reply.get("keys", ())),
            notes=tuple(reply.get("notes", ())), warnings=tuple(reply.get("warnings", ())),
        )  # fmt: skip

    async def _ordered(self, order: dict[str, Any]) -> dict[str, Any]:
        """Send an order and wait for its end; a worker that dies has ended it."""
        reply = asyncio.get_running_loop().create_future()
        self._replies[order["id"]] = reply
        await self.start()
        self._send(order)
        ended: dict[str, Any] = await reply
        return ended

    def _send(self, order: dict[str, Any]) -> None:
        if self._process is not None and self._process.stdin is not None:
            self._process.stdin.write(json.dumps(order).encode() + b"\n")

    async def _listen(self, process: asyncio.subprocess.Process) -> None:
        """Follow a worker until it ends."""
        if process.stdout is None:  # it always has one
            return
        async for line in process.stdout:
            event = json.loads(line)
            reply = self._replies.get(event["id"])
            if "end" not in event:
                self._progress[event["id"]] = (event["doing"], event["share"])
                self._publish(event["id"])
            elif reply is not None and not reply.done():
                del self._replies[event["id"]]
                reply.set_result(event)
        await process.wait()
        self._answer_all("broken")

    def _answer_all(self, end: str) -> None:
        """End what still waits for a worker that is gone."""
        for reply in self._replies.values():
            if not reply.done():
                reply.set_result({"end": end})
        self._replies.clear()

    def _changed(self, wanted: Task, **values: Any) -> None:
        wanted.changed(self.water, **values)
        self._publish(wanted.id)

    def _publish(self, id_: str) -> None:
        for queue in self._listeners:
            with suppress(asyncio.QueueFull):
                queue.put_nowait(id_)


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
