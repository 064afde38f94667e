"""The modules now, for a terminal: figures with their uncertainty, the probe and why, alarms, age.

A quantity without a decided value says which of the four reasons it is; none is shown as a number.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import partial

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from agent.alarms import Life
from agent.assess import SECOND, Assessment, Quantity, Status
from agent.outlets.alarm_words import found_words, shadow_words, since_words, state_words, unit_words
from agent.outlets.doubt import before, impossible, in_doubt
from agent.outlets.figures import NONE, WORDS, told, valued
from agent.outlets.highside import highside_lines
from agent.outlets.shown import SI, Display, number_of, spaced
from agent.outlets.times import age
from agent.outlets.view import NO_VERDICT, ModuleView, unfit
from agent.piping import ACCUMULATOR_OUTLET, RETURN, RISE

SILENT_US = 300 * SECOND


def render(
    views: Sequence[ModuleView],
    now_us: int,
    notes: Iterable[str] = (),
    *,
    short: bool = False,
    runs: bool = True,
    display: Display = SI,
) -> Group:
    """All modules, those with an alarm first.

    ``short``: the others in a line each, for a low terminal. ``runs``: an agent works on the store.
    """
    head = Text(f"{display.at(now_us):%Y-%m-%d %H:%M:%S} {display.offset(now_us)}", style="bold")
    head.append(f"   {number_of(len(views), 'module')}, {_alarmnumber_of(views)}", style="not bold")
    lines: list[RenderableType] = [head, *(Text(note, style="dim") for note in notes)]
    if words := watch_words(views, now_us, runs):
        lines.insert(1, Text(words, style="bold red"))
    ordered = sorted(views, key=lambda view: not view.alarms)
    lines += [
        _short(view, display) if short and not view.alarms else _block(view, now_us, display)
        for view in ordered
    ]
    return Group(*lines)


def silent_for(views: Sequence[ModuleView], now_us: int) -> int | None:
    """How long ago the newest assessment was, where that is too long for an agent that runs."""
    newest_us = max((view.assessment.grid_us for view in views if view.assessment), default=None)
    return now_us - newest_us if newest_us is not None and now_us - newest_us > SILENT_US else None


def is_unwatched(views: Sequence[ModuleView], now_us: int) -> bool:
    """Whether nothing is assessed up to now: not any more, or not yet."""
    return silent_for(views, now_us) is not None or not any(view.assessment for view in views)


def watch_words(views: Sequence[ModuleView], now_us: int, runs: bool) -> str:
    """That no agent runs, or that it has not come up to now; empty where what is shown is of now."""
    newest_us = max((view.assessment.grid_us for view in views if view.assessment), default=None)
    if not runs:
        last = "nothing assessed yet" if newest_us is None else f"last assessed {age(now_us - newest_us)} ago"
        return f"no agent runs on this store; {last}"
    if newest_us is None:
        return "nothing assessed yet" if views else ""
    silence_us = silent_for(views, now_us)
    if silence_us is None:
        return ""
    return f"nothing assessed up to now yet: the newest assessment is {age(silence_us)} old"


def _alarmnumber_of(views: Iterable[ModuleView]) -> str:
    count = sum(len(view.alarms) for view in views)
    return number_of(count, "alarm") if count else "no alarm"


def _short(view: ModuleView, display: Display) -> Text:
    line = Text(view.path.local, style="bold")
    if view.assessment is None:
        return line.append("  nothing assessed yet", style="not bold")
    returned = view.assessment.quantities[RETURN]
    words = f"  {spaced(view.assessment.mode)}  return superheat {told(returned, display)}"
    return line.append(words, style="not bold")


def _block(view: ModuleView, now_us: int, display: Display) -> RenderableType:
    head = Text("\n")
    head.append(view.path.local, style="bold")
    assessment = view.assessment
    if assessment is None:
        head.append("  nothing assessed yet")
        return Group(head, _grid(_alarm_lines(view, display))) if view.alarms else head
    head.append(f"  {spaced(assessment.mode)}")
    head.append(f"   assessed {age(now_us - assessment.grid_us)} ago", style="dim")
    if view.newest_us is not None:
        head.append(f", newest reading {age(now_us - view.newest_us)} old", style="dim")
    reason = (Text("mode"), Text(spaced(assessment.mode)), Text(assessment.mode_reason))
    return Group(
        head, _grid([*([reason] if assessment.mode_reason else []), *_lines(view, assessment, display)])
    )


def _grid(rows: Iterable[tuple[Text, Text, Text]]) -> Table:
    lines = Table.grid(padding=(0, 2, 0, 0))
    for _ in ("indent", "what", "figure"):
        lines.add_column(no_wrap=True)
    lines.add_column(overflow="fold")
    for row in rows:
        lines.add_row("", *row)
    return lines


def _lines(view: ModuleView, assessment: Assessment, display: Display) -> Iterator[tuple[Text, Text, Text]]:
    returned, outlet = assessment.quantities[RETURN], assessment.quantities[ACCUMULATOR_OUTLET]
    doubt = in_doubt(view, RETURN)
    line = partial(_line, display)
    yield line("return superheat", returned, returned.said.text, "yellow" if doubt else "green", (doubt,))
    if outlet.said.probes:
        yield line("accumulator outlet", outlet, outlet.said.text, first=(doubt,))
    for probe, quantity in unfit(assessment):
        verdict, reason = assessment.fitness[probe]
        if verdict in NO_VERDICT:
            yield line("apparent superheat", quantity, f"{verdict}: {reason}", "dim")
    rise = assessment.quantities[RISE]
    cannot_be = impossible(assessment, view.layout) if view.layout else None
    style = "yellow" if doubt or cannot_be else ""
    yield line("oil-return rise", rise, rise.said.text, style, (doubt, cannot_be))
    for what, shown, why in highside_lines(assessment, display):
        yield Text(what), Text(_column(shown), style="yellow" if shown in WORDS.values() else ""), Text(why)
    unit = unit_words(view.lives.unconfirmed_us, view.path.local, display)
    for note in filter(None, (*map(display.words, view.notes), unit, shadow_words(view.lives, display))):
        yield Text("note", style="dim"), Text(""), Text(note)
    yield from _alarm_lines(view, display)


def _alarm_lines(view: ModuleView, display: Display) -> Iterator[tuple[Text, Text, Text]]:
    for alarm in view.alarms:
        since = since_words(alarm.since_us, view.lives.of.get(alarm.name, Life()), display)
        state = state_words(view.lives, alarm.name, display)
        found = found_words(alarm, view, display)
        words = f"priority {alarm.priority}, {state}{', ' if state else ''}{since}: {found}"
        style = "bold red" if view.lives.is_told(alarm.name) else "yellow"
        yield Text("ALARM", style=style), Text(alarm.name, style=style), Text(words)


def _line(
    display: Display,
    name: str,
    quantity: Quantity,
    text: str,
    style: str = "",
    first: Sequence[str | None] = (),
) -> tuple[Text, Text, Text]:
    """``first``: what is said ahead of all else."""
    said = quantity.said
    probes = f"{' - '.join(said.probes)}: " if said.probes else ""
    if quantity.decided:
        words = display.words(before(first, f"{probes}{text}"))
        return Text(name), Text(_column(valued(quantity, display)), style=style), Text(words)
    words = display.words(before(first, f"{probes}{said.text}"))
    if said.status is Status.NOT_SETTLED and quantity.value is not None:
        words += f" (now {valued(quantity, display)})"
    return Text(name), Text(WORDS[said.status], style="yellow"), Text(words)


def _column(shown: str) -> str:
    """A figure with its decimal point under that of the others."""
    number, unit, rest = shown.partition(" ")
    return shown if shown in (*WORDS.values(), NONE) else f"{number:>5}{unit}{rest}"
