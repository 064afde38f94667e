"""Notices to people: what they say, readable on a phone at night.

Pure: the texts follow from what they are given. Must not know how a notice is kept or how it travels.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from hashlib import sha256
from typing import NamedTuple

from agent.alarms import Entry, Facts, Line, Priority, Telling, Transition
from agent.assess import Assessment
from agent.outlets.meaning import cause, plainly, to_stop, urgency
from agent.outlets.notices.evidence import before_line, beside_lines, evidence_lines, found_words, place_line
from agent.outlets.notices.form import (
    INDENT,
    WIDTH,
    Notice,
    about,
    few,
    opening,
    whole,
    wrapped,
)
from agent.outlets.shown import SI, Display
from agent.settings import ModulePath

OVER = "OVER"  # how the subject begins of what is over
STILL = "STILL"  # of what is said again
PAST = "PAST"  # of what looks different in the past
PAST_KEY = "past/"  # how the key of such a notice begins
_LATE = "Late readings, or a correction, have changed them."
_NOTHING_RAISED = "Nothing is raised by this."
FOR_INFORMATION = "For information, nothing to do."
NO_STRAGGLER_US = 900_000_000  # between raised and known: the agent waits less for stragglers


class Ways(NamedTuple):
    """How whoever has a notice acknowledges what it tells."""

    link: str  # to a page that asks for a name
    post: str  # where that is sent
    token: str
    until_us: int  # so long it is taken


class Happening(NamedTuple):
    """A line of the journal with what it rests on."""

    entry: Entry
    line: Line
    known_us: int
    priority: Priority
    facts: Facts
    assessment: Assessment | None
    telling: Telling | None = None  # None: of the past
    why_now: str = ""  # of what is told later than it came to be known
    acknowledged: str = ""  # by whom, when, with which note
    ways: Ways | None = None
    brief: str = ""  # where the module's brief is read
    first_known_us: int | None = None  # when this occurrence came to be known
    why_late: str = ""  # of one that came to be known long after it was so
    before: Assessment | None = None  # how it was before its condition began
    ended_us: int | None = None  # of the past: when it was over


def compose(
    path: ModulePath, refrigerant: str, happening: Happening, now_us: int, display: Display = SI
) -> Notice:
    """The notice of an alarm that comes, stands or is over."""
    tell = _over if happening.telling is Telling.OVER else _stands
    return tell(path, refrigerant, happening, now_us, display)


def _stands(
    path: ModulePath, refrigerant: str, happening: Happening, now_us: int, display: Display
) -> Notice:
    entry, assessment = happening.entry, happening.assessment
    meaning, sure = plainly(entry, happening.priority, happening.facts, assessment)
    sure = f"{display.words(sure)}."
    asks = [urgency(happening.priority), *filter(None, [to_stop(entry, happening.priority)])]
    first = f"First: {display.words(entry.first_response)}"
    lines = [
        opening(path, f"{meaning}."),
        sure,
        *asks,
        *_began(happening, display),
        first,
        "",
        f"Alarm: {entry.name}, priority {happening.priority}{_raised(happening, display)}",
        *_told_now(happening),
        place_line(path, refrigerant, assessment),
        *evidence_lines(entry, happening.facts, assessment, display, stands=True),
        *before_line(assessment, happening.before, display),
        *beside_lines(entry, assessment, display),
        f"Written: {display.when(now_us)}",
        "",
        f"Cause: {cause(entry, assessment)}",
        f"Consequence: {entry.consequence}",
        "",
        *_brief_link(happening),
        *_to_acknowledge(path, happening, display),
    ]
    still = f"{STILL} " if happening.telling is Telling.AGAIN else ""
    subject = f"{still}{happening.priority.upper()} {about(entry.name, path)}"
    short = [
        f"{meaning.capitalize()}. {sure} {' '.join(asks)}",
        *_began(happening, display),
        *_told_now(happening),
        f"Found: {display.words(found_words(entry, happening.facts, assessment, stands=True))}",
        first,
        *_shortly_acknowledged(path, happening, display),
    ]
    body = whole(lines, [refrigerant])
    return Notice(_key(path, happening), subject, body, happening.priority, _short(short))


def _over(path: ModulePath, refrigerant: str, happening: Happening, now_us: int, display: Display) -> Notice:
    entry, line, latching = happening.entry, happening.line, happening.entry.latching
    delay_s = entry.limits.off_delay_s
    clear = f", clear for {delay_s / 60:g} min" if delay_s else ""
    is_over = f"{entry.name} is over{clear}."
    stood = f"It stood from {display.when(line.since_us)} to {display.when(line.event_us)}."
    if line.transition is Transition.WITHDRAWN:
        is_over = f"{entry.name} is withdrawn: it did not stand."
        stood = f"It was taken to stand from {display.when(line.since_us)}. Nothing is to be acknowledged."
        latching = False
    latched = ["It is latched: it stays in the list until somebody resets it."] if latching else []
    lines = [
        opening(path, is_over),
        stood,
        "",
        *latched,
        *_told_now(happening),
        place_line(path, refrigerant, happening.assessment),
        *evidence_lines(entry, happening.facts, happening.assessment, display, stands=False),
        f"Written: {display.when(now_us)}",
        *_brief_link(happening),
    ]
    short = [is_over, stood, *latched, *_told_now(happening)]
    subject = f"{OVER} {about(entry.name, path)}"
    body = whole(lines, [refrigerant], calls=False)
    return Notice(_key(path, happening), subject, body, happening.priority, _short(short))


def past(
    path: ModulePath, refrigerant: str, happenings: Sequence[Happening], now_us: int, display: Display = SI
) -> Notice:
    """One notice of all that looks different in a module's past. It pages nobody."""
    keys = "\n".join(f"{_key(path, each)}" for each in happenings)
    changes = few(f"- {_changed(each, display)}" for each in happenings)
    lines = [
        opening(path, "alarms of the past look different now."),
        FOR_INFORMATION,
        f"{_changed_by(happenings)} {_NOTHING_RAISED}",
        "",
        *changes,
        place_line(path, refrigerant, happenings[-1].assessment),
        f"Written: {display.when(now_us)}",
        *_brief_link(happenings[-1]),
    ]
    key = f"{PAST_KEY}{path}/{sha256(keys.encode()).hexdigest()}"
    body = whole(lines, [refrigerant], calls=False)
    return Notice(key, f"{PAST} {about('alarms', path)}", body, Priority.LOW, _short(changes))


