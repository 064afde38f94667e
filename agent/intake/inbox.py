"""Where messages wait between the broker's thread and the writer: bounded by bytes, taken in batches.

Knows nothing of MQTT, payloads or the store. Waits are measured with a stop-watch (monotonic), never with
the time of day.
"""

import threading
import time
from collections import deque
from collections.abc import Callable
from typing import NamedTuple

_OVERHEAD_BYTES = 350  # what Python itself needs to hold a message, by sys.getsizeof


class Message(NamedTuple):
    """A message as it came in; `generation` and `mid` are what its acknowledgement needs."""

    generation: int  # which connection to the broker brought it
    mid: int
    qos: int
    topic: str
    payload: bytes
    retain: bool
    arrival_us: int


class Inbox:
    """A thread-safe queue of messages for one taker; a message larger than the bound passes alone."""

    def __init__(self, max_bytes: int) -> None:
        if max_bytes <= 0:
            raise ValueError(f"max_bytes is {max_bytes}; right is a number above 0")
        self._max_bytes = max_bytes
        self._messages: deque[tuple[float, Message]] = deque()
        self._bytes = 0
        self._closed = False
        self._blocked = 0  # who waits for room: then a batch goes out at once, however small
        self._wanted = 1  # the taker is woken at this many, not by each message
        lock = threading.Lock()
        self._filled = threading.Condition(lock)
        self._emptied = threading.Condition(lock)

    def __len__(self) -> int:
        return len(self._messages)

    @property
    def closed(self) -> bool:
        return self._closed

    def put(self, message: Message, timeout_s: float) -> bool:
        """True once it is in; False when there was no room within the time, or the inbox is closed."""
        size = _size(message)
        with self._emptied:
            if not self._wait_until(lambda: self._has_room(size), timeout_s) or self._closed:
                return False
            self._messages.append((time.monotonic(), message))
            self._bytes += size
            if len(self._messages) >= self._wanted:
                self._filled.notify()
            return True

    def take(self, max_messages: int, max_wait_s: float) -> list[Message]:
        """The oldest messages, at most so many; waits for the first one however long that takes.

        Returns when there are `max_messages`, when the first has waited `max_wait_s`, when the inbox is
        full, or when it is closed: then what is left, and after that an empty list.
        """
        with self._filled:
            self._wanted = 1
            self._filled.wait_for(lambda: self._messages or self._closed)
            if not self._messages:
                return []
            self._wanted = max_messages
            left_s = self._messages[0][0] + max_wait_s - time.monotonic()
            self._filled.wait_for(
                lambda: len(self._messages) >= max_messages or self._blocked or self._closed,
                max(0.0, left_s),
            )
            count = min(max_messages, len(self._messages))
            batch = [self._messages.popleft()[1] for _ in range(count)]
            self._bytes -= sum(map(_size, batch))
            self._emptied.notify_all()
            return batch

    def wait_for_room(self, timeout_s: float) -> bool:
        """True once the inbox is no more than half full, or closed."""
        with self._emptied:
            return self._wait_until(lambda: self._closed or self._bytes * 2 <= self._max_bytes, timeout_s)

    def close(self) -> None:
        """Takes nothing more in, and wakes whoever waits."""
        with self._filled:
            self._closed = True
            self._filled.notify_all()
            self._emptied.notify_all()

    def _wait_until(self, ready: Callable[[], bool], timeout_s: float) -> bool:
        if ready():
            return True
        self._blocked += 1
        self._filled.notify()
        try:
            return self._emptied.wait_for(ready, timeout_s)
        finally:
            self._blocked -= 1

    def _has_room(self, size: int) -> bool:
        return self._closed or not self._messages or self._bytes + size <= self._max_bytes


def _size(message: Message) -> int:
    return len(message.payload) + len(message.topic) + _OVERHEAD_BYTES
