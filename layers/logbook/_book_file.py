"""The logbook's file: opened, held against other writers, brought up to date.

A GeoPackage is a SQLite file, and SQLite's own transactions are what keeps it whole: a trip is
written inside one, so that a machine that stops at any moment leaves the trips that were there
before, or those and the new one.  Writers take turns.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from pathlib import Path
from typing import Final

from layers.logbook._backups import make_backup, set_aside
from layers.logbook._blobs import know_geometry
from layers.logbook._forgetting import squares_of
from layers.logbook._sql import set_info, touch
from layers.logbook.schema import MIGRATIONS, SCHEMA_VERSION, check_tables, create, version_of
from seabed.errors import LogbookError
from seabed.files import note_change, plain_file, replacing, what_changed

WAIT_S: Final = 30.0
SQLITE_HEADER_BYTES: Final = 100


class BookFile:
    """A file that is a logbook, or is to be one; it waits `wait_s` for another writer."""

    def __init__(self, path: Path, *, wait_s: float = WAIT_S) -> None:
        self.path = path
        self._wait_s = wait_s
        self._seen: tuple[int, int] | None = None
        self._opened: tuple[int, int] | None = None

    @property
    def size(self) -> int:
        """Bytes; 0 where there is no file."""
        return self.path.stat().st_size if self.path.is_file() else 0

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """Open a logbook; LogbookError if it is missing, another file, or of another version."""
        with self._open(must_exist=True) as connection:
            connection.execute("PRAGMA trusted_schema = OFF")  # nothing hidden in it is run
            self._check(connection)
            yield connection

    @contextmanager
    def writing(self, *, must_exist: bool = False) -> Iterator[sqlite3.Connection]:
        """Open a transaction that holds the file against other writers."""
        with self._open(must_exist=must_exist) as connection:
            self._migrate(connection)
            connection.execute("PRAGMA secure_delete = ON")
            connection.execute("BEGIN IMMEDIATE")
            try:
                if self._identity() != self._opened:
                    raise LogbookError(
                        "another program has put a backup in its place",
                        file=self.path,
                        do=f"Run again; {what_changed()}.",
                    )
                if version_of(connection) == 0:
                    create(connection)
                self._check(connection)
                yield connection
                touch(connection)
                connection.execute("COMMIT")
                note_change(self.path)
            except BaseException:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise

    def _identity(self) -> tuple[int, int] | None:
        """Which file the path leads to now; None if to none."""
        with suppress(OSError):
            status = self.path.stat()
            return status.st_dev, status.st_ino
        return None

    def keep(self, *, before: str) -> Path:
        """Make a backup of the logbook as it is, before anything in a transaction is changed."""
        return make_backup(self.path, before=before)

    def restore(self, source: Path) -> Path | None:
        """Put a backup in the logbook's place; give where the logbook is kept as it was."""
        plain_file(source)
        with closing(sqlite3.connect(source)) as backup, ExitStack() as held:
            try:
                version = version_of(backup)
            except (sqlite3.Error, LogbookError):
                version = None
            if not version:
                raise LogbookError("this is not a backup of a logbook", file=source)
            kept, notes = self._held(held, before="restore")
            with (
                replacing(self.path.resolve(), result=False) as partial,
                self._named_itself(partial),
                closing(sqlite3.connect(partial)) as copy,
            ):
                backup.backup(copy)
                with copy:
                    for name, text in notes.items():
                        set_info(copy, name, text)
                if os.name == "nt":  # where a file that is open can't be replaced
                    held.close()
        return kept

    @contextmanager
    def damaged(self) -> Iterator[sqlite3.Connection]:
        """Open a logbook to save what can be read of it."""
        with self._open(must_exist=True, whole=False) as connection:
            connection.execute("PRAGMA trusted_schema = OFF")
            self._check(connection)
            yield connection

    @contextmanager
    def anew(self) -> Iterator[tuple[sqlite3.Connection, Path]]:
        """Open a new logbook that takes this one's place at the end; and say where that is kept."""
        aside = set_aside(self.path, before="repair")
        with (
            replacing(self.path.resolve(), result=False) as partial,
            self._named_itself(partial),
            BookFile(partial).writing() as connection,
        ):
            yield connection, aside

    @contextmanager
    def _named_itself(self, partial: Path) -> Iterator[None]:
        """Raise errors of the file that is to take this one's place as errors of this one."""
        try:
            yield
        except sqlite3.Error as error:
            raise self._in_words(error) from error
        except LogbookError as error:
            if error.file != partial:
                raise
            raise LogbookError(error.what, file=self.path, do=error.do) from error

    def _held(self, held: ExitStack, *, before: str) -> tuple[Path | None, dict[str, str]]:
        """Keep the logbook as it is, and let no other write to it while it is `held`.

        Gives where it is kept, None if it is missing, and its notes that must not be lost.
        """
        if not self.size:
            return None, {}
        try:
            with self._open(must_exist=True) as first:
                version_of(first)
                # by itself SQLite ends this mode only when nobody else has the file open
                first.execute("PRAGMA journal_mode = DELETE")
            connection = held.enter_context(self._open(must_exist=True))
            connection.execute("BEGIN IMMEDIATE")
            return self.keep(before=before), squares_of(connection)
        except (LogbookError, sqlite3.Error) as error:
            held.close()
            reason = self._in_words(error) if isinstance(error, sqlite3.Error) else error
            if "another program" in reason.what:
                raise LogbookError(
                    "another program has it open",
                    file=self.path,
                    do=f"Close that program and run again; {what_changed()}.",
                ) from error
            if "damaged" not in reason.what:
                raise reason from error
            return set_aside(self.path, before=before), {}

    @contextmanager
    def named(self) -> Iterator[None]:
        """Name the file in errors that don't."""
        try:
            yield
        except LogbookError as error:
            if error.file is not None:
                raise
            raise LogbookError(
                error.what, file=self.path, where=error.where, do=error.do
            ) from error

    def update(self) -> Path | None:
        """Bring an older logbook to today's version; give the backup made, if one was needed."""
        with self._open(must_exist=True) as connection:
            return self._migrate(connection)

    def compact(self) -> None:
        """Rewrite the file without the room of deleted rows, if the disk has room for that.

        Raises LogbookError if another program keeps old pages in a file beside it.
        """
        with self._open(must_exist=True) as connection:
            try:
                connection.execute("VACUUM")
            except sqlite3.OperationalError as error:
                if not _no_room(error):
                    raise  # else it stays as large: what was deleted is overwritten already
            busy, *_ = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            if busy:
                raise LogbookError(
                    "another program that has it open keeps what was removed",
                    file=self.path.with_name(f"{self.path.name}-wal"),
                    do="Close that program; this file disappears with it.",
                )

    @contextmanager
    def _open(self, *, must_exist: bool, whole: bool = True) -> Iterator[sqlite3.Connection]:
        plain_file(self.path)
        if must_exist and not self.path.is_file():
            raise LogbookError(
                "no such logbook",
                file=self.path,
                do="Add a trip first, with {seabed trip}.",
            )
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self._opened = self._identity()
            connection = sqlite3.connect(self.path, timeout=self._wait_s, isolation_level=None)
            self._opened = self._opened or self._identity()
        except sqlite3.Error as error:
            raise self._in_words(error) from error
        except OSError as error:
            raise self._no_place() from error
        if 0 < self.size < SQLITE_HEADER_BYTES:  # SQLite would take it for new, and write over it
            connection.close()
            raise self._in_words(sqlite3.DatabaseError("file is not a database"))
        with closing(connection):
            know_geometry(connection)
            try:
                with self.named():
                    if whole:
                        self._hold_whole(connection)
                    yield connection
            except sqlite3.Error as error:
                raise self._in_words(error) from error
            except UnicodeDecodeError as error:  # the library's, for a damaged name
                raise self._in_words(sqlite3.DatabaseError("malformed")) from error

    def _hold_whole(self, connection: sqlite3.Connection) -> None:
        """Check once, and again when the file has changed, that every page is what it must be."""
        status = self.path.stat()
        state = status.st_size, status.st_mtime_ns
        if state == self._seen or not status.st_size:
            return
        answer = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
        if answer != "ok":
            raise sqlite3.DatabaseError(f"malformed: {answer}")
        self._seen = state

    def _check(self, connection: sqlite3.Connection) -> None:
        """Check that the file is a logbook of a version that can be read."""
        version = version_of(connection)
        if version == 0:
            raise LogbookError("the logbook is empty", file=self.path, do="Add a trip first.")
        if version is None:
            raise LogbookError(
                "this GeoPackage is not a logbook",
                file=self.path,
                do="Name another file with {log}.",
            )
        if version > SCHEMA_VERSION:
            raise LogbookError(
                f"written by a newer seabed-layers (version {version} of the logbook)",
                file=self.path,
                do="Update seabed-layers.",
            )
        if version < SCHEMA_VERSION and not connection.in_transaction:
            raise LogbookError(
                f"of an older version ({version})",
                file=self.path,
                do="Bring it up to date with {update}; a copy of the old one is kept.",
            )
        check_tables(connection)

    def _migrate(self, connection: sqlite3.Connection) -> Path | None:
        version = version_of(connection)
        if version is None or not 0 < version < SCHEMA_VERSION:
            return None
        backup = self.keep(before="update")
        connection.execute("BEGIN IMMEDIATE")
        try:
            for step in range(version_of(connection) or SCHEMA_VERSION, SCHEMA_VERSION):
                MIGRATIONS[step](connection)
            connection.execute(
                "UPDATE logbook_info SET value = ? WHERE name = 'schema_version'", (SCHEMA_VERSION,)
            )
            connection.execute("COMMIT")
        except BaseException:
            connection.execute("ROLLBACK")
            raise
        note_change(self.path)
        return backup

    def _in_words(self, error: sqlite3.Error) -> LogbookError:
        words = str(error)
        if "locked" in words or "busy" in words:
            return LogbookError(
                f"another program has been writing to it for {self._wait_s:.0f} s",
                file=self.path,
                do=f"Close that program, or wait, and run again; {what_changed()}.",
            )
        if "not a database" in words or "malformed" in words:
            return LogbookError(
                "damaged, or not a logbook",
                file=self.path,
                do="Restore a backup with {restore}, save what can be read with {repair}, or name "
                "another file.",
            )
        if _no_room(error):
            return LogbookError(
                "can't be written: the disk is full, or fails",
                file=self.path,
                do=f"Make room; {what_changed()}.",
            )
        if "readonly" in words or "unable to open" in words:
            return self._no_place()
        return LogbookError(f"can't be used: {words}", file=self.path)

    def _no_place(self) -> LogbookError:
        do = "Name another place with {log}."
        return LogbookError("nothing can be written here", file=self.path.parent, do=do)


def _no_room(error: sqlite3.Error) -> bool:
    return any(word in str(error) for word in ("full", "I/O"))
