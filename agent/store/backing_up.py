"""A consistent copy of the store while the agent writes it."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import NamedTuple

from sqlalchemy import Connection

from agent.store import migrate
from agent.store.engine import StoreError, database_path, reading_engine, transaction

STEP_PAGES = 1024
SQLITE = b"SQLite format 3\0"  # how a database begins; sqlite.org/fileformat.html, section 1.3


class DamagedError(StoreError):
    """What was copied is not sound; no copy is kept."""


class Copied(NamedTuple):
    """A copy that was checked: where it is, its size, the schema that it has, how many readings it holds."""

    path: Path
    size_bytes: int
    schema: str
    readings: int


def back_up(
    url: str,
    target: Path,
    *,
    force: bool = False,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Copied:
    """Copy the store to one file, as it was when this began, and check the copy before it gets its name.

    The agent may write meanwhile, and the store may be of an older version. The copy can be read by its owner
    alone. ``progress`` is told the pages copied, and of how many. Raises StoreError where the store or the
    target cannot be had, or the target is there and ``force`` does not say to replace it; DamagedError where
    the store is damaged.
    """
    source, target = database_path(url), target.absolute()
    _refuse_unfit(source, target, force)
    engine = reading_engine(source)
    try:
        with _part(target) as part:
            # One transaction over all of it: what the agent commits meanwhile neither shows in the copy nor
            # makes it begin anew. It only keeps the write-ahead log from being cleared until the end.
            with transaction(engine, source) as connection:
                schema = migrate.found_version(connection, source)
                if schema is None:
                    raise StoreError(f"the store {source} is empty: there is nothing to copy")
                _copy(connection, source, part, progress)
            readings = _check(source, part)
            if target.exists() and not force:
                raise StoreError(_is_there(target))
            part.replace(target)
            _keep_name(target.parent)
    finally:
        engine.dispose()
    return Copied(target, target.stat().st_size, schema, readings)


def _refuse_unfit(source: Path, target: Path, force: bool) -> None:
    if not source.exists():
        raise StoreError(f"no store at {source}: there is nothing to copy")
    own = [source.with_name(source.name + end) for end in ("", "-wal", "-shm", "-journal", ".lock")]
    if target.resolve() in {path.resolve() for path in own}:
        raise StoreError(f"{target} belongs to the store itself: name another file for the copy")
    if target.is_dir():
        raise StoreError(f"{target} is a folder: name a file in it")
    if target.exists() and not force:
        raise StoreError(_is_there(target))
    if target.exists() and not _is_replaceable(target):
        raise StoreError(f"{target} is no copy of a store, and is not replaced: name another file")


def _is_replaceable(target: Path) -> bool:
    """Whether it is a database, or empty: what else stands there is somebody's."""
    if not target.is_file():
        return False
    with target.open("rb") as file:
        return file.read(len(SQLITE)) in (SQLITE, b"")


def _is_there(target: Path) -> str:
    return f"{target} is there already: name another file, or say --force to replace it"


@contextmanager
def _part(target: Path) -> Iterator[Path]:
    """A file beside the target for as long as the copy is not whole; nothing of it stays after an error."""
    try:
        handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".part", dir=target.parent)
    except OSError as error:
        raise StoreError(f"the copy cannot be written in {target.parent}: {error.strerror}") from None
    os.close(handle)
    part = Path(name)
    try:
        yield part
    except OSError as error:
        raise StoreError(f"the copy {target}: {error.strerror}") from error
    finally:
        for end in ("", "-journal", "-wal", "-shm"):
            with suppress(FileNotFoundError):
                part.with_name(part.name + end).unlink()


def _copy(connection: Connection, source: Path, part: Path, progress: Callable[[int, int], None]) -> None:
    raw = connection.connection.driver_connection
    assert isinstance(raw, sqlite3.Connection)
    with _of_copy(source, part) as copy:
        raw.backup(
            copy,
            pages=STEP_PAGES,
            progress=lambda status, remaining, total: progress(total - remaining, total),
            sleep=0.001,
        )
        copy.execute("PRAGMA journal_mode = DELETE")  # whole in one file; an agent on it sets its own again


def _check(source: Path, part: Path) -> int:
    with _of_copy(source, part) as copy:
        found = [str(line) for (line,) in copy.execute("PRAGMA integrity_check(3)")]
        if found != ["ok"]:
            raise DamagedError(_damaged(source, "; ".join(found)))
        (readings,) = copy.execute("SELECT count(*) FROM reading").fetchone()
    return int(readings)


@contextmanager
def _of_copy(source: Path, part: Path) -> Iterator[sqlite3.Connection]:
    connection = sqlite3.connect(part)
    try:
        yield connection
    except sqlite3.DatabaseError as error:
        if "malformed" in str(error) or "not a database" in str(error):
            raise DamagedError(_damaged(source, str(error))) from error
        raise StoreError(f"the copy could not be written: {error}; make room on the disk") from error
    finally:
        connection.close()


def _damaged(source: Path, found: str) -> str:
    return (
        f"the store {source} is damaged ({found}), and no copy of it is kept: keep the copies that you have, "
        "stop the agent, and put the newest of them in its place"
    )


def _keep_name(folder: Path) -> None:
    """A name outlives a power cut once its folder is written."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
