"""Then and now: the hour before an alarm began against the last hour, and what that says of the probe.

Pure: assessments go in. Only settled values count, of one mode; what has none is told with its reason.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from agent.assess import (
    AT_PROBE,
    DISCHARGE_TEMPERATURE,
    HOUR_US,
    PRESSURE_RATIO,
    SATURATED_CONDENSING,
    SATURATED_SUCTION,
    SUBCOOLING,
    Assessment,
)
from agent.outlets.figures import WORDS
from agent.outlets.view import NO_VERDICT
from agent.piping import RETURN, RISE, STEADY_MODES

FEWEST = 5  # settled values of an hour that make a median; design choice, no source
# A saturation that moves by 1 K moves the discharge by less than this [K]; tests set it beside CoolProp.
LEVER = 3.0


class Settled(NamedTuple):
    """The median of an hour's settled values with the wider side of its expanded uncertainty (k = 2)."""

    value: float
    u: float
    probes: tuple[str, ...] = ()


class Compared(NamedTuple):
    """A quantity then and now; a word where it has no settled value."""

    name: str
    then: Settled | str
    now: Settled | str


class ThenNow(NamedTuple):
    """An alarm's hour before it began, and the last hour; ``mode``: the one that both are of."""

    alarm: str
    since_us: int
    mode: str
    then_us: tuple[int, int]
    now_us: tuple[int, int]
    rows: tuple[Compared, ...]
    alike: bool  # the same compressors ran


class Says(StrEnum):
    """Whether what a probe shows is the machine's doing."""

    MACHINE = "machine"
    PROBE = "probe"
    OPEN = "open"


class Change(NamedTuple):
    """By how much something changed [K], and its expanded uncertainty."""

    by: float
    u: float


def hours(since_us: int, newest_us: int) -> tuple[tuple[int, int], tuple[int, int]]:
    """From when to when: the hour before, and the last hour or as much of it as the alarm has stood."""
    return (since_us - HOUR_US, since_us - 1), (max(newest_us - HOUR_US, since_us), newest_us)


def then_now(
    alarm: str, since_us: int, newest_us: int, then: Sequence[Assessment], now: Sequence[Assessment]
) -> ThenNow | None:
    """Compare both hours in the mode that the last one was mostly in; None: it did not run steadily."""
    modes = Counter(each.mode for each in now if each.mode in STEADY_MODES)
    if not modes:
        return None
    mode = modes.most_common(1)[0][0]
    before, after = ([each for each in several if each.mode == mode] for several in (then, now))
    names = list(_names(after[-1]))
    rows = tuple(Compared(name, _settled(before, name, mode), _settled(after, name, mode)) for name in names)
    spans = hours(since_us, newest_us)
    alike = bool(before) and _ran(before) == _ran(after)
    return ThenNow(alarm, since_us, mode, *spans, rows, alike)


def _names(assessment: Assessment) -> Iterator[str]:
    quantities = assessment.quantities
    yield RETURN
    for probe, (verdict, _) in assessment.fitness.items():
        if verdict in NO_VERDICT and AT_PROBE + probe in quantities:
            yield AT_PROBE + probe
    yield RISE
    yield from (name for name in quantities if name.startswith(DISCHARGE_TEMPERATURE))
    for name in (SUBCOOLING, SATURATED_SUCTION, SATURATED_CONDENSING, PRESSURE_RATIO):
        if name in quantities:
            yield name


def _settled(several: Sequence[Assessment], name: str, mode: str) -> Settled | str:
    found = [each.quantities[name] for each in several if name in each.quantities]
    if not found:
        return f"it did not run in {mode}"
    told = [each for each in found if each.decided and each.value is not None]
    if len(told) < FEWEST:
        status = Counter(each.said.status for each in found if not each.decided).most_common(1)
        return WORDS[status[0][0]] if status else "too few values"
    sides = [max(each.below or 0.0, each.above or 0.0) for each in told]
    value = float(np.median([each.value for each in told if each.value is not None]))
    probes = Counter(each.said.probes for each in told).most_common(1)[0][0]
    return Settled(value, float(np.median(sides)), probes)


def _ran(several: Sequence[Assessment]) -> tuple[str, ...] | None:
    return Counter(each.running for each in several).most_common(1)[0][0]


def says(found: ThenNow) -> Says:
    """What both hours say of the probe, where that is sure."""
    if not found.alike:
        return Says.OPEN
    names = [row.name for row in found.rows if row.name.startswith(DISCHARGE_TEMPERATURE)]
    discharges = [each for each in (change(found, name) for name in names) if each is not None]
    suction, condensing = (change(found, name) for name in (SATURATED_SUCTION, SATURATED_CONDENSING))
    return judged(change(found, RETURN), discharges, suction, condensing)


def change(found: ThenNow, name: str) -> Change | None:
    """By how much a quantity changed; None: it has no figure then or now, or another probe's."""
    row = next((row for row in found.rows if row.name == name), None)
    if row is None or isinstance(row.then, str) or isinstance(row.now, str):
        return None
    if row.then.probes != row.now.probes:
        return None
    return Change(row.now.value - row.then.value, max(row.then.u, row.now.u))


def judged(
    superheat: Change | None,
    discharges: Sequence[Change],
    suction: Change | None,
    condensing: Change | None,
) -> Says:
    """Whether discharge went with superheat by more than the pressures explain, or stayed though it should.

    Common practice, no source: the discharge is another instrument on the same gas. The same instruments
    read both hours, so that one uncertainty, which holds their own error, is on the safe side for a change.
    """
    if superheat is None or suction is None or condensing is None or not discharges:
        return Says.OPEN
    if abs(superheat.by) <= superheat.u:
        return Says.OPEN
    sign = 1.0 if superheat.by > 0 else -1.0
    with_it = max(sign * condensing.by, 0.0) + max(-sign * suction.by, 0.0)
    against_it = max(-sign * condensing.by, 0.0) + max(sign * suction.by, 0.0)
    explained, hidden = LEVER * with_it, LEVER * against_it
    if all(sign * each.by > each.u + explained for each in discharges):
        return Says.MACHINE
    if all(
        abs(each.by) <= each.u and abs(each.by) + each.u + hidden < abs(superheat.by) for each in discharges
    ):
        return Says.PROBE
    return Says.OPEN
