"""Patience with an end: an answer from elsewhere is waited for so long, and no longer.

A timeout of a socket counts from byte to byte, so an answer that drips in lasts as long as its sender likes.
The call goes on in a thread that keeps no process from ending; whoever waits goes on without it.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, wait
from typing import Generic, TypeVar

LOOK_S = 0.2  # how often is looked whether there is to be an end
ENDS_S = 2.0  # so long an answer is still waited for then
MOST_UNDER_WAY = 3  # calls that nobody waits for any more; with as many, no other is begun

T = TypeVar("T")


class Patience(Generic[T]):
    """Calls to one place, one after another. For one thread."""

    def __init__(self, name: str, seconds: float) -> None:
        self._name = name
        self._seconds = seconds
        self._under_way: list[Future[T]] = []

    def call(self, call: Callable[[], T], stop: threading.Event) -> Future[T] | None:
        """The call, done or still under way after its time; None: too many are already, it is not begun."""
        self._under_way = [each for each in self._under_way if not each.done()]
        if len(self._under_way) >= MOST_UNDER_WAY:
            return None
        future: Future[T] = Future()
        threading.Thread(target=_work, args=(call, future), name=self._name, daemon=True).start()
        until, is_ending = time.monotonic() + self._seconds, False
        while not future.done() and (left := until - time.monotonic()) > 0:
            if stop.is_set() and not is_ending:
                until, is_ending = min(until, time.monotonic() + ENDS_S), True
            wait([future], min(left, LOOK_S))
        self._under_way.append(future)
        return future


def _work(call: Callable[[], T], future: Future[T]) -> None:
    try:
        future.set_result(call())
    except BaseException as error:
        future.set_exception(error)
