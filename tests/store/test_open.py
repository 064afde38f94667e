import os
import sqlite3
import stat
from contextlib import closing

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import create_engine

from agent.readings import Reading
from agent.store import Store, StoreError
from agent.store.schema import metadata

READING = Reading(1, 1, 12.5, "degC", 1, 1)


def run(path, statement):
    with closing(sqlite3.connect(path)) as connection, connection:
        return connection.execute(statement).fetchall()


def test_migrations_make_what_the_tables_say(store, tmp_path):
    migrated = create_engine(f"sqlite:///{store.path}")
    with migrated.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
    migrated.dispose()

    created = create_engine(f"sqlite:///{tmp_path / 'created.db'}")
    metadata.create_all(created)
    created.dispose()
    rowids = (
        "SELECT name, wr FROM pragma_table_list WHERE schema = 'main' AND name NOT LIKE 'alembic%' ORDER BY 1"
    )
    assert run(store.path, rowids) == run(tmp_path / "created.db", rowids)


def test_opening_again_keeps_what_is_there(url):
    for expected in (1, 0, 0):
        with Store.open(url) as store:
            assert store.add_batch([READING]).stored == expected


def test_two_stores_on_one_file(url):
    with Store.open(url) as one, Store.open(url) as other:
        assert one.add_batch([READING]).stored == 1
        assert other.add_batch([READING]).duplicates == 1


@pytest.mark.parametrize(("durable", "level"), [(False, 1), (True, 2)])
def test_durable_asks_for_full_synchronous_writes(url, durable, level):
    with Store.open(url, durable=durable) as store, store._writing() as connection:
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar_one() == level
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar_one() == "wal"


def test_a_path_with_odd_characters(tmp_path):
    url = f"sqlite:///{tmp_path / 'ä b#1.db'}"
    with Store.open(url) as store:
        store.add_batch([READING])
    with Store.open_readonly(url) as store:
        assert store.readings([1], 0, 9)[1].values == [12.5]
    assert (tmp_path / "ä b#1.db").exists()


@pytest.mark.parametrize("opening", [Store.open, Store.open_readonly])
def test_a_newer_schema_is_refused(url, tmp_path, opening):
    Store.open(url).close()
    run(tmp_path / "store.db", "UPDATE alembic_version SET version_num = '9999'")
    with pytest.raises(StoreError, match="schema 9999, written by a newer version of Dewline.*backup"):
        opening(url)


def test_readonly_refuses_an_older_schema_and_does_not_migrate(url, tmp_path, monkeypatch):
    Store.open(url).close()
    monkeypatch.setattr("agent.store.migrate.known_version", lambda config: "0099")
    with pytest.raises(StoreError, match="schema 0007, older than 0099: start this version's agent once"):
        Store.open_readonly(url)
    assert run(tmp_path / "store.db", "SELECT version_num FROM alembic_version") == [("0007",)]


@pytest.mark.parametrize("opening", [Store.open, Store.open_readonly])
def test_another_programs_database_is_left_alone(url, tmp_path, opening):
    run(tmp_path / "store.db", "CREATE TABLE recipe (name)")
    with pytest.raises(StoreError, match="SQLite file of another program"):
        opening(url)
    assert run(tmp_path / "store.db", "SELECT name FROM sqlite_master") == [("recipe",)]


@pytest.mark.parametrize("opening", [Store.open, Store.open_readonly])
def test_a_file_that_is_no_database(url, tmp_path, opening):
    (tmp_path / "store.db").write_text("site: hill-house\n" * 100)
    with pytest.raises(StoreError, match=r"store\.db: file is not a database; it is no SQLite file"):
        opening(url)
    assert (tmp_path / "store.db").read_text().startswith("site: hill-house")


@pytest.mark.parametrize("opening", [Store.open, Store.open_readonly])
def test_a_damaged_file(url, tmp_path, opening):
    Store.open(url).close()
    whole = (tmp_path / "store.db").read_bytes()
    (tmp_path / "store.db").write_bytes(whole[:4096] + b"\xff" * (len(whole) - 4096))
    with pytest.raises(StoreError, match="malformed; it is damaged: .*backup"):
        opening(url)


def test_readonly_without_a_store(url, tmp_path):
    with pytest.raises(StoreError, match=r"no store at .*store\.db: start the agent"):
        Store.open_readonly(url)
    assert not (tmp_path / "store.db").exists()
    (tmp_path / "store.db").touch()
    with pytest.raises(StoreError, match="is empty: start the agent"):
        Store.open_readonly(url)


def test_a_directory_that_is_not_there(tmp_path):
    with pytest.raises(StoreError, match="unable to open database file; the directory must exist"):
        Store.open(f"sqlite:///{tmp_path / 'nowhere' / 'store.db'}")


@pytest.mark.parametrize(
    "url",
    [
        "store.db",
        "/var/lib/store.db",
        "sqlite://",
        "sqlite:///:memory:",
        "postgresql://u:p@h/d",
        "sqlite:///a?b=c",
    ],
)
def test_urls_that_name_no_file(url):
    with pytest.raises(StoreError, match="a store URL reads sqlite:///PATH") as refusal:
        Store.open(url)
    assert ":p@" not in str(refusal.value)


def test_a_store_held_by_another_program(store, url, monkeypatch):
    monkeypatch.setattr("agent.store.engine.BUSY_SECONDS", 0.01)
    with closing(sqlite3.connect(store.path, isolation_level=None)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError, match="locked; another program held it"):
            Store.open(url)


def test_readonly_writes_nothing(store, url, module_id):
    with Store.open_readonly(url) as reader:
        for write in (
            lambda: reader.add_batch([READING]),
            lambda: reader.register_modules([("a", "b", "c")]),
            lambda: reader.open_revision(module_id, "{}", "no", 0),
        ):
            with pytest.raises(StoreError, match="open for reading only"):
                write()
        with pytest.raises(StoreError, match="readonly"), reader._reading() as connection:
            connection.exec_driver_sql("DELETE FROM module")
        assert [module.id for module in reader.modules()] == [module_id]
        assert reader.dirty(module_id) == []


def test_a_new_store_can_be_read_by_its_owner_alone(tmp_path):
    before = os.umask(0o022)
    try:
        with Store.open(f"sqlite:///{tmp_path / 'store.db'}") as store:
            store.register_modules([("site", "one", "m1")])
            assert {stat.S_IMODE(path.stat().st_mode) for path in tmp_path.glob("store.db*")} == {0o600}
    finally:
        os.umask(before)
