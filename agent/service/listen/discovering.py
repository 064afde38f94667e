"""What arrives and nobody mapped: decoded by the same point map as what is mapped, only to be shown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from agent.intake import Message, Point, PointMap
from agent.intake.refusals import UNMAPPED

MOST_KEPT = 2000  # topics and names; a wide filter may bring any number
HEAD_CHARACTERS = 60


@dataclass
class Record:
    """A topic and name that no signal is mapped to; an empty name: a payload that cannot be read."""

    topic: str
    name: str
    count: int = 0
    value: float | int | str | None = None
    unit: str | None = None
    reason: str = ""
    detail: str = ""


class Discovery:
    """Keeps the last value of each unmapped record, or why there is none."""

    def __init__(self, tolerance_us: int) -> None:
        self._tolerance_us = tolerance_us
        self._topics: dict[str, _Topic] = {}
        self._kept = 0
        self.dropped = 0  # records that there was no room for

    def hear(self, message: Message, unmapped: Iterable[tuple[str, str]]) -> None:
        """Takes a message and what of it the agent's own point map knew no signal for."""
        names = [name for _, name in unmapped]
        topic = self._topics.setdefault(message.topic, _Topic(message.topic, self._tolerance_us))
        fresh = [name for name in dict.fromkeys(names) if name not in topic.records]
        room = max(0, MOST_KEPT - self._kept)
        self.dropped += len(fresh[room:])
        self._kept += len(fresh[:room])
        topic.know(fresh[:room])
        topic.hear(message, names)

    def records(self) -> Iterator[Record]:
        return (record for topic in self._topics.values() for record in topic.records.values())

    def __len__(self) -> int:
        return self._kept


class _Topic:
    def __init__(self, topic: str, tolerance_us: int) -> None:
        self._topic = topic
        self._tolerance_us = tolerance_us
        self.records: dict[str, Record] = {}
        self.know(())

    def know(self, names: Iterable[str]) -> None:
        """Names from now on decoded; a point without a name makes the topic one that is looked at."""
        before = len(self.records)
        self.records |= {name: Record(self._topic, name) for name in names}
        if len(self.records) > before or not before:
            points = {(self._topic, name): Point(i) for i, name in enumerate(["", *self.records])}
            self._names = dict(enumerate(["", *self.records]))
            self._map = PointMap(points, 0, self._tolerance_us, kept_per_minute=MOST_KEPT)

    def hear(self, message: Message, names: Iterable[str]) -> None:
        for name in names:
            if name in self.records:
                self.records[name].count += 1
        decoded = self._map.read(message)
        for reading in decoded.readings:
            record = self.records[self._names[reading.signal_id]]
            record.value, record.unit, record.reason, record.detail = reading.value, reading.unit, "", ""
        for refusal in decoded.refusals:
            if refusal.reason == UNMAPPED:
                continue
            name = next((n for n in self.records if n and refusal.detail.startswith(f"{n}: ")), "")
            if name in self.records:
                record = self.records[name]
                record.reason = refusal.reason
                record.detail = refusal.detail.removeprefix(f"{name}: ")
                if not name:
                    record.value = _head(refusal.head)


def _head(payload: bytes) -> str:
    """The beginning of a payload, fit for a terminal."""
    text = payload.decode(errors="backslashreplace")[:HEAD_CHARACTERS]
    return "".join(each if each.isprintable() else " " for each in text)
