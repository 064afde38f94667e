"""What people measured by hand."""

from sqlalchemy import Connection, select, update

from agent.store import schema
from agent.store.engine import insert
from agent.store.records import Handheld


def add(connection: Connection, module_id: int, handheld: Handheld) -> None:
    """Keep a reading; its id is given here."""
    row = {name: value for name, value in handheld._asdict().items() if name != "id"}
    connection.execute(insert(schema.handheld).values(module_id=module_id, **row))


def withdraw(connection: Connection, module_id: int, handheld_id: int, body: str) -> None:
    """Keep in a reading's body that it is withdrawn; the reading stays."""
    columns = schema.handheld.c
    of_it = (columns.id == handheld_id) & (columns.module_id == module_id)
    connection.execute(update(schema.handheld).where(of_it).values(body=body))


def read(connection: Connection, module_id: int, from_us: int, to_us: int) -> list[Handheld]:
    """By the time for which they hold, then in the order in which they were given."""
    columns = schema.handheld.c
    wanted = select(*(columns[name] for name in Handheld._fields)).where(
        columns.module_id == module_id, columns.at_us.between(from_us, to_us)
    )
    return [Handheld(*row) for row in connection.execute(wanted.order_by(columns.at_us, columns.id))]
