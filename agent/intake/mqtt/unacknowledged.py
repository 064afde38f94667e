"""Which messages the broker has brought and not been told to forget; for one thread at a time.

What comes again keeps the arrival time of the first delivery, so that a reading without a time of its own is
the same reading. MQTT lets this be known only by the duplicate flag and the packet id of a message that was
not acknowledged, in a session that the broker kept, while this process lives. Not promised, and then such a
reading is stored under both times: after the process was killed between commit and acknowledgement; where
an acknowledgement was sent and never arrived (its packet id may be another message's by then); with a
broker that sets no duplicate flag.
"""

from typing import NamedTuple


class _Arrival(NamedTuple):
    arrival_us: int
    digest: int  # of topic and payload


class Unacknowledged:
    """Of the connection that stands now, and of those before that may come again."""

    def __init__(self) -> None:
        self._now: dict[int, _Arrival] = {}  # by packet id, oldest first
        self._before: dict[int, _Arrival] = {}

    def begin(self, session_kept: bool) -> None:
        """A new connection. A session that the broker did not keep brings nothing again."""
        if session_kept:
            self._before |= self._now
        else:
            self._before.clear()
        self._now.clear()

    def arrive(self, mid: int, arrival_us: int, digest: int, *, again: bool) -> int:
        """When the message arrived; where it comes `again`, when it did so first."""
        before = self._before.pop(mid, None)
        if again and before is not None and before.digest == digest:
            arrival_us = before.arrival_us
        self._now[mid] = _Arrival(arrival_us, digest)
        return arrival_us

    def acknowledge(self, mid: int) -> None:
        self._now.pop(mid, None)

    @property
    def oldest_us(self) -> int | None:
        """Arrival of the one that waits longest."""
        return next((each.arrival_us for each in self._now.values()), None)
