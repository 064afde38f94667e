"""Bringing a store's schema up to this version's, and refusing what cannot be."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, inspect

from agent.store.engine import StoreError


def bring_up(connection: Connection, path: Path) -> None:
    """Create or migrate the schema inside the connection's transaction, which holds the write lock.

    Raises StoreError for a file that is another program's, or a newer version's.
    """
    found = found_version(connection, path)
    config = configuration()
    if found != known_version(config):
        config.attributes["connection"] = connection
        command.upgrade(config, "head")


def check(connection: Connection, path: Path) -> None:
    """Raise StoreError unless the schema is this version's."""
    found = found_version(connection, path)
    known = known_version(configuration())
    if found is None:
        raise StoreError(f"the store {path} is empty: start the agent with `dewline run -c FILE`")
    if found != known:
        raise StoreError(
            f"the store {path} has schema {found}, older than {known}: start this version's agent once"
        )


def found_version(connection: Connection, path: Path) -> str | None:
    """The schema version in the file, None in an empty one."""
    found = MigrationContext.configure(connection).get_current_revision()
    if found is None:
        if inspect(connection).get_table_names():
            raise StoreError(f"{path} is an SQLite file of another program: name another path for the store")
        return None
    script = ScriptDirectory.from_config(configuration())
    if found not in {step.revision for step in script.walk_revisions()}:
        raise StoreError(
            f"the store {path} has schema {found}, written by a newer version of Dewline (this one knows "
            f"up to {script.get_current_head()}): install that version, or use a backup made before it"
        )
    return found


def known_version(config: Config) -> str | None:
    """The newest schema version that this code has."""
    return ScriptDirectory.from_config(config).get_current_head()


def configuration() -> Config:
    """Alembic's settings; the migrations are package data, so there is no file of them."""
    config = Config()
    config.set_main_option("script_location", "agent.store:migrations")
    config.set_main_option("path_separator", "os")
    return config
