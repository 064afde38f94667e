"""A value from outside the project beside ours. The tests check these rows, and the report prints them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import pytest


class Row(NamedTuple):
    """One value that somebody else states."""

    what: str
    value: float
    unit: str
    tolerance: float  # in the same unit: how exactly the source prints it, or what it says of itself
    source: str
    ours: Callable[[], float]


def each_of(rows: Sequence[Row]) -> pytest.MarkDecorator:
    """Run a test for every row."""
    return pytest.mark.parametrize("row", rows, ids=[row.what for row in rows])


def agrees(row: Row) -> bool:
    """Whether ours lies within the tolerance; what is not a number does not."""
    return abs(row.ours() - row.value) <= row.tolerance
