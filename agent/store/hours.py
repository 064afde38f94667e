"""What whole hours of a module come to: replaced when their time is assessed anew."""

from sqlalchemy import Connection, delete, select

from agent.store import schema
from agent.store.engine import insert
from agent.store.records import Hours

_columns = schema.hour.c


def replace(connection: Connection, module_id: int, hours: Hours) -> None:
    """Put hours in place of all that is kept of their stretch of time."""
    between = _columns.from_us.between(hours.from_us, hours.to_us)
    connection.execute(delete(schema.hour).where(_columns.module_id == module_id, between))
    if hours.rows:
        connection.execute(
            insert(schema.hour), [{"module_id": module_id, **row._asdict()} for row in hours.rows]
        )


def read(connection: Connection, module_id: int, from_us: int, to_us: int) -> list[str]:
    found = connection.execute(
        select(_columns.body)
        .where(_columns.module_id == module_id, _columns.from_us.between(from_us, to_us))
        .order_by(_columns.from_us)
    )
    return list(found.scalars())


def first_settled(
    connection: Connection, module_id: int, mode: str, from_us: int, to_us: int, most: int
) -> list[str]:
    found = connection.execute(
        select(_columns.body)
        .where(
            _columns.module_id == module_id,
            _columns.settled == mode,
            _columns.from_us.between(from_us, to_us),
        )
        .order_by(_columns.from_us)
        .limit(most)
    )
    return list(found.scalars())
