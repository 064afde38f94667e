"""What goes into the store and comes out of it, beside the tuples of agent.readings."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray


class Added(NamedTuple):
    """What became of a batch; the three add up to its length."""

    stored: int
    duplicates: int  # known already, as a reading or as a conflict
    conflicts: int  # same signal and sample time with another value: kept beside the first


class Series(NamedTuple):
    """One signal's readings in ascending sample time, values and units as received."""

    sample_us: NDArray[np.int64]
    values: list[float | int | str]
    units: list[str | None]


class Latest(NamedTuple):
    """A signal's newest reading."""

    sample_us: int
    arrival_us: int
    value: float | int | str
    unit: str | None


class Summary(NamedTuple):
    """The numbers of a signal in a quarter of an hour, in the unit as received."""

    from_us: int
    signal_id: int
    unit: str | None
    number: int  # how many readings
    least: float
    mean: float
    most: float


class Tally(NamedTuple):
    """How often a signal had a value that is no number, in a quarter of an hour."""

    from_us: int
    signal_id: int
    value: float | int | str
    number: int


class Module(NamedTuple):
    """An outdoor module and its place."""

    id: int
    site: str
    system: str
    name: str


class Revision(NamedTuple):
    """What a module's assessments rest on: layout, refrigerant, mapping, limits, versions."""

    id: int
    module_id: int
    opened_us: int
    digest: str
    body: str  # JSON
    reason: str
    current: bool


class Assessment(NamedTuple):
    """What was worked out for a module at one grid time under one revision."""

    grid_us: int
    revision_id: int
    basis: str  # JSON: mode, statuses, causes, probes; rows that share it share the object
    figures: str  # JSON array


class HourRow(NamedTuple):
    """What a whole hour of a module comes to."""

    from_us: int
    settled: str | None  # the mode that most of it was settled in
    body: str  # JSON


class Hours(NamedTuple):
    """The hours that begin in a stretch of time, both ends included; those not among the rows are none."""

    from_us: int
    to_us: int
    rows: Sequence[HourRow]


class DetectionChange(NamedTuple):
    """An alarm's detection state from a grid time on, until the next change."""

    alarm: str
    grid_us: int
    state: str  # JSON


class JournalEntry(NamedTuple):
    """A transition of an alarm: when it happened, and when it became known."""

    module_id: int
    alarm: str
    event_us: int
    known_us: int
    transition: str
    body: str  # JSON
    id: int | None = None  # given by the store


class OutboxEntry(NamedTuple):
    """A notice for one route. `attempts` and what follows it up to `id` is the store's to keep."""

    created_us: int
    route: str
    notice_key: str  # the same event has the same key, and a route is told of it once
    subject: str
    body: str
    attempts: int = 0
    next_us: int = 0  # not tried before
    sent_us: int | None = None  # None: waits
    last_error: str | None = None
    id: int = 0  # given by the store
    priority: str | None = None  # by which quiet hours hold it; None: they do not
    brief: str | None = None  # its part of a message that tells several; None: it goes alone


class Command(NamedTuple):
    """What somebody tells the running agent."""

    created_us: int
    who: str
    kind: str
    module_id: int | None
    alarm: str | None
    body: str  # JSON
    done_us: int | None = None  # None: waits
    refused: bool | None = None
    outcome: str | None = None
    id: int = 0  # given by the store


class AlarmState(NamedTuple):
    """What has become of an alarm of a module."""

    alarm: str
    since_us: int | None
    changed_us: int | None
    state: str  # JSON


class ModuleService(NamedTuple):
    """What people have said of a module as a whole, and when; None: not."""

    confirmed_us: int | None = None  # its alarms are to be told
    relearn_us: int | None = None  # its usual values are to be learnt anew from then on
    replaced_us: int | None = None  # another unit stands under its name since then

    @property
    def unconfirmed_us(self) -> int | None:
        """Since when another unit stands here whose layout nobody has confirmed; None: none does."""
        if self.replaced_us is None or (self.confirmed_us or 0) >= self.replaced_us:
            return None
        return self.replaced_us


class Handheld(NamedTuple):
    """What somebody measured by hand at a module."""

    at_us: int
    given_us: int
    who: str
    kind: str
    place: str
    side: str | None
    value: float  # degC, or Pa absolute
    half_width: float  # limit of error, K or Pa
    body: str  # JSON: as it was given, and that it was withdrawn
    id: int = 0  # given by the store
