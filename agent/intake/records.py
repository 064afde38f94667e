"""What every decoder hands on: records, and what of a payload cannot be used."""

from typing import NamedTuple

LONGEST_TEXT = 4096  # characters of a name or a text value
MOST_RECORDS = 10_000  # in a message


class Record(NamedTuple):
    """A value under its name; of SenML a resolved record: names joined, base values added, times absolute."""

    name: str
    unit: str | None = None
    value: float | int | bool | str | None = None  # None where the record holds data, or nothing but a sum
    data: bytes | None = None
    sum: float | int | None = None
    time_us: int | None = None  # None where the payload states no time for it
    relative: bool = False  # the time was stated as counted from now
    utc: bool = False  # the time was stated with its offset from UTC, so that no zone applies


class Problem(NamedTuple):
    """A record that cannot be used; `reason` is one of a closed list."""

    position: int  # in the payload, from 0
    reason: str
    detail: str


class Resolved(NamedTuple):
    """What a payload holds, in its order."""

    records: list[Record]
    errors: list[Problem]
