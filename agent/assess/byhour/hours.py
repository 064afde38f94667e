"""What a whole hour of a module comes to, for everything that takes days: its history, its drift, its causes.

A pure function of the assessments of that hour, made by `summing`. Only settled and decided values are summed
up, so that an hour without them says so by their absence.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, wraps
from typing import Any, Concatenate, NamedTuple, ParamSpec, TypeVar

import orjson

from agent.assess.module import SECOND, Module
from agent.assess.signals import speed_of

HOUR_US = 3600 * SECOND
SETTLED_SHARE = 0.25  # of an hour, for it to speak of a mode; design choice, no source


class Stats(NamedTuple):
    """Of the values in an hour; ``below`` and ``above``: their mean expanded uncertainty, 0 for a signal."""

    number: int
    mean: float
    least: float
    most: float
    spread: float  # standard deviation
    below: float = 0.0
    above: float = 0.0


class Residual(NamedTuple):
    """The supervisor's superheat minus what it would be if it were made in one way, summed up [K]."""

    number: int
    total: float
    squares: float


class Opened(NamedTuple):
    """A signal while a valve was open, in an hour in which it was also shut; all of it settled."""

    number: int  # grid times open
    step_k: float  # how much warmer than while it was shut
    dry_k: float  # its superheat while it was open


@dataclass(frozen=True)
class Part:
    """All of an hour that was in one mode. Counts are of grid times."""

    count: int
    settled: int  # of them: long enough in it, nothing switched; standing still counts from the start
    quantities: Mapping[str, Stats] = field(default_factory=dict)  # of decided values
    signals: Mapping[str, Stats] = field(default_factory=dict)  # SI, at settled grid times
    residuals: Mapping[str, Residual] = field(default_factory=dict)  # by the way it would be made
    opened: Mapping[str, Mapping[str, Opened]] = field(default_factory=dict)  # by valve and signal


@dataclass(frozen=True)
class Hour:
    """A whole hour of a module. Counts are of grid times, ``step_us`` apart."""

    from_us: int
    step_us: int
    parts: Mapping[str, Part]  # by mode
    entered: Mapping[str, int]  # how often each mode began
    running: Mapping[str, int]  # each compressor: grid times at which it ran ...
    known: Mapping[str, int]  # ... and for which that is known
    starts: Mapping[str, int]  # each compressor
    _worked_out: dict[Hashable, tuple[Module, Any]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    @property
    def to_us(self) -> int:
        return self.from_us + HOUR_US

    @cached_property
    def settled_mode(self) -> str | None:
        """The mode that most of it was settled in; None where too little of it was."""
        mode = max(self.parts, key=lambda mode: self.parts[mode].settled, default=None)
        if mode is None or self.parts[mode].settled * self.step_us < SETTLED_SHARE * HOUR_US:
            return None
        return mode

    @cached_property
    def total_speeds(self) -> Mapping[str, float]:
        """By mode, where every compressor's speed is known [Hz]."""
        names = [speed_of(name) for name in self.known]
        return {
            mode: sum(part.signals[name].mean for name in names)
            for mode, part in self.parts.items()
            if all(name in part.signals for name in names)
        }

    def dump(self) -> str:
        words = {
            "from_us": self.from_us,
            "step_us": self.step_us,
            "parts": {
                mode: [part.count, part.settled, part.quantities, part.signals, part.residuals, part.opened]
                for mode, part in self.parts.items()
            },
            "entered": self.entered,
            "running": self.running,
            "known": self.known,
            "starts": self.starts,
        }
        return orjson.dumps(words, default=tuple).decode()

    @staticmethod
    def load(text: str) -> Hour:
        words: dict[str, Any] = orjson.loads(text)
        parts = {
            mode: Part(
                count,
                settled,
                {name: Stats(*each) for name, each in quantities.items()},
                {name: Stats(*each) for name, each in signals.items()},
                {name: Residual(*each) for name, each in residuals.items()},
                {
                    valve: {name: Opened(*each) for name, each in several.items()}
                    for valve, several in (opened[0] if opened else {}).items()  # older ones have none
                },
            )
            for mode, (count, settled, quantities, signals, residuals, *opened) in words.pop("parts").items()
        }
        return Hour(parts=parts, **words)


P = ParamSpec("P")
T = TypeVar("T")


def once_an_hour(
    work_out: Callable[Concatenate[Module, Hour, P], T],
) -> Callable[Concatenate[Module, Hour, P], T]:
    """Keep what is worked out of an hour with it: an hour never changes, and many windows look at it.

    For the module that it was last asked of. What else is given is hashable.
    """

    @wraps(work_out)
    def kept(module: Module, hour: Hour, /, *rest: P.args, **named: P.kwargs) -> T:
        key = (work_out, rest, *named.items())
        known = hour._worked_out.get(key)
        if known is None or known[0] is not module:
            known = hour._worked_out[key] = (module, work_out(module, hour, *rest, **named))
        found: T = known[1]
        return found

    return kept


def total_speed(hour: Hour, mode: str) -> float | None:
    """All compressors' speeds together over the settled part of a mode [Hz]; None: not known."""
    return hour.total_speeds.get(mode)


def settled_in(hours: Iterable[Hour], mode: str) -> list[Hour]:
    """The hours that were settled in a mode."""
    return [hour for hour in hours if hour.settled_mode == mode]
