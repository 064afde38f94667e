"""What one receiver has been told of one alarm of one module, and what it has to be told next.

One notice for each cause on a day of the site's clock; while it stands and nobody has acknowledged it, it is
said again, a few times at most; once, that what was told is over. Pure: the day and which priorities may go
out now are given.
"""

from __future__ import annotations

from collections.abc import Collection
from enum import StrEnum
from typing import NamedTuple, Self

from agent.alarms.entry import Priority, rank

TOLD_ANEW = -1  # they know it as standing, and are to be told so once more


class Telling(StrEnum):
    """What a receiver has to be told of an alarm."""

    STANDS = "stands"
    AGAIN = "again"  # it was told that day, and it stands unacknowledged
    OVER = "over"


class Repeat(NamedTuple):
    """How often that an alarm stands is said again while nobody has acknowledged it."""

    most: int
    every_us: int


class Standing(NamedTuple):
    """How an alarm stands that nothing holds back."""

    since_us: int | None  # None: it does not stand
    priority: Priority
    acknowledged: bool


class Moment(NamedTuple):
    """A time, as a receiver has it."""

    at_us: int
    day: int  # a number for each day of the site's clock
    passing: Collection[Priority] = frozenset(Priority)  # what may go out now: all, but for quiet hours


class Said(NamedTuple):
    """What a receiver was told."""

    since_us: int | None = None  # since when that holds which it knows as standing; None: of nothing
    day: int | None = None  # on which it was told last; None: of nothing that counts
    of_us: int | None = None  # since when that stood of which it was told then
    priority: Priority | None = None  # the highest since then
    at_us: int = 0  # when it was last said that it stands
    repeats: int = 0

    def then(self, now: Standing, moment: Moment, repeat: Repeat) -> tuple[Self, Telling | None]:
        """What has to be told, and what was said after that.

        What came again on the day on which it was told is told anew only with a higher priority; otherwise it
        counts as the same, and is said again when that is due; if it still stands on the next day, it is told
        then, unless somebody has acknowledged it. What quiet hours hold back is told after them, if it
        stands then. What was said in the future, by a clock that ran ahead, counts as said now.
        """
        if self.at_us > moment.at_us:
            day = None if self.day is None else min(self.day, moment.day)
            return self._replace(at_us=moment.at_us, day=day).then(now, moment, repeat)
        if now.since_us is None:
            # Of what they were told, at the priority at which they were told it.
            if self.since_us is None or (self.priority or now.priority) not in moment.passing:
                return self, None
            return self._replace(since_us=None), Telling.OVER
        rises = self.priority is not None and rank(now.priority) > rank(self.priority)
        knows = self.since_us == now.since_us
        told_today = self.day == moment.day
        is_seen_to = now.acknowledged and self.day is not None
        is_news = rises or not (knows or told_today or is_seen_to)
        if is_news:
            if now.priority not in moment.passing:
                return self, None
            return self._replace(
                since_us=now.since_us,
                day=moment.day,
                of_us=now.since_us,
                priority=now.priority,
                at_us=moment.at_us,
                repeats=0,
            ), Telling.STANDS
        same = self if self.since_us is None else self._replace(since_us=now.since_us)
        is_due = moment.at_us - self.at_us >= repeat.every_us and self.repeats < repeat.most
        if now.acknowledged or not is_due or now.priority not in moment.passing:
            return same, None
        again = self._replace(since_us=now.since_us, day=moment.day, of_us=now.since_us, at_us=moment.at_us)
        return again._replace(repeats=self.repeats + 1), Telling.AGAIN

    def amended(self, before_us: int | None, since_us: int) -> Self:
        """After what stands turned out to have begun at another time."""
        said = self._replace(of_us=since_us) if self.of_us == before_us else self
        return said._replace(since_us=since_us) if said.since_us == before_us else said

    def taken_back(self, since_us: int) -> Self:
        """After what stood since then turned out not to have been: what really comes that day is told."""
        return self._replace(day=None) if self.of_us in (None, since_us) else self

    def to_tell_anew(self) -> Self:
        """After a person's hold on it has ended: what stands is told once more."""
        since_us = None if self.since_us is None else TOLD_ANEW
        return self._replace(since_us=since_us, day=None)
