"""How long from the start of the process to its first assessment, on a day of history and with a live feed.

By the clock on the wall, since people wait for it; the processor time of the agent stands beside it.
"""

from __future__ import annotations

import multiprocessing
import os
import sqlite3
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from agent.service.machine.clock import now_us
from demo_feed.publisher import Publisher
from tests.benchmarks.plant import Plant, Running, Watch, wait
from tests.benchmarks.rows import Row
from tests.mosquitto import Mosquitto
from tests.scenarios.scenario import DAY_US, HOUR_US

# What the first module has, the others get as well: to live through it 200 times would take an hour.
COPIES = (
    "INSERT INTO reading SELECT sample_us, other.id, value, unit, arrival_us, mapping_id FROM reading"
    " JOIN signal mine ON mine.id = signal_id"
    " JOIN signal other ON other.name = mine.name AND other.id != mine.id"
    " ORDER BY sample_us, other.id",
    "INSERT INTO assessment SELECT other.module_id, grid_us, other.id, basis_id, figures FROM assessment"
    " JOIN revision other ON other.module_id != assessment.module_id ORDER BY other.module_id, grid_us",
    "INSERT INTO detection SELECT other.module_id, alarm, grid_us, other.id, state FROM detection"
    " JOIN revision other ON other.module_id != detection.module_id",
    "INSERT INTO hour SELECT id, from_us, settled, body FROM hour JOIN module ON id != module_id",
    "INSERT INTO progress SELECT id, assessed_us FROM progress JOIN module ON id != module_id",
    "INSERT INTO alarm_state SELECT id, alarm, since_us, changed_us, state FROM alarm_state"
    " JOIN module ON id != module_id",
)


def report(quick: bool) -> Iterator[Row]:
    for modules in (5,) if quick else (5, 200):
        with tempfile.TemporaryDirectory(prefix="start-", dir="/var/tmp") as folder:
            yield from started(Path(folder), Plant(modules))


def started(folder: Path, plant: Plant) -> Iterator[Row]:
    until_us = with_history(folder, plant)
    with Mosquitto(folder / "broker") as broker:
        gateway = multiprocessing.get_context("spawn").Process(
            target=_live, args=(broker.port, plant, until_us), daemon=True
        )
        gateway.start()
        try:
            began = time.monotonic()
            with Running(folder, plant, broker) as agent, closing(sqlite3.connect(agent.store)) as store:
                online = _taken(began, agent)

                def newly_assessed() -> int:
                    query = "SELECT count(*) FROM progress WHERE assessed_us > ?"
                    return int(store.execute(query, (until_us,)).fetchone()[0])

                wait(newly_assessed, "the first new assessment")
                first = _taken(began, agent)
                wait(lambda: newly_assessed() == plant.modules, "a new assessment of every module")
                every = _taken(began, agent)
        finally:
            gateway.terminate()
            gateway.join()
    of = f"start with {plant.modules} modules and a day of history"
    yield Row(f"{of}, to its connection", online)
    yield Row(f"{of}, to the first assessment", first)
    yield Row(f"{of}, to an assessment of every module", every)


def with_history(folder: Path, plant: Plant) -> int:
    """Until when the store has a day of it."""
    until_us = now_us() // HOUR_US * HOUR_US
    with Watch(folder, plant, until_us - DAY_US) as watch:
        watch.plant = Plant(1, plant.every_s)  # alone is heard
        for _ in watch.play(until_us, 6 * HOUR_US):
            pass
    with closing(sqlite3.connect(watch.store.path)) as store:
        for statement in COPIES if plant.modules > 1 else ():
            store.execute(statement)
        store.commit()
    return until_us


def _live(port: int, plant: Plant, from_us: int) -> None:
    """What has been sampled meanwhile, and from then on all in its second."""
    with Publisher("127.0.0.1", port, threading.Event()) as publisher:
        while True:
            until_us = now_us()
            for _, topic, payload in plant.messages(from_us, until_us):
                publisher.publish(topic, payload)
            from_us = until_us
            time.sleep(0.5)


def _taken(began: float, agent: Running) -> str:
    fields = Path(f"/proc/{agent.process.pid}/stat").read_text().rpartition(")")[2].split()
    processor_s = (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")  # utime, stime: proc(5)
    return f"{time.monotonic() - began:.1f} s ({processor_s:.1f} s of the processor)"
