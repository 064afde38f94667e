"""Readings and assessments of a stretch of time as a table, CSV or JSON."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import IO, Any

import orjson
from rich.console import Console
from rich.table import Table

from agent.assess import AT_PROBE, SATURATED_SUCTION, Assessment, Status, without_figures
from agent.outlets.csv_rows import csv_text
from agent.outlets.figures import sides
from agent.outlets.highside import highside_columns
from agent.outlets.shown import SI, Display, spaced
from agent.outlets.times import iso
from agent.piping import ACCUMULATOR_CHANGE, ACCUMULATOR_OUTLET, COMPRESSOR_INLET, RETURN, RISE

FORMATS = ("table", "csv", "json")

_FIGURES = {
    "saturated_suction_celsius": SATURATED_SUCTION,
    "accumulator_outlet_superheat_kelvin": ACCUMULATOR_OUTLET,
    "compressor_inlet_superheat_kelvin": COMPRESSOR_INLET,
    "oil_return_rise_kelvin": RISE,
    "accumulator_change_kelvin": ACCUMULATOR_CHANGE,
}
Row = dict[str, Any]

_ALWAYS = (
    "time",
    "mode",
    "return_superheat_kelvin",
    "uncertainty_below_kelvin",
    "uncertainty_above_kelvin",
    "status",
    "probe",
    "reason",
)
READING_COLUMNS = ("time", "signal", "value", "unit")


def assessment_columns(bases: Iterable[str]) -> tuple[str, ...]:
    """What ``assessment_rows`` makes of assessments with these bases; without any, what every row has."""
    rows = assessment_rows((without_figures(basis) for basis in sorted(bases)), {})
    named = dict.fromkeys([*_ALWAYS, *(column for row in rows for column in row)])
    named.pop("alarms", None)
    return (*named, "alarms")


def assessment_rows(assessments: Iterable[Assessment], alarms: Mapping[int, Sequence[str]]) -> Iterator[Row]:
    """One row for each grid time; an empty field beside its status is not a zero.

    ``alarms``: names of the alarms that stand, by grid time.
    """
    for assessment in assessments:
        returned = assessment.quantities[RETURN]
        row: Row = {
            "time": iso(assessment.grid_us),
            "mode": assessment.mode,
            "return_superheat_kelvin": returned.value,
            "uncertainty_below_kelvin": returned.below,
            "uncertainty_above_kelvin": returned.above,
            "status": returned.said.status,
            "probe": " ".join(returned.said.probes),
            "reason": returned.said.text,
        }
        for column, name in _FIGURES.items():
            quantity = assessment.quantities[name]
            row[column] = quantity.value
            if name != SATURATED_SUCTION:
                row[column.removesuffix("_kelvin") + "_status"] = quantity.said.status
        for column, name, quantity in highside_columns(assessment):
            row[column] = quantity.value
            row[f"{name}_status"] = quantity.said.status
        for name, quantity in assessment.quantities.items():
            if name.startswith(AT_PROBE):
                row[f"superheat_at_{name.removeprefix(AT_PROBE)}_kelvin"] = quantity.value
        row["alarms"] = " ".join(alarms.get(assessment.grid_us, ()))
        yield row


def reading_rows(readings: Iterable[tuple[int, str, object, str | None]]) -> Iterator[Row]:
    """One row for each reading as received: sample time, signal, value, unit."""
    for time_us, name, value, unit in readings:
        yield {"time": iso(time_us), "signal": name, "value": value, "unit": unit}


def write_rows(rows: Iterable[Row], form: str, out: IO[str], display: Display = SI) -> int:
    """Write rows in one of FORMATS; returns how many there were. ``display``: of the table."""
    found = list(rows)
    if form == "json":
        out.write(orjson.dumps(found, option=orjson.OPT_INDENT_2).decode() + "\n")
    elif form == "csv" and found:
        columns = list(dict.fromkeys(column for row in found for column in row))
        out.write(csv_text(columns, found, header=True))
    elif form == "table" and found:
        if "mode" in found[0]:
            _print_table([_narrow(row, display) for row in found], out, display, LEGEND)
        else:
            _print_table([_by_clock(row, display) for row in found], out, display)
    return len(found)


PIPE_WIDTH = 160  # where the output is no terminal
LEGEND = "~ not settled   n/d not decidable   n/m not measurable   missing: a reading is not there"
_SHORT = {Status.NOT_DECIDABLE: "n/d", Status.NOT_MEASURABLE: "n/m", Status.MISSING: "missing"}
_COLUMNS = {"outlet": ACCUMULATOR_OUTLET, "inlet": COMPRESSOR_INLET, "rise": RISE}


def _by_clock(row: Row, display: Display) -> Row:
    """A reading as received, at its time by the site's clock."""
    if display.zone == SI.zone:
        return row
    time_us = _time_us(row)
    told = f"{display.at(time_us):%Y-%m-%d %H:%M:%S} {display.offset(time_us)}"
    return {str(display.zone): told, **{name: value for name, value in row.items() if name != "time"}}


def _time_us(row: Row) -> int:
    return round(datetime.fromisoformat(row["time"]).timestamp()) * 1_000_000


def _narrow(row: Row, display: Display) -> Row:
    """What of an assessment fits a terminal: figures to a tenth, and a mark where there is none."""
    spread = sides(row["uncertainty_below_kelvin"], row["uncertainty_above_kelvin"], display)
    time_us, unit = _time_us(row), display.difference_unit
    offset = "" if display.zone == SI.zone else f" {display.offset(time_us)}"
    return {
        str(display.zone): f"{display.at(time_us):%m-%d %H:%M:%S}{offset}",
        "mode": spaced(row["mode"]),
        f"return {unit}": _figure(row["return_superheat_kelvin"], row["status"], display),
        "U": spread,
        "probe": row["probe"],
        **{
            f"{c} {unit}": _figure(row[f"{name}_kelvin"], row[f"{name}_status"], display)
            for c, name in _COLUMNS.items()
        },
        "alarms": row["alarms"],
    }


def _figure(value: float | None, status: str, display: Display) -> str:
    if value is None or status in _SHORT:
        return _SHORT.get(Status(status), "-")
    told = f"{display.difference(value):z.1f}"
    return f"~{told}" if status == Status.NOT_SETTLED else told


def _print_table(rows: Sequence[Row], out: IO[str], display: Display, legend: str = "") -> None:
    nothing = (None, "", *_SHORT.values())
    unit, zone = f" {display.difference_unit}", str(display.zone)
    always = (f"return{unit}", "alarms")
    shown = [c for c in rows[0] if c in always or any(row[c] not in nothing for row in rows)]
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for column in shown:
        figure = column.endswith(unit)
        table.add_column(
            column, overflow="fold", justify="right" if figure else "left", no_wrap=column == zone
        )
    for row in rows:
        table.add_row(*("" if row[column] is None else str(row[column]) for column in shown))
    console = Console(file=out, width=None if out.isatty() else PIPE_WIDTH)
    console.print(table)
    if legend:
        console.print(f"\n{legend}", style="dim")
