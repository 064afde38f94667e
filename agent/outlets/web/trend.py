"""The last hours of a return superheat: what was known, what was not and why not, and where nothing is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from enum import StrEnum
from itertools import groupby
from typing import NamedTuple

from agent.assess import Quantity, Status
from agent.assess.mode_codes import TRANSIENT_MODES
from agent.outlets.figures import share
from agent.outlets.shown import SI, Display
from agent.outlets.times import length


class Kind(StrEnum):
    """What a time has to say of return superheat."""

    DECIDED = "known"
    UNSETTLED = "not settled"  # there is a value, and it still moves
    PASSING = "defrost, oil recovery or start"  # not judged, as it should be
    UNDECIDED = "not decided"  # it should be judged and cannot be
    MISSING = "missing"  # a reading that it takes
    OFF = "off"  # the module stood still


KINDS = tuple(Kind)
_PASSING_ALONE = tuple(int(kind is Kind.PASSING) for kind in KINDS)


class Limits(NamedTuple):
    """Between which a return superheat should lie [K]; None: no such limit."""

    low: float | None
    high: float | None

    def passes(self, value: float) -> bool:
        """Whether a value [K] lies beyond one of them."""
        return (self.low is not None and value < self.low) or (self.high is not None and value > self.high)


class Point(NamedTuple):
    """One grid time; ``value`` in K, only where it is known or not settled."""

    grid_us: int
    kind: Kind
    value: float | None


class Bin(NamedTuple):
    """Some minutes: how many grid times of each kind, in the order of KINDS; the lowest and highest [K].

    ``moving``: the lowest of what had not settled [K].
    """

    counts: tuple[int, ...]
    least: float | None
    most: float | None
    moving: float | None = None

    @property
    def kind(self) -> Kind:
        """What it is drawn as: known where anything is, else what most of it is."""
        return Kind.DECIDED if self.counts[0] else KINDS[max(range(len(KINDS)), key=self.counts.__getitem__)]

    def extreme(self, limits: Limits) -> float | None:
        """Of what is known what is drawn [K]: the lowest, or the highest where only that is too high."""
        low, high = limits
        too_high = high is not None and self.most is not None and self.most > high
        too_low = low is not None and self.least is not None and self.least < low
        return self.most if too_high and not too_low else self.least


class Trend(NamedTuple):
    """A stretch of time in bins of equal length; a bin in which nothing was assessed is absent."""

    from_us: int
    bin_us: int
    number: int  # of bins
    bins: Mapping[int, Bin]  # by their number from 0

    @property
    def until_us(self) -> int:
        return self.from_us + self.number * self.bin_us

    @property
    def newest_us(self) -> int:
        """When its last bin begins."""
        return self.until_us - self.bin_us


class Run(NamedTuple):
    """Bins in a row that are drawn alike: the first, the one after the last."""

    kind: Kind
    first: int
    end: int


def point(grid_us: int, mode: str, returned: Quantity) -> Point:
    """What an assessment has to say."""
    if returned.decided and returned.value is not None:
        return Point(grid_us, Kind.DECIDED, returned.value)
    if mode == "off":
        return Point(grid_us, Kind.OFF, None)
    if returned.said.status is Status.MISSING:
        return Point(grid_us, Kind.MISSING, None)
    if mode in TRANSIENT_MODES:
        return Point(grid_us, Kind.PASSING, None)
    if returned.said.status is Status.NOT_SETTLED and returned.value is not None:
        return Point(grid_us, Kind.UNSETTLED, returned.value)
    return Point(grid_us, Kind.UNDECIDED, None)


def binned(points: Iterable[Point], from_us: int, bin_us: int) -> dict[int, Bin]:
    """Points by the number of the bin that each falls in, counted from a time on."""
    together: dict[int, list[Point]] = {}
    for each in points:
        together.setdefault((each.grid_us - from_us) // bin_us, []).append(each)
    return {number: _bin(several) for number, several in together.items()}


def _bin(points: Sequence[Point]) -> Bin:
    known, moving = (
        [each.value for each in points if each.kind is kind and each.value is not None]
        for kind in (Kind.DECIDED, Kind.UNSETTLED)
    )
    counts = tuple(sum(each.kind is kind for each in points) for kind in KINDS)
    return Bin(counts, min(known, default=None), max(known, default=None), min(moving, default=None))


def runs(trend: Trend) -> Iterator[Run]:
    """What is drawn alike, in the order of time; where nothing was assessed there is no run."""
    kinds = [each.kind if (each := trend.bins.get(number)) else None for number in range(trend.number)]
    for kind, alike in groupby(range(trend.number), kinds.__getitem__):
        first, *others = alike
        if kind is not None:
            yield Run(kind, first, first + 1 + len(others))


def passing(trend: Trend) -> Iterator[Run]:
    """Where a defrost, an oil recovery or a start was under way, however short."""
    number = KINDS.index(Kind.PASSING)
    shown = {
        at: each._replace(counts=_PASSING_ALONE) for at, each in trend.bins.items() if each.counts[number]
    }
    return runs(trend._replace(bins=shown)) if shown else iter(())


def trend_words(trend: Trend, limits: Limits, display: Display = SI, since_us: int | None = None) -> str:
    """The same in a sentence, for who does not see the drawing. ``since_us``: since then an alarm stands."""
    counts = [sum(each.counts[number] for each in trend.bins.values()) for number in range(len(KINDS))]
    total = sum(counts)
    span = f"from {display.at(trend.from_us):%H:%M} to {display.at(trend.newest_us):%H:%M}"
    if not total:
        return f"{span}: nothing was assessed"
    least = min((each.least for each in trend.bins.values() if each.least is not None), default=None)
    most = max((each.most for each in trend.bins.values() if each.most is not None), default=None)
    parts = [f"{kind} {share(count, total)}" for kind, count in zip(KINDS, counts, strict=True) if count]
    if least is not None and most is not None:
        low, high = display.difference(least), display.difference(most)
        parts[0] += f", between {low:z.1f} and {high:z.1f} {display.difference_unit}"
        parts[0] += _beyond(trend, limits)
    absent = trend.number - len(trend.bins)
    if absent:
        parts.append(f"nothing assessed for {length(absent * trend.bin_us)} of it")
    if since_us is not None:
        before = since_us < trend.from_us
        parts.append(f"an alarm stands since {'before' if before else f'{display.at(since_us):%H:%M}'}")
    return f"return superheat {span}: {'; '.join(parts)}"


def _beyond(trend: Trend, limits: Limits) -> str:
    """For how long it was under and above its limits, by the bin."""
    low, high = limits
    least = [each.least for each in trend.bins.values() if each.least is not None]
    most = [each.most for each in trend.bins.values() if each.most is not None]
    under = 0 if low is None else sum(value < low for value in least)
    above = 0 if high is None else sum(value > high for value in most)
    said = f", under the low limit in {length(under * trend.bin_us)} of it" if under else ""
    return f"{said}, above the high limit in {length(above * trend.bin_us)} of it" if above else said
