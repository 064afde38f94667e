"""Where the lines of the small drawings run: a figure against its limits, and the last hours.

Coordinates only, in the drawing's own units; the templates draw them, and the style colours them.
"""

from __future__ import annotations

from typing import NamedTuple

from agent.outlets.shown import SI, Display
from agent.outlets.web.trend import Kind, Run, Trend, runs, trend_words

LEAST_K, MOST_K = -6.0, 30.0  # beyond is drawn at the edge
BAND_WIDTH, TREND_WIDTH = 160, 240
EDGE = 8  # left and right of the figure's axis
TOP, FLOOR = 2.0, 34.0  # of the course of a trend; the strip of what has no value is below it


class Limits(NamedTuple):
    """Between which a return superheat should lie [K]; None: no such limit."""

    low: float | None
    high: float | None


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
    """The last hours: paths of what is decided, and of what has no value by kind."""

    words: str
    course: str
    undecided: str
    missing: str
    off: str
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
    words = [f"{shown:.1f} {unit}, with its uncertainty {least:.1f} to {most:.1f} {unit}"]
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


def drawn(trend: Trend, limits: Limits, display: Display = SI) -> Drawn:
    """The lowest value of each bin as a line, with gaps where there is none."""
    values = [each.least for each in trend.bins.values() if each.least is not None]
    least = max(LEAST_K, min([0.0, *values]))
    most = min(MOST_K, max([limits.high or 10.0, *values]) + 1.0)

    def y(kelvin: float) -> float:
        share = (min(max(kelvin, least), most) - least) / (most - least)
        return round(FLOOR - share * (FLOOR - TOP), 1)

    scale = TREND_WIDTH / trend.number
    course, blocks = [], {kind: list[str]() for kind in Kind}
    for run in runs(trend):
        if run.kind is Kind.DECIDED:
            places = [(number, trend.bins[number].least) for number in range(run.first, run.end)]
            line = " ".join(
                f"{(number + 0.5) * scale:.1f} {y(value)}" for number, value in places if value is not None
            )
            course.append(f"M{line}{'h.1' if run.end - run.first == 1 else ''}")
        else:
            blocks[run.kind].append(_block(run, scale))
    return Drawn(
        trend_words(trend, display),
        "".join(course),
        "".join(blocks[Kind.UNDECIDED]),
        "".join(blocks[Kind.MISSING]),
        "".join(blocks[Kind.OFF]),
        y(limits.high if limits.high is not None else most),
        y(limits.low if limits.low is not None else least),
        y(0.0),
    )


def _block(run: Run, scale: float) -> str:
    """A rectangle of the strip below the course; of what stood still only a line."""
    x, width = run.first * scale, (run.end - run.first) * scale
    if run.kind is Kind.OFF:
        return f"M{x:.1f} 42h{width:.1f}"
    return f"M{x:.1f} 38.5h{width:.1f}v7h-{width:.1f}z"
