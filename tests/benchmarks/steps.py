"""What one grid step costs while readings come in, and a look at which nothing is due.

`python -m tests.benchmarks.steps --modules N --profile` runs it alone. Modules of the bench, polled and
assessed every 30 s: two hours lie in the store, then 20 steps come one by one. What they send is the same for
all, under signals of their own. Intake and the broker are not in it: what is published goes nowhere.
"""

import argparse
import cProfile
import pstats
import tempfile
import threading
from collections.abc import Iterator, Sequence
from pathlib import Path
from statistics import median
from sys import getsizeof
from typing import NamedTuple

from agent.intake import Message
from agent.outlets import Metrics
from agent.readings import Reading, Span
from agent.service.agent import AT_HAND_US, CHECK_S
from agent.service.rounds import Rounds
from agent.service.tell.announcing import Announcer
from agent.service.work.alarming import Alarms
from agent.service.work.assessing import Assessor
from agent.service.work.registering import register
from agent.service.work.watched import Watched
from agent.settings import Plan, load
from agent.store import Store
from demo_feed.bench import ARRANGEMENTS, Gateway, Unit, play
from demo_feed.bench.play import TOPIC
from tests.bench.configuration import configuration
from tests.bench.path import point_map_of
from tests.benchmarks.rows import Row, cpu_s
from tests.scenarios.scenario import HOUR_US, START_US
from tests.service.site import SECOND_US, write

LAYOUT = "two-pipe-twin-late"
SIGNALS = 15
LEFT_OUT = ("outdoor_fan_share", "compressor_2_current")  # so that 15 are left
POLL_S = STEP_S = 30
BEGIN_US = START_US + 9 * HOUR_US  # when it has run for hours
BACKLOG_US = 2 * HOUR_US
STEP_US = STEP_S * SECOND_US
STEPS = 20
AIM_MS = 0.6
AT_ONCE = 30  # modules whose readings come in one batch


def report(quick: bool) -> Iterator[Row]:
    found: dict[int, Took] = {}
    for number in (10, 50) if quick else (10, 50, 200, 1000):
        with tempfile.TemporaryDirectory(prefix="steps-") as directory:
            found[number] = took = of(Path(directory), number)
        share = took.step_ms * number / (STEP_S * 1e3)
        yield Row(
            f"step of {number} modules, {SIGNALS} signals each",
            f"{took.step_ms:.2f} ms a module: {share:.1%} of a core",
            ratio=took.step_ms / AIM_MS,
            aim=f"1: {AIM_MS} ms a module, 2 % of a core for 1,000",
        )
        yield Row(
            f"look at {number} modules, nothing due",
            f"{took.look_ms:.3f} ms a module: {took.look_ms * number / (CHECK_S * 1e3):.2%} of a core",
        )
        yield Row(f"readings at hand of {number} modules", f"{took.at_hand_kb:.0f} kB a module")
    few, many = min(found), max(found)
    growth = found[many].step_ms / found[few].step_ms
    yield Row(f"growth of a module's step, {few} to {many} modules", f"{growth:.2f} times", aim="1.1")
    whole_s = 10_000 * found[many].step_ms / 1e3
    yield Row("step of 10,000 modules", f"{whole_s:.0f} s, not measured: as many times that of {many}")


class Took(NamedTuple):
    """Processor time in ms a module, medians; and memory."""

    step_ms: float
    look_ms: float  # at which nothing is due
    at_hand_kb: float


