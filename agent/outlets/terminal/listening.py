"""What was heard of a site, for a terminal: what arrives and what not, what is unmapped, what looks wrong."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.progress_bar import ProgressBar
from rich.table import Table
from rich.text import Text

from agent.assess import SECOND, Suspicion
from agent.outlets.cautions import HEAD, cautions
from agent.outlets.figures import difference, level
from agent.outlets.shown import SI, Display, number_of
from agent.outlets.terminal.heard import Heard, HeardModule, HeardSignal, HeardSite, Progress, Unmapped
from agent.outlets.times import age
from agent.units import Dimension

_OTHERS = {  # in SI for everybody: unit, decimals
    Dimension.FREQUENCY: ("Hz", 1),
    Dimension.CURRENT: ("A", 1),
    Dimension.RATIO: ("", 2),
}
_PRESSURE_DECIMALS = {"bar": 2, "psi": 1}
MOST_REFUSED = 3
_STYLE = {Heard.NOT_DUE: "dim", Heard.SILENT: "yellow"}


def render_heard(site: HeardSite, *, over: bool = True, display: Display = SI) -> Group:
    """All that was heard. While it is not ``over``: the modules without a finding in a line each."""
    parts: list[RenderableType] = [_head(site)]
    for module in site.modules:
        parts += _module(module, display) if over or not module.is_fine else [_in_a_line(module)]
    if site.unmapped:
        parts += _unmapped(site)
    parts += [Text(f"\n{note}", style="yellow") for note in site.notes]
    if over:
        parts += _cannot_tell(site, display)
    if over and any(signal.count for signal in site.signals):
        parts.append(Text(f"\n{_legend(display)}", style="dim"))
    if over:
        if site.suspicions:
            parts.append(_cautions(site))
        parts.append(Text.assemble("\n", ("Next: ", "bold"), next_step(site)))
    return Group(*parts)


def listen_progress(now: Progress, span_us: int) -> Table:
    """A bar and what came so far, on one line."""
    line = Table.grid(padding=(0, 1, 0, 0))
    said = f"{age(span_us - now.listened_us)} left: {now.heard} of {now.mapped} mapped signals, "
    said += f"{now.unmapped} unmapped, {number_of(now.messages, 'message')}"
    line.add_row(ProgressBar(span_us, now.listened_us, width=20), Text(said))
    return line


def next_step(site: HeardSite) -> str:
    """What to do next, in a sentence."""
    if site.is_too_early:
        span = _long_enough(site.signals)
        return f"too early to tell: nothing came, and nothing is due yet; listen for longer (--for {span})"
    if not site.messages and not site.count(Heard.ARRIVING):
        topics = ", ".join(site.filters[:2])
        return f"nothing came on {topics}: look at the gateway, the topics, and what this user may read"
    lost = site.count(Heard.SILENT, Heard.OLD, Heard.REFUSED, Heard.RETAINED)
    if site.suspicions:
        first = "the first suspicion above" if len(site.suspicions) > 1 else "the suspicion above"
        return f"look into {first}, mend the configuration or the wiring, and listen again"
    if lost:
        which = next(s.name for s in site.signals if s.state not in (Heard.ARRIVING, Heard.NOT_DUE))
        more = ", ..." if lost > 1 else ""
        return f"find out why {number_of(lost, 'mapped signal')} ({which}{more}) cannot be used"
    waiting = [signal for signal in site.signals if signal.state is Heard.NOT_DUE]
    if waiting:
        return (
            f"listen for longer: {number_of(len(waiting), 'signal')} may still come "
            f"(--for {_long_enough(waiting)}), or let --store show what the agent has of them"
        )
    if site.unmapped:
        left = number_of(len(site.unmapped), "unmapped record")
        return f"everything mapped arrives; map what is wanted of the {left}, or leave it"
    return "everything mapped arrives and nothing looks wrong: dewline run, then dewline status"


def _long_enough(signals: Iterable[HeardSignal]) -> str:
    """How long to listen until the silence of each says something, as ``--for`` takes it."""
    longest_us = max(s.max_age_us if s.on_change else 2 * s.every_us for s in signals)
    return f"{-(-longest_us // (60 * SECOND))}min"


def _head(site: HeardSite) -> Text:
    arriving, mapped = site.count(Heard.ARRIVING), len(list(site.signals))
    found = Text(f"Listened {age(site.listened_us)} at {site.broker}", style="bold")
    store = f", with the store's last {age(site.from_store_us)}" if site.from_store_us else ""
    rest = f"{store}: {number_of(site.messages, 'message')}, {arriving} of {mapped} mapped signals arrive"
    for state in (Heard.NOT_DUE, Heard.SILENT, Heard.REFUSED, Heard.RETAINED, Heard.OLD):
        if number := site.count(state):
            rest += f", {number} {state}"
    found.append(rest, style="not bold")
    found.append(f", {len(site.unmapped) + site.more_unmapped} unmapped", style="not bold")
    suspected = number_of(len(site.suspicions), "suspicion") if site.suspicions else "no suspicion"
    return found.append(f", {suspected}", style="bold red" if site.suspicions else "not bold")


def _module(module: HeardModule, display: Display) -> Iterator[RenderableType]:
    head = Text(f"\n{module.path.local}", style="bold")
    head.append(f"  {module.layout}, {module.refrigerant}, on {module.topic}", style="not bold")
    if module.clock_behind_us is not None and abs(module.clock_behind_us) >= 5 * SECOND:
        side = "behind" if module.clock_behind_us > 0 else "ahead"
        head.append(f", its clock {age(abs(module.clock_behind_us))} {side}", style="not bold yellow")
    yield head
    arriving = [signal for signal in module.signals if signal.count or signal.state is Heard.ARRIVING]
    if arriving:
        yield _table(arriving, display)
    lines = Table.grid(padding=(0, 2, 0, 0))
    lines.add_column(no_wrap=True)
    lines.add_column(overflow="fold")
    for state, causes in _by_state(module):
        for detail, names in causes:
            label = Text(f"  {state}", style=_STYLE.get(state, "bold yellow"))
            lines.add_row(label, Text(f"{', '.join(names)}: {printable(detail)}"))
    if any(signal.count for signal in module.signals):
        for said in module.refused[:MOST_REFUSED]:
            lines.add_row(Text("  refused", style="dim"), Text(f"on its topic, {printable(said)}"))
    if lines.row_count:
        yield lines
    for suspicion in module.findings.suspicions:
        yield Padding(_suspicion(suspicion, display), (1, 0, 0, 2))


def _in_a_line(module: HeardModule) -> Text:
    line = Text(f"\n{module.path.local}", style="bold")
    return line.append(f"  all {len(module.signals)} signals arrive, nothing looks wrong", style="not bold")


def _by_state(module: HeardModule) -> Iterator[tuple[Heard, list[tuple[str, list[str]]]]]:
    """What does not arrive, signals with the same cause together."""
    for state in (Heard.SILENT, Heard.REFUSED, Heard.RETAINED, Heard.OLD, Heard.NOT_DUE):
        causes: dict[str, list[str]] = {}
        for signal in module.in_state(state):
            causes.setdefault(signal.detail, []).append(signal.name)
        if causes:
            yield state, list(causes.items())


def _table(signals: Iterable[HeardSignal], display: Display) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
    table.add_column("  signal", no_wrap=True)
    for column in ("received", "is", "age", "every s", "step", "±", "n"):
        table.add_column(column, justify="right", no_wrap=True)
    for signal in signals:
        name = f"  {signal.name}" + (f"\n    point {signal.point}" if signal.point != signal.name else "")
        table.add_row(
            Text(name),
            Text(_received(signal)),
            Text(_is(signal, display)),
            _age(signal),
            _every(signal),
            _step(signal, display),
            _size(signal.accuracy, signal, display) if signal.accuracy else "",
            str(signal.count),
        )
    return table


def _age(signal: HeardSignal) -> str:
    """A little below zero is a clock ahead of ours."""
    if signal.age_us is None:
        return "?"
    return f"-{age(-signal.age_us)}" if signal.age_us <= -SECOND else age(signal.age_us)


def _received(signal: HeardSignal) -> str:
    shown = f"{signal.raw:.10g}" if isinstance(signal.raw, float) else printable(str(signal.raw))
    unit = signal.unit.removesuffix(" gauge").removesuffix(" absolute")
    return f"{shown[:16]} {unit}".strip()


def _is(signal: HeardSignal, display: Display) -> str:
    if signal.value is None:
        return "?"
    return signal.meaning if signal.meaning is not None else _value(signal.value, signal, display)


def _value(value: float, signal: HeardSignal, display: Display) -> str:
    """A value in the site's units, with its unit."""
    match Dimension(signal.dimension):
        case Dimension.TEMPERATURE:
            return level(value, display)
        case Dimension.DIFFERENCE:
            return difference(value, display)
        case Dimension.PRESSURE:
            decimals = _PRESSURE_DECIMALS.get(display.pressure_unit, 0)
            return f"{display.pressure(value):.{decimals}f} {display.pressure_unit}"
        case other:
            unit, decimals = _OTHERS.get(other, ("", 3))
            return f"{value:.{decimals}f} {unit}".strip()


