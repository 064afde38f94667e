"""Listening at the broker beside a running agent: which mapped signals arrive, and what nobody mapped.

It connects under a name of its own, keeps no session, publishes nothing, and acknowledges only what was sent
to it.
"""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Self

from agent.assess import SECOND
from agent.intake import Connection, Inbox, covers
from agent.outlets.terminal.heard import HeardSite, Progress
from agent.service.listen.ear import Ear
from agent.service.listen.hearing import Key, Sample, Session, topics_of
from agent.service.machine.broker import broker_settings
from agent.service.machine.clock import now_us
from agent.service.work.registering import moved_signals
from agent.settings import Plan
from agent.store import Store

INBOX_BYTES = 16 * 1024 * 1024
PATIENCE_S = 20.0  # for a broker that closes the connection without an answer, until 3.1.1 has been tried
LOOK_S = 0.1
STORE_US = 3600 * SECOND  # how far back what the agent stored is looked at
NOTHING_CAME = (
    "nothing came at all: a broker that denies a subscription may grant it and stay silent, so look at its "
    "access rules for this user too"
)


class BrokerUnreachableError(Exception):
    """The broker is not there, or does not let us in."""


class Listening:
    """Use as a context manager: it connects at the beginning and leaves no trace at the end.

    ``filters``: topic filters beside those of the mapped topics and the telemetry prefix. ``told`` ends the
    wait for the broker early. Raises ValueError or OSError for a filter, secret or certificate that cannot be
    used, and, when entered, BrokerUnreachableError.
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
        own = broker_settings(plan, environment)
        self._settings = replace(
            own,
            client_id=f"{own.client_id}-listen-{secrets.token_hex(4)}",
            subscriptions=_subscriptions(
                own.subscriptions, [f"{plan.settings.broker.telemetry}/#", *filters]
            ),
            looks_on=True,
        )
        self._ear = Ear(plan)
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
                self._ear.hear(message)
            self._connection.acknowledge(messages)
        return self._ear.progress(self.clock() - self._began_us)

    def site(self, store: Store | None = None) -> HeardSite:
        """What was heard so far. ``store``: look at the last hour that the agent stored as well."""
        self.work()
        now = self.clock()
        session = Session(
            broker=f"{self._settings.host}:{self._settings.port}",
            began_us=self._began_us,
            now_us=now,
            messages=self._ear.messages,
            filters=self._settings.subscriptions,
            from_store_us=STORE_US if store else None,
            notes=tuple(self._notes()),
        )
        kept = _stored(store, self.plan, self._ear.signals, now) if store else {}
        site = self._ear.site(session, kept)
        if site.messages or site.is_too_early:
            return site
        return replace(site, notes=(*site.notes, NOTHING_CAME))

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

    def _notes(self) -> Iterator[str]:
        facts = self._connection.facts()
        if facts.disconnects:
            yield f"the connection broke {facts.disconnects} times ({facts.last_reason}): some is missing"
        if facts.subscriptions_refused:
            yield f"the broker refused {facts.subscriptions_refused} subscriptions"
        unsure = sorted(self._ear.unsure_topics & topics_of(self.plan))
        if unsure:
            topics = ", ".join(unsure[:3]) + (" and more" if len(unsure) > 3 else "")
            yield (
                f"published at QoS 0: {topics}; what is sent while the agent or the broker is away is lost; "
                "set the gateway to QoS 1"
            )


def _subscriptions(mapped: Sequence[str], wide: Sequence[str]) -> tuple[str, ...]:
    """Without the topics that a wide filter brings already: some brokers would send them twice."""
    alone = [topic for topic in mapped if not any(covers(each, topic) for each in wide)]
    return tuple(dict.fromkeys([*alone, *wide]))


def _stored(store: Store, plan: Plan, wanted: Iterable[Key], now_us: int) -> Mapping[Key, Sequence[Sample]]:
    """What the agent stored of the mapped signals in the last hour, and not yet of the future."""
    known = store.signals()
    ids = {known[key]: key for key in wanted if key in known}
    return {
        ids[i]: [
            Sample(int(time_us), value, unit, True) for time_us, value, unit in zip(*series, strict=True)
        ]
        for i, series in store.readings(ids, now_us - STORE_US, now_us, moved_signals(store, plan)).items()
    }
