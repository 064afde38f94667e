"""From the outbox to one receiver, at least once.

A notice that is not accepted is tried again until it is. One that is refused again and again holds back the
others for a few attempts and no longer. What waits together goes in one message, which tells of each alarm
what holds now. What pages nobody goes by itself, and neither it nor an alarm holds back the other. In quiet
hours what may wait waits. A kill between the receiver's answer and the mark sends it once more.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Future
from functools import partial

from agent.alarms import Priority
from agent.assess import SECOND
from agent.outlets.notices.compose import pasts_together
from agent.outlets.notices.routes import Route
from agent.outlets.notices.together import Kind, cause_of, together, told_before
from agent.service.tell.announcing import Quiet
from agent.service.tell.patience import Patience
from agent.settings import Plan
from agent.store import OutboxEntry, Store

OUTCOMES = ("sent", "failed")
FIRST_PAUSE_US = 60 * SECOND
LONGEST_PAUSE_US = 3600 * SECOND
LONGEST_PAUSE_HIGH_US = 300 * SECOND  # while an alarm of high priority waits; design choice, no source
ANSWER_S = 60.0  # how long the whole of an answer is waited for; design choice, no source

FEW = 3  # refusals of a message until what is in it is tried alone; in a row, until all waits; design choice
MOST_TOGETHER = 50  # alarms in one message; design choice, no source
MOST_WAITING = 500  # notices of a route that are looked at: quiet hours may hold those ahead

Told = Sequence[OutboxEntry]  # of one cause, the newest last
Message = Sequence[Told]

_log = logging.getLogger(__name__)


class Delivery:
    """Takes what waits for one route to its receiver. For one thread."""

    def __init__(
        self, store: Store, route: Route, clock: Callable[[], int], plan: Plan, quiet: Quiet | None
    ) -> None:
        self._store = store
        self._route = route
        self._clock = clock
        self._site = plan.settings.site
        self._refrigerants = {module.module.refrigerant for module in plan.modules}
        self._quiet = quiet
        self._patience: Patience[str | None] = Patience(f"notice by {route.name}", ANSWER_S)
        self._late: dict[Future[str | None], list[int]] = {}  # what nobody waits for any more
        self._accepted: set[int] = set()  # by the receiver, and not marked yet
        self._counts = dict.fromkeys(OUTCOMES, 0)

    @property
    def counts(self) -> Mapping[str, int]:
        """Attempts of this process by outcome."""
        return self._counts

    def work(self, stop: threading.Event) -> None:
        """Send what is due."""
        for late in [future for future in self._late if future.done()]:
            ids = self._late.pop(late)
            if late.result() is None:
                self._accepted.update(ids)
        self._mark()
        now_us = self._clock()
        lines: dict[Kind, list[OutboxEntry]] = {kind: [] for kind in Kind}
        for each in self._store.next_notices(MOST_WAITING):
            if each.route == self._route.name and self._may_go(each, now_us):
                lines[Kind.of(each.notice_key)].append(each)
        for line in lines.values():
            if any(_is_due(each, now_us) for each in line):
                self._work_off(line, stop)

    def _work_off(self, line: Sequence[OutboxEntry], stop: threading.Event) -> None:
        """Send all of a line, as far as the receiver takes it."""
        urgent = any(each.priority == Priority.HIGH for each in line)
        longest_us = LONGEST_PAUSE_HIGH_US if urgent else LONGEST_PAUSE_US
        # What has been refused often goes behind what has not.
        messages = sorted(_messages(line), key=lambda each: max(_attempts(each) - FEW + 1, 0))
        refused = 0  # in a row
        while messages and refused < FEW and not stop.is_set():
            message = messages.pop(0)
            if self._deliver(message, longest_us, stop):
                refused = 0
                continue
            refused += 1
            if max(each.attempts for told in message for each in told) + 1 < FEW:
                return
            if len(message) > 1:
                alone: list[Message] = [[told] for told in message]
                messages = [*sorted(alone, key=_attempts), *messages]

    def _deliver(self, message: Message, longest_us: int, stop: threading.Event) -> bool:
        """Whether the receiver has accepted it."""
        subject, body = self._words(message)
        ids = [each.id for told in message for each in told]
        call = self._patience.call(partial(self._route.send, subject, body), stop)
        error: str | None = "not answered whole in time"
        if call is not None and call.done():
            error = call.result()
        elif stop.is_set():  # whether it is accepted is not known: it comes again
            return False
        elif call is not None:
            self._late[call] = ids
        if error is None:
            self._counts["sent"] += 1
            self._accepted.update(ids)  # a store that fails now must not make it go out every few seconds
            self._mark()
            return True
        self._counts["failed"] += 1
        pause_us = min(FIRST_PAUSE_US << min(_attempts(message), 10), longest_us)
        minutes = pause_us // (60 * SECOND)
        _log.warning("route %s: %r is tried again in %d min: %s", self._route.name, subject, minutes, error)
        self._store.notices_failed(ids, error, self._clock() + pause_us)
        return False

    def _mark(self) -> None:
        if self._accepted:
            self._store.notices_sent(list(self._accepted), self._clock())
            self._accepted.clear()

    def _may_go(self, entry: OutboxEntry, now_us: int) -> bool:
        """Whether quiet hours let it through now."""
        return entry.priority is None or self._quiet is None or entry.priority in self._quiet.passing(now_us)

    def _words(self, message: Message) -> tuple[str, str]:
        """Subject and body."""
        newest = [told[-1] for told in message]
        before = [told_before([each.notice_key for each in told[:-1]]) for told in message]
        if len(message) == 1:
            head, gap, rest = newest[0].body.partition("\n\n")
            return newest[0].subject, "\n".join(filter(None, (head, before[0]))) + gap + rest
        told = [
            (each.subject, "\n".join(filter(None, (each.brief, older))))
            for each, older in zip(newest, before, strict=True)
        ]
        is_past = Kind.of(newest[0].notice_key) is Kind.PAST
        return (pasts_together if is_past else together)(self._site, told, self._refrigerants)


def _messages(line: Iterable[OutboxEntry]) -> list[Message]:
    """What goes in one message: all that has a part for that, told by its cause; what has none goes alone."""
    by_cause: dict[str, list[OutboxEntry]] = {}
    for each in line:
        by_cause.setdefault(cause_of(each.notice_key) if each.brief else each.notice_key, []).append(each)
    together = [told for told in by_cause.values() if told[0].brief]
    alone: list[Message] = [[told] for told in by_cause.values() if not told[0].brief]
    parts = (together[at : at + MOST_TOGETHER] for at in range(0, len(together), MOST_TOGETHER))
    return sorted([*parts, *alone], key=lambda message: message[0][0].id)


def _attempts(message: Message) -> int:
    """How often the whole of it was tried."""
    return min(each.attempts for told in message for each in told)


def _is_due(entry: OutboxEntry, now_us: int) -> bool:
    # Further ahead than any pause is a clock that has been set back.
    return not 0 < entry.next_us - now_us <= LONGEST_PAUSE_US