def pasts_together(
    site: str, notices: Sequence[tuple[str, str]], refrigerants: Iterable[str]
) -> tuple[str, str]:
    """Subject and body of one message of several notices of the past; of each its subject and short form."""
    subjects = dict.fromkeys(subject for subject, _ in notices)
    subject = next(iter(subjects)) if len(subjects) == 1 else f"{PAST} alarms at {site}"
    lines = [
        f"{site}: alarms of the past look different now.",
        FOR_INFORMATION,
        f"{_LATE} {_NOTHING_RAISED}",
        "",
    ]
    for title in subjects:
        lines.append(f"{title.removeprefix(f'{PAST} ')}:")
        lines += [f"{INDENT}{line}" for of, short in notices if of == title for line in short.splitlines()]
        lines.append("")
    return subject, whole(lines[:-1], refrigerants, calls=False)


def _short(lines: Iterable[str]) -> str:
    return "\n".join(wrapped(line, WIDTH - len(INDENT)) for line in lines)


def _brief_link(happening: Happening) -> Iterator[str]:
    if happening.brief:
        yield "The module's brief, with its piping, its last days and what to measure:"
        yield f"  {happening.brief}"


def _to_acknowledge(path: ModulePath, happening: Happening, display: Display) -> Iterator[str]:
    """How whoever sees to it says so."""
    if happening.acknowledged:
        yield f"Acknowledged {happening.acknowledged}."
        return
    if (ways := happening.ways) is not None:
        yield (
            f"Whoever sees to it says so here; this link works until {display.when(ways.until_us)}, "
            "for this alarm alone:"
        )
        yield f"  {ways.link}"
        yield "or by"
        yield f"  curl -d by=NAME -d token={ways.token} \\"
        yield f"    {ways.post}"
        yield "or on the machine where Dewline runs:"
    else:
        yield "Whoever sees to it says so, on the machine where Dewline runs:"
    yield f"  dewline ack {path.local} {happening.entry.name} --by NAME"


def _shortly_acknowledged(path: ModulePath, happening: Happening, display: Display) -> Iterator[str]:
    if happening.acknowledged:
        yield f"Acknowledged {happening.acknowledged}."
    elif happening.ways is not None:
        yield f"Whoever sees to it (the link works until {display.when(happening.ways.until_us)}):"
        yield f"  {happening.ways.link}"
    else:
        yield f"Whoever sees to it: dewline ack {path.local} {happening.entry.name} --by NAME"


def _told_now(happening: Happening) -> Iterator[str]:
    if happening.why_now:
        yield f"Told now: {happening.why_now}."


def _changed_by(happenings: Iterable[Happening]) -> str:
    if any(each.line.transition is Transition.CONFIRMED for each in happenings):
        return "What is known of the module was corrected, and they were gone over again."
    return _LATE


def _changed(happening: Happening, display: Display) -> str:
    name, line = happening.entry.name, happening.line
    since, raised = display.when(line.since_us), f"raised {display.day_time(line.event_us)}"
    until = "" if happening.ended_us is None else f" to {display.when(happening.ended_us)}"
    times = f" from {since}{until} ({raised})"
    told = {
        Transition.FOUND_LATE: f"{name} stood{times} and was over before it was known",
        Transition.WITHDRAWN: f"{name} of {since} ({raised}) is withdrawn: it did not stand",
        Transition.CONFIRMED: f"{name} is confirmed: it stood{times}",
        Transition.AMENDED: f"{name} still stands, but since {since}",
    }
    stands = line.transition is not Transition.WITHDRAWN
    found = found_words(happening.entry, happening.facts, happening.assessment, stands=stands)
    return f"{told[line.transition]}: {display.words(found)}"


def _began(happening: Happening, display: Display) -> Iterator[str]:
    """When the condition began and when that came to be known; where that was late, why."""
    known_us = happening.first_known_us
    known = "" if known_us is None else f", known {display.when(known_us)}"
    yield f"Began {display.when(happening.line.since_us)}{known}."
    if happening.why_late:
        yield f"Known late: {happening.why_late}."


def _raised(happening: Happening, display: Display) -> str:
    """When the condition had held for its delay; where its beginning was moved, that is not known."""
    line = happening.line
    is_known = line.event_us > line.since_us or not happening.entry.limits.on_delay_s
    return f", raised {display.day_time(line.event_us)}" if is_known else ""


def _key(path: ModulePath, happening: Happening) -> str:
    line = happening.line
    what = happening.telling or line.transition
    return f"{happening.entry.name}/{path}/{what}/{line.since_us}/{happening.known_us}"
