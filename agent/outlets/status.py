"""The modules now, for a terminal: figures with their uncertainty, the probe and why, alarms, age.

A quantity without a decided value says which of the four reasons it is; none is shown as a number.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime

from rich.console import Group
from rich.text import Text

from agent.assess import Assessment, Quantity, Status
from agent.outlets.metrics import unfit
from agent.outlets.view import ModuleView, StandingAlarm
from agent.piping import ACCUMULATOR_OUTLET, RETURN, RISE, Fitness

_WORDS = {
    Status.NOT_SETTLED: "not settled",
    Status.NOT_DECIDABLE: "not decidable",
    Status.MISSING: "missing",
    Status.NOT_MEASURABLE: "not measurable",
}


def render(views: Sequence[ModuleView], now_us: int, notes: Iterable[str] = ()) -> Group:
    """All modules, one block each."""
    head = Text(f"{_clock(now_us, '%Y-%m-%d %H:%M:%S')} UTC", style="bold")
    head.append(f"   {len(views)} modules, {_alarm_count(views)}", style="not bold")
    return Group(
        head, *(Text(note, style="dim") for note in notes), *(_block(view, now_us) for view in views)
    )


def _alarm_count(views: Iterable[ModuleView]) -> str:
    count = sum(len(view.alarms) for view in views)
    return "no alarm" if not count else f"{count} alarm{'s' if count > 1 else ''}"


def _block(view: ModuleView, now_us: int) -> Text:
    block = Text("\n")
    block.append(f"{view.path.system}/{view.path.module}", style="bold")
    assessment = view.assessment
    if assessment is None:
        return block.append("  nothing assessed yet")
    block.append(f"  {assessment.mode.replace('_', ' ')}")
    block.append(f"   assessed {_age(now_us - assessment.grid_us)} ago", style="dim")
    if view.newest_us is not None:
        block.append(f", newest reading {_age(now_us - view.newest_us)} old", style="dim")
    _line(block, "return superheat", assessment.quantities[RETURN], probe=True)
    _outlet(block, assessment)
    for probe, quantity in unfit(assessment):
        verdict, _ = assessment.fitness[probe]
        if verdict in (Fitness.MIXED, Fitness.PARTIAL, Fitness.UNPROVEN):
            _apparent(block, assessment, probe, quantity)
    _line(block, "oil-return rise", assessment.quantities[RISE])
    for alarm in view.alarms:
        _alarm(block, alarm)
    return block


def _line(block: Text, name: str, quantity: Quantity, *, probe: bool = False) -> None:
    said = quantity.said
    block.append(f"\n  {name:<19}")
    if quantity.decided:
        block.append(_figure(quantity), style="green" if probe else "")
        if probe:
            block.append(f"  at {', '.join(said.probes)}: {said.text}")
        return
    block.append(_WORDS[said.status], style="yellow")
    block.append(f": {said.text}")
    if said.status is Status.NOT_SETTLED and quantity.value is not None:
        block.append(f" (now {_figure(quantity)} at {', '.join(said.probes)})")


def _outlet(block: Text, assessment: Assessment) -> None:
    """Shown where the layout has a probe for it."""
    quantity = assessment.quantities[ACCUMULATOR_OUTLET]
    if quantity.said.probes:
        _line(block, "accumulator outlet", quantity)


def _apparent(block: Text, assessment: Assessment, probe: str, quantity: Quantity) -> None:
    verdict, reason = assessment.fitness[probe]
    block.append(f"\n  {'apparent superheat':<19}")
    if quantity.value is None:
        block.append(_WORDS[quantity.said.status], style="yellow")
        block.append(f": {quantity.said.text}")
    else:
        block.append(_figure(quantity), style="dim")
    block.append(f"  at {probe}, not to be trusted: {verdict}, {reason}", style="dim")


def _alarm(block: Text, alarm: StandingAlarm) -> None:
    since = _clock(alarm.since_us, "%d %b %H:%M") if alarm.since_us is not None else "unknown"
    block.append("\n  ALARM ", style="bold red")
    block.append(f"{alarm.name}", style="bold")
    block.append(f" ({alarm.priority}) since {since} UTC: {alarm.facts.text}")


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
