"""What goes to the disk: bytes written for a reading, and what a module's day takes in the store.

`/proc/self/io` counts what is on its way to the disk; it needs a folder on one, so it is made in /var/tmp.
"""

from __future__ import annotations

import sqlite3
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from tests.benchmarks.plant import SIGNALS, Plant, Watch
from tests.benchmarks.rows import Row
from tests.scenarios.scenario import DAY_US, HOUR_US, START_US
from tests.service.site import MINUTE_US, SECOND_US

BEGIN_US = START_US + 8 * HOUR_US
SIGNAL_FIRST = "6291 B, measured once: a key that begins with the signal"
TABLES = {
    "readings": ("reading", "conflict", "refused", "dirty"),
    "assessments": ("assessment", "basis", "progress"),
    "hours": ("hour",),
    "alarms": ("detection", "alarm_journal", "alarm_state", "outbox"),
}


def report(quick: bool) -> Iterator[Row]:
    # How many modules' messages come together in the second that intake waits, polled every 30 s.
    for modules, whose in ((27, "of 400"), (1, "of 15, as 5 modules"), (33, "of 500, as 1000 modules")):
        yield written(modules, whose, 15_000 if quick else 400_000)
    yield lived((10 if quick else 120) * MINUTE_US)
    for every_s in (60,) if quick else (30, 60):
        yield kept(every_s, 6 * HOUR_US if quick else 10 * MINUTE_US)


def written(modules: int, whose: str, readings: int) -> Row:
    """Intake alone."""
    with on_disk() as folder, Watch(folder, Plant(modules), BEGIN_US) as watch:
        batches = readings // (modules * SIGNALS)

        def take_in() -> None:
            for _ in range(batches):
                watch.take_in(watch.now_us + 30 * SECOND_US)

        each = bytes_written(take_in) / (batches * modules * SIGNALS)
    floor, aim = (SIGNAL_FIRST, "300 B") if whose == "of 400" else ("", "")
    return Row(f"written for a reading, batches {whose}", f"{each:.0f} B", floor, None, aim)


def lived(for_us: int) -> Row:
    """Intake and all that follows from it, as a small site lives."""
    modules = 5
    with on_disk() as folder, Watch(folder, Plant(modules), BEGIN_US) as watch:
        for _ in watch.play(BEGIN_US + HOUR_US, HOUR_US):
            pass
        since_us = watch.now_us
        step_us = 30 * SECOND_US
        written_ = bytes_written(lambda: [None for _ in watch.play(since_us + for_us, step_us)])
        a_day = written_ / modules * DAY_US / for_us
    return Row("written for a module's day of 5, readings and assessments, at 30 s", f"{a_day / 1e6:.1f} MB")


def kept(every_s: int, at_once_us: int) -> Row:
    """What of a day is in the file. Of 5 modules, because what they have in common is kept once."""
    modules = 5
    with on_disk() as folder, Watch(folder, Plant(modules, every_s), BEGIN_US) as watch:
        empty = pages(watch.store.path)
        for _ in watch.play(BEGIN_US + DAY_US, at_once_us):
            pass
        taken = pages(watch.store.path)
    found = {
        what: sum(taken.get(table, 0) - empty.get(table, 0) for table in tables) / modules
        for what, tables in TABLES.items()
    }
    parts = ", ".join(f"{what} {size / 1e3:.0f}" for what, size in found.items())
    return Row(
        f"kept of a module's day, {SIGNALS} signals at {every_s} s",
        f"{sum(found.values()) / 1e6:.2f} MB ({parts} kB)",
    )


def bytes_written(do: Callable[[], object]) -> int:
    before = _written()
    do()
    return _written() - before


def _written() -> int:
    lines = Path("/proc/self/io").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("write_bytes"))


def pages(store: Path) -> dict[str, int]:
    """Bytes by table, its indexes with it."""
    with closing(sqlite3.connect(store)) as connection:
        found = connection.execute(
            "SELECT tbl_name, sum(pgsize) FROM dbstat JOIN sqlite_master USING (name) GROUP BY tbl_name"
        )
        return dict(found.fetchall())


@contextmanager
def on_disk() -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix="disk-", dir="/var/tmp") as folder:
        kind = subprocess.run(["stat", "-f", "-c", "%T", folder], capture_output=True, text=True).stdout
        assert kind.strip() != "tmpfs", f"{folder} is in memory: nothing is written there"
        yield Path(folder)
