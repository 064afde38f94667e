"""Where the lines of the small drawings run: a figure against its limits, and the last hours.

Coordinates only, in the drawing's own units; the templates draw them, and the style colours them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from itertools import groupby
from typing import NamedTuple

from agent.assess import HOUR_US
from agent.outlets.shown import SI, Display
from agent.outlets.web.trend import Kind, Limits, Run, Trend, passing, runs, trend_words

LEAST_K, MOST_K = -6.0, 30.0  # beyond is drawn at the edge
BAND_WIDTH, TREND_WIDTH = 160, 240
EDGE = 8  # left and right of the figure's axis
TOP, FLOOR = 10.0, 42.0  # of the course of a trend; above it marks, below it the strip of what has no value
STRIP = 45  # its upper end
ROOM_K = 2.0  # below zero, so that what lies at saturation is no part of the frame


class Mark(NamedTuple):
    """A place on the axis with its figure."""

    x: float
    label: str


class Band(NamedTuple):
    """A figure with its uncertainty against its limits."""

    words: str
    from_x: float  # of what is between the limits
    to_x: float
    zero_x: float  # saturation
    least_x: float  # of the uncertainty
    most_x: float
    x: float
    marks: tuple[Mark, ...]


class Drawn(NamedTuple):
    """The last hours: paths of what is known and of what still moves, and of what has no value by kind."""

    words: str
    course: str
    beyond: str  # the part of the course that is under the low limit or above the high one
    moving: str  # not settled
    passing: str
    undecided: str
    missing: str
    off: str
    since: str  # since when an alarm stands
    hours: str  # the full hours of the site's clock
    from_time: str
    to_time: str
    top: float  # of what is between the limits
    bottom: float
    zero: float


def band(value: float, below: float, above: float, limits: Limits, display: Display = SI) -> Band:
    """A value with its expanded uncertainty [K] against its limits."""
    least = max(LEAST_K, min(-1.0, value - below))
    most = min(MOST_K, max(value + above, 1.2 * (limits.high or 0.0), 10.0))

    def at(kelvin: float) -> float:
        share = (min(max(kelvin, least), most) - least) / (most - least)
        return round(EDGE + share * (BAND_WIDTH - 2 * EDGE), 1)

    places = [limit for limit in (0.0, limits.low, limits.high) if limit is not None]
    marks = [Mark(at(place), f"{display.difference(place):.3g}") for place in places]
    apart = [mark for number, mark in enumerate(marks) if number == 0 or mark.x - marks[number - 1].x > 12]
    return Band(
        band_words(value, below, above, limits, display),
        at(limits.low if limits.low is not None else least),
        at(limits.high if limits.high is not None else most),
        at(0.0),
        at(value - below),
        at(value + above),
        at(value),
        tuple(apart),
    )


def band_words(value: float, below: float, above: float, limits: Limits, display: Display = SI) -> str:
    """What the drawing shows, in a sentence."""
    unit = display.difference_unit
    shown, least, most = (display.difference(each) for each in (value, value - below, value + above))
    words = [f"{shown:z.1f} {unit}, with its uncertainty {least:z.1f} to {most:z.1f} {unit}"]
    if limits.low is not None and limits.high is not None:
        low, high = display.difference(limits.low), display.difference(limits.high)
        words.append(f"limits {low:.3g} to {high:.3g} {unit}")
    return "; ".join(filter(None, (*words, verdict(value, below, above, limits))))


def verdict(value: float, below: float, above: float, limits: Limits) -> str:
    """On which side of its limits a value lies, and whether its uncertainty leaves a doubt."""
    low, high = limits
    if low is None and high is None:
        return ""
    if low is not None and value < low:
        sure = "with all its uncertainty under" if value + above < low else "under"
        zero = ", and liquid cannot be excluded" if value - below <= 0 else ""
        return f"{sure} the low limit{zero}"
    if high is not None and value > high:
        return (
            "with all its uncertainty above the high limit"
            if value - below > high
            else "above the high limit"
        )
    doubtful = (low is not None and value - below < low) or (high is not None and value + above > high)
    return "between the limits, though not with all its uncertainty" if doubtful else "between the limits"


def drawn(trend: Trend, limits: Limits, display: Display = SI, since_us: int | None = None) -> Drawn:
    """The lowest value of each bin as a line, with gaps where there is none.

    ``since_us``: since then the most urgent of its alarms stands.
    """
    values = {number: each.extreme(limits) for number, each in trend.bins.items()}
    moving = {number: each.moving for number, each in trend.bins.items()}
    every = [value for of in (values, moving) for value in of.values() if value is not None]
    least = max(LEAST_K, min([-ROOM_K, *every]))
    most = min(MOST_K, max([limits.high or 10.0, *every]) + 1.0)
    scale = TREND_WIDTH / trend.number

    def y(kelvin: float) -> float:
        share = (min(max(kelvin, least), most) - least) / (most - least)
        return FLOOR - share * (FLOOR - TOP)

    def line(places: Iterable[tuple[int, float | None]]) -> str:
        told = [
            f"{(number + 0.5) * scale:.1f} {y(value):.1f}" for number, value in places if value is not None
        ]
        return f"M{' '.join(told)}{'h.1' if len(told) == 1 else ''}" if told else ""

    paths = {kind: list[str]() for kind in Kind}
    beyond = []
    for run in runs(trend):
        numbers = range(run.first, run.end)
        if run.kind is Kind.DECIDED:
            paths[run.kind].append(line((number, values[number]) for number in numbers))
            beyond += [line(places) for places in _beyond(values, numbers, limits)]
        elif run.kind is Kind.UNSETTLED:
            joined = [values.get(run.first - 1), *(moving[number] for number in numbers), values.get(run.end)]
            paths[run.kind].append(line(enumerate(joined, run.first - 1)))
        elif run.kind is not Kind.PASSING:
            paths[run.kind].append(_block(run, scale))
    paths[Kind.PASSING] = [_block(run, scale) for run in passing(trend)]
    return Drawn(
        trend_words(trend, limits, display, since_us),
        "".join(paths[Kind.DECIDED]),
        "".join(beyond),
        "".join(paths[Kind.UNSETTLED]),
        "".join(paths[Kind.PASSING]),
        "".join(paths[Kind.UNDECIDED]),
        "".join(paths[Kind.MISSING]),
        "".join(paths[Kind.OFF]),
        "" if since_us is None else _since(trend, since_us),
        _hours(trend.from_us, trend.until_us, display),
        f"{display.at(trend.from_us):%H:%M}",
        f"{display.at(trend.newest_us):%H:%M}",
        round(y(limits.high if limits.high is not None else most), 1),
        round(y(limits.low if limits.low is not None else least), 1),
        round(y(0.0), 1),
    )


def _beyond(
    values: Mapping[int, float | None], numbers: range, limits: Limits
) -> Iterator[list[tuple[int, float]]]:
    """What lies beyond the limits, in stretches."""
    known = [value for number in numbers if (value := values[number]) is not None]
    if not limits.passes(min(known)) and not limits.passes(max(known)):
        return
    for is_beyond, places in groupby(
        ((number, value) for number in numbers if (value := values[number]) is not None),
        lambda place: limits.passes(place[1]),
    ):
        if is_beyond:
            yield list(places)


def _block(run: Run, scale: float) -> str:
    """In the strip below the course: a line where it stood still, waves of a passing mode, else a box."""
    x, width = run.first * scale, (run.end - run.first) * scale
    if run.kind is Kind.OFF:
        return f"M{x:.1f} {STRIP + 3.5}h{width:.1f}"
    if run.kind is Kind.PASSING:
        waves = max(1, round(width / 5.3))
        return f"M{x:.1f} {STRIP + 6}" + f"l{width / waves / 2:.2f} -5 {width / waves / 2:.2f} 5" * waves
    return f"M{x:.1f} {STRIP}h{width:.1f}v7h-{width:.1f}z"


def _since(trend: Trend, since_us: int) -> str:
    """A mark that points down at the time; at the left edge, and to the left, where it was before."""
    if since_us < trend.from_us:
        return "M1 4.5L8 .5v8z"
    x = TREND_WIDTH * min(1.0, (since_us - trend.from_us) / (trend.number * trend.bin_us))
    return f"M{x:.1f} 8.5l-4 -8h8zv{FLOOR - 8.5:.1f}"


@lru_cache(maxsize=8)
def _hours(from_us: int, until_us: int, display: Display) -> str:
    """A line at each full hour of the site's clock."""
    here = display.at(from_us)
    first_us = from_us - (here.minute * 60 + here.second) * 1_000_000
    per_us = TREND_WIDTH / (until_us - from_us)
    return "".join(
        f"M{(hour_us - from_us) * per_us:.1f} {TOP:.0f}v{FLOOR - TOP:.0f}"
        for hour_us in range(first_us, until_us, HOUR_US)
        if hour_us > from_us
    )
