"""Then and now as a table, and the sentence on what it says of the probe."""

from __future__ import annotations

from typing import NamedTuple

from agent.assess import (
    AT_PROBE,
    DISCHARGE_TEMPERATURE,
    PRESSURE_RATIO,
    SATURATED_CONDENSING,
    SATURATED_SUCTION,
    SUBCOOLING,
)
from agent.outlets.figures import difference, level
from agent.outlets.shown import Display, spaced
from agent.outlets.visit.brief import Brief
from agent.outlets.visit.then_now import Compared, Says, Settled, ThenNow, change, says
from agent.piping import RETURN, RISE

_NAMES = {
    RETURN: "return superheat",
    RISE: "oil-return rise",
    SUBCOOLING: "subcooling",
    SATURATED_SUCTION: "saturated suction",
    SATURATED_CONDENSING: "saturated condensing",
    PRESSURE_RATIO: "pressure ratio",
}
_TEMPERATURES = (SATURATED_SUCTION, SATURATED_CONDENSING)
_SAYS = {
    Says.MACHINE: (
        "The discharge went with superheat, by more than its uncertainty and than the pressures explain: "
        "that speaks for the machine, not for the probe."
    ),
    Says.PROBE: (
        "The discharge did not move with superheat, though it would have to: look at the probe first, "
        "whether it sits tight and insulated, and at its wiring."
    ),
    Says.OPEN: "This does not tell whether it is the machine or the probe.",
}
_RULE = "(A rule of the trade.)"


class Row(NamedTuple):
    """A quantity, its figure then and now, and the change; a word where it has no settled value."""

    name: str
    then: str
    now: str
    change: str


class Table(NamedTuple):
    """Both hours of an alarm, in words."""

    title: str
    then: str
    now: str
    rows: tuple[Row, ...]
    says: str


def table(brief: Brief) -> Table | None:
    """None: no alarm stands whose beginning is known, or there is nothing to compare."""
    found, display = brief.then_now, brief.display
    if found is None or all(isinstance(row.then, str) for row in found.rows):
        return None
    title = f"Then and now: {found.alarm}, settled values in {spaced(found.mode)}, medians"
    rows = tuple(_row(each, display) for each in found.rows)
    return Table(
        title,
        _span(found.then_us, display),
        _span(found.now_us, display),
        rows,
        _said(found),
    )


def _said(found: ThenNow) -> str:
    """Empty where superheat has no figure then or now, or moved by no more than its uncertainty."""
    returned = change(found, RETURN)
    if returned is None or abs(returned.by) <= returned.u:
        return ""
    return f"{_SAYS[says(found)]} {_RULE}"


def _span(span: tuple[int, int], display: Display) -> str:
    begin, end = (display.at(us) for us in (span[0], span[1] + 1))
    return f"{begin:%d %b %H:%M} to {end:%H:%M}"


def _row(row: Compared, display: Display) -> Row:
    then, now = row.then, row.now
    return Row(
        _name(row.name), _figure(row, then, display), _figure(row, now, display), _change(row, display)
    )


def _name(name: str) -> str:
    if name.startswith(AT_PROBE):
        return f"superheat at {name.removeprefix(AT_PROBE)} (not fit)"
    if name.startswith(DISCHARGE_TEMPERATURE):
        return f"discharge temperature {name.removeprefix(DISCHARGE_TEMPERATURE)}"
    return _NAMES[name]


def _is_temperature(name: str) -> bool:
    return name in _TEMPERATURES or name.startswith(DISCHARGE_TEMPERATURE)


def _figure(row: Compared, settled: Settled | str, display: Display) -> str:
    if isinstance(settled, str):
        return settled
    if row.name == PRESSURE_RATIO:
        return f"{settled.value:.2f}"
    if _is_temperature(row.name):
        return level(settled.value, display)
    return difference(settled.value, display)


def _change(row: Compared, display: Display) -> str:
    """With the uncertainty of one figure: the same instrument read both."""
    if isinstance(row.then, str) or isinstance(row.now, str):
        return "\u2013"
    by, u = row.now.value - row.then.value, max(row.then.u, row.now.u)
    if row.name == PRESSURE_RATIO:
        return f"{by:+z.2f} (U {u:.2f})"
    by, u = display.difference(by), display.difference(u)
    return f"{by:+z.1f} {display.difference_unit} (U {u:.1f})"
