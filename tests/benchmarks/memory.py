"""Resident memory of the agent by the number of modules, and whether it grows.

`python -m tests.benchmarks.memory --trace` also says which lines hold more than before.
"""

from __future__ import annotations

import argparse
import gc
import multiprocessing
import tempfile
import tracemalloc
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from agent.service.machine.clock import now_us
from tests.benchmarks.plant import Plant, Running, Watch, apart, resident, send
from tests.benchmarks.rows import Row
from tests.mosquitto import Mosquitto
from tests.scenarios.scenario import HOUR_US, START_US
from tests.service.site import MINUTE_US

BEGIN_US = START_US + 8 * HOUR_US
EVERY_S = 60
STEP_US = 5 * MINUTE_US


def report(quick: bool) -> Iterator[Row]:
    sizes = ((10, 2 * HOUR_US),)
    if not quick:
        sizes = ((10, 2 * HOUR_US), (1000, 2 * HOUR_US), (10_000, 2 * MINUTE_US))
    few: tuple[int, float] | None = None
    for modules, backlog_us in sizes:
        before, after, most = held(Plant(modules, EVERY_S), backlog_us)
        yield Row(f"resident, {modules} modules, before data", f"{before:.0f} MiB")
        few = few or (modules, after)
        beside = ""
        if modules > few[0]:
            beside = f", {(after - few[1]) / (modules - few[0]) * 1024:.0f} KiB for each module more"
        what = f"resident, {modules} modules, after {backlog_us / MINUTE_US:.0f} min of backlog"
        yield Row(what, f"{after:.0f} MiB, {most:.0f} at most{beside}")
    spawn = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(max_workers=1, mp_context=spawn) as pool:
        yield pool.submit(growth, *((5, 1, 1) if quick else (20, 3, 6))).result()


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--modules", type=int, default=20)
    parser.add_argument("--warm-up", type=int, default=2, help="hours")
    parser.add_argument("--hours", type=int, default=3)
    parser.add_argument("--trace", action="store_true", help="also say what holds more than before")
    asked = parser.parse_args()
    print(*growth(asked.modules, asked.warm_up, asked.hours, trace=asked.trace), sep=" | ")


def held(plant: Plant, backlog_us: int) -> tuple[float, float, float]:
    """MiB of a real agent: before anything has come, when it has worked off a past, and at most."""
    with tempfile.TemporaryDirectory(prefix="memory-", dir="/var/tmp") as directory:
        folder = Path(directory)
        with Mosquitto(folder / "broker") as broker, Running(folder, plant, broker) as agent:
            before = agent.resident()
            until_us = now_us()
            apart(send, broker.port, plant, until_us - backlog_us, until_us)
            agent.wait_worked_off(plant.readings(until_us - backlog_us, until_us), until_us)
            return before, agent.resident(), agent.resident("VmHWM")


def growth(modules: int, warm_up_hours: int, hours: int, *, trace: bool = False) -> Row:
    """By a line through what is resident while hours of load pass, once it is warm."""
    warm_us = BEGIN_US + warm_up_hours * HOUR_US
    with (
        tempfile.TemporaryDirectory(prefix="memory-") as folder,
        Watch(Path(folder), Plant(modules), BEGIN_US) as watch,
    ):
        for _ in watch.play(warm_us, STEP_US):
            pass
        if trace:
            tracemalloc.start(8)
            gc.collect()
            before = tracemalloc.take_snapshot()
        until_us = warm_us + hours * HOUR_US
        points = [((now - warm_us) / HOUR_US, resident("self")) for now in watch.play(until_us, STEP_US)]
        if trace:
            gc.collect()
            for line in tracemalloc.take_snapshot().compare_to(before, "lineno")[:20]:
                print(line)
    slope, _ = np.polyfit(*zip(*points, strict=True), 1)
    what = f"growth, {modules} modules, over {hours} h of load after {warm_up_hours}"
    return Row(what, f"{slope:.2f} MiB an hour", "", slope, "1 MiB")


if __name__ == "__main__":
    main()
