"""What a configuration comes to, for a terminal and for a program: mistakes, or what each module can measure.

The figures are expected ones, of an invented quiet hour; nothing here has been measured.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from agent.assess import Assessment, Quantity, Status, typical_dew_c
from agent.outlets.figures import NONE, sides
from agent.outlets.shown import SI, Display, number_of, spaced
from agent.piping import ACCUMULATOR_OUTLET, COMPRESSOR_INLET, RETURN, RISE, Standing
from agent.settings import QUANTITIES, Alike, Finding, Plan

SHOWN = (RETURN, ACCUMULATOR_OUTLET, COMPRESSOR_INLET, RISE)
NAMED = 3  # modules in a heading, before it only counts
GOODNESS = {
    Standing.FIT: "fit",
    Standing.COVERING: "together they see all",
    Standing.SECOND_BEST: "second best",
    Standing.AFTER_ACCUMULATOR: "second best",
    Standing.UPPER_BOUND: "upper bound",
    Standing.MIXED: "mixed",
}


def render_wrong(findings: Sequence[Finding]) -> Group:
    """A configuration that cannot be used."""
    head = f"The configuration cannot be used: {number_of(len(findings), 'mistake')}."
    return Group(Text(head, style="bold red"), *_placed(findings))


def render_check(
    plan: Plan, groups: Iterable[Alike], notes: Sequence[Finding], display: Display = SI
) -> Group:
    """A configuration that can be used: what to expect of each module, and what is worth knowing."""
    head = Text(
        f"The configuration can be used: {number_of(len(plan.modules), 'module')}.", style="bold green"
    )
    blocks = [block for group in groups for block in _block(group, display)]
    about = "Expected, with every inlet shut that a valve can shut; uncertainty with k = 2."
    dim = [Text(line, style="dim") for line in (_kept(plan), about)]
    if not notes:
        return Group(head, *dim, *blocks)
    title = Text(f"\n{number_of(len(notes), 'note')}; nothing of this hinders running.", style="bold yellow")
    told = [note._replace(message=display.words(note.message)) for note in notes]
    return Group(head, *dim, *blocks, title, *_placed(told))


def _kept(plan: Plan) -> str:
    days = plan.settings.store.keep_readings_days
    if days is None:
        return "Everything is kept for ever."
    return (
        f"Readings are kept for {days} days; then, for ever, what they came to by the quarter of an hour. "
        "Assessments, hours and alarms are kept for ever."
    )


def check_mapping(
    plan: Plan | None, groups: Iterable[Alike], findings: Iterable[Finding], notes: Iterable[Finding]
) -> dict[str, Any]:
    """The same as plain data, for JSON. ``plan``: None where the configuration cannot be used."""
    return {
        "usable": plan is not None,
        "findings": [finding._asdict() for finding in findings],
        "notes": [note._asdict() for note in notes],
        "keep_readings_days": None if plan is None else plan.settings.store.keep_readings_days,
        "modules": [_module(module.path._asdict(), group) for group in groups for module in group.modules],
    }


def _module(path: dict[str, str], group: Alike) -> dict[str, Any]:
    core = group.first.module
    return {
        **path,
        "layout": core.layout.name,
        "refrigerant": core.refrigerant,
        "modes": {
            mode: {
                "dew_temperature_celsius": typical_dew_c(mode),
                "quantities": {name: _expected(assessment.quantities[name]) for name in QUANTITIES},
            }
            for mode, assessment in group.modes.items()
        },
    }


def _expected(quantity: Quantity) -> dict[str, Any]:
    return {
        "status": quantity.said.status,
        "standing": quantity.said.standing,
        "probes": quantity.said.probes,
        "reason": quantity.said.text,
        "uncertainty_below": quantity.below,
        "uncertainty_above": quantity.above,
    }


def _block(group: Alike, display: Display) -> Iterator[RenderableType]:
    names = [module.path.local for module in group.modules]
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    head = Text("\n").append(f"{', '.join(names[:NAMED])}{more}", style="bold")
    core = group.first.module
    yield head.append(f"  {core.layout.name}, {core.refrigerant}", style="not bold dim")
    if not group.modes:
        yield Text("  nothing is judged: the layout is not known", style="yellow")
    for mode, assessment in group.modes.items():
        yield Text(display.words(f"  {mode}, at a dew temperature of {typical_dew_c(mode):g} degC"))
        yield _quantities(assessment, display)


def _quantities(assessment: Assessment, display: Display) -> Table:
    lines = Table.grid(padding=(0, 2, 0, 0))
    for _ in ("indent", "quantity", "uncertainty"):
        lines.add_column(no_wrap=True)
    lines.add_column(overflow="fold")
    for name in SHOWN:
        quantity = assessment.quantities[name]
        lines.add_row(
            "  ",
            QUANTITIES[name].removesuffix(" superheat" if name != RETURN else ""),
            *_words(quantity, display),
        )
    return lines


def _words(quantity: Quantity, display: Display) -> tuple[Text, Text]:
    said = quantity.said
    if said.status is not Status.DECIDED or said.standing is None:
        return Text(spaced(said.status), style="yellow"), Text(display.words(said.text))
    style = "green" if said.standing is Standing.FIT else ""
    good = GOODNESS.get(said.standing, said.standing)
    text = Text(" - ".join(said.probes), style="bold").append(
        f", {good}: {display.words(said.text)}", style="not bold"
    )
    return Text(_spread(quantity, display), style=style), text


def _spread(quantity: Quantity, display: Display) -> str:
    found = sides(quantity.below, quantity.above, display)
    return f"{found} {display.difference_unit}" if found else NONE


def _placed(findings: Iterable[Finding]) -> Iterator[RenderableType]:
    for finding in findings:
        yield Text(f"{finding.file}:{finding.line}:{finding.column}", style="cyan", overflow="fold")
        yield Padding(Text(finding.message, overflow="fold"), (0, 0, 0, 4))
