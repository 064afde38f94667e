"""What the hours of a module show of its piping, without asking what its signals are called.

Of temperatures on the suction side: which are hot and which cold in each mode, how far apart two of them are,
whether that follows the air or the speed, what an opening valve does to it, and which stay warm at rest.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum


class Level(StrEnum):
    """How warm a pipe is while the module runs."""

    HOT = "hot"  # as discharge gas
    COLD = "cold"  # as returning vapour
    NEITHER = "neither"


class Follows(StrEnum):
    """What the difference between two probes goes with."""

    AIR = "air"  # as the reading of a loose probe does
    FLOW = "flow"  # or nothing: it stays the same, or falls as the flow grows
    CANNOT_TELL = "cannot_tell"


@dataclass(frozen=True)
class Apart:
    """How much warmer ``other`` is than ``one`` [K]; U is that of the instruments (k = 2)."""

    one: str
    other: str
    mode: str
    k: float
    u_k: float
    hours: int
    dry_k: float  # superheat at the colder one
    to_air_k: float  # by which outdoor air is warmer than that; NaN: not known
    follows: Follows = Follows.CANNOT_TELL
    when: str = ""  # the first or the last of the hours, where these differ

    @property
    def turned(self) -> Apart:
        return replace(self, one=self.other, other=self.one, k=-self.k)

    @property
    def words(self) -> str:
        warmer = "warmer" if self.k >= 0 else "colder"
        when = f" ({self.when})" if self.when else ""
        return (
            f"{self.other} is {abs(self.k):.1f} K {warmer} than {self.one} (U {self.u_k:.1f} K) "
            f"in {self.hours} settled hours of {self.mode}{when}"
        )


@dataclass(frozen=True)
class Step:
    """What an opening valve does to the difference of ``other`` from ``one`` [K]."""

    valve: str
    one: str
    other: str
    mode: str
    k: float
    number: int  # grid times open
    dry_k: float  # superheat of the colder one meanwhile

    @property
    def turned(self) -> Step:
        return replace(self, one=self.other, other=self.one, k=-self.k)

    @property
    def words(self) -> str:
        return f"when {self.valve} opens, {self.other} moves by {self.k:+.1f} K against {self.one}"


@dataclass(frozen=True)
class Scene:
    """Settled hours of one mode in which valves and compressors did the same."""

    mode: str
    valves: Mapping[str, bool | None]
    running: frozenset[str] | None
    hours: int
    levels: Mapping[str, Level]
    level_words: Mapping[str, str]
    apart: tuple[Apart, ...]  # of those that are not hot


@dataclass(frozen=True)
class Seen:
    """All that was seen of a module."""

    signals: tuple[str, ...]  # temperatures on its suction side
    scenes: tuple[Scene, ...]
    steps: tuple[Step, ...]
    warm_at_rest: Mapping[str, float]  # K above another, of those that are; see `rest_hours`
    rest_hours: int
    modes: Mapping[str, int]  # steady ones that it was in: settled hours
    ran: frozenset[str]  # compressors that ever ran
    together: int  # compressors that ran at the same time, at least
    never_ran: frozenset[str]  # though their signals were there
    injects: bool | None  # the injection valve moves; None: there is no signal of one
    lacking: str = ""  # what is missing to see anything
    changes: tuple[
        str, ...
    ] = ()  # pipes that turned hot or cold in the same mode: only what follows is looked at
