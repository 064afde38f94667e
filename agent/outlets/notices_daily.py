"""The daily sign of life: what stands, what was not known, what waits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from agent.outlets.alarm_words import found_words, state_words
from agent.outlets.notices_form import Notice, few, short, whole
from agent.outlets.shown import SI, Display
from agent.outlets.view import ModuleView

WORTH_TELLING_H = 0.05


class ModuleDay(NamedTuple):
    """A module over the last day."""

    view: ModuleView
    refrigerant: str
    undecided_h: float  # not known to stand, and return superheat not decided
    unassessed_h: float


class Day(NamedTuple):
    """What the daily sign of life tells."""

    site: str
    modules: Sequence[ModuleDay]
    raised: Mapping[str, int]  # by alarm, whoever was told of them
    refused: Mapping[str, int]  # readings, by reason
    waiting: Mapping[str, int]  # notices by route


def heartbeat_key(now_us: int, display: Display = SI) -> str:
    """One for each day of the site's clock."""
    return f"heartbeat/{display.at(now_us):%Y-%m-%d}"


def heartbeat(day: Day, now_us: int, display: Display = SI) -> Notice:
    """The daily sign of life: whoever misses it knows that the agent is silent, not that all is well."""
    alarms = [
        (each.view, alarm, state_words(each.view.lives, alarm.name, display))
        for each in day.modules
        for alarm in each.view.alarms
    ]
    watched = _count(len(day.modules), "module")
    standing = f"{_count(len(alarms), 'alarm')} standing" if alarms else "no alarm standing"
    undecided = [
        f"- {short(each.view.path)}: {each.undecided_h:.1f} h undecided, "
        f"{each.unassessed_h:.1f} h not assessed"
        for each in sorted(day.modules, key=lambda each: -each.undecided_h - each.unassessed_h)
        if max(each.undecided_h, each.unassessed_h) >= WORTH_TELLING_H
    ]
    lines = [
        f"{day.site}: Dewline is alive, {watched} watched, {standing}.",
        "If this message does not come one day, look at the agent.",
        f"Written {display.when(now_us)}. Hours and readings are of the 24 hours before.",
        "",
        "Alarms standing:" if alarms else "Alarms standing: none",
        *few(
            f"- {short(view.path)}: {alarm.name}, priority {alarm.priority}"
            + (f", since {display.when(alarm.since_us)}" if alarm.since_us is not None else "")
            + f": {found_words(alarm, view, display)}"
            + (f"; {state}" if state else "")
            for view, alarm, state in alarms
        ),
        f"Hours undecided: {sum(each.undecided_h for each in day.modules):.1f}, "
        f"not assessed: {sum(each.unassessed_h for each in day.modules):.1f}",
        *few(undecided),
        f"Alarms raised: {_counts(day.raised)}",
        f"Readings refused: {_counts(day.refused)}",
        f"Notices waiting for a receiver: {_counts(day.waiting)}",
    ]
    subject = f"Dewline is alive: {day.site}, {standing}"
    body = whole(lines, {each.refrigerant for each in day.modules})
    return Notice(heartbeat_key(now_us, display), subject, body)


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _counts(of: Mapping[str, int]) -> str:
    if not of:
        return "none"
    return f"{sum(of.values())} ({', '.join(f'{name} {count}' for name, count in of.items())})"
