"""What the hours of a module say, beyond the moment: its use, its oil, its instruments, and likely causes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from agent.alarms import Condition, Finding
from agent.assess import Causes
from agent.assess.byhour.duty import CompressorDuty, Duty
from agent.assess.byhour.injecting import Answer
from agent.assess.byhour.supervisor import Identified, Verdict
from agent.assess.plausible.taken import Findings
from agent.outlets.alarm_words import before_words, found_words
from agent.outlets.shown import SI, Display
from agent.outlets.terminal.by_hand import NOTHING_BY_HAND, MeasuredByHand, by_hand_lines, by_hand_mapping
from agent.outlets.terminal.causes import causes_mapping, render_causes
from agent.outlets.times import iso
from agent.outlets.view import ModuleView
from agent.settings import ModulePath

_HEAD = {
    Verdict.IDENTIFIED: "the supervisor's superheat in {mode} is {text}",
    Verdict.NOT_DISTINGUISHABLE: "the supervisor's superheat in {mode}: cannot tell which, {text}",
    Verdict.NONE_FITS: "the supervisor's superheat in {mode}: {text}",
    Verdict.TOO_FEW: "the supervisor's superheat in {mode}: cannot tell yet, {text}",
}

ANSWERS = {True: "answers", False: "does not answer", None: "cannot tell"}
CONDITIONS = {
    Condition.UNKNOWN: "cannot tell",
    Condition.CLEAR: "usual",
    Condition.INSIDE: "neither usual nor beyond its limit",
    Condition.POSSIBLE: "perhaps beyond its limit",
    Condition.BEYOND: "beyond its limit",
    Condition.BEYOND_DOUBT: "beyond its limit without doubt",
}


@dataclass(frozen=True)
class Evidence:
    """What is known of a module at the end of a whole hour, by the hours before it."""

    module: ModulePath
    refrigerant: str
    at_us: int
    duty: Duty  # of the last 24 hours
    findings: Mapping[str, Finding]  # of the alarms judged by the hour
    identified: tuple[Identified, ...]
    suspected: Findings
    causes: Causes
    injection: tuple[Answer, ...] = ()
    by_hand: MeasuredByHand = NOTHING_BY_HAND


def render_evidence(found: Evidence, view: ModuleView | None = None, display: Display = SI) -> Group:
    """For a terminal: what was in use, the alarms that take hours, the instruments, and likely causes.

    ``view``: the module now, for the alarms that stand.
    """
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(no_wrap=True, min_width=20)
    table.add_column(overflow="fold")
    for what, text in (*_standing(view, display), *_rows(found, display)):
        table.add_row(what, text)
    head = Text("\n")
    head.append(str(found.module), style="bold")
    head.append(f"   by the hours up to {display.day_time(found.at_us)}", style="dim")
    parts: list[RenderableType] = [head, table, Text("")]
    return Group(
        *parts, render_causes(str(found.module), found.causes, found.refrigerant, display, found.at_us)
    )


def render_no_hours(
    path: ModulePath,
    view: ModuleView,
    by_hand: MeasuredByHand,
    unit: str,
    first_us: int,
    display: Display = SI,
) -> Group:
    """What there is of a module before its first whole hour. ``unit``: what is said of one replaced."""
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(no_wrap=True, min_width=20)
    table.add_column(overflow="fold")
    rows = [*_standing(view, display), *_by_hand(by_hand, path, display)]
    rows += [("note", unit)] if unit else []
    for what, text in (
        *rows,
        ("by the hour", f"no whole hour yet; first whole hour: {hour_words(first_us, display)}"),
    ):
        table.add_row(what, text)
    return Group(Text(f"\n{path}", style="bold"), table)


def no_hours_mapping(
    path: ModulePath, view: ModuleView, by_hand: MeasuredByHand, first_us: int
) -> dict[str, Any]:
    """The same as plain data."""
    return {
        **path._asdict(),
        "time": None,
        "first_whole_hour": iso(first_us),
        "alarms": [
            {
                "alarm": alarm.name,
                "priority": alarm.priority,
                "since": None if alarm.since_us is None else iso(alarm.since_us),
                "text": found_words(alarm, view),
            }
            for alarm in view.alarms
        ],
        "by_hand": by_hand_mapping(by_hand),
    }


def hour_words(time_us: int, display: Display = SI) -> str:
    """The end of a whole hour for people."""
    return f"{display.at(time_us):%H:%M} {display.offset(time_us)}"


def _by_hand(by_hand: MeasuredByHand, path: ModulePath, display: Display) -> Iterator[tuple[str, str]]:
    for number, text in enumerate(by_hand_lines(by_hand, path.local, display)):
        yield "by hand" if not number else "", text


def evidence_mapping(found: Evidence) -> dict[str, Any]:
    """The same as plain data."""
    return {
        **found.module._asdict(),
        "time": iso(found.at_us),
        "last_24_hours": {
            "hours": found.duty.hours,
            "compressors": {name: vars(each) for name, each in found.duty.compressors.items()},
            "seconds_by_mode": found.duty.seconds,
            "times_entered": found.duty.entered,
        },
        "by_the_hour": {
            name: {"condition": finding.condition, **finding.facts._asdict()}
            for name, finding in found.findings.items()
        },
        "injection": {
            each.compressor: {"answers": each.answers, "text": each.text} for each in found.injection
        },
        "instruments": lines(found.identified, found.suspected),
        "by_hand": by_hand_mapping(found.by_hand),
        "causes": causes_mapping(found.causes, found.refrigerant),
    }


def _standing(view: ModuleView | None, display: Display) -> Iterator[tuple[str, str]]:
    for alarm in view.alarms if view else ():
        words = f"{alarm.name}, priority {alarm.priority}, since {display.day_time(alarm.since_us)}"
        words += before_words(view.lives, alarm.name) if view else ""
        yield "ALARM now", f"{words}: {found_words(alarm, view, display)}"


def _rows(found: Evidence, display: Display) -> Iterator[tuple[str, str]]:
    yield "last 24 hours", f"{found.duty.hours} whole hours known"
    for name, each in found.duty.compressors.items():
        yield f"  compressor {name}", _use(each)
    recovered = found.duty.entered.get("oil_recovery", 0)
    if "oil_recovery" in found.duty.seconds:
        minutes = found.duty.seconds["oil_recovery"] / 60
        yield "  oil recovery", f"{recovered} times, {minutes:.0f} min in all"
    for answer in found.injection:
        yield (
            f"injection into {answer.compressor}",
            f"{ANSWERS[answer.answers]}: {display.words(answer.text)}",
        )
    for name, finding in found.findings.items():
        yield name, f"{CONDITIONS[finding.condition]}: {display.words(finding.facts.text)}"
    for number, text in enumerate(lines(found.identified, found.suspected)):
        yield "instruments" if not number else "", display.words(text)
    yield from _by_hand(found.by_hand, found.module, display)


def _use(each: CompressorDuty) -> str:
    if each.running_share is None:
        return "no signal tells whether it ran"
    started = (
        f"{each.starts} starts, at most {each.most_starts_per_hour} in an hour" if each.starts else "no start"
    )
    return f"ran {each.running_share:.0%} of the time, {started}"


def lines(identified: Iterable[Identified], found: Findings) -> list[str]:
    """One sentence for each mode, each suspicion, and each thing that cannot be told.

    A module whose supervisor publishes no superheat gets no sentence on it.
    """
    told = [
        _HEAD[each.verdict].format(mode=each.mode, text=each.text)
        for each in identified
        if each.verdict in _HEAD
    ]
    told += [f"suspicion: {each.seen}; {each.would}. Look at {each.look}" for each in found.suspicions]
    return told + [f"cannot tell: {each}" for each in found.cannot_tell]
