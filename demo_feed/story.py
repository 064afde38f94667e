"""When things happen to a module: occurrences placed relative to the end of the backlog.

A story is data plus a seed; it answers for any time, past or future. It must not know what an
occurrence does to the cycle.
"""

from dataclasses import dataclass
from random import Random
from typing import NamedTuple

HOUR_S = 3600.0
MINUTE_S = 60.0


class Occurrence(NamedTuple):
    start_s: float  # relative to the end of the backlog, as are all times here
    end_s: float
    draw: float  # 0..1, for whatever should differ from one occurrence to the next


@dataclass(frozen=True)
class Recurring:
    """Something that happens every so often: at `first_s` exactly, at the other times with jitter."""

    kind: str
    first_s: float
    every_s: float
    lasts_s: tuple[float, float]
    jitter_s: float = 0.0

    def occurrence(self, number: int, seed: str) -> Occurrence:
        chance = Random(f"{seed}/{self.kind}/{number}")
        jitter = chance.uniform(-self.jitter_s, self.jitter_s) if number else 0.0
        start = self.first_s + number * self.every_s + jitter
        return Occurrence(start, start + chance.uniform(*self.lasts_s), chance.random())


class Story:
    """The occurrences of one module."""

    def __init__(self, recurring: tuple[Recurring, ...], seed: str) -> None:
        self._recurring = {each.kind: each for each in recurring}
        self._seed = seed
        self._known: dict[tuple[str, int], Occurrence] = {}

    def active(self, kind: str, time_s: float) -> Occurrence | None:
        """The occurrence of this kind that covers the time, if there is one."""
        recurring = self._recurring.get(kind)
        if recurring is None:
            return None
        nearest = int((time_s - recurring.first_s) // recurring.every_s)
        for number in (nearest - 1, nearest, nearest + 1):
            key = (kind, number)
            if key not in self._known:
                self._known[key] = recurring.occurrence(number, self._seed)
            if self._known[key].start_s <= time_s < self._known[key].end_s:
                return self._known[key]
        return None
