"""The outbox: together with its cause or not at all, once for each route, in order."""

import sqlite3
from contextlib import closing

import pytest
from alembic import command

from agent.readings import Reading, Refusal
from agent.store import JournalEntry, OutboxEntry, Store, StoreError, migrate
from agent.store.engine import transaction, writing_engine
from tests.store.conftest import MODULE


def notice(key, route="mail", created_us=100, body="liquid may be coming back"):
    return OutboxEntry(created_us, route, key, f"HIGH {key}", body)


def raised(module_id):
    return JournalEntry(module_id, "superheat-low", 100, 100, "raised", "{}")


@pytest.fixture
def revision_id(store, module_id):
    return store.open_revision(module_id, "{}", "first", 0).id


def test_a_notice_is_kept_with_what_caused_it(store, module_id, revision_id):
    store.finish(module_id, revision_id, [], journal=[raised(module_id)], notices=[notice("a")])
    assert len(store.journal(None, 0, 1000)) == 1
    (kept,) = store.next_notices()
    assert kept == notice("a")._replace(next_us=100, id=1)


@pytest.mark.parametrize("spoilt", ["journal", "notices"])
def test_neither_is_kept_without_the_other(store, module_id, revision_id, spoilt):
    work = {"journal": [raised(module_id)], "notices": [notice("a")]}
    work[spoilt] = [raised(module_id + 1)] if spoilt == "journal" else [notice("a", body=None)]
    with pytest.raises(StoreError):
        store.finish(module_id, revision_id, [], **work)
    assert store.journal(None, 0, 1000) == store.next_notices() == []


def test_a_route_is_told_once_of_an_event(store):
    assert store.enqueue([notice("a"), notice("a", "chat"), notice("b")]) == 3
    assert store.enqueue([notice("a", body="the same once more"), notice("c")]) == 1
    store.notices_sent([1], 200)
    assert store.enqueue([notice("a")]) == 0
    assert store.waiting_notices() == {"chat": 1, "mail": 2}
    assert store.routes_told("a") == {"mail", "chat"}
    assert store.routes_told("c") == {"mail"}
    assert store.routes_told("d") == set()


def test_of_each_route_the_oldest_that_waits_comes_first(store):
    store.enqueue([notice("a"), notice("b"), notice("a", "chat"), notice("b", "chat")])
    assert [(each.route, each.notice_key) for each in store.next_notices()] == [("mail", "a"), ("chat", "a")]
    store.notices_sent([store.next_notices()[0].id], 200)
    assert [(each.route, each.notice_key) for each in store.next_notices()] == [("mail", "b"), ("chat", "a")]


def test_a_failure_is_remembered_and_the_notice_stays_first(store, rows):
    store.enqueue([notice("a"), notice("b")])
    store.notices_failed([1], "answered 450", 160)
    store.notices_failed([1], "timed out", 280)
    (kept,) = store.next_notices()
    assert (kept.notice_key, kept.attempts, kept.next_us, kept.last_error) == ("a", 2, 280, "timed out")
    store.notices_sent([1], 300)
    assert rows("SELECT attempts, sent_us, last_error FROM outbox WHERE id = 1") == [(3, 300, "timed out")]


def test_what_waits_outlives_the_process_and_others_may_look(store, url):
    store.enqueue([notice("a")])
    with Store.open_readonly(url) as reader:
        assert [each.notice_key for each in reader.next_notices()] == ["a"]
        with pytest.raises(StoreError, match="open for reading only"):
            reader.notices_sent([1], 1)


def test_an_older_store_keeps_its_data_and_gets_an_outbox(tmp_path):
    path = tmp_path / "store.db"
    writer = writing_engine(path, durable=False)
    with transaction(writer, path) as connection:
        config = migrate.configuration()
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
    writer.dispose()
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("INSERT INTO module VALUES (1, ?, ?, ?)", MODULE)
        connection.execute("INSERT INTO reading VALUES (5, 1, '12.0', 'degC', 6, 1)")
        connection.execute("INSERT INTO alarm_journal VALUES (1, 1, 'superheat-low', 5, 6, 'raised', '{}')")
    url = f"sqlite:///{path}"
    with pytest.raises(StoreError, match="schema 0001, older than"):
        Store.open_readonly(url)
    with Store.open(url) as store:
        assert [(m.site, m.system, m.name) for m in store.modules()] == [MODULE]
        assert store.readings([1], 0, 9)[1].values == ["12.0"]
        assert store.add_batch([Reading(5, 1, "12.0", "degC", 6, 1)]).duplicates == 1
        assert [entry.transition for entry in store.journal(1, 0, 9)] == ["raised"]
        assert store.next_notices() == []
        assert store.enqueue([notice("a")]) == 1
    with closing(sqlite3.connect(path)) as connection, pytest.raises(sqlite3.IntegrityError):
        connection.execute("DELETE FROM alarm_journal")  # its triggers are still there