def of(directory: Path, number: int, profiler: cProfile.Profile | None = None) -> Took:
    """Modules as they run, step by step."""
    told = sent()
    body, _ = configuration(
        Gateway(poll_s=POLL_S), Unit(ARRANGEMENTS[LAYOUT]).refrigerant, LAYOUT, told[0][1]
    )
    signals = body["signal_sets"]["bench"]["signals"]
    for name in (*LEFT_OUT, *list(signals)[SIGNALS + len(LEFT_OUT) :]):
        signals.pop(name, None)
    body["systems"]["one"]["modules"] = {f"m[1..{number}]": body["systems"]["one"]["modules"]["m1"]}
    plan = load(write(directory, body))
    grace_us = plan.settings.assess.grace_s * SECOND_US
    with Store.open(plan.store_url) as store:
        store.keep_at_hand(max(each.lookback_us for each in plan.modules) + AT_HAND_US)
        watched = register(store, plan, BEGIN_US)
        alarms = Alarms(store, Announcer(store, plan))

        now_us = BEGIN_US
        rounds = Rounds(
            plan,
            store,
            Assessor(store, STEP_US, grace_us, alarms),
            alarms,
            watched,
            Metrics(lambda: now_us, HOUR_US, {}),
            None,
            lambda topic, payload: None,
            lambda: None,
            lambda: now_us,
        )
        stopping = threading.Event()

        def look(at_us: int) -> float:
            nonlocal now_us
            now_us = at_us + grace_us
            return cpu_s(lambda: rounds.work_off(stopping))

        steps = decoded(store, plan, watched[0], told)
        for batch in steps[: BACKLOG_US // STEP_US]:
            receive(store, watched, batch)
        edge_us = BEGIN_US + BACKLOG_US
        look(edge_us)
        took, idle = [], []
        for batch in steps[BACKLOG_US // STEP_US :]:
            receive(store, watched, batch)
            edge_us += STEP_US
            if profiler is not None:
                profiler.enable()
            took.append(look(edge_us))
            if profiler is not None:
                profiler.disable()
            idle.append(look(edge_us + 2 * SECOND_US))
        at_hand_bytes = sum(
            getsizeof(held)
            for column in store._at_hand._columns.values()
            for held in (column.times, column.values)
        )
    return Took(1e3 * median(took) / number, 1e3 * median(idle) / number, at_hand_bytes / 1e3 / number)


def sent() -> list[tuple[int, bytes]]:
    """What a module's gateway sends, with its times, from the begin of the backlog to the last step."""
    end_us = BEGIN_US + BACKLOG_US + STEPS * STEP_US
    played = play(Unit(ARRANGEMENTS[LAYOUT]), Gateway(poll_s=POLL_S), "a", BEGIN_US, end_us)
    return [(each.time_us, each.payload) for each in played if each.payload is not None]


def decoded(
    store: Store, plan: Plan, one: Watched, told: Sequence[tuple[int, bytes]]
) -> list[list[tuple[str, Reading]]]:
    """By step, the readings of one module under the names of its signals."""
    points = point_map_of(store, plan, one, BEGIN_US)
    names = {signal_id: name for name, signal_id in one.signal_ids.items()}
    steps: list[list[tuple[str, Reading]]] = []
    for time_us, payload in told:
        message = Message(1, 1, 1, TOPIC, payload, False, time_us + SECOND_US)
        steps.append([(names[each.signal_id], each) for each in points.read(message).readings])
    return steps


def receive(store: Store, watched: Sequence[Watched], step: Sequence[tuple[str, Reading]]) -> None:
    """What all modules send in a step."""
    times = [reading.sample_us for _, reading in step]
    for part in range(0, len(watched), AT_ONCE):
        modules = watched[part : part + AT_ONCE]
        readings = [
            reading._replace(signal_id=each.signal_ids[name]) for each in modules for name, reading in step
        ]
        store.add_batch(readings, [], [Span(each.module_id, min(times), max(times)) for each in modules])
        for each in modules:
            for name, reading in step:
                each.feed.hear(reading.arrival_us, name, reading.sample_us, reading.value)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--modules", type=int, default=50)
    parser.add_argument("--profile", action="store_true", help="also say where the time goes")
    asked = parser.parse_args()
    profiler = cProfile.Profile() if asked.profile else None
    with tempfile.TemporaryDirectory(prefix="steps-") as directory:
        print(of(Path(directory), asked.modules, profiler))
    if profiler is not None:
        pstats.Stats(profiler).sort_stats("cumulative").print_stats(90)


if __name__ == "__main__":
    main()
