"""Batches of readings going in, series coming out, and what was refused on the way."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from itertools import groupby, islice
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection, Insert, bindparam, exists, func, or_, select
from sqlalchemy.exc import IntegrityError

from agent.readings import EVER_US, Moved, Reading, Refusal
from agent.store import schema
from agent.store.at_hand import AtHand
from agent.store.engine import StoreError, insert
from agent.store.records import Added, Latest, Series

# Tuples straight to the driver: an insert construct takes twice as long.
INSERT_READING = """
    INSERT INTO reading (sample_us, signal_id, value, unit, arrival_us, mapping_id)
    VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING
"""
ROWS_AT_A_TIME = 512  # few enough to be gone before the garbage collector looks at them: half the time
MOST_ASKED = 30_000  # signals in one statement; SQLite takes 32,766 parameters
FIRST_LOOK_US = 5 * 60 * 1_000_000

Row = tuple[Any, ...]


def add_readings(connection: Connection, batch: Sequence[Reading]) -> Added:
    """Store what is new; a key's first value stays, each other one is kept once as a conflict."""
    if not batch:
        return Added(0, 0, 0)
    try:
        stored = connection.exec_driver_sql(INSERT_READING, list(batch)).rowcount
    except (IntegrityError, OverflowError, UnicodeEncodeError):
        for reading in batch:
            if (cause := not_keepable(reading.value)) is not None:
                raise StoreError(
                    f"a reading of signal {reading.signal_id} at {reading.sample_us} us is {cause}: nothing "
                    "of the batch was stored; intake has to refuse such a value"
                ) from None
        raise
    conflicts = 0
    if stored < len(batch):
        parameters = [reading._asdict() for reading in batch]
        conflicts = connection.execute(
            INSERT_CONFLICT, parameters, execution_options={"preserve_rowcount": True}
        ).rowcount
    return Added(stored, len(batch) - stored - conflicts, conflicts)


def insert_conflict() -> Insert:
    kept, other = schema.reading.c, schema.conflict.c
    received = {
        name: bindparam(name, type_=kept[name].type)
        for name in ("sample_us", "signal_id", "value", "unit", "arrival_us")
    }
    differs = exists().where(
        kept.sample_us == received["sample_us"],
        kept.signal_id == received["signal_id"],
        or_(kept.value != received["value"], kept.unit.is_distinct_from(received["unit"])),
    )
    known = exists().where(
        other.sample_us == received["sample_us"],
        other.signal_id == received["signal_id"],
        other.value == received["value"],
        other.unit.is_not_distinct_from(received["unit"]),
    )
    return insert(schema.conflict).from_select(
        list(received), select(*received.values()).where(differs, ~known)
    )


INSERT_CONFLICT = insert_conflict()


def not_keepable(value: float | int | str) -> str | None:
    """Why the database cannot hold a value, None where it can."""
    if isinstance(value, str):
        try:
            value.encode()
        except UnicodeEncodeError:
            return "text that is not Unicode"
    elif value != value:
        return "not a number (NaN)"
    elif isinstance(value, int) and not -(2**63) <= value < 2**63:
        return "an integer of more than 64 bits"
    return None


def add_refusals(connection: Connection, refusals: Sequence[Refusal]) -> None:
    if refusals:
        connection.execute(insert(schema.refused), [refusal._asdict() for refusal in refusals])


def refused_counts(connection: Connection) -> dict[str, int]:
    reason = schema.refused.c.reason
    return {row[0]: row[1] for row in connection.execute(select(reason, func.count()).group_by(reason))}


def at_hand(connection: Connection, span_us: int) -> AtHand:
    """The newest readings in memory, as they stand in the table."""
    sample_us = schema.reading.c.sample_us  # one by one: together they would read the whole table
    oldest_us, newest_us = (
        connection.execute(select(end(sample_us))).scalar_one() for end in (func.min, func.max)
    )
    if newest_us is None:
        return AtHand(span_us)
    from_us = newest_us - span_us
    held = AtHand(span_us, -EVER_US if oldest_us >= from_us else from_us)
    statement = (
        "SELECT sample_us, signal_id, value, unit, arrival_us, mapping_id FROM reading"
        " WHERE sample_us >= ? ORDER BY sample_us"
    )
    held.add(map(Reading._make, fetch(connection, statement, (from_us,))))
    return held


