"""The status page: every module of a site in one HTML document, made on the server and only to be read.

No script and nothing from a network. What has no value is told in words, and no colour stands alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import timedelta
from functools import cache
from typing import NamedTuple
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined

from agent.alarms import Entry
from agent.alarms.catalogue import SUPERHEAT_HIGH, SUPERHEAT_LOW
from agent.assess import SECOND, Assessment, Quantity
from agent.outlets.alarm_list import listed
from agent.outlets.alarm_words import shadow_words, short_time, unit_words
from agent.outlets.cautions import HEAD, brief_caution, cautions
from agent.outlets.highside import WORDS
from agent.outlets.shown import SI, Display
from agent.outlets.status import SILENT_US, watch_words
from agent.outlets.view import ModuleView
from agent.outlets.web.drawn import Band, Drawn, Limits, band, drawn
from agent.outlets.web.quantities import Row, rows
from agent.outlets.web.told import PRIORITIES, Told, alarms, quiet
from agent.outlets.web.trend import Trend
from agent.piping import RETURN, Standing
from agent.settings import ModulePath

REFRESH_S = 30
FEW = 8  # modules that are all shown opened; more of them are opened one by one. Design choice, no source
_SECOND_BEST = (Standing.SECOND_BEST, Standing.AFTER_ACCUMULATOR)


class Shown(NamedTuple):
    """A module as the page is given it."""

    view: ModuleView
    catalogue: Mapping[str, Entry]
    layout: str
    refrigerant: str
    trend: Trend | None  # None: nothing was ever assessed


class Card(NamedTuple):
    """A module as the page shows it."""

    id: str
    name: str
    layout: str
    refrigerant: str
    mode: str
    mode_reason: str
    age: str
    old: str  # that its figures are not of now; empty where they are
    returned: Row | None
    rows: list[Row]
    band: Band | None
    limits: str
    trend: Drawn | None
    alarms: list[Told]
    quiet: dict[str, list[str]]
    notes: list[str]
    path: str  # percent-encoded
    opened: bool

    @property
    def waiting(self) -> list[Told]:
        return [each for each in self.alarms if each.waits]


def render_page(
    site: str,
    modules: Sequence[Shown],
    now_us: int,
    display: Display = SI,
    *,
    runs: bool = True,
    refresh_s: int | None = REFRESH_S,
) -> str:
    """The document. ``runs``: an agent works on the store. ``refresh_s`` None: it stays as it is."""
    views = [each.view for each in modules]
    cards = sorted(_cards(modules, now_us, display), key=_urgency)
    needing = [card for card in cards if card.waiting]
    asleep = watch_words(views, now_us, runs)
    refrigerants = sorted({each.refrigerant for each in modules})
    return (
        _environment()
        .get_template("page.html")
        .render(
            site=site,
            made=f"{display.at(now_us):%d %B %Y, %H:%M:%S} {display.offset(now_us)}",
            refresh_s=refresh_s,
            asleep=asleep,
            head=f"Not known: {asleep}" if asleep else _head(len(needing), len(cards)),
            cards=cards,
            alarmed=[card for card in cards if card.alarms],
            others=[card for card in cards if not card.alarms],
            needing=needing,
            counts=_counts(views),
            others_standing=Counter(
                each.standing for card in cards for each in card.alarms if not each.waits
            ),
            difference_unit=display.difference_unit,
            caution=brief_caution(refrigerants),
            cautions_head=HEAD,
            cautions=cautions(refrigerants),
        )
    )


def _head(needing: int, number: int) -> str:
    if not needing:
        return "No module needs anybody now"
    modules = "module" if number == 1 else "modules"
    return f"{needing} of {number} {modules} need{'s' if needing == 1 else ''} somebody now"


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("agent.outlets.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _cards(modules: Sequence[Shown], now_us: int, display: Display) -> Iterator[Card]:
    for each, (view, found) in zip(modules, listed(each.view for each in modules), strict=True):
        told = list(alarms(view, found, display))
        assessment, path = view.assessment, view.path
        table = list(rows(view, assessment, display)) if assessment else []
        limits = _limits(each.catalogue, assessment)
        yield Card(
            id=f"{path.system}/{path.module}",
            name=f"{path.system}/{path.module}",
            layout=each.layout,
            refrigerant=each.refrigerant,
            mode=assessment.mode.replace("_", " ") if assessment else "nothing assessed yet",
            mode_reason=_mode_reason(assessment),
            age=_age_words(view, now_us),
            old=_old(assessment, now_us, display),
            returned=table[0] if table else None,
            rows=table,
            band=_band(assessment, limits, display),
            limits=_limit_words(limits, display),
            trend=drawn(each.trend, limits, display) if each.trend else None,
            alarms=told,
            quiet=quiet(view, found, display),
            notes=list(_notes(view, display)),
            path=encoded(path),
            opened=len(modules) <= FEW or any(alarm.waits for alarm in told),
        )


def encoded(path: ModulePath) -> str:
    """System and module as a part of an address."""
    return f"{quote(path.system, safe='')}/{quote(path.module, safe='')}"


def _urgency(card: Card) -> tuple[int, int]:
    """What waits for somebody comes first, the urgent ahead; then other alarms; the site's order stays."""
    for rank, several in enumerate((card.waiting, card.alarms)):
        if several:
            return rank, min(PRIORITIES.index(each.priority) for each in several)
    return 2, 0


def _limits(catalogue: Mapping[str, Entry], assessment: Assessment | None) -> Limits:
    """As they hold for where return superheat is taken now."""
    low, high = (catalogue[entry.name].limits for entry in (SUPERHEAT_LOW, SUPERHEAT_HIGH))
    if assessment and assessment.quantities[RETURN].said.standing in _SECOND_BEST:
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
    return f"not of now: of {short_time(assessment.grid_us, display)}, nothing newer is assessed"


def age(microseconds: int) -> str:
    """How long ago something was, for people."""
    length = timedelta(seconds=max(0, microseconds // SECOND))
    if length < timedelta(minutes=2):
        return f"{length.seconds} s"
    if length < timedelta(hours=2):
        return f"{length.seconds // 60} min"
    return f"{length.days} days" if length >= timedelta(days=2) else f"{length // timedelta(hours=1)} h"


def _notes(view: ModuleView, display: Display) -> Iterator[str]:
    yield from (display.words(note) for note in view.notes)
    name = f"{view.path.system}/{view.path.module}"
    yield from filter(None, (unit_words(view.lives.unconfirmed_us, name, display),))
    yield from filter(None, (shadow_words(view.lives, display),))


def _counts(views: Sequence[ModuleView]) -> list[tuple[int, str]]:
    """At how many modules return superheat is decided, and for which reason it is not at the others."""
    said: dict[str, int] = {}
    for view in views:
        said_now = "nothing assessed yet"
        if view.assessment is not None:
            status = view.assessment.quantities[RETURN].said.status
            standing = view.assessment.mode == "off"
            said_now = "off" if standing else WORDS.get(status, "decided")
        said[said_now] = said.get(said_now, 0) + 1
    order = ["decided", *WORDS.values(), "off", "nothing assessed yet"]
    return [(said[words], words) for words in order if words in said]
