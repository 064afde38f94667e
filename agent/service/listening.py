"""Listening at the broker beside a running agent: which mapped signals arrive, and what nobody mapped.

It connects under a name of its own, keeps no session, publishes nothing, and acknowledges only what was sent
to it. What it decodes with is what the agent decodes with.
"""

from __future__ import annotations

import secrets
import time
from collections import deque
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import count
from typing import Self

from agent.intake import Connection, Inbox, Message, covers
from agent.intake.refusals import UNMAPPED
from agent.outlets.heard import HeardSite, Progress
from agent.service.broker import broker_settings
from agent.service.clock import now_us
from agent.service.discovering import Discovery
from agent.service.hearing import Sample, Session, heard_site, topics_of
from agent.service.mapping import Mapped, point_map
from agent.service.registering import moved_signals
from agent.settings import Plan
from agent.store import Store

INBOX_BYTES = 16 * 1024 * 1024
PATIENCE_S = 20.0  # for a broker that closes the connection without an answer, until 3.1.1 has been tried
LOOK_S = 0.1
MOST_SAMPLES = 20_000  # of a signal
EVERY_REFUSAL = 1_000_000
STORE_US = 3600 * 1_000_000  # how far back what the agent stored is looked at


class BrokerUnreachableError(Exception):
    """The broker is not there, or does not let us in."""


