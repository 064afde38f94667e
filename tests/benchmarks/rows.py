"""What a benchmark reports, and how it measures.

Processor time, in turns with its floor; of several runs the median.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from importlib import import_module
from statistics import median
from typing import NamedTuple


class Row(NamedTuple):
    """One line of the report. ``ratio``: measured over floor, or whatever ``aim`` is given in."""

    what: str
    measured: str  # with its unit
    floor: str = ""  # what it is set against in the same run, with its unit
    ratio: float | None = None
    aim: str = ""


def in_turns(ours: Callable[[], object], floor: Callable[[], object], runs: int = 5) -> tuple[float, float]:
    """Processor time in s of each, the median of ``runs`` in which they take turns."""
    took: tuple[list[float], list[float]] = ([], [])
    for _ in range(runs):
        for times, do in zip(took, (ours, floor), strict=True):
            times.append(cpu_s(do))
    return median(took[0]), median(took[1])


def cpu_s(do: Callable[[], object]) -> float:
    """Processor time in s that it takes once, of all threads of this process."""
    began = time.process_time()
    do()
    return time.process_time() - began


def measured(part: str, quick: bool) -> Sequence[Row]:
    """What ``tests/benchmarks/<part>.py`` yields from its ``report(quick)``."""
    return tuple(import_module(f"tests.benchmarks.{part}").report(quick))