def _size(size: float, signal: HeardSignal, display: Display) -> str:
    """A step or a limit of error in the unit of the value: a difference."""
    match Dimension(signal.dimension):
        case Dimension.TEMPERATURE | Dimension.DIFFERENCE:
            return f"{display.difference(size):.4g}"
        case Dimension.PRESSURE if display.pressure_unit == SI.pressure_unit:
            return f"{display.pressure(size):.0f}"
        case Dimension.PRESSURE:
            return f"{display.pressure(size):.3g}"
        case _:
            return f"{size:.4g}"


def _legend(display: Display) -> str:
    of = "SI" if display.has_si_units else "the units of the site"
    return (
        f"received: last value and unit as it came; is: the same in {of}, pressures absolute; every and "
        "step: seen/configured; ±: limit of error as configured; n: values heard"
    )


def _every(signal: HeardSignal) -> Text:
    configured = f"{signal.every_us / SECOND:.0f}"
    if signal.on_change:
        return Text("change")
    if signal.period_us is None:
        return Text(f"?/{configured}")
    late = signal.period_us > 1.5 * signal.every_us
    return Text(f"{signal.period_us / SECOND:.0f}/{configured}", style="bold red" if late else "")


def _step(signal: HeardSignal, display: Display) -> Text:
    if not signal.accuracy:
        return Text("")
    seen = _size(signal.step_seen, signal, display) if signal.step_seen is not None else "?"
    return Text(f"{seen}/{_size(signal.step, signal, display)}")


