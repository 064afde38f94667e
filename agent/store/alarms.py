"""Change points of the alarms' detection states, and the journal of their transitions."""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Select, bindparam, delete, func, select

from agent.store import schema
from agent.store.engine import insert
from agent.store.records import DetectionChange, JournalEntry


def replace_detections(
    connection: Connection, module_id: int, revision_id: int, from_us: int, changes: Sequence[DetectionChange]
) -> None:
    """Put `changes` in place of what the module's revision holds at and after `from_us`."""
    columns = schema.detection.c
    connection.execute(
        delete(schema.detection).where(
            columns.module_id == module_id, columns.revision_id == revision_id, columns.grid_us >= from_us
        )
    )
    if changes:
        connection.execute(
            insert(schema.detection),
            [{"module_id": module_id, "revision_id": revision_id, **change._asdict()} for change in changes],
        )


def _before() -> Select[Any]:
    """Of each alarm the newest state before a time; made once, since making takes longer than reading."""
    columns = schema.detection.c
    of_revision = (columns.module_id == bindparam("module_id")) & (
        columns.revision_id == bindparam("revision_id")
    )
    last = (
        select(columns.alarm, func.max(columns.grid_us).label("grid_us"))
        .where(of_revision, columns.grid_us < bindparam("at_us"))
        .group_by(columns.alarm)
        .subquery()
    )
    return (
        select(columns.alarm, columns.state)
        .join(last, (columns.alarm == last.c.alarm) & (columns.grid_us == last.c.grid_us))
        .where(of_revision)
    )


_BEFORE = _before()


def detection_states(connection: Connection, module_id: int, revision_id: int, at_us: int) -> dict[str, str]:
    asked = {"module_id": module_id, "revision_id": revision_id, "at_us": at_us}
    found = connection.execute(_BEFORE, asked)
    return {row.alarm: row.state for row in found}


def detections(
    connection: Connection, module_id: int, revision_id: int, from_us: int, to_us: int
) -> list[DetectionChange]:
    columns = schema.detection.c
    found = connection.execute(
        select(columns.alarm, columns.grid_us, columns.state)
        .where(
            columns.module_id == module_id,
            columns.revision_id == revision_id,
            columns.grid_us.between(from_us, to_us),
        )
        .order_by(columns.grid_us, columns.alarm)
    )
    return [DetectionChange(*row) for row in found]


def append(connection: Connection, entries: Sequence[JournalEntry]) -> None:
    if entries:
        rows = [entry._asdict() for entry in entries]
        for row in rows:
            del row["id"]
        connection.execute(insert(schema.alarm_journal), rows)


def journal(connection: Connection, module_id: int | None, from_us: int, to_us: int) -> list[JournalEntry]:
    columns = schema.alarm_journal.c
    wanted = select(*(columns[name] for name in JournalEntry._fields)).where(
        columns.event_us.between(from_us, to_us)
    )
    if module_id is not None:
        wanted = wanted.where(columns.module_id == module_id)
    return [JournalEntry(*row) for row in connection.execute(wanted.order_by(columns.event_us, columns.id))]
