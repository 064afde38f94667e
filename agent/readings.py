"""What passes from intake to the store: readings, refusals, and the spans of time that readings changed.

Plain tuples in the order of the store's columns, so that a batch goes to the database as it is.
Times are integer microseconds of UTC since 1970.
"""

from collections.abc import Mapping
from typing import NamedTuple

EVER_US = 2**62  # after every time; -EVER_US: before every time

# By mapping, the signals whose readings under it are another signal's by now; None: nobody's.
Moved = Mapping[int, Mapping[int, int | None]]


class Reading(NamedTuple):
    """A signal's value as received; converted to SI only when it is read for assessment."""

    sample_us: int
    signal_id: int
    value: float | int | str
    unit: str | None  # the unit the payload states, None where it states none
    arrival_us: int
    mapping_id: int  # the revision of the point mapping under which it came in


class Refusal(NamedTuple):
    """Something received that cannot be used, kept with its cause and the head of its payload."""

    arrival_us: int
    topic: str
    reason: str  # one word of a closed list, the label of the counter
    detail: str  # what was found, and what would be right
    head: bytes


class Span(NamedTuple):
    """A stretch of a module's time whose readings changed; both ends belong to it."""

    module_id: int
    from_us: int
    to_us: int
