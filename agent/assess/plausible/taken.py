"""A module's signals as they were taken in, before anyone trusts them: values as received beside their SI.

Knows no unit and no reference: what a value would be under another one comes as a factor and a shift.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from agent.assess.frames import FloatArray, IntArray, Samples

TEMPERATURE, PRESSURE, FREQUENCY, CURRENT = "temperature", "pressure", "frequency", "current"
STATE = ""  # the dimension of a state


class Other(NamedTuple):
    """Another unit or reference that a signal might come in: SI is then factor * SI as configured + shift."""

    name: str
    factor: float
    shift: float


@dataclass(frozen=True)
class Taken:
    """One signal, ascending in time. ``value`` is SI as configured; NaN: received, not usable."""

    time_us: IntArray
    raw: Sequence[float | int | str]
    value: FloatArray
    dimension: str  # one of the above, or any other word
    unit: str  # as configured, in the words of a sentence
    units: tuple[Other, ...] = ()
    references: tuple[Other, ...] = ()  # of a pressure
    words: frozenset[str] | None = None  # of a state: the values that the mapping gives a meaning
    strange: tuple[str, ...] = ()  # of a state: the values that it does not

    @property
    def samples(self) -> Samples:
        return Samples(self.time_us, self.value)

    @property
    def numbers(self) -> FloatArray:
        """The values as received; NaN for text."""
        return np.array([each if isinstance(each, int | float) else np.nan for each in self.raw], float)


class Suspicion(NamedTuple):
    """Something that looks wrong: what was seen, what would make it ordinary, where to look."""

    kind: str
    signals: tuple[str, ...]
    seen: str
    would: str
    look: str


class Findings(NamedTuple):
    """What looks wrong with a module's signals, and what could not be told, each in a sentence."""

    suspicions: tuple[Suspicion, ...]
    cannot_tell: tuple[str, ...]


Signals = Mapping[str, Taken]
