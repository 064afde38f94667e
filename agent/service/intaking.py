"""From the inbox to the store: a batch is acknowledged to the broker only after its commit."""

from __future__ import annotations

import logging
import threading
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple

from agent.intake import Connection, Inbox, Message, PointMap
from agent.outlets import Metrics
from agent.readings import Reading, Refusal, Span
from agent.settings import ModulePath
from agent.store import Store, StoreError

BATCH_MESSAGES = 500
BATCH_WAIT_S = 1.0
RETRY_S = 5.0

_log = logging.getLogger(__name__)


class Intake:
    """Takes batches until the inbox is closed."""

    def __init__(
        self,
        store: Store,
        inbox: Inbox,
        connection: Connection,
        points: PointMap,
        metrics: Metrics,
        owners: Mapping[int, ModulePath],
        heard: Callable[[Mapping[ModulePath, int]], None],
    ) -> None:
        self.store = store
        self.inbox = inbox
        self.connection = connection
        self.points = points
        self.metrics = metrics
        self.owners = owners  # signal id to module
        self.heard = heard  # told the newest sample time of each module

    def run(self, stop: threading.Event) -> None:
        """Work until the inbox is closed and empty; a batch that cannot be stored is tried again."""
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
        newest: dict[ModulePath, int] = {}
        received: Counter[ModulePath] = Counter()
        for reading in batch.readings:
            owner = self.owners[reading.signal_id]
            newest[owner] = max(newest.get(owner, 0), reading.sample_us)
            received[owner] += 1
        self.metrics.count_readings(received, batch.refused + Counter(conflict=added.conflicts))
        self.heard(newest)
        return True


class _Batch(NamedTuple):
    readings: list[Reading]
    refusals: list[Refusal]
    spans: list[Span]
    refused: Counter[str]


def _decode(points: PointMap, messages: Iterable[Message]) -> _Batch:
    batch = _Batch([], [], [], Counter())
    for message in messages:
        decoded = points.read(message)
        batch.readings.extend(decoded.readings)
        batch.refusals.extend(decoded.refusals)
        batch.spans.extend(decoded.spans)
        batch.refused.update(decoded.counts)
    return batch
