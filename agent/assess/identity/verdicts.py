"""What a layout has to say to something seen, and how much it weighs."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

# Points against a layout; design choices, no source.
FAULT_POINTS = 1.0
CONTRADICTED_POINTS = 3.0
HINT_POINTS = 0.5


class Explains(StrEnum):
    """How a layout explains something seen, or all of it."""

    EXPLAINS = "explains"
    WITH_A_FAULT = "with_a_fault"  # something on the module would have to be at fault
    CONTRADICTED = "contradicted"


class Outcome(NamedTuple):
    """What a layout says to one thing seen. ``why`` and ``fault`` are whole phrases."""

    verdict: Explains | None  # None: nothing
    points: float = 0.0
    why: str = ""
    fault: str = ""


SAYS_NOTHING = Outcome(None)


class Reason(NamedTuple):
    """The same with what was seen, for a person."""

    verdict: Explains | None
    points: float
    text: str
    fault: str = ""


def explained(why: str) -> Outcome:
    return Outcome(Explains.EXPLAINS, 0.0, why)


def with_a_fault(why: str, fault: str) -> Outcome:
    return Outcome(Explains.WITH_A_FAULT, FAULT_POINTS, why, fault)


def contradicted(why: str) -> Outcome:
    return Outcome(Explains.CONTRADICTED, CONTRADICTED_POINTS, why)


def hint(why: str) -> Outcome:
    """Unlikely under this layout, and no proof against it."""
    return Outcome(None, HINT_POINTS, why)
