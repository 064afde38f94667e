"""The list of alarms: what stands and in which state, what happened, and how many were sent."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any, NamedTuple

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from agent.alarms import CATALOGUE, Event, Life, Load, Priority, StateName
from agent.alarms.rates import ACCEPTABLE_PER_HOUR, FLOOD_PER_TEN_MINUTES, MOST_PER_HOUR, SHARES
from agent.outlets.alarm_words import (
    UNACKNOWLEDGED,
    found_words,
    over_words,
    shadow_words,
    since_words,
    state_mapping,
    state_words,
)
from agent.outlets.cautions import short_caution
from agent.outlets.shown import SI, Display, number_of, spaced
from agent.outlets.terminal.status import watch_words
from agent.outlets.times import iso
from agent.outlets.view import ModuleView, StandingAlarm
from agent.settings import ModulePath

SOON_US = 120_000_000  # what became known by then is told without the time when it happened
WHAT: Mapping[str, str] = {Event.REMOVED: "out of service", Event.RETURNED: "back in service"}
_STYLES = {Priority.HIGH: "bold red", Priority.MEDIUM: "red", Priority.LOW: "yellow"}


class Listed(NamedTuple):
    """An alarm that is anything but normal. ``now``: its evidence, where it stands."""

    path: ModulePath
    name: str
    state: StateName
    life: Life
    now: StandingAlarm | None

    @property
    def priority(self) -> Priority:
        if self.now is not None:
            return self.now.priority
        return CATALOGUE[self.name].priority if self.name in CATALOGUE else Priority.MEDIUM


class Happened(NamedTuple):
    """A line of the journal for people: when it happened, when it was known."""

    path: ModulePath
    alarm: str
    event_us: int
    known_us: int
    what: str
    text: str
    who: str
    until_us: int | None = None  # the end of a shelf
    found: str = ""  # what of the text is a sentence of ours, with figures

    def told(self, display: Display) -> str:
        """Its text in the site's units and by its clock; what people typed stays as it is."""
        text = self.text.replace(self.found, display.words(self.found)) if self.found else self.text
        return text.replace(SI.when(self.event_us), display.when(self.event_us))


def listed(views: Iterable[ModuleView]) -> list[tuple[ModuleView, list[Listed]]]:
    """Per module the alarms that are not normal, the urgent ones first."""
    found = []
    for view in views:
        now = {alarm.name: alarm for alarm in view.alarms}
        alarms = [
            Listed(view.path, name, view.lives.standing(name), life, now.get(name))
            for name, life in (view.lives.listed | view.lives.withdrawn).items()
        ]
        order = list(_STYLES)
        alarms.sort(key=lambda each: (not view.lives.is_told(each.name), order.index(each.priority)))
        found.append((view, alarms))
    return found


def is_unacknowledged(views: Iterable[ModuleView]) -> bool:
    """Whether an alarm waits to be acknowledged."""
    return any(each.state in UNACKNOWLEDGED for _, alarms in listed(views) for each in alarms)


def unraised(view: ModuleView) -> list[StandingAlarm]:
    """What stands by the newest assessment and is not raised yet: the agent has not come up to now."""
    return [alarm for alarm in view.alarms if alarm.name not in view.lives.listed]


def render_alarms(
    views: Sequence[ModuleView],
    now_us: int,
    *,
    runs: bool = True,
    advice: bool = False,
    refrigerants: Iterable[str] = (),
    display: Display = SI,
) -> RenderableType:
    """The alarms that are not normal, module by module.

    ``runs``: an agent works on the store. ``advice``: with the first response to each that stands;
    ``refrigerants``: of these modules.
    """
    found = [(view, alarms) for view, alarms in listed(views) if alarms or unraised(view)]
    known = [each for _, alarms in found for each in alarms if each.life.since_us is not None]
    every = [each for each in known if not each.life.withdrawn]
    out = sum(_is_out(view) for view, _ in found)
    waiting = sum(each.state in UNACKNOWLEDGED for each in every)
    head = Text(display.day_time(now_us), style="bold")
    count = f"{number_of(len(every), 'alarm')}, {waiting} unacknowledged"
    words = watch_words(views, now_us, runs)
    none = "no alarm known" if words else "no alarm"
    head.append(f"   {count if every else none}", style="not bold")
    if len(known) > len(every):
        head.append(f", {len(known) - len(every)} withdrawn of late", style="not bold")
    if out:
        head.append(f", {number_of(out, 'module')} out of service", style="not bold")
    lines = [head, Text(words, style="bold red")] if words else [head]
    blocks = [_module(view, alarms, advice, display) for view, alarms in found]
    if advice and blocks:
        blocks.append(Padding(Text(short_caution(refrigerants)), (1, 0, 0, 0)))
    return Group(*lines, *blocks)


