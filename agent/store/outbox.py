"""The outbox: notices from the transaction that caused them until a receiver has accepted them."""

from collections.abc import Sequence

from sqlalchemy import Connection, Text, cast, func, select, update

from agent.store import schema
from agent.store.engine import insert
from agent.store.records import OutboxEntry

_COLUMNS = [schema.outbox.c[name] for name in OutboxEntry._fields]
_GIVEN = ("created_us", "route", "notice_key", "subject", "body", "priority", "brief")
_WAITS = schema.outbox.c.sent_us.is_(None)


def put(connection: Connection, entries: Sequence[OutboxEntry]) -> int:
    """Add entries; how many are new. One whose route has its key already changes nothing."""
    new = 0
    for entry in entries:
        row = {name: getattr(entry, name) for name in _GIVEN}
        next_us = max(entry.next_us, entry.created_us)
        added = insert(schema.outbox).values(**row, attempts=0, next_us=next_us)
        new += connection.execute(added.on_conflict_do_nothing()).rowcount
    return new


def first_of_each_route(connection: Connection, most: int = 1) -> list[OutboxEntry]:
    """Of each route the oldest entries that wait, in their order; of too many, low priority is left out."""
    columns = schema.outbox.c
    order = (func.coalesce(columns.priority, "") == "low", columns.id)
    place = func.row_number().over(partition_by=columns.route, order_by=order)
    waits = select(schema.outbox.c.id, place.label("place")).where(_WAITS).subquery()
    first = select(waits.c.id).where(waits.c.place <= most)
    wanted = select(*_COLUMNS).where(schema.outbox.c.id.in_(first)).order_by(schema.outbox.c.id)
    return [OutboxEntry(*row) for row in connection.execute(wanted)]


def waiting(connection: Connection) -> dict[str, int]:
    """How many wait, by route."""
    routes = schema.outbox.c.route
    counts = select(routes, func.count().label("number")).where(_WAITS).group_by(routes).order_by(routes)
    return {row.route: row.number for row in connection.execute(counts)}


def routes_told(connection: Connection, notice_key: str) -> set[str]:
    """The routes that have this notice, sent or waiting."""
    columns = schema.outbox.c
    return set(connection.scalars(select(columns.route).where(columns.notice_key == notice_key)))


def sent(connection: Connection, entry_ids: Sequence[int], sent_us: int) -> None:
    columns = schema.outbox.c
    connection.execute(
        update(schema.outbox)
        .where(columns.id.in_(entry_ids))
        .values(sent_us=sent_us, attempts=columns.attempts + 1)
    )


def failed(connection: Connection, entry_ids: Sequence[int], error: str, next_us: int) -> None:
    columns = schema.outbox.c
    connection.execute(
        update(schema.outbox)
        .where(columns.id.in_(entry_ids))
        .values(last_error=error, next_us=next_us, attempts=columns.attempts + 1)
    )


def free_keys(connection: Connection, first_words: str, after_us: int, now_us: int) -> None:
    columns = schema.outbox.c
    connection.execute(
        update(schema.outbox)
        .where(columns.notice_key.startswith(first_words, autoescape=True), columns.created_us > after_us)
        .values(notice_key=columns.notice_key + "/" + cast(columns.id, Text), created_us=now_us)
    )
