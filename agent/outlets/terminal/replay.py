"""A replay beside what is recorded, for a terminal and for a program: sentences first, then the figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from agent.alarms import Fate, Occurrence, OccurrenceCompared, Rate
from agent.alarms.compared import WEEK_US
from agent.assess import HOUR_US
from agent.assess.compared import STANDING, Compared, InMode, QuantityCompared
from agent.outlets.figures import share
from agent.outlets.shown import SI, Display, number_of
from agent.outlets.terminal.replay_verdict import running, running_times, verdict
from agent.piping import RETURN, RISE
from agent.settings import ModulePath

SHOWN = {RETURN: "return superheat", RISE: "oil-return rise"}
MOST_SHOWN = 5  # occurrences of one alarm
NOT_SIMULATED = (
    "Who was told rests on shadow, shelving and what held alarms back at the time: of the replay that is not "
    "simulated, nor is feed-stale, which goes by when readings arrived."
)
NOTHING_DIFFERS = "Nothing differs from what is recorded."


class LimitTried(NamedTuple):
    """An alarm under other limits, over the same time."""

    alarm: str
    changes: tuple[tuple[str, float | None, float | None], ...]  # key, now, proposed
    now: Rate
    proposed: Rate
    within: tuple[int, int] | None  # decided grid times whose U holds the limit, and of how many


@dataclass(frozen=True)
class ReplayReport:
    """What there is to say of a replay; times are grid times."""

    path: ModulePath
    from_us: int
    to_us: int
    step_us: int
    changes: tuple[str, ...]  # what was taken otherwise than recorded, in sentences
    notes: tuple[str, ...]
    compared: Compared
    alarms: Mapping[str, Sequence[OccurrenceCompared]]  # those with an occurrence on either side
    notices: Mapping[tuple[str, int], int]  # by alarm and since when: those put out of what is withdrawn
    limits: tuple[LimitTried, ...] = ()

    @property
    def differs(self) -> bool:
        fates = {each.fate for found in self.alarms.values() for each in found}
        return bool(self.compared.changed) or bool(fates - {Fate.ALIKE})

    @property
    def verdict(self) -> str:
        """What it comes to; empty where nothing differs."""
        return verdict(SHOWN, self.compared, self.alarms) if self.differs else ""


def render_replay(report: ReplayReport, display: Display = SI) -> Group:
    """For a terminal."""
    head = Text(report.path.local, style="bold")
    span = f"   replayed from {display.day_time(report.from_us)} to {display.day_time(report.to_us)}"
    head.append(span, style="not bold")
    lines: list[RenderableType] = [head]
    lines += [_paragraph(each) for each in report.changes]
    lines += [_paragraph(each, "dim") for each in report.notes]
    lines.append(Text(""))
    told = map(display.words, sentences(report, display))
    lines += [_paragraph(each, "bold" if each == NOTHING_DIFFERS else "") for each in told]
    if report.differs:
        lines += [Text(""), Padding(_figures(report, display), (0, 0, 0, 2), expand=False)]
    if report.limits:
        table = _limits(report.limits, counted=_is_short(report))
        lines += [Text(""), Padding(table, (0, 0, 0, 2), expand=False)]
    if report.alarms:
        lines += [
            Text(""),
            Padding(_alarms(report, display), (0, 0, 0, 2), expand=False),
            _paragraph(NOT_SIMULATED, "dim"),
        ]
    if report.verdict:
        lines += [Text(""), _paragraph(display.words(report.verdict), "bold")]
    return Group(*lines)


def sentences(report: ReplayReport, display: Display = SI) -> Iterator[str]:
    """What differs, or that nothing does. ``display``: for limits, which a file states without a unit."""
    if not report.differs:
        yield NOTHING_DIFFERS
    else:
        for name, what in SHOWN.items():
            yield from _of_quantity(what, report.compared.quantities[name])
    yield from _of_alarms(report)
    for each in report.limits:
        yield from _of_limit(each, display, counted=_is_short(report))


def _of_quantity(what: str, found: QuantityCompared) -> Iterator[str]:
    pairs = [
        (was, now)
        for was, now in zip(found.recorded, found.replayed, strict=True)
        if was.mode not in STANDING and (was.decided or now.decided)
    ]
    if not pairs:
        yield f"{what.capitalize()} is decided nowhere, neither as recorded nor as replayed."
        return
    for was, now in sorted(pairs, key=lambda pair: -max(pair[0].decided, pair[1].decided)):
        head = f"{what.capitalize()} in {was.mode} was {_said(was, what)}, it is {_said(now, what)}"
        same = was[3:] == now[3:]
        yield f"{what.capitalize()} in {was.mode} is {_said(now, what)} either way." if same else f"{head}."
    sides = running(found)
    shares = [share(*each) for each in sides]
    if not all(of for _, of in sides):
        side, decided = ("recorded", shares[1]) if not sides[0][1] else ("replayed", shares[0])
        yield f"As {side} none of that time counts as running; else it is decided for {decided} of it."
    elif shares[0] == shares[1]:
        yield f"It is decided for {shares[0]} of the running time either way."
    else:
        yield f"It was decided for {shares[0]} of the running time, it is for {shares[1]}."
    if found.differ and not round(found.differ.most, 1):
        yield "Where both are decided it is the same."
    elif found.differ:
        way = "lower" if found.differ.median < 0 else "higher"
        yield (
            f"Where both are decided it is {abs(found.differ.median):.1f} K {way} than recorded (median), "
            f"{found.differ.most:+.1f} K at most."
        )


def _said(each: InMode, what: str) -> str:
    if each.median is None:
        return "never decided"
    return f"{each.median:.1f} K (taken at {' and at '.join(_places(each, what)) or 'no probe'})"


def _places(each: InMode, what: str) -> list[str]:
    """The probes that it was taken at; those that hardly ever counted are left out."""
    between = " - " if what == SHOWN[RISE] else " + "
    return [probe.replace(" ", between) for probe, times in each.probes if times >= 0.05 * each.decided]


def _of_alarms(report: ReplayReport) -> Iterator[str]:
    for alarm, found in report.alarms.items():
        fates = [each.fate for each in found]
        withdrawn, come = fates.count(Fate.WITHDRAWN), fates.count(Fate.FOUND)
        if withdrawn:
            of = _of_all(withdrawn, fates.count(Fate.ALIKE) + withdrawn)
            yield f"{alarm}: {of} recorded would not have been raised{_notices(report, alarm)}."
        if come:
            yield f"{alarm}: {_times(come)} it would have been raised and was not."


def _of_all(some: int, every: int) -> str:
    if every == 1:
        return "the one occurrence"
    return f"all {every} occurrences" if some == every else f"{some} of {every} occurrences"


def _notices(report: ReplayReport, alarm: str) -> str:
    told = sum(number for (name, _), number in report.notices.items() if name == alarm)
    if not told:
        return "; nobody was told of it"
    return f"; {number_of(told, 'notice')} of it would not have been sent"


def _times(number: int) -> str:
    return "once" if number == 1 else f"{number} times"


def _is_short(report: ReplayReport) -> bool:
    """Too short for a rate: alarms are counted instead."""
    return report.to_us - report.from_us < 4 * WEEK_US


def _of_limit(tried: LimitTried, display: Display, *, counted: bool) -> Iterator[str]:
    what = ", ".join(
        f"{key} {_plain(was)} to {_plain(now)}{_in_site_units(key, was, now, display)}"
        for key, was, now in tried.changes
    )
    now, proposed = tried.now, tried.proposed
    rates = f"{now.per_week:.1f} alarms a week now, {proposed.per_week:.1f} as proposed"
    if counted:
        rates = f"{number_of(now.raised, 'alarm')} now, {proposed.raised} as proposed"
    yield f"{tried.alarm} ({what}): {rates}."
    if tried.within and tried.within[1]:
        cannot = ": there the instruments cannot tell on which side it is" if tried.within[0] else ""
        yield (
            f"The proposed limit lies within U of the value for {share(*tried.within)} of the time for which "
            f"it is decided{cannot}."
        )


def _figures(report: ReplayReport, display: Display) -> Table:
    table = _table("", "recorded", "replayed")
    compared, step_us = report.compared, report.step_us
    both = (compared.recorded, compared.replayed)
    table.add_row("time assessed", *(_hours(times, step_us) for times in both))
    first = next(iter(compared.quantities.values()))
    runs = [running_times(first, side) for side in (0, 1)]
    table.add_row("  of it running", *(_hours(times, step_us) for times in runs))
    for name, what in SHOWN.items():
        quantity = compared.quantities[name]
        for was, now in zip(quantity.recorded, quantity.replayed, strict=True):
            if was.mode not in STANDING and (was.decided or now.decided):
                table.add_row(f"{what}, {was.mode}")
                shares = (share(e.decided, of) for e, of in zip((was, now), runs, strict=True))
                table.add_row("  decided, of all running time", *shares)
                table.add_row("  median, 5 to 95 %", *(_spread(each, display) for each in (was, now)))
                table.add_row("  mean U (k = 2)", *(display.words(_mean_u(each)) for each in (was, now)))
                table.add_row("  taken at", *("\n".join(_places(e, what)) or "-" for e in (was, now)))
    for alarm, (was_times, now_times) in compared.beyond.items():
        hours = [_hours(times, step_us) for times in (was_times, now_times)]
        table.add_row(f"time beyond the limit of {alarm}", *hours)
    return _with_whole_words(table)


def _hours(times: int, step_us: int) -> str:
    return f"{times * step_us / HOUR_US:.1f} h"


def _with_whole_words(table: Table) -> Table:
    """No column narrower than its longest word, so that a name is not broken."""
    for column in table.columns:
        words = [word for cell in column.cells for word in str(cell).split()]
        column.min_width = max(map(len, words), default=1)
    return table


def _spread(each: InMode, display: Display) -> str:
    if each.median is None or each.low is None or each.high is None:
        return "-"
    middle, low, high = (f"{display.difference(value):.1f}" for value in (each.median, each.low, each.high))
    return f"{middle} {display.difference_unit}, {low} to {high}"


def _mean_u(each: InMode) -> str:
    if each.below is None or each.below != each.below:
        return "-"
    return f"-{each.below:.1f} +{each.above:.1f} K"


def _limits(tried: Sequence[LimitTried], *, counted: bool) -> Table:
    table = _table("limits", "now", "as proposed")
    for each in tried:
        both = (each.now, each.proposed)
        table.add_row(f"{each.alarm}, alarms raised", *(str(rate.raised) for rate in both))
        if not counted:
            table.add_row("  a week", *(f"{rate.per_week:.1f}" for rate in both))
        table.add_row("  stands", *(f"{rate.stands_us / HOUR_US:.1f} h" for rate in both))
    return _with_whole_words(table)


def _alarms(report: ReplayReport, display: Display) -> Table:
    table = _table("alarms", "recorded", "replayed")
    for alarm, found in report.alarms.items():
        differing = [each for each in found if each.fate is not Fate.ALIKE]
        alike = len(found) - len(differing)
        if alike:
            table.add_row(alarm, f"{_times(alike)}, alike", "")
        for each in differing[:MOST_SHOWN]:
            sides = (_occurrence(side, display) for side in (each.recorded, each.replayed))
            table.add_row(alarm, *sides)
        if differing[MOST_SHOWN:]:
            table.add_row(alarm, f"and {len(differing) - MOST_SHOWN} more", "")
    return _with_whole_words(table)


def _occurrence(each: Occurrence | None, display: Display) -> str:
    if each is None:
        return "not raised"
    until = "still stands" if each.cleared_us is None else f"to {display.day_time(each.cleared_us)}"
    return f"{display.day_time(each.since_us)} {until}"


def _table(*columns: str) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0))
    for column in columns:
        table.add_column(column, overflow="fold")
    return table


def _paragraph(text: str, style: str = "") -> Padding:
    return Padding(Text(text, style=style), (0, 0, 0, 2), expand=False)


def _in_site_units(key: str, was: float | None, now: float | None, display: Display) -> str:
    """A changed limit beside what the file states; empty where that is in the site's unit already."""
    unit = {"k": "K", "c": "degC"}.get(key.rpartition("_")[2])
    if unit is None or display.temperature_unit == SI.temperature_unit:
        return ""
    told = (_plain(each) if each is None else display.words(f"{each:g} {unit}") for each in (was, now))
    return f" = {' to '.join(told)}"


def _plain(value: float | None) -> str:
    return "none" if value is None else f"{value:g}"
