"""Notices to people: what they say, readable on a phone at night.

Pure: the texts follow from what they are given. Must not know how a notice is kept or how it travels.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from hashlib import sha256
from typing import NamedTuple

from agent.alarms import FEED_STALE, Condition, Entry, Facts, Line, Priority, Transition
from agent.alarms.catalogue import PROBE_UNFIT, SUPERHEAT_HIGH, SUPERHEAT_HUNTING, SUPERHEAT_LOW, WATCH_BLIND
from agent.alarms.highside import (
    DISCHARGE_SUPERHEAT_LOW,
    DISCHARGE_TEMPERATURE_HIGH,
    SUBCOOLING_HIGH,
    SUBCOOLING_LOW,
)
from agent.assess import AT_PROBE, Assessment, Quantity, Status
from agent.outlets.alarm_words import found_words, short_time, state_words
from agent.outlets.cautions import HEAD, brief_caution, cautions
from agent.outlets.highside import highside_lines
from agent.outlets.view import ModuleView
from agent.piping import RETURN, Fitness, Standing
from agent.settings import ModulePath

WIDTH = 78
MOST_LINES = 20  # of a list in a notice; the journal has all
WORTH_TELLING_H = 0.05
LATE_US = 900_000_000  # between raised and known, more than what the agent waits for stragglers

_SURE_PIPING = "Sure, if the piping is as described"
_SURE_BLIND = "Sure: superheat cannot be decided"
# What an alarm most likely means, and how sure that is, by the condition it rests on.
_PLAIN: Mapping[str, Mapping[str, tuple[str, str]]] = {
    SUPERHEAT_LOW.name: {
        Condition.POSSIBLE: ("liquid is possibly coming back", "Unsure: the values have not settled"),
        Condition.BEYOND: ("liquid may be coming back", "Likely: saturation cannot be excluded"),
        Condition.BEYOND_DOUBT: (
            "liquid is very likely coming back",
            "Sure: no doubt is left",
        ),
    },
    SUPERHEAT_HIGH.name: {
        Condition.BEYOND: (
            "too little refrigerant, or a pipe gains heat",
            "Sure: high by more than its uncertainty",
        ),
    },
    SUPERHEAT_HUNTING.name: {
        Condition.BEYOND: (
            "an expansion valve does not find its place",
            "Sure: the swing exceeds its uncertainty",
        ),
    },
    PROBE_UNFIT.name: {Condition.BEYOND: ("the site's own superheat figure misleads", _SURE_PIPING)},
    WATCH_BLIND.name: {
        Condition.BEYOND: ("liquid coming back would go unnoticed", _SURE_BLIND),
        Condition.BEYOND_DOUBT: ("liquid coming back would go unnoticed", _SURE_BLIND),
    },
    DISCHARGE_SUPERHEAT_LOW.name: {
        Condition.POSSIBLE: (
            "liquid may be coming to the compressor",
            "Unsure: gas too cold, still moving",
        ),
        Condition.BEYOND: (
            "liquid comes to the compressor",
            "Likely: gas too cold, or probe loose",
        ),
        Condition.BEYOND_DOUBT: (
            "liquid comes to the compressor",
            "Sure: the discharge is too cold",
        ),
    },
    DISCHARGE_TEMPERATURE_HIGH.name: {
        Condition.BEYOND: ("the discharge gas is too hot", "As sure as its probe"),
        Condition.BEYOND_DOUBT: ("the discharge gas is far too hot", "As sure as its probe"),
    },
    SUBCOOLING_LOW.name: {
        Condition.BEYOND: ("bubbles may reach the expansion valves", "Sure: low by more than its uncertainty")
    },
    SUBCOOLING_HIGH.name: {
        Condition.BEYOND: ("liquid stands in the condenser", "Sure: high by more than its uncertainty")
    },
    FEED_STALE.name: {Condition.BEYOND: ("readings do not come as they should", "Sure: seen by arrival")},
}
# Where the evidence leaves no doubt, in place of the cause that holds for every priority.
_SURE_CAUSES = {
    SUPERHEAT_LOW.name: "The returning vapour is saturated, or nearly so: very likely with liquid in it."
}
_SECOND_BEST = (Standing.SECOND_BEST, Standing.AFTER_ACCUMULATOR)
_RESTS_ON_RETURN = (SUPERHEAT_LOW.name, SUPERHEAT_HIGH.name)


class Notice(NamedTuple):
    """What is sent. The same event has the same key."""

    key: str
    subject: str
    body: str


class Happening(NamedTuple):
    """A line of the journal with what it rests on."""

    entry: Entry
    line: Line
    episode: int  # how often the module's alarm was closed before
    priority: Priority
    facts: Facts
    assessment: Assessment | None
    told_us: int | None = None  # when it is told only now, after something had held it back
    why_now: str = ""


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
    refused: Mapping[str, int]  # by reason
    waiting: Mapping[str, int]  # notices by route


def compose(path: ModulePath, refrigerant: str, happenings: Iterable[Happening], now_us: int) -> list[Notice]:
    """The notices of one round on one module: one for each alarm that comes or goes, one for all the past."""
    notices, past = [], []
    for each in happenings:
        if each.line.transition is Transition.RAISED:
            notices.append(_raised(path, refrigerant, each, now_us))
        elif each.line.transition is Transition.CLEARED:
            notices.append(_cleared(path, refrigerant, each, now_us))
        else:
            past.append(each)
    return notices + ([_past(path, refrigerant, past, now_us)] if past else [])


def heartbeat_key(now_us: int) -> str:
    """One for each day in UTC."""
    return f"heartbeat/{_utc(now_us):%Y-%m-%d}"


def heartbeat(day: Day, now_us: int) -> Notice:
    """The daily sign of life: whoever misses it knows that the agent is silent, not that all is well."""
    alarms = [
        (each.view, alarm, state_words(each.view.lives, alarm.name))
        for each in day.modules
        for alarm in each.view.alarms
    ]
    watched = _count(len(day.modules), "module")
    standing = f"{_count(len(alarms), 'alarm')} standing" if alarms else "no alarm standing"
    undecided = [
        f"- {_short(each.view.path)}: {each.undecided_h:.1f} h undecided, "
        f"{each.unassessed_h:.1f} h not assessed"
        for each in sorted(day.modules, key=lambda each: -each.undecided_h - each.unassessed_h)
        if max(each.undecided_h, each.unassessed_h) >= WORTH_TELLING_H
    ]
    lines = [
        f"{day.site}: Dewline is alive, {watched} watched, {standing}.",
        "If this message does not come one day, look at the agent.",
        f"Written {_when(now_us)}. Hours and readings are of the 24 hours before.",
        "",
        "Alarms standing:" if alarms else "Alarms standing: none",
        *_few(
            f"- {_short(view.path)}: {alarm.name}, priority {alarm.priority}"
            + (f", since {_when(alarm.since_us)}" if alarm.since_us is not None else "")
            + f": {found_words(alarm, view)}"
            + (f"; {state}" if state else "")
            for view, alarm, state in alarms
        ),
        f"Hours undecided: {sum(each.undecided_h for each in day.modules):.1f}, "
        f"not assessed: {sum(each.unassessed_h for each in day.modules):.1f}",
        *_few(undecided),
        f"Readings refused: {_counts(day.refused)}",
        f"Notices waiting for a receiver: {_counts(day.waiting)}",
    ]
    subject = f"Dewline is alive: {day.site}, {standing}"
    return Notice(heartbeat_key(now_us), subject, _body(lines, {each.refrigerant for each in day.modules}))


def _raised(path: ModulePath, refrigerant: str, happening: Happening, now_us: int) -> Notice:
    entry, line = happening.entry, happening.line
    sentence, sure = _plainly(happening)
    lines = [
        _opening(path, f"{sentence}."),
        f"{sure}, since {_when(line.since_us)}.",
        "",
        f"Alarm: {entry.name}, priority {happening.priority}",
        f"Times: {_times(happening, now_us)}",
        *_told_now(happening),
        *_place(path, refrigerant, happening.assessment),
        *_evidence(happening),
        *_beside(happening),
        f"Written: {_when(now_us)}",
        "",
        f"Cause: {_cause(happening)}",
        f"Consequence: {entry.consequence}",
        f"First response: {entry.first_response}",
        "",
        "Whoever sees to it says so, on the agent's machine:",
        f"  dewline ack {_short(path)} {entry.name} --by NAME",
    ]
    subject = f"{happening.priority.upper()} {entry.name} at {path}"
    return Notice(_key(path, happening), subject, _body(lines, [refrigerant]))


def _cleared(path: ModulePath, refrigerant: str, happening: Happening, now_us: int) -> Notice:
    name, line, latching = happening.entry.name, happening.line, happening.entry.latching
    delay_s = happening.entry.limits.off_delay_s
    clear = f", clear for {delay_s / 60:g} min" if delay_s else ""
    is_over = f"{name} is over{clear}."
    stood = f"It stood from {_when(line.since_us)} to {_when(line.event_us)}."
    if line.transition is Transition.WITHDRAWN:
        is_over = f"{name} is withdrawn: it did not stand."
        stood = f"It was taken to stand from {_when(line.since_us)}. Nothing is to be acknowledged."
        latching = False
    lines = [
        _opening(path, is_over),
        stood,
        "",
        *(["It is latched: it stays in the list until somebody resets it."] if latching else []),
        *_told_now(happening),
        *_place(path, refrigerant, happening.assessment),
        *_evidence(happening),
        f"Written: {_when(now_us)}",
    ]
    body = _body(lines, [refrigerant], brief=True)
    return Notice(_key(path, happening), f"OVER {name} at {path}", body)


def _told_now(happening: Happening) -> Iterator[str]:
    if happening.why_now:
        yield f"Told now: {happening.why_now}."


def _past(path: ModulePath, refrigerant: str, happenings: Sequence[Happening], now_us: int) -> Notice:
    keys = "\n".join(_key(path, each) for each in happenings)
    lines = [
        _opening(path, "alarms of the past look different now."),
        f"{_changed_by(happenings)} Nothing is raised by this.",
        "",
        *_few(f"- {_changed(each)}" for each in happenings),
        *_place(path, refrigerant, happenings[-1].assessment),
        f"Written: {_when(now_us)}",
    ]
    key = f"past/{path}/{sha256(keys.encode()).hexdigest()}"
    return Notice(key, f"PAST alarms at {path}", _body(lines, [refrigerant], brief=True))


def _changed_by(happenings: Sequence[Happening]) -> str:
    if any(each.line.transition is Transition.CONFIRMED for each in happenings):
        return "What is known of the module was corrected, and they were gone over again."
    return "Late readings, or a correction, have changed them."


def _changed(happening: Happening) -> str:
    name, since = happening.entry.name, _when(happening.line.since_us)
    told = {
        Transition.FOUND_LATE: f"{name} stood from {since} and was over before it was known",
        Transition.WITHDRAWN: f"{name} of {since} is withdrawn: it did not stand",
        Transition.CONFIRMED: f"{name} of {since} is confirmed: it stood",
        Transition.AMENDED: f"{name} still stands, but since {since}",
    }
    return f"{told[happening.line.transition]}: {_found(happening)}"


def _plainly(happening: Happening) -> tuple[str, str]:
    """What the alarm most likely means, and how sure that is."""
    name, assessment = happening.entry.name, happening.assessment
    known = _PLAIN.get(name, {})
    condition = assessment.conditions.get(name) if assessment else None
    usual = known.get(Condition.BEYOND, (f"{name} is raised", "As sure as what was found"))
    sentence, sure = known.get(
        condition or Condition.BEYOND, (usual[0], "Unsure: not beyond its limit just now")
    )
    if condition == Condition.BEYOND_DOUBT and name == SUPERHEAT_LOW.name:
        sure = _low_surely(happening.facts)
    elif happening.priority is Priority.HIGH and happening.entry.urgent and condition is not None:
        sure = "Sure when it was raised, weaker now"
    if assessment is not None and name in _RESTS_ON_RETURN:
        returned = assessment.quantities[RETURN]
        if returned.decided and returned.said.standing in _SECOND_BEST:
            sure = "Less sure: read at a second-best probe"
    return sentence, sure


def _low_surely(found: Facts) -> str:
    """By what low superheat is beyond doubt: its own figures, or a discharge that is too cold as well."""
    value, above, limit = found.value_k, found.above_k, found.limit_k
    if value is None or above is None or limit is None or value + above >= limit:
        return "Sure: the discharge is too cold as well"
    return f"Sure: with all uncertainty under {limit:g} K"


def _is_sure(happening: Happening) -> bool:
    assessment = happening.assessment
    condition = assessment.conditions.get(happening.entry.name) if assessment else None
    return condition == Condition.BEYOND_DOUBT


def _cause(happening: Happening) -> str:
    entry = happening.entry
    return _SURE_CAUSES.get(entry.name, entry.cause) if _is_sure(happening) else entry.cause


def _times(happening: Happening, now_us: int) -> str:
    """When the condition began, when it had held for its delay, and when that came to be known."""
    line = happening.line
    times = [f"condition since {short_time(line.since_us)}"]
    if line.event_us > line.since_us or not happening.entry.limits.on_delay_s:
        times.append(f"raised {short_time(line.event_us)}")
    if happening.told_us is None:
        late = " (late)" if now_us - line.event_us > LATE_US else ""
        times.append(f"known to Dewline {short_time(now_us)}{late}")
    return ", ".join(times)


def _place(path: ModulePath, refrigerant: str, assessment: Assessment | None) -> Iterator[str]:
    mode = f"; mode {_words(assessment.mode)}" if assessment else ""
    yield f"Where: site {path.site}, system {path.system} ({refrigerant}), module {path.module}{mode}"


def _evidence(happening: Happening) -> Iterator[str]:
    """What was found, the probes that spoke, and those that were not heard, each with its reason."""
    found, assessment = happening.facts, happening.assessment
    yield f"Found: {_found(happening)}"
    if found.limit_k is not None:
        yield f"Limit: {found.limit_k:g} K"
    if assessment is None or happening.entry.by_wall_clock:
        return
    returned = assessment.quantities[RETURN]
    used = returned.said.probes
    if found.misleads_k is not None and found.value_k is not None:
        shown = _figure(found.value_k, found.below_k, found.above_k)
        yield f"The site's figure: {shown} at {found.probe}"
    if found.probe != ", ".join(used):
        yield f"Return superheat: {_said(returned)}"
    yield f"Figures: of {_when(assessment.grid_us)}; in brackets the uncertainty to each side (k = 2)"
    for probe in used:
        reason = returned.said.text if returned.decided else assessment.fitness[probe][1]
        yield f"Probe used: {probe}: {reason}"
    if not used:
        yield "Probe used: none"
    for probe, (verdict, reason) in assessment.fitness.items():
        if probe not in used and AT_PROBE + probe in assessment.quantities:  # of the suction side
            what = "Probe not used" if verdict is Fitness.FIT else "Probe refused"
            yield f"{what}: {probe}: {_words(verdict)}: {reason}"


def _beside(happening: Happening) -> Iterator[str]:
    """What the first response asks to read beside it: discharge, subcooling and saturation."""
    if happening.assessment is None or happening.entry.by_wall_clock:
        return
    for what, figure, why in highside_lines(happening.assessment):
        yield f"{what.capitalize()}: {', '.join(filter(None, (figure.strip(), why)))}"


def _found(happening: Happening) -> str:
    """The evidence; of an alarm that does not stand, without what it would mean if it stood."""
    name, assessment = happening.entry.name, happening.assessment
    stands = happening.line.transition not in (Transition.CLEARED, Transition.WITHDRAWN)
    if stands or assessment is None or name not in _RESTS_ON_RETURN:
        return happening.facts.text or "nothing amiss any more"
    return f"return superheat {_said(assessment.quantities[RETURN])}"


def _said(quantity: Quantity) -> str:
    figure = "" if quantity.value is None else _figure(quantity.value, quantity.below, quantity.above)
    if quantity.decided:
        return f"{figure} at {', '.join(quantity.said.probes)}"
    now = f"; now {figure}" if figure and quantity.said.status is Status.NOT_SETTLED else ""
    return f"{_words(quantity.said.status)}: {quantity.said.text}{now}"


def _figure(value_k: float, below_k: float | None, above_k: float | None) -> str:
    spread = "" if below_k is None or above_k is None else f" (-{below_k:.1f} +{above_k:.1f})"
    return f"{value_k:.1f} K{spread}"


def _opening(path: ModulePath, sentence: str) -> str:
    """A first line that stays one line: of a long path, its end."""
    names = (str(path), _short(path), path.module)
    fitting = (f"{name}: {sentence}" for name in names if len(f"{name}: {sentence}") <= WIDTH)
    return next(fitting, f"{path.module}: {sentence}")


def _body(lines: Iterable[str], refrigerants: Iterable[str], *, brief: bool = False) -> str:
    """The lines and the cautions. ``brief``: in a line, where nobody is called."""
    closing = [brief_caution(refrigerants)] if brief else [HEAD, *(f"- {c}" for c in cautions(refrigerants))]
    wrapped = (
        textwrap.fill(line, WIDTH, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)
        for line in (*lines, "", *closing)
    )
    return "\n".join(wrapped) + "\n"


def _few(lines: Iterable[str]) -> list[str]:
    every = list(lines)
    more = len(every) - MOST_LINES
    return every if more <= 0 else [*every[:MOST_LINES], f"- and {more} more"]


def _key(path: ModulePath, happening: Happening) -> str:
    line = happening.line
    key = f"{happening.entry.name}/{path}/{line.transition}/{happening.episode}/{line.since_us}"
    return key if happening.told_us is None else f"{key}/told/{happening.told_us}"


def _short(path: ModulePath) -> str:
    return f"{path.system}/{path.module}"


def _words(name: str) -> str:
    return name.replace("_", " ")


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _counts(of: Mapping[str, int]) -> str:
    if not of:
        return "none"
    return f"{sum(of.values())} ({', '.join(f'{name} {count}' for name, count in of.items())})"


def _utc(time_us: int) -> datetime:
    return datetime.fromtimestamp(time_us // 1_000_000, UTC)


def _when(time_us: int) -> str:
    return f"{_utc(time_us):%Y-%m-%d %H:%M} UTC (+00:00)"
