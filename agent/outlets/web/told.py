"""The alarms of a module for the page: state, since when, what was found, how sure, and what to say to it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from agent.alarms import CATALOGUE, Condition, Priority, StateName
from agent.outlets.alarm_list import Listed, unraised
from agent.outlets.alarm_words import (
    UNACKNOWLEDGED,
    found_words,
    short_time,
    since_words,
    state_words,
)
from agent.outlets.shown import SI, Display
from agent.outlets.view import ModuleView

_SURE = {
    Condition.BEYOND_DOUBT: "beyond doubt",
    Condition.BEYOND: "its condition holds",
    Condition.POSSIBLE: "possible: the values have not settled, or only a part of the evidence shows it",
    Condition.INSIDE: "receding: neither beyond its limit now nor clear of it",
    Condition.CLEAR: "receding: clear now, and over once that has lasted",
    Condition.UNKNOWN: "cannot be told now; it stands from before",
}
_RESET = (StateName.LATCHED_UNACKNOWLEDGED, StateName.LATCHED_ACKNOWLEDGED)
PRIORITIES = (Priority.HIGH, Priority.MEDIUM, Priority.LOW)


class Told(NamedTuple):
    """One alarm, in words; empty where there is nothing to say."""

    name: str
    priority: Priority
    state: str  # in the standards' words, who brought it about and why
    since: str
    found: str
    sure: str
    meaning: str  # cause and consequence
    response: str  # steps of looking and reading
    command: str  # what acknowledges it
    standing: str  # the state's name alone; in shadow and withdrawn are none of the standards'
    waits: bool  # stands, is told and nobody has acknowledged it
    is_told: bool


def alarms(view: ModuleView, listed: list[Listed], display: Display = SI) -> Iterator[Told]:
    """Those that stand or stood, the urgent ones first; then what stands and is not raised yet."""
    for each in listed:
        if each.life.since_us is not None:
            yield _told(view, each, display)
    for alarm in unraised(view):
        yield Told(
            alarm.name,
            alarm.priority,
            "stood when last assessed, not raised yet",
            f"since {short_time(alarm.since_us, display)}",
            found_words(alarm, view, display),
            _sure(view, alarm.name),
            *_catalogued(alarm.name),
            command="",
            standing="not raised yet",
            waits=False,
            is_told=False,
        )


def quiet(view: ModuleView, listed: list[Listed], display: Display = SI) -> dict[str, list[str]]:
    """Alarms that do not stand and yet are shelved or out of service: names by what is said of them."""
    found: dict[str, list[str]] = {}
    for each in listed:
        if each.life.since_us is None:
            found.setdefault(state_words(view.lives, each.name, display), []).append(each.name)
    return {
        words: ["all other alarms"] if len(names) + len(listed) > len(CATALOGUE) else sorted(names)
        for words, names in found.items()
    }


def _told(view: ModuleView, each: Listed, display: Display) -> Told:
    stands, is_told = each.now is not None, view.lives.is_told(each.name)
    state = each.life.state
    return Told(
        each.name,
        each.priority,
        state_words(view.lives, each.name, display),
        _since(each, display),
        found_words(each.now, view, display) if each.now else "",
        _sure(view, each.name) if stands else "",
        *(_catalogued(each.name) if stands else ("", "")),
        command=_command(view, each),
        standing="withdrawn" if each.life.withdrawn else "in shadow" if view.lives.shadow else each.state,
        waits=is_told and each.state in UNACKNOWLEDGED and (state.active or state.latched),
        is_told=is_told,
    )


def _since(each: Listed, display: Display) -> str:
    if each.life.withdrawn:
        return f"was taken to stand from {short_time(each.life.since_us, display)}"
    if each.life.state.active:
        return since_words(each.life.since_us, each.life, display)
    return f"stood from {short_time(each.life.since_us, display)}, over now"


def _sure(view: ModuleView, name: str) -> str:
    condition = view.assessment.conditions.get(name) if view.assessment else None
    if not condition:
        return ""
    by_evidence = name in CATALOGUE and CATALOGUE[name].urgent and CATALOGUE[name].limits.urgent_c is None
    doubt = ", though not beyond doubt" if by_evidence and condition == Condition.BEYOND else ""
    return _SURE[Condition(condition)] + doubt


def _catalogued(name: str) -> tuple[str, str]:
    entry = CATALOGUE.get(name)
    return (f"{entry.cause} {entry.consequence}", entry.first_response) if entry else ("", "")


def _command(view: ModuleView, each: Listed) -> str:
    module = f"{view.path.system}/{view.path.module}"
    if each.state in _RESET:
        return f'dewline ack {module} {each.name} --reset --by "YOUR NAME"'
    return f'dewline ack {module} {each.name} --by "YOUR NAME"' if each.state in UNACKNOWLEDGED else ""
