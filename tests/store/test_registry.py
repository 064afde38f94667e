import json
import sqlite3
from contextlib import closing

import pytest
from sqlalchemy import Engine, event

from agent.store import Module


def test_modules_and_signals_keep_their_ids(store):
    paths = [("hill-house", "east", "module-1"), ("hill-house", "east", "module-2")]
    ids = store.register_modules(paths)
    again = store.register_modules([*reversed(paths), ("hill-house", "west", "module-1")])
    assert {path: again[path] for path in paths} == ids
    assert len(set(again.values())) == 3
    assert store.modules()[0] == Module(ids[paths[0]], *paths[0])

    keys = [("hill-house/east/module-1", "suction_pressure"), ("hill-house/east", "mode")]
    signals = store.register_signals(keys)
    assert store.register_signals(keys[1:]) == {keys[1]: signals[keys[1]]}
    assert store.signals() == signals
    assert store.register_modules([]) == store.register_signals([]) == {}


def test_a_mapping_is_known_by_what_it_says(store):
    first = store.register_mapping('{"a": 1, "b": 2}', 10)
    assert store.register_mapping('{"b":2,"a":1}', 20) == first
    assert store.register_mapping('{"a": 1, "b": 3}', 30) != first


def test_a_revision_is_opened_only_by_a_change(store, module_id):
    assert store.current_revision(module_id) is None
    body = {"layout": "early", "refrigerant": "R32"}
    first = store.open_revision(module_id, json.dumps(body), "first", 10)
    same = store.open_revision(module_id, json.dumps(dict(reversed(body.items()))), "restart", 20)
    assert same == first
    second = store.open_revision(module_id, '{"layout": "late"}', "seen on site", 30)
    assert second.id > first.id
    assert (second.current, second.reason, second.opened_us) == (True, "seen on site", 30)
    assert store.current_revision(module_id) == second
    back = store.open_revision(module_id, json.dumps(body), "was right before", 40)
    assert back.id > second.id
    assert back.digest == first.digest


def test_a_module_has_at_most_one_current_revision(store, module_id):
    for layout in "abc":
        store.open_revision(module_id, json.dumps(layout), "trial", 0)
    with closing(sqlite3.connect(store.path)) as connection:
        assert connection.execute("SELECT count(*) FROM revision WHERE current").fetchone() == (1,)
        with pytest.raises(sqlite3.IntegrityError):
            connection.execute("UPDATE revision SET current = 1")


def test_the_current_revision_is_found_without_reading_every_module_s(store, module_id):
    """SQLite's own words for how it looks it up: https://www.sqlite.org/eqp.html."""
    opened = store.open_revision(module_id, "{}", "first", 0)
    asked = []

    def listen(_connection, _cursor, statement, given, *_):
        asked.append((statement, given))

    event.listen(Engine, "before_cursor_execute", listen)
    try:
        assert store.current_revision(module_id) == opened
    finally:
        event.remove(Engine, "before_cursor_execute", listen)
    ((statement, given),) = [each for each in asked if "FROM revision" in each[0]]
    with closing(sqlite3.connect(store.path)) as connection:
        (step,) = connection.execute(f"EXPLAIN QUERY PLAN {statement}", given).fetchall()
    assert step[-1].startswith("SEARCH revision USING INDEX revision_current")


def test_what_is_not_json_is_refused(store, module_id):
    with pytest.raises(ValueError, match="Expecting"):
        store.open_revision(module_id, "layout: late", "typed wrong", 0)
    assert store.current_revision(module_id) is None
