"""From the inbox to the store: a batch is acknowledged to the broker only after its commit."""

from __future__ import annotations

import gc
import logging
import threading
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from agent.assess import SECOND
from agent.intake import Connection, Inbox, Message, PointMap
from agent.outlets import Metrics
from agent.readings import Reading, Refusal, Span
from agent.service.work.decoding import ToDecode, point_map
from agent.service.work.feed import Feed
from agent.service.work.registering import origins
from agent.service.work.watched import Watched
from agent.settings import ModulePath, Plan
from agent.store import Store, StoreError

BATCH_MESSAGES = 500
BATCH_WAIT_S = 1.0
OBJECTS = 20_000  # made before garbage is looked for; readings wait for their commit by the thousand
RETRY_S = 5.0
MOST_TOLD = 1000  # refusals by topic and reason that are logged

_log = logging.getLogger(__name__)


class Source(NamedTuple):
    """A signal: whose it is, its name, and the feeds of the modules that use it."""

    owner: ModulePath
    name: str
    feeds: Sequence[Feed]


class Intake:
    """Takes batches until the inbox is closed."""

    def __init__(
        self,
        store: Store,
        inbox: Inbox,
        connection: Connection,
        points: PointMap,
        metrics: Metrics,
        sources: Mapping[int, Source],
    ) -> None:
        self.store = store
        self.inbox = inbox
        self.connection = connection
        self.points = points
        self.metrics = metrics
        self.sources = sources  # by signal id
        self._told: set[tuple[str, str]] = set()

    def run(self, stop: threading.Event) -> None:
        """Work until the inbox is closed and empty; a batch that cannot be stored is tried again."""
        gc.set_threshold(OBJECTS, *gc.get_threshold()[1:])
        while messages := self.inbox.take(BATCH_MESSAGES, BATCH_WAIT_S):
            batch = _decode(self.points, messages)
            while not self._keep(batch):
                if stop.wait(RETRY_S):
                    return  # unacknowledged, so the broker keeps it
            self.connection.acknowledge(messages)

    def _keep(self, batch: _Batch) -> bool:
        try:
            added = self.store.add_batch(batch.readings, batch.refusals, batch.spans)
        except StoreError as error:
            _log.error("a batch of %d readings waits for the store: %s", len(batch.readings), error)
            self.metrics.count_failed("store")
            return False
        received = Counter(self.sources[reading.signal_id].owner for reading in batch.readings)
        self.metrics.count_readings(received, batch.refused + Counter(conflict=added.conflicts))
        for reading in batch.fresh:
            source = self.sources[reading.signal_id]
            for feed in source.feeds:
                feed.hear(reading.arrival_us, source.name, reading.sample_us, reading.value)
        for refusal in batch.refusals:
            self._tell(refusal)
        return True

    def _tell(self, refusal: Refusal) -> None:
        """Log a refusal once for its topic and reason; all are counted and kept."""
        if (refusal.topic, refusal.reason) not in self._told and len(self._told) < MOST_TOLD:
            self._told.add((refusal.topic, refusal.reason))
            _log.warning("refused on %s (%s): %s", refusal.topic, refusal.reason, refusal.detail)


def intake_of(
    store: Store,
    plan: Plan,
    watched: Iterable[Watched],
    inbox: Inbox,
    connection: Connection,
    metrics: Metrics,
    now_us: int,
) -> Intake:
    """The intake of a plan: what comes on its topics goes under the modules that use it."""
    users: dict[int, list[Watched]] = {}  # by signal id
    for each in watched:
        for signal_id in each.signal_ids.values():
            users.setdefault(signal_id, []).append(each)
    mapped = []
    sources = {}
    for origin, ids in origins(store, plan):
        modules = {name: tuple(each.module_id for each in users.get(i, ())) for name, i in ids.items()}
        mapped.append(ToDecode(origin, ids, modules))
        for name, i in ids.items():
            sources[i] = Source(origin.path, name, [each.feed for each in users.get(i, ())])
    mapping_id = store.register_mapping(plan.mapping, now_us)
    points = point_map(mapped, mapping_id, plan.settings.assess.tolerance_s * SECOND)
    topics = {each.topic: each.path for each in plan.origins}
    metrics.ask_offsets(
        lambda: {topics[topic]: us for topic, us in points.offsets().items() if topic in topics}
    )
    return Intake(store, inbox, connection, points, metrics, sources)


class _Batch(NamedTuple):
    readings: list[Reading]
    fresh: list[Reading]  # those that were not retained
    refusals: list[Refusal]
    spans: list[Span]
    refused: Counter[str]


def _decode(points: PointMap, messages: Iterable[Message]) -> _Batch:
    batch = _Batch([], [], [], [], Counter())
    for message in messages:
        decoded = points.read(message)
        batch.readings.extend(decoded.readings)
        batch.fresh.extend(decoded.readings if decoded.fresh else [])
        batch.refusals.extend(decoded.refusals)
        batch.spans.extend(decoded.spans)
        if decoded.counts:
            batch.refused.update(decoded.counts)
    return batch