def _is_out(view: ModuleView) -> bool:
    """Whether every alarm of a module is out of service."""
    return all(view.lives.standing(name) is StateName.OUT_OF_SERVICE for name in CATALOGUE)


def _module(view: ModuleView, alarms: Iterable[Listed], advice: bool, display: Display) -> RenderableType:
    head = Text(f"\n{view.path.local}", style="bold")
    if view.lives.shadow:
        head.append(f"   {shadow_words(view.lives, display)}", style="not bold dim")
    lines: list[RenderableType] = [head]
    quiet: dict[str, list[Listed]] = {}
    for each in alarms:
        said = state_words(view.lives, each.name, display)
        if each.life.since_us is None:  # it never stood: those of which the same is said share a line
            quiet.setdefault(said, []).append(each)
            continue
        style = _STYLES[each.priority] if view.lives.is_told(each.name) else "dim"
        found = "" if each.now is None else found_words(each.now, view, display)
        lines.append(_line(each.name, each.priority, f"{said}, {_since(each, display)}", style, found))
        if advice and each.now is not None and each.name in CATALOGUE:
            lines.append(_detail(f"First response: {display.words(CATALOGUE[each.name].first_response)}"))
    for alarm in unraised(view):
        words = f"stood when last assessed, not raised yet, since {display.day_time(alarm.since_us)}"
        lines.append(_line(alarm.name, alarm.priority, words, "yellow", found_words(alarm, view, display)))
    for said, several in quiet.items():
        first, *others = several
        if not others:
            lines.append(_line(first.name, first.priority, f"{said}, does not stand", "dim"))
            continue
        names = ", ".join(sorted(each.name for each in several))
        what = "all other alarms" if _is_out(view) and len(quiet) == 1 else f"{len(several)} alarms"
        detail = "" if what.startswith("all") else names
        lines.append(_line(what, "", f"{said}, none of them stands", "dim", detail))
    return Group(*lines)


def _line(name: str, priority: str, words: str, style: str, detail: str = "") -> RenderableType:
    """An alarm and its state; what was found is below it, so that it is read at 80 columns."""
    head = Text("  ".join(filter(None, (name, priority))), style=style)
    head.append(f"  {words}{':' if detail else ''}", style="not bold default")
    line = Padding(head, (0, 0, 0, 2))
    return Group(line, _detail(detail)) if detail else line


def _detail(words: str) -> RenderableType:
    return Padding(Text(words), (0, 0, 0, 6))


def _since(each: Listed, display: Display) -> str:
    return over_words(each.life, display) or since_words(each.life.since_us, each.life, display)


def render_happened(happened: Sequence[Happened], display: Display = SI) -> RenderableType:
    """What happened to alarms, in the order in which it became known."""
    if not happened:
        return Text("\nnothing happened to any alarm in that time")
    lines: list[RenderableType] = [Text("\nWhat happened, by the time when it became known", style="bold")]
    for each in together(happened):
        known, what = display.day_time(each.known_us), what_words(each, display)
        lines.append(Padding(Text(f"{known}  {each.path.local}  {each.alarm}  {what}"), (0, 0, 0, 2)))
        if said := ": ".join(filter(None, (each.who, each.told(display)))):
            lines.append(_detail(said))
    return Group(*lines)


