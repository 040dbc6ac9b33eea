"""Open the desk: one server for one folder, on this machine alone."""

from __future__ import annotations

import http.client
import json
import os
import socket
import sqlite3
import sys
import threading
import time
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from layers.desk.guard import HOST, Keys
from layers.desk.texts import text
from seabed.errors import SeabedError

RUNNING: Final = ".seabed-desk"
"""The file, readable by its owner alone, that tells a second start about the first."""

LOCK: Final = ".seabed-desk.lock"
"""The file by which of two starts at once one waits for the other."""

_ANSWERS_S: Final = 10.0


@dataclass(frozen=True)
class Running:
    """A desk that answers."""

    port: int
    key: str
    cookie: str

    @property
    def keys(self) -> Keys:
        """Its secrets."""
        return Keys(self.port, self.key, self.cookie)


def default_folder() -> Path:
    """Give the folder to open if none is named: this one if it is a water, else one at home."""
    here = Path.cwd()
    return here if (here / "area.toml").is_file() else Path.home() / "Seabed waters"


def open_desk(folder: Path, *, port: int | None = None, browser: bool = True) -> None:
    """Serve the desk of a folder, made if missing, until it is stopped.

    port: a free one is taken otherwise; SeabedError if it is taken.
    browser: open the first page in the browser.
    """
    folder = _usable(folder)
    with ExitStack() as stack:
        with _alone(folder):
            first = earlier_desk(folder)
            if first is None:
                listener = stack.enter_context(_listening(port))
                keys = Keys(listener.getsockname()[1])
                stack.enter_context(_announced(folder, keys))
        if first is None:
            _serve(folder, keys, listener, browser)
        else:
            print(f"The desk of this folder is open already: {first.keys.address}")  # noqa: T201
            if browser:
                webbrowser.open(first.keys.address)


def earlier_desk(folder: Path) -> Running | None:
    """Find a desk that serves a folder already."""
    try:
        values = json.loads((folder / RUNNING).read_text(encoding="utf-8"))
        running = Running(int(values["port"]), str(values["key"]), str(values["cookie"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return running if _call(running, "GET", "/ping") == b"seabed desk" else None


def stop_desk(folder: Path) -> bool:
    """Stop the desk that serves a folder, and wait until it is gone; say whether there was one."""
    folder = Path(os.path.realpath(folder))
    running = earlier_desk(folder)
    if running is None or _call(running, "POST", "/stop") is None:
        return False
    latest = time.monotonic() + _ANSWERS_S
    while (folder / RUNNING).exists() and time.monotonic() < latest:  # else a start would find it
        time.sleep(0.05)
    return True


def _serve(folder: Path, keys: Keys, listener: socket.socket, browser: bool) -> None:
    import uvicorn

    from layers.desk.app import make_app
    from layers.desk.pages.shared import Desk

    class Server(uvicorn.Server):
        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            await desk.close()  # first: pages that follow a job would be waited for
            await super().shutdown(sockets)

    desk = Desk.of(folder)
    server: Any = None

    def stop() -> None:
        server.should_exit = True

    def ready() -> None:
        print(f"The desk is open: {keys.address}\nClose it with Ctrl-C.", flush=True)  # noqa: T201
        if browser:
            webbrowser.open(keys.address)

    def left() -> None:
        print(text("desk.left", address=keys.address), flush=True)  # noqa: T201
        if sys.stdin is not None and sys.stdin.isatty():
            threading.Thread(target=_when_entered, args=[stop], daemon=True).start()

    config = uvicorn.Config(
        make_app(desk, keys, stop=stop, ready=ready, left=left),
        log_level="warning", access_log=False, server_header=False, lifespan="on",
        timeout_graceful_shutdown=2, http="h11", ws="none",
    )  # fmt: skip
    server = Server(config)
    server.run(sockets=[listener])


def _when_entered(stop: Callable[[], None]) -> None:
    if sys.stdin.readline():
        stop()


def _usable(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return Path(os.path.realpath(folder))
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise SeabedError(f"can't be used: {reason}", file=folder, do="Name another.") from error


@contextmanager
def _listening(port: int | None) -> Iterator[socket.socket]:
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as listener:
        if sys.platform != "win32":  # there it would let two programs share a port
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((HOST, port or 0))
            listener.listen()  # so that whoever opens the address at once waits, and is not refused
        except (OSError, OverflowError) as error:
            raise SeabedError(
                f"port {port} is taken or not allowed", do="Choose another with {port}."
            ) from error
        yield listener


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Hold other starts up, so that of two at once one finds the other.

    A lock of SQLite: the same on every system, and gone with the program that holds it.
    """
    with ExitStack() as stack:
        try:
            lock = sqlite3.connect(folder / LOCK, isolation_level=None, timeout=2 * _ANSWERS_S)
            stack.enter_context(closing(lock))
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.Error as error:
            raise SeabedError(f"can't be used: {error}", file=folder, do="Name another.") from error
        yield


@contextmanager
def _announced(folder: Path, keys: Keys) -> Iterator[None]:
    """Leave word for a second start, readable by this user alone."""
    file = folder / RUNNING
    values = {"port": keys.port, "key": keys.key, "cookie": keys.cookie}
    with suppress(OSError):
        file.unlink()
    try:
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            json.dump(values, stream)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise SeabedError(f"can't be written: {reason}", file=folder) from error
    try:
        yield
    finally:
        with suppress(OSError):
            if keys.key in file.read_text(encoding="utf-8"):
                file.unlink()


def _call(running: Running, method: str, path: str) -> bytes | None:
    """Ask a desk on this machine something; None if it does not answer as one."""
    keys = running.keys
    headers = {"Origin": keys.origin, "Cookie": f"{keys.cookie_name}={keys.cookie}"}
    try:
        connection = http.client.HTTPConnection(HOST, keys.port, timeout=_ANSWERS_S)
        with closing(connection):
            connection.request(method, path, headers=headers)
            answer = connection.getresponse()
            return answer.read() if answer.status == http.client.OK else None
    except (OSError, http.client.HTTPException):
        return None