def series(
    connection: Connection, signal_ids: Collection[int], from_us: int, to_us: int, moved: Moved
) -> dict[int, Series]:
    found = dict.fromkeys(signal_ids, Series(np.empty(0, np.int64), [], []))
    kept = iter(rows(connection, "value, unit", found, (from_us, to_us), moved)) if found else iter(())
    parts = []
    same: dict[str | None, str | None] = {}  # one object for each unit, not one for each row
    while together := list(islice(kept, ROWS_AT_A_TIME)):
        times, signals, values, units = zip(*together, strict=True)
        same |= {unit: same.get(unit, unit) for unit in set(units)}
        numbers = np.array([times, signals], np.int64)
        parts.append((numbers, _objects(values), _objects([same[unit] for unit in units])))
    if not parts:
        return found
    numbers = np.concatenate([each for each, _, _ in parts], axis=1)
    values_, units_ = (np.concatenate([each[n] for each in parts]) for n in (1, 2))
    order = np.argsort(numbers[1], kind="stable")
    each_id, begin = np.unique(numbers[1][order], return_index=True)
    for signal_id, here in zip(each_id.tolist(), np.split(order, begin[1:]), strict=True):
        found[signal_id] = Series(numbers[0][here], values_[here].tolist(), units_[here].tolist())
    return found


def _objects(values: Sequence[object]) -> NDArray[np.object_]:
    column = np.empty(len(values), object)
    column[:] = values
    return column


def latest(
    connection: Connection, signal_ids: Collection[int], since_us: int, moved: Moved
) -> dict[int, Latest]:
    found: dict[int, Latest] = {}
    wanted = list(signal_ids)
    newest_us = connection.execute(select(func.max(schema.reading.c.sample_us))).scalar()
    if newest_us is not None:
        for first in range(0, len(wanted), MOST_ASKED):
            asked = wanted[first : first + MOST_ASKED]
            found |= back_from(connection, asked, (since_us, newest_us), moved)
    return found


def back_from(
    connection: Connection, signal_ids: Collection[int], between_us: tuple[int, int], moved: Moved
) -> dict[int, Latest]:
    """The newest of each, looked for in steps that grow: those that come often are found in the first."""
    found: dict[int, Latest] = {}
    (since_us, until_us), step_us = between_us, FIRST_LOOK_US
    while until_us >= since_us and (silent := set(signal_ids) - found.keys()):
        columns, step = "arrival_us, value, unit", (max(until_us - step_us, since_us), until_us)
        for sample_us, signal_id, *reading in rows(connection, columns, silent, step, moved, "DESC"):
            found.setdefault(signal_id, Latest(sample_us, *reading))
        until_us, step_us = step[0] - 1, 4 * step_us
    return found


def newest(connection: Connection, since_us: int, moved: Moved) -> dict[int, int]:
    """One pass over all that came since, whosever it is: asking module by module would take one each."""
    statement = (
        "SELECT signal_id, max(sample_us) FROM reading"
        f" WHERE sample_us >= ? AND mapping_id NOT IN ({marks(moved)}) GROUP BY signal_id"
    )
    return dict(fetch(connection, statement, (since_us, *moved)))


def first_sample_us(
    connection: Connection, signal_ids: Collection[int], moved: Moved, since_us: int | None = None
) -> int | None:
    between_us = (-EVER_US if since_us is None else since_us, EVER_US)
    found = rows(connection, "mapping_id", signal_ids, between_us, moved)
    return next((sample_us for sample_us, *_ in found), None)


def rows(
    connection: Connection,
    columns: str,
    signal_ids: Collection[int],
    between_us: tuple[int, int],
    moved: Moved,
    order: str = "",
) -> Iterable[Row]:
    """Sample time, signal and these columns in the order of time, each under the signal that it counts as."""
    wanted = set(signal_ids)
    touching = {}
    for mapping_id, changes in moved.items():
        here = {source: target for source, target in changes.items() if wanted & {source, target}}
        if here:
            touching[mapping_id] = here
    asked = {source for here in touching.values() for source in here} | wanted
    select_ = f"SELECT sample_us, signal_id, {columns}" + (", mapping_id" if touching else "")
    found = fetch(
        connection,
        f"{select_} FROM reading WHERE sample_us BETWEEN ? AND ? AND signal_id IN ({marks(asked)})"
        f" ORDER BY sample_us {order}" + (", arrival_us" if touching else ""),
        (*between_us, *asked),
    )
    return read_through(found, wanted, touching) if touching else found


def read_through(found: Iterable[Row], signal_ids: Collection[int], moved: Moved) -> Iterator[Row]:
    """Rows that end in their mapping, by what they count as. Of two for one time, the first to come stays."""
    for _, together in groupby(found, key=lambda row: row[0]):
        counted: dict[int, Row] = {}
        for sample_us, signal_id, *rest, mapping_id in together:
            now = moved.get(mapping_id, {}).get(signal_id, signal_id)
            if now is not None and now in signal_ids:
                counted.setdefault(now, (sample_us, now, *rest))
        yield from counted.values()


def fetch(connection: Connection, statement: str, parameters: tuple[int, ...]) -> Iterator[Row]:
    """The driver's own rows: building SQLAlchemy's takes several times as long as reading."""
    cursor = connection.connection.cursor()
    try:
        cursor.execute(statement, parameters)
        while rows := cursor.fetchmany(ROWS_AT_A_TIME):
            yield from rows
    finally:
        cursor.close()


def marks(parameters: Collection[int]) -> str:
    return ", ".join("?" * len(parameters))
