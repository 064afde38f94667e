"""The present agent on stores that earlier versions wrote: nothing is lost, and it goes on from there.

`tests/store/written/` holds 42 minutes of an invented module as the agent of each schema stored them, dumped
by sqlite3: readings, assessments, an alarm that was raised, a refusal, and two minutes not yet assessed.
"""

import signal
import sqlite3
from contextlib import closing

import pytest

from agent.store import Store
from tests.cli.test_cli import dewline
from tests.mosquitto import Mosquitto, free_port, needs_mosquitto
from tests.service.processes import agent_on, eventually, process
from tests.service.site import ROOT, START_US, configuration, minute, write

WRITTEN = ROOT / "tests" / "store" / "written"
VERSIONS = sorted(path.stem for path in WRITTEN.glob("*.sql"))
CHANGED_BY_RUNNING = {"alembic_version", "sqlite_sequence", "dirty", "progress", "revision", "alarm_state"}


def written_by(version, directory):
    """The store as that version left it, beside a configuration for it."""
    path = directory / "store.db"
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript((WRITTEN / f"{version}.sql").read_text())
    return path


def rows(path):
    """Every row of every table that has some, by the names of its columns."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=30)) as connection:
        connection.row_factory = sqlite3.Row
        tables = [
            name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        ]
        found = {
            table: [dict(row) for row in connection.execute(f"SELECT * FROM {table}")] for table in tables
        }
    return {table: kept for table, kept in found.items() if kept}


def lost(before, after, but=frozenset()):
    """Rows that are not there any more as they were; a table may have got more columns."""
    missing = []
    for table in before.keys() - but:
        columns = list(before[table][0])
        still = {tuple(row[column] for column in columns) for row in after.get(table, [])}
        missing += [(table, row) for row in before[table] if tuple(row.values()) not in still]
    return missing


def test_there_is_one_of_each_schema_before_this_one():
    steps = sorted((ROOT / "agent" / "store" / "migrations" / "versions").glob("r[0-9]*.py"))
    assert len(VERSIONS) >= 4
    assert [step.stem[1:5] for step in steps][: len(VERSIONS)] == VERSIONS


@pytest.mark.parametrize("version", VERSIONS)
def test_bringing_it_up_changes_no_row(version, tmp_path):
    path = written_by(version, tmp_path)
    before = rows(path)
    assert len(before["reading"]) == 588
    assert len(before["assessment"]) == 80
    Store.open(f"sqlite:///{path}").close()
    assert lost(before, rows(path), {"alembic_version"}) == []


@pytest.mark.parametrize("version", VERSIONS)
def test_a_copy_can_be_made_before_the_new_version_touches_it(version, tmp_path):
    path = written_by(version, tmp_path)
    config = write(tmp_path, configuration())
    done = dewline("backup", tmp_path / "before.db", "-c", config)
    assert done.exit_code == 0, done.stderr
    assert f"588 readings, schema {version}" in done.stdout
    assert rows(tmp_path / "before.db") == rows(path)


@needs_mosquitto
@pytest.mark.parametrize("version", VERSIONS)
def test_the_agent_goes_on_where_the_earlier_one_stopped(version, tmp_path):
    path = written_by(version, tmp_path)
    before = rows(path)
    with Mosquitto(tmp_path / "broker") as broker:
        body = configuration(broker={"telemetry": "plant", "port": broker.port}, http={"port": free_port()})
        log = tmp_path / "agent.log"
        with process(agent_on(write(tmp_path, body)), log) as agent:
            eventually(
                lambda: agent.poll() is not None or worked_off(path), "what was left to assess is assessed"
            )
            assert agent.poll() is None, log.read_text()
            agent.send_signal(signal.SIGTERM)
            assert agent.wait(30) == 0, log.read_text()
    after = rows(path)
    assert lost(before, after, CHANGED_BY_RUNNING) == []
    assert {row["id"] for row in before["revision"]} <= {row["id"] for row in after["revision"]}
    newest = max(row["grid_us"] for row in after["assessment"])
    assert newest >= minute(42) - 30_000_000
    assert " ERROR " not in log.read_text()


def worked_off(path):
    """Nothing that readings had left is dirty, and the alarm of then is still known."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=30)) as connection:
        tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
        if "handheld" not in tables:
            return False
        (left,) = connection.execute("SELECT count(*) FROM dirty WHERE from_us < ?", (minute(60),)).fetchone()
        (newest,) = connection.execute("SELECT max(grid_us) FROM assessment").fetchone()
    return left == 0 and newest > START_US + 41 * 60_000_000


def test_a_store_of_a_newer_version_is_left_alone_and_says_what_to_do(tmp_path):
    Store.open(f"sqlite:///{tmp_path / 'store.db'}").close()
    with closing(sqlite3.connect(tmp_path / "store.db")) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    before = (tmp_path / "store.db").read_bytes()
    config = write(tmp_path, configuration(http={"port": free_port()}))
    for command in (["run"], ["status"], ["backup", str(tmp_path / "copy.db")]):
        done = dewline(*command, "-c", config)
        assert done.exit_code == 2
        assert "has schema 9999, written by a newer version of Dewline" in done.stderr
        assert "install that version, or use a backup made before it" in done.stderr
    assert (tmp_path / "store.db").read_bytes() == before
    assert not (tmp_path / "copy.db").exists()