def together(happened: Iterable[Happened]) -> Iterator[Happened]:
    """Lines of which only the alarm differs share one, which names them all."""
    for _, same in groupby(happened, lambda each: each._replace(alarm="")):
        lines = list(same)
        names = {each.alarm for each in lines}
        every = "all alarms" if CATALOGUE.keys() <= names else ", ".join(sorted(names))
        yield lines[0]._replace(alarm=every)


def what_words(each: Happened, display: Display = SI, plainly: Mapping[str, str] = WHAT) -> str:
    """What happened, until when a shelf holds, and of when it is where that became known later."""
    what = plainly.get(each.what, spaced(each.what))
    if each.until_us is not None:
        what += f" until {display.day_time(each.until_us)}"
    late = each.known_us - each.event_us > SOON_US
    return f"{what}, of {display.day_time(each.event_us)}" if late else what


def render_rates(loads: Mapping[str, Load], length_us: int, display: Display = SI) -> RenderableType:
    """How many alarms each receiver was sent, against the published figures."""
    hours = length_us / 3.6e9
    lines: list[RenderableType] = [Text(f"\nAlarms sent over the last {hours:.0f} h", style="bold")]
    lines += [
        Padding(Text(f"{name}: {'; '.join(_load_words(load, display))}"), (0, 0, 0, 2))
        for name, load in loads.items()
    ]
    shares = "/".join(f"{share:.0%}" for share in SHARES.values())
    published = (
        f"about {ACCEPTABLE_PER_HOUR:g} an hour are acceptable, {MOST_PER_HOUR:g} the most; more than "
        f"{FLOOD_PER_TEN_MINUTES} in 10 minutes are a flood; low/medium/high about {shares}"
    )
    words = f"Published figures (ISA-18.2, IEC 62682; read second-hand): {published}"
    lines.append(Padding(Text(words, style="dim"), (0, 0, 0, 2)))
    return Group(*lines)


def _load_words(load: Load, display: Display) -> Iterator[str]:
    if not load.number:
        yield "no alarm"
        return
    words = "acceptable"
    if load.per_hour > ACCEPTABLE_PER_HOUR:
        words = "more than acceptable" if load.per_hour <= MOST_PER_HOUR else "too many"
    yield f"{number_of(load.number, 'alarm')}, {load.per_hour:.2g} an hour ({words})"
    parts = [f"{p} {load.by_priority[p] / load.number:.0%}" for p in SHARES]
    yield ", ".join(parts)
    flood = " (a flood)" if load.is_flood else ""
    yield f"worst 10 minutes {load.worst}{flood}, from {display.day_time(load.worst_us)}"
    if load.most_often is not None:
        yield f"most often {load.most_often[0]}, {load.most_often[1]} times"


def alarms_mapping(
    views: Iterable[ModuleView],
    happened: Sequence[Happened] | None = None,
    loads: Mapping[str, Load] | None = None,
) -> dict[str, Any]:
    """The list as plain data, for JSON."""
    body: dict[str, Any] = {
        "alarms": [
            {
                **each.path._asdict(),
                "alarm": each.name,
                "priority": each.priority,
                "active": each.life.state.active,
                "since": None if each.life.since_us is None else iso(each.life.since_us),
                **state_mapping(view.lives, each.name),
                "text": each.now.facts.text if each.now else None,
            }
            for view, alarms in listed(views)
            for each in alarms
        ]
    }
    if happened is not None:
        body["happened"] = [
            {
                **each.path._asdict(),
                "alarm": each.alarm,
                "event": iso(each.event_us),
                "known": iso(each.known_us),
                "what": each.what,
                "who": each.who or None,
                "text": each.text,
                "until": None if each.until_us is None else iso(each.until_us),
            }
            for each in happened
        ]
    if loads is not None:
        body["rates"] = {name: _load_mapping(load) for name, load in loads.items()}
    return body


def _load_mapping(load: Load) -> dict[str, Any]:
    return {
        "number": load.number,
        "per_hour": load.per_hour,
        "by_priority": {str(priority): number for priority, number in load.by_priority.items()},
        "worst_10_min": load.worst,
        "worst_from": None if load.worst_us is None else iso(load.worst_us),
        "is_flood": load.is_flood,
    }
