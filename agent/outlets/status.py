"""The modules now, for a terminal: figures with their uncertainty, the probe and why, alarms, age.

A quantity without a decided value says which of the four reasons it is; none is shown as a number.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from agent.assess import Assessment, Quantity, Status
from agent.outlets.metrics import unfit
from agent.outlets.view import ModuleView
from agent.piping import ACCUMULATOR_OUTLET, RETURN, RISE, Fitness

_WORDS = {
    Status.NOT_SETTLED: "not settled",
    Status.NOT_DECIDABLE: "not decidable",
    Status.MISSING: "missing",
    Status.NOT_MEASURABLE: "not measurable",
}


def render(views: Sequence[ModuleView], now_us: int, notes: Iterable[str] = ()) -> Group:
    """All modules, one block each; those with an alarm first, so that a short terminal shows them."""
    head = Text(f"{_clock(now_us, '%Y-%m-%d %H:%M:%S')} UTC", style="bold")
    head.append(f"   {len(views)} modules, {_alarm_count(views)}", style="not bold")
    ordered = sorted(views, key=lambda view: not view.alarms)
    blocks = [_block(view, now_us) for view in ordered]
    return Group(head, *(Text(note, style="dim") for note in notes), *blocks)


def _alarm_count(views: Iterable[ModuleView]) -> str:
    count = sum(len(view.alarms) for view in views)
    return "no alarm" if not count else f"{count} alarm{'s' if count > 1 else ''}"


def _block(view: ModuleView, now_us: int) -> RenderableType:
    head = Text("\n")
    head.append(f"{view.path.system}/{view.path.module}", style="bold")
    assessment = view.assessment
    if assessment is None:
        return head.append("  nothing assessed yet")
    head.append(f"  {assessment.mode.replace('_', ' ')}")
    head.append(f"   assessed {_age(now_us - assessment.grid_us)} ago", style="dim")
    if view.newest_us is not None:
        head.append(f", newest reading {_age(now_us - view.newest_us)} old", style="dim")
    lines = Table.grid(padding=(0, 2, 0, 0))
    for _ in ("indent", "what", "figure"):
        lines.add_column(no_wrap=True)
    lines.add_column(overflow="fold")
    for name, figure, text in _lines(view, assessment):
        lines.add_row("", name, figure, text)
    return Group(head, lines)


def _lines(view: ModuleView, assessment: Assessment) -> Iterator[tuple[Text, Text, Text]]:
    returned, outlet = assessment.quantities[RETURN], assessment.quantities[ACCUMULATOR_OUTLET]
    yield _line("return superheat", returned, returned.said.text, "green")
    if outlet.said.probes:
        yield _line("accumulator outlet", outlet, outlet.said.text)
    for probe, quantity in unfit(assessment):
        verdict, reason = assessment.fitness[probe]
        if verdict in (Fitness.MIXED, Fitness.PARTIAL, Fitness.UNPROVEN):
            yield _line("apparent superheat", quantity, f"{verdict}: {reason}", "dim")
    yield _line("oil-return rise", assessment.quantities[RISE], assessment.quantities[RISE].said.text)
    for note in view.notes:
        yield Text("note", style="dim"), Text(""), Text(note)
    for alarm in view.alarms:
        since = _clock(alarm.since_us, "%d %b %H:%M UTC") if alarm.since_us is not None else "unknown"
        text = Text(f"{alarm.priority}, since {since}: {alarm.facts.text}")
        yield Text("ALARM", style="bold red"), Text(alarm.name, style="bold red"), text


def _line(name: str, quantity: Quantity, text: str, style: str = "") -> tuple[Text, Text, Text]:
    said = quantity.said
    probes = f"{' - '.join(said.probes)}: " if said.probes else ""
    if quantity.decided:
        return Text(name), Text(_figure(quantity), style=style), Text(f"{probes}{text}")
    now = ""
    if said.status is Status.NOT_SETTLED and quantity.value is not None:
        now = f" (now {_figure(quantity).strip()})"
    return Text(name), Text(_WORDS[said.status], style="yellow"), Text(f"{probes}{said.text}{now}")


def _figure(quantity: Quantity) -> str:
    if quantity.value is None or quantity.below is None or quantity.above is None:
        return "-"
    below, above = f"{quantity.below:.1f}", f"{quantity.above:.1f}"
    spread = f"±{above}" if below == above else f"-{below} +{above}"
    return f"{quantity.value:5.1f} K {spread}"


def _age(microseconds: int) -> str:
    seconds = max(0, microseconds // 1_000_000)
    if seconds < 120:
        return f"{seconds} s"
    if seconds < 7200:
        return f"{seconds // 60} min"
    return f"{seconds // 3600} h"


def _clock(time_us: int, form: str) -> str:
    return datetime.fromtimestamp(time_us // 1_000_000, UTC).strftime(form)
