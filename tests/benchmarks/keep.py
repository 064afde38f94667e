"""What keeping readings for a time costs: each step, whether intake waits for it, and what is left on disk.

An invented site of 50 modules with 16 signals each, every 30 s; a store that holds more than is to be kept.
Beside it `delete` alone, by sqlite3, of as many of the same rows. A report; nothing is asserted.
"""

from __future__ import annotations

import sqlite3
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, nullcontext
from pathlib import Path
from statistics import median, quantiles

from agent.readings import Reading
from agent.service.work.keeping import PAUSE_S, ROWS
from agent.store import Store
from tests.benchmarks.rows import Row, cpu_s

SIGNALS = 50 * 16
EVERY_US = 30_000_000
WAIT_S = 0.1  # between two batches of intake; one poll of the whole site in each
TURNS, POLLS = 8, 20  # in turns so many polls
AIM = "well under 50 ms"


def report(quick: bool) -> Iterator[Row]:
    hours = 2 if quick else 8
    with tempfile.TemporaryDirectory(prefix="keep-") as folder:
        path = Path(folder) / "store.db"
        with Store.open(f"sqlite:///{path}") as store:
            polls = hours * 120
            for number in range(polls):
                store.add_batch(poll(number))
            before = used(path)
            yield from steps(store, path)
            yield from beside_intake(store, polls)
            while store.thin(polls * EVERY_US, ROWS, numbered, {}) >= ROWS:
                pass
            yield Row(
                f"{hours} h of readings, summed up",
                f"{used(path) / 1e6:.1f} MB",
                f"{before / 1e6:.1f} MB as received",
                used(path) / before,
            )


def poll(number: int) -> list[Reading]:
    """What a gateway tells of the whole site at once."""
    at_us = number * EVERY_US
    return [
        Reading(at_us + signal % 7, signal, round(11.4 + (signal + number) % 17 / 10, 1), None, at_us, 1)
        for signal in range(SIGNALS)
    ]


def numbered(signal_id: int, value: float | int | str, unit: str | None) -> tuple[float, str | None] | None:
    return None if isinstance(value, str) else (float(value), unit)


def steps(store: Store, path: Path) -> Iterator[Row]:
    """Steps with the write lock held, the longest of them; in turns with a bare delete of as many rows."""
    took: list[float] = []
    cpu: tuple[list[float], list[float]] = ([], [])
    with closing(sqlite3.connect(path, isolation_level=None, timeout=30)) as bare:
        for _ in range(40):
            began = time.perf_counter()
            cpu[0].append(cpu_s(lambda: store.thin(2**62, ROWS, numbered, {})))
            took.append(time.perf_counter() - began)
            cpu[1].append(cpu_s(lambda: delete(bare)))
    ours, floor = median(cpu[0]) * 1e3, median(cpu[1]) * 1e3
    what = f"a step of {ROWS} readings"
    yield Row(what, f"{ours:.1f} ms", f"{floor:.1f} ms, deleted bare", ours / floor)
    held = f"{median(took) * 1e3:.1f}, {max(took) * 1e3:.1f} ms"
    yield Row(f"{what}, wall clock: median, longest of 40", held, aim=AIM)


def delete(bare: sqlite3.Connection) -> None:
    bare.execute("BEGIN IMMEDIATE")
    oldest = f"SELECT sample_us, signal_id FROM reading ORDER BY 1, 2 LIMIT 1 OFFSET {ROWS - 1}"
    bare.execute(f"DELETE FROM reading WHERE (sample_us, signal_id) <= ({oldest})")
    bare.execute("COMMIT")


def beside_intake(store: Store, polls: int) -> Iterator[Row]:
    """How long a commit of one poll takes, by the wall clock: in turns alone and beside removing."""
    alone: list[float] = []
    beside: list[float] = []
    for turn in range(TURNS):
        with nullcontext() if turn % 2 == 0 else removing(store):
            for number in range(turn * POLLS, (turn + 1) * POLLS):
                batch = poll(polls + number)
                time.sleep(WAIT_S)
                began = time.perf_counter()
                store.add_batch(batch)
                (beside if turn % 2 else alone).append(time.perf_counter() - began)
    for took, what in ((alone, "alone"), (beside, "beside removing")):
        told = ", ".join(f"{each * 1e3:.1f}" for each in (median(took), quantiles(took, n=20)[-1], max(took)))
        what = f"intake's commit of {SIGNALS} readings {what}, wall clock: median, 95 %, longest"
        yield Row(what, f"{told} ms")


@contextmanager
def removing(store: Store) -> Iterator[None]:
    """A thread that does as a turn does, without end."""
    over = threading.Event()

    def remove() -> None:
        while not over.wait(PAUSE_S):
            store.thin(2**61, ROWS, numbered, {})

    thread = threading.Thread(target=remove)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def used(path: Path) -> int:
    """Bytes in use: pages that are free are used again."""
    with closing(sqlite3.connect(path)) as connection:
        (pages,), (free,), (size,) = (
            connection.execute(f"PRAGMA {name}").fetchone()
            for name in ("page_count", "freelist_count", "page_size")
        )
    return int((pages - free) * size)
