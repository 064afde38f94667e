"""Assessments, and how far the live edge has come."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Insert, Select, bindparam, func, or_, select

from agent.store import schema
from agent.store.engine import insert
from agent.store.records import Assessment

Row = tuple[int, str, str]  # grid time, basis, figures


# Statements are made once: making one takes longer than running it.
def _write() -> Insert:
    statement = insert(schema.assessment)
    new, old = statement.excluded, schema.assessment.c
    return statement.on_conflict_do_update(
        index_elements=["module_id", "grid_us", "revision_id"],
        set_={"basis_id": new.basis_id, "figures": new.figures},
        where=or_(old.basis_id != new.basis_id, old.figures != new.figures),  # the same again writes nothing
    )


def _advance() -> Insert:
    statement = insert(schema.progress)
    new = statement.excluded.assessed_us
    return statement.on_conflict_do_update(
        index_elements=["module_id"],
        set_={"assessed_us": new},
        where=new > schema.progress.c.assessed_us,
    )


_WRITE, _ADVANCE = _write(), _advance()


def write(
    connection: Connection, module_id: int, revision_id: int, rows: Sequence[Row], known: Mapping[str, int]
) -> dict[str, int]:
    """Write over what the revision holds at the same times; `known` are ids of bases met before.

    Returns the ids of the bases it had to look up.
    """
    if not rows:
        return {}
    looked_up = basis_ids(connection, {basis for _, basis, _ in rows if basis not in known})
    ids = {**known, **looked_up} if looked_up else known
    connection.execute(
        _WRITE,
        [
            {
                "module_id": module_id,
                "grid_us": grid_us,
                "revision_id": revision_id,
                "basis_id": ids[basis],
                "figures": figures,
            }
            for grid_us, basis, figures in rows
        ],
    )
    return looked_up


def basis_ids(connection: Connection, bodies: Iterable[str]) -> dict[str, int]:
    ids = {}
    for body in bodies:
        digest = hashlib.sha256(body.encode()).hexdigest()
        connection.execute(insert(schema.basis).values(digest=digest, body=body).on_conflict_do_nothing())
        ids[body] = connection.execute(
            select(schema.basis.c.id).where(schema.basis.c.digest == digest)
        ).scalar_one()
    return ids


def _statements(of_revision: bool) -> tuple[Select[Any], Select[Any]]:
    """Rows of a stretch of time, and their words; made once, since making takes longer than reading."""
    table = schema.assessment
    rows = (
        select(table.c.grid_us, table.c.revision_id, table.c.basis_id, table.c.figures)
        .where(
            table.c.module_id == bindparam("module_id"),
            table.c.grid_us.between(bindparam("from_us"), bindparam("to_us")),
        )
        .order_by(table.c.grid_us)
    )
    if of_revision:
        rows = rows.where(table.c.revision_id == bindparam("revision_id"))
    else:
        other = table.alias()
        newest = (
            select(func.max(other.c.revision_id))
            .where(other.c.module_id == table.c.module_id, other.c.grid_us == table.c.grid_us)
            .scalar_subquery()
        )
        rows = rows.where(table.c.revision_id == newest)
    used = select(rows.order_by(None).subquery().c.basis_id)
    return rows, select(schema.basis.c.id, schema.basis.c.body).where(schema.basis.c.id.in_(used))


_STATEMENTS = {of_revision: _statements(of_revision) for of_revision in (False, True)}
_LATEST = select(func.max(schema.assessment.c.grid_us)).where(
    schema.assessment.c.module_id == bindparam("module_id")
)


def read(
    connection: Connection, module_id: int, from_us: int, to_us: int, revision_id: int | None
) -> list[Assessment]:
    rows, words = _STATEMENTS[revision_id is not None]
    asked = {"module_id": module_id, "from_us": from_us, "to_us": to_us}
    if revision_id is not None:
        asked["revision_id"] = revision_id
    bodies = {row.id: row.body for row in connection.execute(words, asked)}
    return [
        Assessment(grid_us, of_revision, bodies[basis_id], figures)
        for grid_us, of_revision, basis_id, figures in connection.execute(rows, asked)
    ]


def latest(connection: Connection, module_id: int) -> Assessment | None:
    newest = connection.execute(_LATEST, {"module_id": module_id}).scalar_one()
    return None if newest is None else read(connection, module_id, newest, newest, None)[0]


def advance(connection: Connection, module_id: int, assessed_us: int) -> None:
    """Move the module's live edge forward; it never goes back."""
    connection.execute(_ADVANCE, {"module_id": module_id, "assessed_us": assessed_us})


def assessed_before(connection: Connection, module_id: int, at_us: int) -> int | None:
    columns = schema.assessment.c
    statement = select(func.max(columns.grid_us)).where(
        columns.module_id == module_id, columns.grid_us < at_us
    )
    found: int | None = connection.execute(statement).scalar()
    return found


def first_assessed(connection: Connection, module_id: int) -> int | None:
    columns = schema.assessment.c
    statement = select(func.min(columns.grid_us)).where(columns.module_id == module_id)
    found: int | None = connection.execute(statement).scalar()
    return found


def progress(connection: Connection, module_id: int) -> int | None:
    columns = schema.progress.c
    return connection.execute(
        select(columns.assessed_us).where(columns.module_id == module_id)
    ).scalar_one_or_none()
