"""How a command that goes on is told to end: by SIGINT or SIGTERM, in place of ending the process."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from queue import Empty, SimpleQueue


@contextmanager
def told_to_end() -> Iterator[SimpleQueue[int]]:
    """Where SIGINT and SIGTERM are put, in place of ending the process."""
    told: SimpleQueue[int] = SimpleQueue()  # no Event: its lock is not for signal handlers
    before = {
        number: signal.signal(number, lambda number, frame: told.put(number))
        for number in (signal.SIGINT, signal.SIGTERM)
    }
    try:
        yield told
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def is_told(told: SimpleQueue[int], within_s: float) -> bool:
    """Whether a signal has come, or comes within that time."""
    try:
        told.get(timeout=within_s)
    except Empty:
        return False
    return True