class Listening:
    """Use as a context manager: it connects at the beginning and leaves no trace at the end.

    ``filters``: topic filters beside those of the mapped topics and the telemetry prefix. Entering raises
    BrokerUnreachableError, and ValueError or OSError for a filter, secret or certificate that cannot be used.
    ``told`` ends the wait for the broker early.
    """

    def __init__(
        self,
        plan: Plan,
        filters: Iterable[str],
        environment: Mapping[str, str],
        *,
        told: Callable[[], bool] = lambda: False,
        clock: Callable[[], int] = now_us,
    ) -> None:
        self.plan = plan
        self.clock = clock
        self._told = told
        tolerance_us = plan.settings.assess.tolerance_s * 1_000_000
        numbers = count()
        self._mapped = [
            Mapped(
                origin,
                {name: next(numbers) for name in origin.points.values()},
                dict.fromkeys(origin.conversions, ()),
            )
            for origin in plan.origins
        ]
        self._points = point_map(self._mapped, 0, tolerance_us, kept_per_minute=EVERY_REFUSAL)
        self._discovery = Discovery(tolerance_us)
        self._samples: dict[int, deque[Sample]] = {
            i: deque(maxlen=MOST_SAMPLES) for each in self._mapped for i in each.signal_ids.values()
        }
        self._counts = dict.fromkeys(self._samples, 0)
        self._refused: dict[str, dict[str, str]] = {}  # by topic: the detail of each refusal, by its reason
        self._messages = 0
        self._unsure_topics: set[str] = set()  # that were published at QoS 0
        own = broker_settings(plan, environment)
        self._settings = replace(
            own,
            client_id=f"{own.client_id}-listen-{secrets.token_hex(4)}",
            subscriptions=_subscriptions(
                own.subscriptions, [f"{plan.settings.broker.telemetry}/#", *filters]
            ),
            looks_on=True,
        )
        self._inbox = Inbox(INBOX_BYTES)
        self._connection = Connection(self._settings, self._inbox, clock)
        self._began_us = clock()

    def __enter__(self) -> Self:
        self._connection.start()
        try:
            self._wait_for_broker()
        except BaseException:
            self._leave()
            raise
        self._began_us = self.clock()
        return self

    def __exit__(self, *_: object) -> None:
        self._leave()

    def work(self) -> Progress:
        """Take in what has arrived by now."""
        while len(self._inbox):
            messages = self._inbox.take(500, 0.0)
            for message in messages:
                self._hear(message)
            self._connection.acknowledge(messages)
        heard = sum(n > 0 for n in self._counts.values())
        listened_us = self.clock() - self._began_us
        return Progress(listened_us, self._messages, heard, len(self._counts), len(self._discovery))

    def site(self, store: Store | None = None) -> HeardSite:
        """What was heard so far. ``store``: look at the last hour that the agent stored as well."""
        now = self.clock()
        session = Session(
            broker=f"{self._settings.host}:{self._settings.port}",
            began_us=self._began_us,
            now_us=now,
            messages=self._messages,
            filters=self._settings.subscriptions,
            from_store_us=STORE_US if store else None,
            notes=tuple(self._notes()),
        )
        return heard_site(
            self.plan,
            session,
            {
                (str(each.origin.path), name): list(self._samples[i])
                for each in self._mapped
                for name, i in each.signal_ids.items()
            },
            _stored(store, self.plan, now) if store else {},
            self._refused,
            self._discovery,
            self._points.offsets(),
        )

    def _wait_for_broker(self) -> None:
        deadline = time.monotonic() + PATIENCE_S
        while not (facts := self._connection.facts()).connected:
            gone = facts.unreachable or facts.turned_away or time.monotonic() > deadline
            if gone or self._told():
                where = f"{self._settings.host}:{self._settings.port}"
                why = (facts.last_reason or "no answer").removeprefix(f"no connection to {where}: ")
                raise BrokerUnreachableError(f"the broker at {where} cannot be listened at: {why}")
            time.sleep(LOOK_S)

    def _leave(self) -> None:
        self._inbox.close()
        self._connection.stop()

    def _hear(self, message: Message) -> None:
        self._messages += 1
        decoded = self._points.read(message)
        for reading in decoded.readings:
            self._counts[reading.signal_id] += 1
            self._samples[reading.signal_id].append(
                Sample(reading.sample_us, reading.value, reading.unit, decoded.fresh)
            )
        for refusal in decoded.refusals:
            if refusal.reason != UNMAPPED:
                self._refused.setdefault(message.topic, {})[refusal.detail] = refusal.reason
        if decoded.unmapped:
            self._discovery.hear(message, decoded.unmapped)
        if message.qos == 0:
            self._unsure_topics.add(message.topic)

    def _notes(self) -> Iterable[str]:
        facts = self._connection.facts()
        if facts.disconnects:
            yield f"the connection broke {facts.disconnects} times ({facts.last_reason}): some is missing"
        if facts.subscriptions_refused:
            yield f"the broker refused {facts.subscriptions_refused} subscriptions"
        if unsure := sorted(self._unsure_topics & topics_of(self.plan)):
            topics = ", ".join(unsure[:3]) + (" and more" if len(unsure) > 3 else "")
            yield (
                f"published at QoS 0: {topics}; what is sent while the agent or the broker is away is lost; "
                "set the gateway to QoS 1"
            )
        if not self._messages:
            yield (
                "nothing came at all: a broker that denies a subscription may grant it and stay silent, so "
                "look at its access rules for this user too"
            )


def _subscriptions(mapped: Sequence[str], wide: Sequence[str]) -> tuple[str, ...]:
    """Without the topics that a wide filter brings already: some brokers would send them twice."""
    alone = [topic for topic in mapped if not any(covers(each, topic) for each in wide)]
    return tuple(dict.fromkeys([*alone, *wide]))


def _stored(store: Store, plan: Plan, now_us: int) -> Mapping[tuple[str, str], Sequence[Sample]]:
    """What the agent stored of the mapped signals in the last hour."""
    ids = store.signals()
    wanted = {ids[key]: key for key in _keys(plan) if key in ids}
    until_us = now_us + plan.settings.assess.tolerance_s * 1_000_000
    series = store.readings(wanted, now_us - STORE_US, until_us, moved_signals(store, plan))
    return {
        key: [Sample(int(t), v, u, True) for t, v, u in zip(*series[i], strict=True)]
        for i, key in wanted.items()
    }


def _keys(plan: Plan) -> Collection[tuple[str, str]]:
    return [(str(origin.path), name) for origin in plan.origins for name in origin.points.values()]
