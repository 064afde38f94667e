"""The daily sign of life: what stands, what was not known, what waits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from agent.outlets.alarm_words import found_words, state_words
from agent.outlets.notices.form import Notice, few, whole
from agent.outlets.shown import SI, Display, number_of
from agent.outlets.view import ModuleView

HEARTBEAT_KEY = "heartbeat/"  # how the key of such a notice begins
WORTH_TELLING_H = 0.05
DAY_H = 24.0
LITTLE_H = 6.0  # of a day; with less assessed, a module's silence is no sign that all is well; design choice
_SILENCE = "Their state is unknown, all day or most of it: silence is no sign that all is well."


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
    hour: int  # from which on the sign of life comes, by the site's clock


def heartbeat_key(now_us: int, display: Display = SI) -> str:
    """One for each day of the site's clock."""
    return f"{HEARTBEAT_KEY}{display.at(now_us):%Y-%m-%d}"


def heartbeat(day: Day, now_us: int, display: Display = SI) -> Notice:
    """The daily sign of life: whoever misses it knows that the agent is silent, not that all is well."""
    alarms = [
        (each.view, alarm, state_words(each.view.lives, alarm.name, display))
        for each in day.modules
        for alarm in each.view.alarms
    ]
    blind = _blind(day.modules)
    watched = number_of(len(day.modules), "module")
    standing = f"{number_of(len(alarms), 'alarm')} standing" if alarms else "no alarm standing"
    told = [standing] if alarms or not blind else []
    told += [blind] if blind else []
    lines = [
        f"{day.site}: Dewline is alive, {f'{watched} watched, ' if not blind else ''}{', '.join(told)}.",
        *([_SILENCE] if blind else []),
        f"This comes each day from {day.hour:02}:00 on ({display.offset(now_us)}). If it does not come, look "
        "at the machine where the agent runs: is it on, has it a network, what does the agent's log say?",
        f"Written {display.when(now_us)}. Hours and readings are of the 24 hours before.",
        "",
        "Alarms standing:"
        if alarms
        else f"Alarms standing: none{', as far as anything is known' if blind else ''}",
        *few(
            f"- {view.path.local}: {alarm.name}, priority {alarm.priority}"
            + (f", since {display.when(alarm.since_us)}" if alarm.since_us is not None else "")
            + f": {found_words(alarm, view, display)}"
            + (f"; {state}" if state else "")
            for view, alarm, state in alarms
        ),
        *_unknown(day.modules),
        f"Alarms raised: {_counts(day.raised)}",
        f"Readings refused: {_counts(day.refused)}",
        f"Notices waiting for a receiver: {_counts(day.waiting)}",
    ]
    if alarms and blind:  # a subject is short
        told = [number_of(len(alarms), "alarm"), blind.replace(" modules", "").replace(" module", "")]
    subject = f"Dewline is alive: {day.site}, {', '.join(told)}"
    body = whole(lines, {each.refrigerant for each in day.modules}, calls=False)
    return Notice(heartbeat_key(now_us, display), subject, body)


def _is_blind(module: ModuleDay) -> bool:
    return DAY_H - module.unassessed_h < LITTLE_H


def _blind(modules: Sequence[ModuleDay]) -> str:
    """Of how many modules little or nothing was assessed; empty where there is none."""
    blind = [each for each in modules if _is_blind(each)]
    if not blind:
        return ""
    how = "not" if all(_is_all(each.unassessed_h) for each in blind) else "hardly"
    return f"{len(blind)} of {number_of(len(modules), 'module')} {how} assessed"


def _unknown(modules: Sequence[ModuleDay]) -> list[str]:
    """For how long what was not known, by module; the longest first."""
    worth = [each for each in modules if max(each.undecided_h, each.unassessed_h) >= WORTH_TELLING_H]
    if not worth:
        return ["Undecided or not assessed: nothing"]
    found = []
    for each in sorted(worth, key=lambda each: -each.undecided_h - each.unassessed_h):
        of = ((each.unassessed_h, "not assessed"), (each.undecided_h, "undecided"))
        parts = [f"{_hours(hours)} {what}" for hours, what in of if hours >= WORTH_TELLING_H]
        most = "" if _is_all(each.unassessed_h) else " most of the day"
        unknown = f": state unknown{most}" if _is_blind(each) else ""
        found.append(f"- {each.view.path.local}: {', '.join(parts)}{unknown}")
    return ["Undecided or not assessed:", *few(found)]


def _is_all(hours: float) -> bool:
    return hours > DAY_H - WORTH_TELLING_H


def _hours(hours: float) -> str:
    return f"all {DAY_H:g} h" if _is_all(hours) else f"{hours:.1f} h"


def _counts(of: Mapping[str, int]) -> str:
    if not of:
        return "none"
    return f"{sum(of.values())} ({', '.join(f'{name} {count}' for name, count in of.items())})"
