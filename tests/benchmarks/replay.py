"""How long a replay takes beside the time to read its rows.

`python -m tests.benchmarks.replay --days N --profile` runs it alone.

A few days of the bench are laid end to end for as many days, at 1 min with 15 signals. Bare sqlite3 reads the
same rows in the same run.
"""

import argparse
import cProfile
import pstats
import resource
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from agent.intake import Message
from agent.readings import Reading
from agent.service.replay.replaying import Replay
from agent.service.work.registering import register
from agent.settings import load
from agent.store import Store
from tests.bench.path import point_map_of
from tests.bench_site import sent, settings
from tests.benchmarks.rows import Row, in_turns
from tests.scenarios.scenario import DAY_US, START_US
from tests.service.site import SECOND_US, write

LAYOUT = "two-pipe-twin-late"
TILE_DAYS = 4
SIGNALS = 15
RUNS = 3
LEFT_OUT = ("outdoor_fan_share", "compressor_2_current")  # so that 15 are left


def report(quick: bool) -> Iterator[Row]:
    yield from run(30 if quick else 365)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--days", type=int, default=365)
    parser.add_argument("--profile", action="store_true", help="also say where the time goes")
    asked = parser.parse_args()
    for row in run(asked.days, profile=asked.profile):
        print(*row, sep=" | ")


def run(days: int, *, profile: bool = False) -> Iterator[Row]:
    with tempfile.TemporaryDirectory(prefix="replay-") as directory:
        yield from replayed(Path(directory), days, profile=profile)


def replayed(directory: Path, days: int, *, profile: bool) -> Iterator[Row]:
    payloads = sent(LAYOUT, TILE_DAYS)
    body = settings(LAYOUT, payloads[0][1])
    signals = body["signal_sets"]["bench"]["signals"]
    for name in (*LEFT_OUT, *list(signals)[SIGNALS + len(LEFT_OUT) :]):
        signals.pop(name, None)
    plan = load(write(directory, body))
    with Store.open(plan.store_url) as store:
        watched = register(store, plan, START_US)[0]
        tile = [
            reading
            for time_us, payload in payloads
            for reading in point_map_of(store, plan, watched, START_US)
            .read(Message(1, 1, 1, "plant/bench/one/m1", payload, False, time_us + SECOND_US))
            .readings
        ]
        for number in range(-(-days // TILE_DAYS)):
            shift_us = number * TILE_DAYS * DAY_US
            store.add_batch([_later(each, shift_us) for each in tile])
        until_us = START_US + days * DAY_US
        ids = list(watched.signal_ids.values())
        rows = 0

        def bare() -> None:
            nonlocal rows
            rows = read_bare(store.path, ids, until_us)

        def replay() -> None:
            Replay(store, plan, plan.modules[0], START_US, until_us - 1).run()

        before_mb = peak_mb()
        took_s, floor_s = in_turns(replay, bare, RUNS)
        yield Row(
            f"replay of {days} days at 1 min, {len(ids)} signals, {rows / 1e6:.1f} million readings",
            f"{took_s:.2f} s",
            f"{floor_s:.2f} s: bare sqlite3 reads the rows",
            took_s / floor_s,
            "2",
        )
        yield Row("memory at most in it", f"{peak_mb():.0f} MB", f"{before_mb:.0f} MB before it")
        if profile:
            profiler = cProfile.Profile()
            profiler.runcall(replay)
            pstats.Stats(profiler).sort_stats("cumulative").print_stats(45)


def read_bare(path: Path, ids: list[int], until_us: int) -> int:
    marks = ", ".join("?" * len(ids))
    statement = (
        "SELECT sample_us, signal_id, value, unit FROM reading "
        f"WHERE sample_us BETWEEN ? AND ? AND signal_id IN ({marks}) ORDER BY sample_us"
    )
    with closing(sqlite3.connect(path)) as connection:
        return sum(1 for _ in connection.execute(statement, (START_US, until_us, *ids)))


def peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _later(reading: Reading, by_us: int) -> Reading:
    return reading._replace(sample_us=reading.sample_us + by_us, arrival_us=reading.arrival_us + by_us)


if __name__ == "__main__":
    main()
