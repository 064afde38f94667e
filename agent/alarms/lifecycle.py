"""What has become of an alarm: fields that do not depend on each other, and the standards' name for them all.

After ISA-18.2-2016 and IEC 62682:2014. A pure function of the state, an event and its time: the clock,
people and the store are elsewhere. A suppressed, shelved or removed alarm goes on being evaluated; only what
is shown and sent differs.
"""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple


class Event(StrEnum):
    """What may happen to an alarm."""

    OCCURS = "occurs"
    CLEARS = "clears"
    ACKNOWLEDGED = "acknowledged"
    RESET = "reset"  # of a latched one, by a person
    SHELVED = "shelved"
    UNSHELVED = "unshelved"
    SUPPRESSED = "suppressed"
    UNSUPPRESSED = "unsuppressed"
    REMOVED = "removed"  # out of service
    RETURNED = "returned"  # to service


class StateName(StrEnum):
    """The state's name in ISA-18.2 and IEC 62682."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned to normal unacknowledged"
    LATCHED_UNACKNOWLEDGED = "latched unacknowledged"
    LATCHED_ACKNOWLEDGED = "latched acknowledged"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed by design"
    OUT_OF_SERVICE = "out of service"


class State(NamedTuple):
    """An alarm's state."""

    active: bool = False
    acknowledged: bool = True
    latched: bool = False  # stays until a person resets it, though the condition is over
    shelved_until_us: int | None = None
    suppressed: bool = False
    out_of_service: bool = False

    def standing(self, at_us: int) -> StateName:
        """The state's name at a time. What holds an alarm back names it, the strongest first."""
        if self.shelved_until_us is not None and not self.is_shelved(at_us):
            return without_old_shelf(self, at_us).standing(at_us)
        if self.out_of_service:
            return StateName.OUT_OF_SERVICE
        if self.is_shelved(at_us):
            return StateName.SHELVED
        if self.suppressed:
            return StateName.SUPPRESSED
        if self.active:
            return StateName.ACKNOWLEDGED if self.acknowledged else StateName.UNACKNOWLEDGED
        if self.latched:
            return StateName.LATCHED_ACKNOWLEDGED if self.acknowledged else StateName.LATCHED_UNACKNOWLEDGED
        return StateName.NORMAL if self.acknowledged else StateName.RETURNED_UNACKNOWLEDGED

    def is_shelved(self, at_us: int) -> bool:
        return self.shelved_until_us is not None and at_us < self.shelved_until_us

    def is_told(self, at_us: int) -> bool:
        """Whether people hear of it: nothing holds it back."""
        return not (self.out_of_service or self.suppressed or self.is_shelved(at_us))


class RefusedError(ValueError):
    """An event that cannot happen to an alarm in this state; says what would be right."""


def after(
    state: State, event: Event, at_us: int, *, latching: bool = False, until_us: int | None = None
) -> State:
    """The state after an event.

    ``latching``: the alarm stays until it is reset. ``until_us``: the end of shelving, later than ``at_us``.
    Raises RefusedError for an event that makes no sense then.
    """
    state = without_old_shelf(state, at_us)
    match event:
        case Event.OCCURS:
            return (
                state if state.active else state._replace(active=True, acknowledged=False, latched=latching)
            )
        case Event.CLEARS:
            return state._replace(active=False)
        case Event.ACKNOWLEDGED:
            if state.acknowledged:
                raise RefusedError("it is acknowledged already, or there is nothing to acknowledge")
            return state._replace(acknowledged=True)
        case Event.RESET:
            if not state.latched or state.active:
                raise RefusedError("only a latched alarm whose condition is over can be reset")
            return state._replace(latched=False, acknowledged=True)
        case Event.SHELVED:
            if until_us is None or until_us <= at_us:
                raise RefusedError("shelving takes an end that lies ahead")
            return state._replace(shelved_until_us=until_us)
        case Event.UNSHELVED:
            if not state.is_shelved(at_us):
                raise RefusedError("it is not shelved")
            return _back(state._replace(shelved_until_us=None))
        case Event.SUPPRESSED:
            return state._replace(suppressed=True)
        case Event.UNSUPPRESSED:
            return _back(state._replace(suppressed=False)) if state.suppressed else state
        case Event.REMOVED:
            if state.out_of_service:
                raise RefusedError("it is out of service already")
            return state._replace(out_of_service=True)
        case Event.RETURNED:
            if not state.out_of_service:
                raise RefusedError("it is in service")
            return _back(state._replace(out_of_service=False))


def without_old_shelf(state: State, at_us: int) -> State:
    """Shelving ends by itself."""
    over = state.shelved_until_us is not None and at_us >= state.shelved_until_us
    return _back(state._replace(shelved_until_us=None)) if over else state


def _back(state: State) -> State:
    """Back among the others it is normal or unacknowledged, as its condition says."""
    return state._replace(acknowledged=not (state.active or state.latched))
