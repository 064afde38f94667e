"""A module as the status page shows it, all in words and coordinates."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple
from urllib.parse import quote

from agent.alarms import Entry
from agent.alarms.catalogue import SUPERHEAT_HIGH, SUPERHEAT_LOW
from agent.alarms.facts import SECOND_BEST
from agent.assess import Assessment, Quantity
from agent.outlets.alarm_words import shadow_words, unit_words
from agent.outlets.shown import Display, spaced
from agent.outlets.terminal.alarm_list import listed
from agent.outlets.terminal.status import SILENT_US
from agent.outlets.times import age
from agent.outlets.view import ModuleView
from agent.outlets.web.drawn import Band, Drawn, band, drawn
from agent.outlets.web.judged import Judged, judged
from agent.outlets.web.quantities import Row, rows
from agent.outlets.web.told import PRIORITIES, Told, alarms, quiet
from agent.outlets.web.trend import Limits, Trend
from agent.piping import RETURN
from agent.settings import ModulePath

OVER_SHOWN = 6  # of the past alarms of a module, the newest


class Shown(NamedTuple):
    """A module as the page is given it."""

    view: ModuleView
    catalogue: Mapping[str, Entry]
    layout: str
    refrigerant: str
    trend: Trend | None  # None: nothing was ever assessed
    configured_probe: str | None = None  # that the site takes superheat from
    first_us: int | None = None  # first assessed; None: not known
    over: Sequence[Over] = ()  # of the last day


class Over(NamedTuple):
    """An alarm of the last day that is over. ``to_us`` None: not known when."""

    alarm: str
    from_us: int
    to_us: int | None


class Card(NamedTuple):
    """A module as the page shows it."""

    id: str
    name: str
    layout: str
    refrigerant: str
    mode: str
    mode_reason: str
    age: str
    judged: Judged
    returned: Row | None
    rows: list[Row]
    band: Band | None
    limits: str
    trend: Drawn | None
    alarms: list[Told]
    quiet: dict[str, list[str]]
    over: str
    notes: list[str]
    path: str  # percent-encoded

    @property
    def open(self) -> list[Told]:
        """The alarms that stand and are told, whether somebody has taken them or not."""
        return [each for each in self.alarms if each.is_open]


def cards_of(modules: Sequence[Shown], now_us: int, display: Display) -> Iterator[Card]:
    """In the order of the site."""
    for each, (view, found) in zip(modules, listed(each.view for each in modules), strict=True):
        told = list(alarms(view, found, display, each.catalogue, each.first_us))
        assessment, path = view.assessment, view.path
        table = (
            list(rows(view, assessment, display, each.catalogue, each.configured_probe)) if assessment else []
        )
        limits, old = _limits(each.catalogue, assessment), _old(assessment, now_us, display)
        since_us = next((alarm.since_us for alarm in sorted(told, key=rank) if alarm.is_open), None)
        yield Card(
            id=path.local,
            name=path.local,
            layout=each.layout,
            refrigerant=each.refrigerant,
            mode=spaced(assessment.mode) if assessment else "",
            mode_reason=_mode_reason(assessment),
            age=_age_words(view, now_us),
            judged=judged(view, limits, old),
            returned=table[0] if table else None,
            rows=table,
            band=_band(assessment, limits, display),
            limits=_limit_words(limits, display),
            trend=drawn(each.trend, limits, display, since_us) if each.trend else None,
            alarms=told,
            quiet=quiet(view, found, display),
            over=_over(each.over, display),
            notes=list(_notes(view, display)),
            path=encoded(path),
        )


def _over(several: Sequence[Over], display: Display) -> str:
    """Past alarms in a line, the newest first."""
    newest = sorted(several, key=lambda each: each.from_us, reverse=True)
    told = [
        f"{each.alarm} {display.day_time(each.from_us)}{_until(each.to_us, display)}"
        for each in newest[:OVER_SHOWN]
    ]
    more = len(newest) - len(told)
    return "; ".join([*told, f"and {more} more"] if more else told)


def _until(to_us: int | None, display: Display) -> str:
    return ", not known to when" if to_us is None else f" to {display.day_time(to_us)}"


def encoded(path: ModulePath) -> str:
    """System and module as a part of an address."""
    return f"{quote(path.system, safe='')}/{quote(path.module, safe='')}"


def rank(alarm: Told) -> tuple[int, bool]:
    """The urgent ahead, and of those alike what nobody has taken."""
    return PRIORITIES.index(alarm.priority), alarm.taken


def urgency(card: Card) -> tuple[int, int, bool]:
    """What stands and is told comes first, by its priority; then other alarms; the site's order stays."""
    for group, several in enumerate((card.open, card.alarms)):
        if several:
            return group, *min(map(rank, several))
    return 2, 0, False


def _limits(catalogue: Mapping[str, Entry], assessment: Assessment | None) -> Limits:
    """As they hold for where return superheat is taken now."""
    low, high = (catalogue[entry.name].limits for entry in (SUPERHEAT_LOW, SUPERHEAT_HIGH))
    if assessment and assessment.quantities[RETURN].said.standing in SECOND_BEST:
        return Limits(low.second_best_k, high.second_best_k)
    return Limits(low.limit_k, high.limit_k)


def _limit_words(limits: Limits, display: Display) -> str:
    ends = [None if limit is None else f"{display.difference(limit):.3g}" for limit in limits]
    unit = display.difference_unit
    if None not in ends:
        return f"limits {ends[0]} to {ends[1]} {unit}"
    return next((f"limit {end} {unit}" for end in ends if end is not None), "")


def _band(assessment: Assessment | None, limits: Limits, display: Display) -> Band | None:
    returned: Quantity | None = assessment.quantities[RETURN] if assessment else None
    if returned is None or not returned.decided or returned.value is None:
        return None
    if returned.below is None or returned.above is None:
        return None
    return band(returned.value, returned.below, returned.above, limits, display)


def _mode_reason(assessment: Assessment | None) -> str:
    if assessment is None:
        return ""
    reason = assessment.mode_reason or "as the gateway's own point says"
    running = assessment.running
    if running is None:
        return f"{reason}; which compressors run is not known"
    if not running:
        return f"{reason}; no compressor runs"
    several = len(running) > 1
    return f"{reason}; compressor{'s' if several else ''} {', '.join(running)} run{'' if several else 's'}"


def _age_words(view: ModuleView, now_us: int) -> str:
    parts = []
    if view.assessment is not None:
        parts.append(f"assessed {age(now_us - view.assessment.grid_us)} ago")
    if view.newest_us is not None:
        parts.append(f"newest reading {age(now_us - view.newest_us)} old")
    else:
        parts.append("no reading of late")
    return ", ".join(parts)


def _old(assessment: Assessment | None, now_us: int, display: Display) -> str:
    if assessment is None or now_us - assessment.grid_us <= SILENT_US:
        return ""
    return f"what is shown is of {display.day_time(assessment.grid_us)}, nothing newer"


def _notes(view: ModuleView, display: Display) -> Iterator[str]:
    yield from (display.words(note) for note in view.notes)
    name = view.path.local
    yield from filter(None, (unit_words(view.lives.unconfirmed_us, name, display),))
    yield from filter(None, (shadow_words(view.lives, display),))
