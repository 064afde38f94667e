"""Dirty spans: what of a module's time has to be assessed again.

Intake joins new spans to the module's rows, but only to rows that nobody has read. A row that assessment has
read stays as it was until it is worked off: a reading that arrives during the work, even inside the same
span, is in a row of its own and is not cleared with it.
"""

from collections.abc import Collection, Iterable, Mapping
from itertools import pairwise, zip_longest

from sqlalchemy import Connection, bindparam, delete, func, select, update

from agent.readings import Span
from agent.store.engine import insert
from agent.store.schema import dirty

NEAR_US = 15 * 60 * 1_000_000  # closer spans are one: assessing a quarter of an hour is cheaper than a row
MOST_ROWS = 16  # of a module; beyond it the closest spans are joined

REMOVE = delete(dirty).where(dirty.c.id == bindparam("row_id"))  # made once: it takes longer than running it

Stretch = tuple[int, int]
Spans = list[tuple[int, Span]]  # in the order of time, each with the id of its row


def mark(connection: Connection, spans: Iterable[Span], read_up_to: Mapping[int, int]) -> None:
    """Join spans to the rows nobody has read; `read_up_to` is the highest id read, by module."""
    added: dict[int, list[Stretch]] = {}
    for span in spans:
        added.setdefault(span.module_id, []).append((span.from_us, span.to_us))
    standing = rows(connection, added)
    gone, moved, new = [], [], []
    for module_id, stretches in added.items():
        read = read_up_to.get(module_id, 0)
        unread = {row_id: stretch for row_id, stretch in standing[module_id].items() if row_id > read}
        wanted = joined([*unread.values(), *stretches])
        stale = [row_id for row_id, stretch in unread.items() if stretch not in wanted]
        missing = [stretch for stretch in wanted if stretch not in unread.values()]
        for row_id, stretch in zip_longest(stale, missing):
            if stretch is None:
                gone.append(row_id)
            elif row_id is None:
                new.append(row_of(module_id, stretch))
            else:
                moved.append({"row_id": row_id, **row_of(module_id, stretch)})
    if gone:
        connection.execute(delete(dirty).where(dirty.c.id.in_(gone)))
    if moved:
        connection.execute(update(dirty).where(dirty.c.id == bindparam("row_id")), moved)
    if new:
        connection.execute(insert(dirty), new)


def take(connection: Connection, module_ids: Collection[int]) -> dict[int, Spans]:
    """Modules' spans, joined; joined ones get new ids, so that whoever read the old cannot clear them."""
    found = rows(connection, module_ids)
    for module_id, standing in found.items():
        wanted = joined(standing.values())
        if len(wanted) < len(standing):
            connection.execute(delete(dirty).where(dirty.c.module_id == module_id))
            connection.execute(insert(dirty), [row_of(module_id, stretch) for stretch in wanted])
            found[module_id] = rows(connection, [module_id])[module_id]
    return {module_id: in_order(module_id, standing) for module_id, standing in found.items()}


def earliest(connection: Connection) -> dict[int, int]:
    """Where the first span begins, of every module that has one."""
    found = select(dirty.c.module_id, func.min(dirty.c.from_us)).group_by(dirty.c.module_id)
    return {row[0]: row[1] for row in connection.execute(found)}


def spans(connection: Connection, module_ids: Collection[int]) -> dict[int, Spans]:
    """Modules' spans, as they stand."""
    found = rows(connection, module_ids)
    return {module_id: in_order(module_id, standing) for module_id, standing in found.items()}


def in_order(module_id: int, standing: Mapping[int, Stretch]) -> Spans:
    return [
        (row_id, Span(module_id, *stretch))
        for row_id, stretch in sorted(standing.items(), key=lambda item: item[1])
    ]


def clear(connection: Connection, dirty_id: int, remaining_from_us: int | None) -> None:
    """Remove a row, or what of it lies before `remaining_from_us`; a row that is gone is no error."""
    if remaining_from_us is None:
        connection.execute(REMOVE, {"row_id": dirty_id})
        return
    row = dirty.c.id == dirty_id
    connection.execute(delete(dirty).where(row, dirty.c.to_us < remaining_from_us))
    shorter = row & (dirty.c.from_us < remaining_from_us)
    connection.execute(update(dirty).where(shorter).values(from_us=remaining_from_us))


def rows(connection: Connection, module_ids: Collection[int]) -> dict[int, dict[int, Stretch]]:
    """Stretches by row id, by module."""
    found: dict[int, dict[int, Stretch]] = {module_id: {} for module_id in module_ids}
    for row in connection.execute(select(dirty).where(dirty.c.module_id.in_(module_ids))):
        found[row.module_id][row.id] = (row.from_us, row.to_us)
    return found


def row_of(module_id: int, stretch: Stretch) -> dict[str, int]:
    return {"module_id": module_id, "from_us": stretch[0], "to_us": stretch[1]}


def joined(stretches: Iterable[Stretch]) -> list[Stretch]:
    """The same time in few stretches, ascending: those that overlap or lie close become one."""
    result: list[Stretch] = []
    for start, end in sorted(stretches):
        if result and start - result[-1][1] <= NEAR_US:
            result[-1] = (result[-1][0], max(result[-1][1], end))
        else:
            result.append((start, end))
    while len(result) > MOST_ROWS:
        gaps = [later[0] - earlier[1] for earlier, later in pairwise(result)]
        closest = gaps.index(min(gaps))
        result[closest : closest + 2] = [(result[closest][0], result[closest + 1][1])]
    return result
