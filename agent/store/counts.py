"""What a stretch of time amounts to, counted by the database."""

from collections.abc import Iterable

from sqlalchemy import Connection, func, select

from agent.store import schema


def assessed(connection: Connection, module_id: int, from_us: int, to_us: int) -> Iterable[tuple[str, int]]:
    """How many grid times have the same words; of each grid time its newest revision."""
    table, other = schema.assessment, schema.assessment.alias()
    newest = (
        select(func.max(other.c.revision_id))
        .where(other.c.module_id == table.c.module_id, other.c.grid_us == table.c.grid_us)
        .scalar_subquery()
    )
    counts = (
        select(table.c.basis_id, func.count().label("number"))
        .where(
            table.c.module_id == module_id,
            table.c.grid_us.between(from_us, to_us),
            table.c.revision_id == newest,
        )
        .group_by(table.c.basis_id)
        .subquery()
    )
    found = select(schema.basis.c.body, counts.c.number).join(counts, counts.c.basis_id == schema.basis.c.id)
    return [(row.body, row.number) for row in connection.execute(found)]


def refused(connection: Connection, from_us: int, to_us: int) -> dict[str, int]:
    """How many were refused, by reason and arrival time. Goes through all that are kept."""
    columns = schema.refused.c
    found = (
        select(columns.reason, func.count().label("number"))
        .where(columns.arrival_us.between(from_us, to_us))
        .group_by(columns.reason)
        .order_by(columns.reason)
    )
    return {row.reason: row.number for row in connection.execute(found)}
