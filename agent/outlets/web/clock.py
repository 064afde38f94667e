"""Times on a page whose head says once how far its clock is from UTC."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

from agent.outlets.shown import Display


@dataclass(frozen=True)
class PageClock(Display):
    """A site's units and clock. Behind a time its offset stands only where it is not that of now."""

    now_us: int = 0

    @classmethod
    def at_now(cls, display: Display, now_us: int) -> Self:
        """The same units and clock on a page of now."""
        return cls(display.temperature_unit, display.pressure_unit, display.zone, now_us)

    def offset(self, time_us: int) -> str:
        said = super().offset(time_us)
        return "" if said == self.told_once else said

    @property
    def told_once(self) -> str:
        """What the head says: +01:00, or UTC."""
        return super().offset(self.now_us)
