"""From payloads through decoders, store and assessor, as the running agent takes them. No broker.

Worked off every two hours of event time: an alarm is raised only where its condition is known at the live
edge, and at the end of most days a module stands.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import chain
from pathlib import Path

from agent.assess.byhour.hours import HOUR_US
from agent.intake import Message, PointMap
from agent.service.work.assessing import Assessor
from agent.service.work.decoding import ToDecode, point_map
from agent.service.work.registering import origins, register
from agent.service.work.watched import Watched
from agent.settings import Plan
from agent.store import Store
from demo_feed.bench import Played
from demo_feed.bench.play import TOPIC
from tests.service.site import SECOND_US

LOOKS_US = 2 * HOUR_US
ARRIVES_US = 400_000  # after it was sampled


@dataclass(frozen=True)
class Run:
    """One module that was worked off to its end, its store still open."""

    store: Store
    watched: Watched
    refused: Counter[str]  # readings by reason


def begun(played: Iterator[Played]) -> tuple[bytes, Iterator[Played]]:
    """The first payload, and all that is played nevertheless."""
    head = [next(played)]
    while head[-1].payload is None:
        head.append(next(played))
    return head[-1].payload, chain(head, played)


@contextmanager
def worked_off(
    directory: Path, plan: Plan, played: Iterable[Played], start_us: int, looks_us: int = LOOKS_US
) -> Iterator[Run]:
    """The only module of a plan, on a store of its own in a directory."""
    refused: Counter[str] = Counter()
    with Store.open(f"sqlite:///{directory}/store.db") as store:
        watched = register(store, plan, start_us)[0]
        points = point_map_of(store, plan, watched, start_us)
        assess = plan.settings.assess
        assessor = Assessor(store, assess.step_s * SECOND_US, assess.grace_s * SECOND_US)
        for now_us, batch in _stretches(played, start_us, looks_us):
            receive(store, points, batch, refused)
            assessor.work_off(watched, now_us + assess.grace_s * SECOND_US)
        yield Run(store, watched, refused)


def _stretches(
    played: Iterable[Played], start_us: int, looks_us: int
) -> Iterator[tuple[int, list[tuple[int, bytes]]]]:
    """What is sent between two looks of the agent's, with the second one's time."""
    ends_us = start_us + looks_us
    payloads: list[tuple[int, bytes]] = []
    for each in played:
        if each.time_us >= ends_us:
            yield ends_us, payloads
            ends_us, payloads = ends_us + looks_us, []
        if each.payload is not None:
            payloads.append((each.time_us, each.payload))
    yield ends_us, payloads


def point_map_of(store: Store, plan: Plan, watched: Watched, start_us: int) -> PointMap:
    mapping_id = store.register_mapping(plan.mapping, start_us)
    mapped = [
        ToDecode(origin, ids, dict.fromkeys(ids, (watched.module_id,)))
        for origin, ids in origins(store, plan)
    ]
    return point_map(mapped, mapping_id, plan.settings.assess.tolerance_s * SECOND_US)


def receive(store: Store, points: PointMap, batch: list[tuple[int, bytes]], refused: Counter[str]) -> None:
    """A batch as intake keeps it, from decoder to commit."""
    readings, spans, refusals = [], [], []
    for time_us, payload in batch:
        decoded = points.read(Message(1, 1, 1, TOPIC, payload, False, time_us + SECOND_US + ARRIVES_US))
        readings += decoded.readings
        spans += decoded.spans
        refusals += decoded.refusals
        refused.update(decoded.counts)
    store.add_batch(readings, refusals, spans)
