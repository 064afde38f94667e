"""The list of alarms: what stands and in which state, what happened, and how many were sent."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from agent.alarms import CATALOGUE, Event, Life, Load, Priority, StateName
from agent.alarms.rates import ACCEPTABLE_PER_HOUR, FLOOD_PER_TEN_MINUTES, MOST_PER_HOUR, SHARES
from agent.outlets.alarm_words import (
    UNACKNOWLEDGED,
    found_words,
    shadow_words,
    short_time,
    state_mapping,
    state_words,
)
from agent.outlets.messages import iso
from agent.outlets.status import watch_words
from agent.outlets.view import ModuleView, StandingAlarm
from agent.settings import ModulePath

_WHAT: Mapping[str, str] = {Event.REMOVED: "out of service", Event.RETURNED: "back in service"}
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


def listed(views: Iterable[ModuleView]) -> list[tuple[ModuleView, list[Listed]]]:
    """Per module the alarms that are not normal, the urgent ones first."""
    found = []
    for view in views:
        now = {alarm.name: alarm for alarm in view.alarms}
        alarms = [
            Listed(view.path, name, view.lives.standing(name), life, now.get(name))
            for name, life in view.lives.listed.items()
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


def render_alarms(views: Sequence[ModuleView], now_us: int, *, runs: bool = True) -> RenderableType:
    """The alarms that are not normal, module by module. ``runs``: an agent works on the store."""
    found = [(view, alarms) for view, alarms in listed(views) if alarms or unraised(view)]
    every = [each for _, alarms in found for each in alarms]
    waiting = sum(each.state in UNACKNOWLEDGED for each in every)
    head = Text(f"{short_time(now_us)}", style="bold")
    count = f"{len(every)} alarm{'' if len(every) == 1 else 's'}, {waiting} unacknowledged"
    words = watch_words(views, now_us, runs)
    none = "no alarm known" if words else "no alarm"
    head.append(f"   {count if every else none}", style="not bold")
    lines = [head, Text(words, style="bold red")] if words else [head]
    return Group(*lines, *(_module(view, alarms) for view, alarms in found))


def _module(view: ModuleView, alarms: Iterable[Listed]) -> RenderableType:
    lines = Table.grid(padding=(0, 2, 0, 0))
    for _ in ("indent", "name", "priority"):
        lines.add_column(no_wrap=True)
    lines.add_column(overflow="fold")
    quiet: dict[str, list[str]] = {}
    for each in alarms:
        said = state_words(view.lives, each.name)
        if each.life.since_us is None:  # it never stood: those of which the same is said share a line
            quiet.setdefault(said, []).append(each.name)
            continue
        style = _STYLES[each.priority] if view.lives.is_told(each.name) else "dim"
        words = Text(f"{said}, {_since(each)}")
        if each.now is not None and each.now.facts.text:
            words.append(f": {found_words(each.now, view.assessment)}")
        lines.add_row("", Text(each.name, style=style), Text(each.priority, style=style), words)
    for said, names in quiet.items():
        first = names[0] if len(names) == 1 else f"{len(names)} alarms"
        which = f", none of them stands: {', '.join(sorted(names))}" if len(names) > 1 else ", does not stand"
        lines.add_row("", Text(first, style="dim"), "", Text(f"{said}{which}"))
    for alarm in unraised(view):
        words = Text(f"stood when last assessed, not raised yet, since {short_time(alarm.since_us)}")
        words.append(f": {found_words(alarm, view.assessment)}")
        lines.add_row("", Text(alarm.name, style="yellow"), Text(alarm.priority, style="yellow"), words)
    head = Text(f"\n{view.path.system}/{view.path.module}", style="bold")
    if view.lives.shadow:
        head.append(f"   {shadow_words(view.lives)}", style="not bold dim")
    return Group(head, lines)


def _since(each: Listed) -> str:
    since = short_time(each.life.since_us)
    return f"since {since}" if each.life.state.active else f"stood from {since}, over now"


def render_happened(happened: Sequence[Happened]) -> RenderableType:
    """What happened to alarms, in the order in which it was known."""
    if not happened:
        return Text("\nnothing happened to any alarm in that time")
    lines = Table.grid(padding=(0, 2, 0, 0))
    for _ in range(4):
        lines.add_column(no_wrap=True)
    lines.add_column(overflow="fold")
    for each in happened:
        what = _WHAT.get(each.what, each.what.replace("_", " "))
        said = ": ".join(filter(None, (each.who, each.text)))
        if each.known_us - each.event_us > 120_000_000:
            said += f" (known {short_time(each.known_us)})"
        lines.add_row(
            short_time(each.event_us), f"{each.path.system}/{each.path.module}", each.alarm, what, Text(said)
        )
    return Group(Text("\nWhat happened", style="bold"), lines)


def render_rates(loads: Mapping[str, Load], length_us: int) -> RenderableType:
    """How many alarms each receiver was sent, against the published figures."""
    hours = length_us / 3.6e9
    lines: list[RenderableType] = [Text(f"\nAlarms sent over the last {hours:.0f} h", style="bold")]
    lines += [Text(f"  {name}: {'; '.join(_load_words(load))}") for name, load in loads.items()]
    shares = "/".join(f"{share:.0%}" for share in SHARES.values())
    published = (
        f"about {ACCEPTABLE_PER_HOUR:g} an hour are acceptable, {MOST_PER_HOUR:g} the most; more than "
        f"{FLOOD_PER_TEN_MINUTES} in 10 minutes are a flood; low/medium/high about {shares}"
    )
    words = f"  Published figures (ISA-18.2, IEC 62682; read second-hand): {published}"
    lines.append(Text(words, style="dim"))
    return Group(*lines)


def _load_words(load: Load) -> Iterator[str]:
    if not load.number:
        yield "no alarm"
        return
    words = "acceptable"
    if load.per_hour > ACCEPTABLE_PER_HOUR:
        words = "more than acceptable" if load.per_hour <= MOST_PER_HOUR else "too many"
    yield f"{load.number} alarm{'' if load.number == 1 else 's'}, {load.per_hour:.2g} an hour ({words})"
    parts = [f"{p} {load.by_priority[p] / load.number:.0%}" for p in SHARES]
    yield ", ".join(parts)
    flood = " (a flood)" if load.is_flood else ""
    yield f"worst 10 minutes {load.worst}{flood}, from {short_time(load.worst_us)}"
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
