"""Whether readings come as they should, told apart by cause; the one judgement by arrival and wall clock.

What was retained, and is brought again on a reconnect, does not count as being heard. A signal that is sent
only on change is not silent as long as its module is heard.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from agent.alarms import FEED_STALE, Line, Transition
from agent.assess import SECOND, Assessment, Cause
from agent.outlets.times import length
from agent.piping import RETURN, STEADY_MODES
from agent.settings import ModulePlan

BROKER_US = 60 * SECOND  # without a connection
GAIN_US = 30 * SECOND  # how often is looked whether a backlog comes; design choice, no source
GAINS = 2  # its sample times run so many times as fast as the clock at least; design choice, no source
FROZEN_US = 3600 * SECOND  # a signal that stands still so long while others move; design choice, no source


class FeedCause(StrEnum):
    """Why a module's feed is stale."""

    BROKER = "broker"
    GATEWAY = "gateway"
    SIGNAL = "signal"
    FROZEN = "frozen"
    REPEATED = "repeated"


@dataclass
class Feed:
    """One module's feed. Times in µs; None: never."""

    plan: ModulePlan
    heard_us: int  # arrival of the newest message that was not retained; at first the start of the agent
    signals_us: dict[str, int] = field(default_factory=dict)  # newest sample time of each signal
    moved: dict[str, tuple[object, int]] = field(default_factory=dict)  # its value, and since when it has it
    since_us: int | None = None  # when it began to be stale; None: it is not
    raised: bool = False
    cause: FeedCause | None = None
    text: str = ""
    about: frozenset[str] | None = None  # the signals that it is about; None: the whole feed
    looked: tuple[int, int | None] | None = None  # when the newest sample time was looked at, and what it was
    gains: bool = False  # sample times run faster than the clock: what is old is a backlog on its way

    def hear(self, arrival_us: int, name: str, sample_us: int, value: object) -> None:
        """Take in a fresh reading of a signal; a shared one does not show that the module is heard."""
        if not self.plan.module.signals[name].shared:
            self.heard_us = arrival_us
        if sample_us >= self.signals_us.get(name, sample_us):
            self.signals_us[name] = sample_us
            if self.plan.conversions[name].is_sentinel(value):
                self.moved.pop(name, None)  # heard, and without a value that could stand still
            elif name not in self.moved or self.moved[name][0] != value:
                self.moved[name] = (value, sample_us)

    def judge(self, now_us: int, unconnected_us: int | None, latest: Assessment | None) -> Line | None:
        """Look at the feed now; returns the line for the journal where the alarm comes or goes.

        ``unconnected_us``: since when there is no connection to the broker; None while there is one.
        """
        self.about = None
        self._look_whether_it_gains(now_us)
        found = self._cause(now_us, unconnected_us, latest)
        if found is None:
            line = self._line(Transition.CLEARED, now_us) if self.raised else None
            self.since_us, self.raised, self.cause, self.text = None, False, None, ""
            return line
        self.cause, self.text = found
        if self.since_us is None:
            self.since_us = now_us
        if not self.raised and now_us - self.since_us >= FEED_STALE.limits.on_delay_s * SECOND:
            self.raised = True
            return self._line(Transition.RAISED, now_us)
        return None

    def take_back(self, before: Feed) -> None:
        """Forget a judgement that could not be written down."""
        self.since_us, self.raised = before.since_us, before.raised
        self.cause, self.text, self.about = before.cause, before.text, before.about

    @property
    def newest_us(self) -> int | None:
        """Sample time of the newest reading."""
        return max(self.signals_us.values(), default=None)

    def _line(self, transition: Transition, now_us: int) -> Line:
        return Line(transition, now_us, self.since_us or now_us)

    def _cause(
        self, now_us: int, unconnected_us: int | None, latest: Assessment | None
    ) -> tuple[FeedCause, str] | None:
        if unconnected_us is not None and now_us - unconnected_us > BROKER_US:
            return FeedCause.BROKER, f"no connection to the broker for {length(now_us - unconnected_us)}"
        own = [signal for signal in self.plan.module.signals.values() if not signal.shared]
        longest_us = max((signal.max_age_us for signal in own), default=None)
        if longest_us is not None and now_us - self.heard_us > longest_us:
            what = "nothing" if len(own) == len(self.plan.module.signals) else "nothing of the module's own"
            return FeedCause.GATEWAY, f"the gateway has sent {what} for {length(now_us - self.heard_us)}"
        silent = [] if self.gains else self._silent(now_us)
        if silent and len(silent) == len(self.plan.module.signals):
            age = length(now_us - (self.newest_us or 0))
            return FeedCause.GATEWAY, f"what comes is old: the newest reading by {age}"
        if silent:
            self.about = frozenset(silent)
            are = "signal is" if len(silent) == 1 else "signals are"
            return FeedCause.SIGNAL, f"{len(silent)} {are} silent while others come: {', '.join(silent)}"
        if latest is not None and latest.quantities[RETURN].said.cause is Cause.REPEATED:
            return FeedCause.REPEATED, latest.quantities[RETURN].said.text
        frozen = self._frozen() if latest is not None and latest.mode in STEADY_MODES else []
        if frozen:
            self.about = frozenset(frozen)
            has = "has" if len(frozen) == 1 else "have"
            return FeedCause.FROZEN, f"{', '.join(frozen)} {has} stood still for an hour while others move"
        return None

    def _look_whether_it_gains(self, now_us: int) -> None:
        before_us, was_us = self.looked or (now_us, self.newest_us)
        since_us, newest_us = now_us - before_us, self.newest_us
        if since_us >= GAIN_US:
            came_on = newest_us is not None and was_us is not None and newest_us - was_us >= GAINS * since_us
            self.gains = came_on or (newest_us is not None and was_us is None)
        if self.looked is None or since_us >= GAIN_US:
            self.looked = (now_us, newest_us)

    def _frozen(self) -> list[str]:
        """Signals that stand still to the last digit while others of as fine a step move."""
        is_fine = self.plan.module.is_fine
        still_us = {name: self.signals_us[name] - since_us for name, (_, since_us) in self.moved.items()}
        frozen = [name for name, us in still_us.items() if us > FROZEN_US and is_fine(name)]
        if not frozen:
            return []
        moving = sum(us < FROZEN_US / 6 and is_fine(name) for name, us in still_us.items())
        return frozen if moving >= 2 else []

    def _silent(self, now_us: int) -> list[str]:
        """Signals that do not come although the module is heard."""
        return [
            name
            for name, signal in self.plan.module.signals.items()
            if now_us - self.signals_us.get(name, 0) > 2 * signal.max_age_us
        ]
