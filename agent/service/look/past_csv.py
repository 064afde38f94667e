"""A module's past as CSV, read and written a few hours at a time: nobody holds a year of it in memory."""

from __future__ import annotations

from collections.abc import Iterator

from agent.assess import SECOND
from agent.outlets.csv_rows import csv_text
from agent.outlets.terminal.history import READING_COLUMNS, assessment_columns, assessment_rows, reading_rows
from agent.service.look.looking import first_reading_us, past, received
from agent.settings import ModulePlan, Plan
from agent.store import Store

PIECE_US = 6 * 3600 * SECOND  # also bounds how long a transaction that reads stays open


def past_csv(
    store: Store, plan: Plan, module: ModulePlan, from_us: int, to_us: int, readings: bool
) -> Iterator[str]:
    """The header row, then the rows in the order of time, in pieces; of readings, or of assessments."""
    columns: tuple[str, ...] = READING_COLUMNS
    if readings:
        first_us = first_reading_us(store, plan, module)
    else:
        columns, first_us = _assessed(store, module, from_us, to_us)
    yield csv_text(columns, (), header=True)
    if first_us is None:
        return
    for begin_us in range(max(from_us, first_us), to_us + 1, PIECE_US):
        end_us = min(begin_us + PIECE_US - 1, to_us)
        if readings:
            rows = reading_rows(received(store, plan, module, begin_us, end_us))
        else:
            rows = assessment_rows(*past(store, module, begin_us, end_us))
        if text := csv_text(columns, rows):
            yield text


def _assessed(
    store: Store, module: ModulePlan, from_us: int, to_us: int
) -> tuple[tuple[str, ...], int | None]:
    """The columns, and since when there is anything."""
    module_id = store.module_ids().get(module.path)
    if module_id is None:
        return assessment_columns(()), None
    bases = [basis for basis, _ in store.assessed_counts(module_id, from_us, to_us)]
    return assessment_columns(bases), store.first_assessed(module_id)
