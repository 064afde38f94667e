"""Opening SQLite: the only file that knows its pragmas, its transactions and its error texts.

Another database would get its engines here. One connection writes, others read beside it (WAL).
The database file itself is never opened by Python once it is one: closing it would drop SQLite's own locks.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.dialects.sqlite import insert as insert  # PostgreSQL's has the same on_conflict calls
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

BUSY_SECONDS = 30
WAL_LIMIT_BYTES = 64 * 1024 * 1024

ADVICE = {
    "not a database": "it is no SQLite file: name another path, or move it aside and start empty",
    "malformed": "it is damaged: stop the agent, move the file aside and put a backup in its place, "
    "or start with an empty store",
    "unable to open": "the directory must exist and this user must be allowed to write in it",
    "readonly": "this user may not write it: start as the user who owns it",
    "locked": f"another program held it for {BUSY_SECONDS} s: see that only one agent runs on it",
    "full": "make room on the disk; nothing of this step was stored",
}


class StoreError(Exception):
    """The store cannot do what was asked; the sentence says what was found and the way back."""


def database_path(url: str) -> Path:
    """The file a store URL names.

    Raises StoreError for anything but ``sqlite:///PATH``.
    """
    right = "a store URL reads sqlite:///PATH, with four slashes for an absolute path"
    try:
        parsed = make_url(url)
    except SQLAlchemyError:
        raise StoreError(f"{url!r} is no store URL: {right}") from None
    if parsed.get_backend_name() != "sqlite" or parsed.query:
        raise StoreError(f"{parsed.render_as_string()} is not supported: {right}")
    if not parsed.database or parsed.database == ":memory:":
        raise StoreError(f"{url!r} names no file: {right}")
    return Path(parsed.database).absolute()


def writing_engine(path: Path, *, durable: bool) -> Engine:
    """An engine of one connection, whose transactions take the write lock when they begin.

    One that reads first and asks for the lock later fails at once where another has written meanwhile.
    """
    if not path.exists():
        with suppress(OSError):  # what is wrong with it, SQLite says
            path.touch(0o600)  # it holds what acknowledges alarms
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        connect_args={"timeout": BUSY_SECONDS},
        pool_size=1,
        max_overflow=0,
    )

    @event.listens_for(engine, "connect")
    def prepare(connection: sqlite3.Connection, _: Any) -> None:
        connection.isolation_level = None  # transactions begin where "begin" below says so
        (mode,) = connection.execute("PRAGMA journal_mode = WAL").fetchone()
        if mode != "wal":
            raise StoreError(f"the store {path} is on a file system without shared memory: use a local disk")
        connection.execute(f"PRAGMA journal_size_limit = {WAL_LIMIT_BYTES}")
        # NORMAL outlives a killed process, FULL a power cut as well.
        connection.execute(f"PRAGMA synchronous = {'FULL' if durable else 'NORMAL'}")
        connection.execute("PRAGMA foreign_keys = ON")

    @event.listens_for(engine, "begin")
    def take_the_write_lock(connection: Connection) -> None:
        connection.exec_driver_sql("BEGIN IMMEDIATE")

    return engine


def reading_engine(path: Path) -> Engine:
    """An engine that cannot write; each transaction sees one state of the store."""
    engine = create_engine(
        URL.create("sqlite", database=path.as_uri(), query={"mode": "ro", "uri": "true"}),
        connect_args={"timeout": BUSY_SECONDS},
    )

    @event.listens_for(engine, "connect")
    def prepare(connection: sqlite3.Connection, _: Any) -> None:
        connection.isolation_level = None

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        connection.exec_driver_sql("BEGIN")

    return engine


@contextmanager
def transaction(engine: Engine, path: Path) -> Iterator[Connection]:
    """One transaction, committed at the end, rolled back by an error; database errors leave as StoreError."""
    try:
        with engine.begin() as connection:
            yield connection
    except (SQLAlchemyError, sqlite3.Error) as error:
        cause = str(error.orig if isinstance(error, DBAPIError) else error)
        advice = next((advice for words, advice in ADVICE.items() if words in cause), None)
        raise StoreError(f"the store {path}: {cause}" + (f"; {advice}" if advice else "")) from error
