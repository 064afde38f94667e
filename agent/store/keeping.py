"""Readings that are not kept for ever: summed up by the quarter of an hour and removed, in small steps.

A reading is in `reading` or counted in what stands for its quarter, never both: one transaction moves it.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, delete, func, select

from agent.readings import Moved
from agent.store import schema
from agent.store.readings import fetch, marks, rows
from agent.store.records import Summary, Tally

QUARTER_US = 15 * 60 * 1_000_000
_ANY = 0  # mapping: told as one, whatever they came in under

Value = float | int | str
# What a signal's value, received with this unit, counts as: number and unit, or None: it is no number.
Numbered = Callable[[int, Value, str | None], tuple[float, str | None] | None]

_ADD_SUMMARY = """
    INSERT INTO summary (from_us, signal_id, mapping_id, unit, number, least, mean, most)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET
        number = number + excluded.number,
        least = min(least, excluded.least),
        mean = mean + (excluded.mean - mean) * excluded.number / (number + excluded.number),
        most = max(most, excluded.most)
"""
_ADD_TALLY = """
    INSERT INTO tally (from_us, signal_id, mapping_id, value, number)
    VALUES (?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET number = number + excluded.number
"""


class Sums:
    """Readings being summed up, by quarter, signal and mapping, and by unit or value."""

    def __init__(self) -> None:
        self._summed: dict[tuple[int, int, int, str], list[Any]] = {}  # number, least, sum, most
        self._counted: dict[tuple[int, int, int, Value], int] = {}

    def add(self, readings: Iterable[Sequence[Any]], numbered: Numbered) -> None:
        """``readings``: sample time, signal, mapping, value, unit."""
        for sample_us, signal_id, mapping_id, value, unit in readings:
            from_us = sample_us // QUARTER_US * QUARTER_US
            found = numbered(signal_id, value, unit)
            if found is None:
                self.add_tally(from_us, signal_id, mapping_id, value, 1)
            else:
                number, stated = found
                self.add_summary(from_us, signal_id, mapping_id, stated or "", 1, number, number, number)

    def add_summary(
        self,
        from_us: int,
        signal_id: int,
        mapping_id: int,
        unit: str,
        number: int,
        least: float,
        mean: float,
        most: float,
    ) -> None:
        of = self._summed.setdefault((from_us, signal_id, mapping_id, unit), [0, least, 0.0, most])
        of[:] = of[0] + number, min(of[1], least), of[2] + mean * number, max(of[3], most)

    def add_tally(self, from_us: int, signal_id: int, mapping_id: int, value: Value, number: int) -> None:
        key = (from_us, signal_id, mapping_id, value)
        self._counted[key] = self._counted.get(key, 0) + number

    @property
    def summaries(self) -> list[tuple[Any, ...]]:
        """In the order of the table's columns and of time."""
        return [
            (*key, number, least, total / number, most)
            for key, (number, least, total, most) in sorted(self._summed.items())
        ]

    @property
    def tallies(self) -> list[tuple[Any, ...]]:
        """In the order of the table's columns and of time."""
        return [(*key, n) for key, n in sorted(self._counted.items(), key=lambda item: item[0][:3])]


def thin(
    connection: Connection, before_us: int, most: int, numbered: Numbered, reach_us: Mapping[int, int]
) -> int:
    """Sum up and remove the oldest readings of quarters before a time, drop conflicts and refusals of then.

    `most` of each; how many in all. Nothing is touched that a dirty span of these modules may have to be
    assessed from: as far before it as `reach_us` says of each.
    """
    before_us = _before_dirty(connection, before_us, reach_us) // QUARTER_US * QUARTER_US
    asked = "SELECT sample_us, signal_id, mapping_id, value, unit FROM reading WHERE sample_us < ?"
    oldest = list(fetch(connection, f"{asked} ORDER BY sample_us, signal_id LIMIT ?", (before_us, most)))
    if oldest:
        sums = Sums()
        sums.add(oldest, numbered)
        for statement, new in ((_ADD_SUMMARY, sums.summaries), (_ADD_TALLY, sums.tallies)):
            if new:
                connection.exec_driver_sql(statement, new)
        last = oldest[-1][:2]
        connection.exec_driver_sql("DELETE FROM reading WHERE (sample_us, signal_id) <= (?, ?)", last)
    return len(oldest) + _drop(connection, before_us, most)


def _before_dirty(connection: Connection, before_us: int, reach_us: Mapping[int, int]) -> int:
    """A span in time that is thinned out already cannot be assessed any more, and holds nothing up."""
    kept_us = kept_from_us(connection)
    for span in connection.execute(select(schema.dirty)):
        reach = reach_us.get(span.module_id)
        if reach is not None and (kept_us is None or span.to_us + reach >= kept_us):
            before_us = min(before_us, span.from_us - reach)
    return before_us


def _drop(connection: Connection, before_us: int, most: int) -> int:
    """The oldest conflicts and refusals; ids of the latter ascend with their arrival."""
    conflict, refused = schema.conflict.c, schema.refused.c
    old = select(conflict.id).where(conflict.sample_us < before_us).order_by(conflict.sample_us).limit(most)
    oldest = select(refused.id).order_by(refused.id).limit(most)
    of_conflicts = delete(schema.conflict).where(conflict.id.in_(old))
    of_refusals = delete(schema.refused).where(refused.id.in_(oldest), refused.arrival_us < before_us)
    return sum(connection.execute(statement).rowcount for statement in (of_conflicts, of_refusals))


def kept_from_us(connection: Connection) -> int | None:
    """Since when every reading is kept; None: none was ever removed."""
    newest = [
        connection.scalar(select(func.max(table.c.from_us))) for table in (schema.summary, schema.tally)
    ]
    return max((from_us + QUARTER_US for from_us in newest if from_us is not None), default=None)


def ends_us(connection: Connection, since_us: int) -> tuple[int, int] | None:
    """The oldest and the newest sample time since then; None: there is no reading."""
    table = schema.reading
    oldest, newest = (
        connection.scalar(select(least_or_most(table.c.sample_us)).where(table.c.sample_us >= since_us))
        for least_or_most in (func.min, func.max)  # one by one: of both together every row is read
    )
    return None if oldest is None or newest is None else (oldest, newest)


def read(
    connection: Connection,
    signal_ids: Collection[int],
    from_us: int,
    to_us: int,
    moved: Moved,
    numbered: Numbered,
) -> tuple[list[Summary], list[Tally]]:
    """By quarters that begin in a stretch of time: of what is kept no longer and of what is, as one."""
    between_us = -(-from_us // QUARTER_US) * QUARTER_US, to_us // QUARTER_US * QUARTER_US + QUARTER_US - 1
    wanted, sums = set(signal_ids), Sums()
    kept = rows(connection, "value, unit", wanted, between_us, moved)
    sums.add(((at, of, _ANY, value, unit) for at, of, value, unit in kept), numbered)
    for table, add in (("summary", sums.add_summary), ("tally", sums.add_tally)):
        for from_us, signal_id, mapping_id, *rest in _gone(connection, table, wanted, between_us, moved):
            now = moved.get(mapping_id, {}).get(signal_id, signal_id)
            if now in wanted:
                add(from_us, now, _ANY, *rest)
    return (
        [Summary(at, of, unit or None, *figures) for at, of, _, unit, *figures in sums.summaries],
        [Tally(at, of, value, number) for at, of, _, value, number in sums.tallies],
    )


def _gone(
    connection: Connection, table: str, wanted: Collection[int], between_us: tuple[int, int], moved: Moved
) -> Iterator[tuple[Any, ...]]:
    asked = {*wanted, *(source for changes in moved.values() for source in changes)}
    return fetch(
        connection,
        f"SELECT * FROM {table} WHERE from_us BETWEEN ? AND ? AND signal_id IN ({marks(asked)})",
        (*between_us, *asked),
    )
