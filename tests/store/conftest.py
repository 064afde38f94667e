import sqlite3
from contextlib import closing

import pytest

from agent.store import Store

MINUTE_US = 60_000_000
MODULE = ("hill-house", "east", "module-1")


@pytest.fixture
def url(tmp_path):
    return f"sqlite:///{tmp_path / 'store.db'}"


@pytest.fixture
def store(url):
    with Store.open(url) as opened:
        yield opened


@pytest.fixture
def module_id(store):
    return store.register_modules([MODULE])[MODULE]


@pytest.fixture
def rows(store):
    """What lies in the file, seen by sqlite3 alone."""

    def query(statement):
        with closing(sqlite3.connect(store.path)) as connection:
            return connection.execute(statement).fetchall()

    return query
