"""What each probe, transducer and valve reads now, as somebody at the module would want to see it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from agent.assess import FLAGS, MODE_SIGNAL, MODES, REVERSING_VALVE, SECOND
from agent.assess.by_hand.readings import Shown
from agent.outlets.figures import difference, level
from agent.outlets.shown import Display, spaced
from agent.outlets.times import length
from agent.units import UNITS, Dimension

if TYPE_CHECKING:
    from agent.outlets.visit.brief import Brief

_ORDER = (
    *(Dimension.TEMPERATURE, Dimension.PRESSURE, Dimension.FREQUENCY, Dimension.CURRENT),
    *(Dimension.RATIO, Dimension.DIFFERENCE, None),
)


class Raw(NamedTuple):
    """A signal's newest reading. ``value``: SI, absolute, NaN where it cannot be used as it came."""

    at_us: int
    value: float
    received: str


class ReadingRow(NamedTuple):
    """A signal, what it reads in the site's unit, and when; ``note``: what speaks against it."""

    signal: str
    reads: str
    when: str
    note: str


def reading_rows(brief: Brief) -> Iterator[ReadingRow]:
    """Temperatures, pressures, speeds and openings, then valves and the mode; also what does not come."""
    conversions = brief.module.conversions
    for dimension in _ORDER:
        for name, conversion in conversions.items():
            if conversion.dimension is dimension:
                yield _row(brief, name)
    for name in brief.explanation.silent:
        yield ReadingRow(name, "not known", "–", "the layout has it, no signal tells of it")
    for name in brief.explanation.silent_valves:
        yield ReadingRow(name, "unknown", "–", "no signal tells of this valve")


def _row(brief: Brief, name: str) -> ReadingRow:
    raw = brief.readings.get(name)
    if raw is None:
        return ReadingRow(name, "not known", "–", "no reading in the last day")
    failed = brief.view.assessment.failed.get(name) if brief.view.assessment else None
    notes = [brief.display.words(failed[1])] if failed else []
    signal = brief.module.module.signals[name]
    old_us = brief.made_us - raw.at_us
    if old_us > signal.max_age_us:
        notes.append(f"{length(old_us)} old")
    return ReadingRow(name, reads(brief, name), clock(raw.at_us, brief), "; ".join(notes))


def reads(brief: Brief, name: str) -> str:
    """What a signal reads, in the site's unit; a pressure as gauge and absolute."""
    raw, conversion = brief.readings[name], brief.module.conversions[name]
    if math.isnan(raw.value):
        return f"cannot be used: {raw.received}"
    display = brief.display
    match conversion.dimension:
        case Dimension.TEMPERATURE:
            return level(raw.value, display)
        case Dimension.PRESSURE:
            return _pressures(raw.value, brief.ambient_pa, display)
        case Dimension.FREQUENCY:
            return f"{raw.value:.1f} Hz"
        case Dimension.CURRENT:
            return f"{raw.value:.1f} A"
        case Dimension.RATIO:
            return f"{100 * raw.value:.0f} %"
        case Dimension.DIFFERENCE:
            return difference(raw.value, display)
    return _state(name, raw.value)


def _pressures(pa: float, ambient_pa: float | None, display: Display) -> str:
    absolute = pressure_shown(display).figure(pa)
    if ambient_pa is None:
        return f"{absolute} (gauge not known: the configuration does not state the site's height)"
    return f"{pressure_shown(display, ambient_pa).figure(pa)} = {absolute}"


def pressure_shown(display: Display, reference_pa: float | None = None) -> Shown:
    """How a pressure is told in the site's unit, absolute unless it is counted from something."""
    unit = display.pressure_unit
    name = f"{unit} {'absolute' if reference_pa is None else 'gauge'}"
    return Shown(name, unit, UNITS[unit].factor, reference_pa or 0.0)


def _state(name: str, value: float) -> str:
    if name == MODE_SIGNAL:
        return spaced(MODES[round(value)])
    if name == REVERSING_VALVE:
        return "at heating" if value > 0 else "at cooling"
    if name in FLAGS:
        return "under way" if value > 0 else "not under way"
    return "open" if value > 0 else "shut"


def valve_state(brief: Brief, valve: str) -> str:
    """Open, shut, or not known, which is neither; with its time."""
    raw = brief.readings.get(valve)
    if raw is None or math.isnan(raw.value):
        return f"{valve}: not known"
    signal = brief.module.module.signals[valve]
    old = "" if brief.made_us - raw.at_us <= max(signal.max_age_us, 60 * SECOND) else ", which is old"
    return f"{valve} is said to be {_state(valve, raw.value)} at {clock(raw.at_us, brief)}{old}"


def clock(time_us: int, brief: Brief) -> str:
    """The time of a reading by the site's clock; with its day where that is not the day of the brief."""
    at, made = brief.display.at(time_us), brief.display.at(brief.made_us)
    return f"{at:%H:%M:%S}" if at.date() == made.date() else f"{at:%d %b %H:%M}"