def _suspicion(suspicion: Suspicion, display: Display) -> Table:
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    table.add_row(Text("SUSPECT", style="bold red"), Text(", ".join(suspicion.signals), style="bold red"))
    table.add_row(Text("seen", style="dim"), Text(display.words(suspicion.seen)))
    table.add_row(Text("means", style="dim"), Text(display.words(suspicion.would)))
    table.add_row(Text("look at", style="dim"), Text(display.words(suspicion.look)))
    return table


def _unmapped(site: HeardSite) -> Iterator[RenderableType]:
    yield Text("\nArriving and unmapped", style="bold")
    for topic, records in groupby(site.unmapped, lambda each: each.topic):
        yield Text(f"  {printable(topic)}")
        table = Table.grid(padding=(0, 2, 0, 0))
        for _ in ("name", "value", "count"):
            table.add_column(no_wrap=True)
        table.add_column(overflow="fold")
        for each in records:
            table.add_row(
                Text(f"    {each.name or '(payload)'}"),
                _last(each),
                f"{each.count} x",
                Text(_of_unmapped(each)),
            )
        yield table
    if site.more_unmapped:
        yield Text(f"  and {site.more_unmapped} more")


def _last(record: Unmapped) -> Text:
    if record.value is None:
        return Text("")
    shown = f"{record.value:.10g}" if isinstance(record.value, float) else printable(str(record.value))
    return Text(f"{shown[:24]} {printable(record.unit or '')}".strip())


def _of_unmapped(record: Unmapped) -> str:
    if record.reason:
        return f"cannot be read, {record.reason}: {record.detail}"
    return f"may be {record.likely}" if record.likely else ""


def _cannot_tell(site: HeardSite, display: Display) -> Iterator[RenderableType]:
    """What could not be told, each sentence once with its modules."""
    modules: dict[str, list[str]] = {}
    for module in site.modules:
        for sentence in module.findings.cannot_tell:
            modules.setdefault(sentence, []).append(module.path.local)
    if modules:
        yield Text("\nCannot tell", style="bold")
    for sentence, names in modules.items():
        everywhere = len(names) == len(site.modules) > 1
        where = "all modules" if everywhere else ", ".join(names)
        yield Padding(Text(f"{where}: {display.words(sentence)}"), (0, 0, 0, 2))


def _cautions(site: HeardSite) -> Text:
    said = " ".join(cautions(module.refrigerant for module in site.modules))
    return Text(f"\n{HEAD} {said}", style="dim")


def printable(text: str) -> str:
    """Text from outside, fit for a terminal."""
    return "".join(each if each.isprintable() else "?" for each in text)