def test_what_a_day_amounts_to(store, module_id, revision_id):
    store.finish(module_id, revision_id, [(t, '"dry"' if t % 3 else '"blind"', "[]") for t in range(10)])
    later = store.open_revision(module_id, '{"layout": "late"}', "seen on site", 0).id
    store.finish(module_id, later, [(3, '"dry"', "[]")])
    assert dict(store.assessed_counts(module_id, 1, 8)) == {'"dry"': 7, '"blind"': 1}
    assert list(store.assessed_counts(module_id + 1, 1, 8)) == []
    refusals = [
        Refusal(t, "plant/n1", reason, "", b"") for t, reason in ((1, "unit"), (5, "unit"), (6, "future"))
    ]
    store.add_batch([], refusals)
    assert store.refused_between(2, 9) == {"future": 1, "unit": 1}
    assert store.refused_between(7, 9) == {}


def test_so_many_of_each_route_in_their_order_with_what_holds_them(store):
    held = notice("a")._replace(next_us=500, priority="low", brief="as seen")
    store.enqueue([held, notice("b"), notice("c"), notice("a", "chat")])
    assert [(each.route, each.notice_key) for each in store.next_notices(3)] == [
        ("mail", "a"),
        ("mail", "b"),
        ("mail", "c"),
        ("chat", "a"),
    ]
    too_many = [(each.route, each.notice_key) for each in store.next_notices(2)]
    assert too_many == [("mail", "b"), ("mail", "c"), ("chat", "a")]  # quiet hours may hold the low one
    first, second, *_ = store.next_notices(3)
    assert (first.next_us, first.priority, first.brief) == (500, "low", "as seen")
    assert (second.next_us, second.priority, second.brief) == (100, None, None)
    store.notices_sent([first.id, second.id], 200)
    assert [each.notice_key for each in store.next_notices(9)] == ["c", "a"]


@pytest.mark.parametrize("schema", ["0001", "0002", "0003", "0004", "0005"])
def test_from_each_older_schema_what_waits_still_goes_out(tmp_path, schema):
    path = tmp_path / "store.db"
    writer = writing_engine(path, durable=False)
    with transaction(writer, path) as connection:
        config = migrate.configuration()
        config.attributes["connection"] = connection
        command.upgrade(config, schema)
    writer.dispose()
    if schema > "0001":
        with closing(sqlite3.connect(path)) as connection, connection:
            connection.execute(
                "INSERT INTO outbox (created_us, route, notice_key, subject, body, attempts, next_us) "
                "VALUES (100, 'mail', 'a', 'HIGH a', 'liquid may be coming back', 0, 100)"
            )
    with Store.open(f"sqlite:///{path}") as store:
        expected = [] if schema == "0001" else [notice("a")._replace(next_us=100, id=1)]
        assert store.next_notices() == expected
        assert store.enqueue([notice("b")._replace(priority="high", brief="as seen")]) == 1
        assert len(store.secret("ack")) == 32
        with sqlite3.connect(path) as connection:
            assert connection.execute("SELECT version_num FROM alembic_version").fetchall() == [("0007",)]
        connection.close()


def test_a_secret_is_made_once_and_anew_when_its_row_is_deleted(store, url):
    made = store.secret("ack")
    assert len(made) == 32 and store.secret("ack") == made
    with Store.open_readonly(url) as reader:
        assert reader.secret("ack") == made
        with pytest.raises(StoreError, match="open for reading only"):
            reader.secret("another")
    assert store.secret("another") != made
    with store._writing() as connection:
        connection.exec_driver_sql("DELETE FROM secret WHERE name = 'ack'")
    assert store.secret("ack") != made
