"""The last hours of a return superheat: what was decided, what was not and why not, and where nothing is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from enum import StrEnum
from typing import NamedTuple

from agent.assess import Quantity, Status
from agent.outlets.shown import SI, Display


class Kind(StrEnum):
    """What a time has to say of return superheat."""

    DECIDED = "decided"
    UNDECIDED = "undecided"  # not settled, not decidable or not measurable
    MISSING = "missing"  # a reading that it takes
    OFF = "off"  # the module stood still


KINDS = tuple(Kind)


class Point(NamedTuple):
    """One grid time; ``value`` in K, only where it is decided."""

    grid_us: int
    kind: Kind
    value: float | None


class Bin(NamedTuple):
    """Some minutes: how many grid times of each kind, in the order of KINDS; the lowest and highest [K]."""

    counts: tuple[int, ...]
    least: float | None
    most: float | None

    @property
    def kind(self) -> Kind:
        """What it is drawn as: decided where anything is, else what most of it is."""
        return Kind.DECIDED if self.counts[0] else KINDS[max(range(len(KINDS)), key=self.counts.__getitem__)]


class Trend(NamedTuple):
    """A stretch of time in bins of equal length; a bin in which nothing was assessed is absent."""

    from_us: int
    bin_us: int
    number: int  # of bins
    bins: Mapping[int, Bin]  # by their number from 0

    @property
    def hours(self) -> float:
        return self.number * self.bin_us / 3.6e9


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
    missing = returned.said.status is Status.MISSING
    return Point(grid_us, Kind.MISSING if missing else Kind.UNDECIDED, None)


def binned(points: Iterable[Point], from_us: int, bin_us: int) -> dict[int, Bin]:
    """Points by the number of the bin that each falls in, counted from a time on."""
    together: dict[int, list[Point]] = {}
    for each in points:
        together.setdefault((each.grid_us - from_us) // bin_us, []).append(each)
    return {number: _bin(several) for number, several in together.items()}


def _bin(points: Sequence[Point]) -> Bin:
    values = [each.value for each in points if each.value is not None]
    counts = tuple(sum(each.kind is kind for each in points) for kind in KINDS)
    return Bin(counts, min(values, default=None), max(values, default=None))


def runs(trend: Trend) -> Iterator[Run]:
    """What is drawn alike, in the order of time; where nothing was assessed there is no run."""
    begun: Run | None = None
    for number in range(trend.number):
        here = trend.bins.get(number)
        kind = here.kind if here else None
        if begun is not None and kind is begun.kind:
            begun = begun._replace(end=number + 1)
            continue
        if begun is not None:
            yield begun
        begun = Run(kind, number, number + 1) if kind is not None else None
    if begun is not None:
        yield begun


def trend_words(trend: Trend, display: Display = SI) -> str:
    """The same in a sentence, for who does not see the drawing."""
    counts = [sum(each.counts[number] for each in trend.bins.values()) for number in range(len(KINDS))]
    total = sum(counts)
    span = f"the last {trend.hours:.0f} h"
    if not total:
        return f"{span}: nothing was assessed"
    least = min((each.least for each in trend.bins.values() if each.least is not None), default=None)
    most = max((each.most for each in trend.bins.values() if each.most is not None), default=None)
    parts = [f"{kind} {_share(count, total)}" for kind, count in zip(KINDS, counts, strict=True) if count]
    if least is not None and most is not None:
        low, high = display.difference(least), display.difference(most)
        parts[0] += f", between {low:.1f} and {high:.1f} {display.difference_unit}"
    absent = trend.number - len(trend.bins)
    if absent:
        parts.append(f"nothing assessed for {_length(absent * trend.bin_us)} of it")
    return f"return superheat over {span}: {'; '.join(parts)}"


def _share(count: int, total: int) -> str:
    """A share of the time; what is there at all is never told as none, nor all but a little as all."""
    percent = round(100 * count / total)
    if count < total:
        percent = min(max(percent, 1), 99)
    return f"{percent} %"


def _length(microseconds: int) -> str:
    minutes = microseconds // 60_000_000
    return f"{minutes} min" if minutes < 120 else f"{minutes / 60:.1f} h"
