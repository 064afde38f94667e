"""Readings and assessments of a stretch of time as a table, CSV or JSON."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import IO, Any

import orjson
from rich.console import Console
from rich.table import Table

from agent.assess import AT_PROBE, SATURATED_SUCTION, Assessment
from agent.outlets.messages import iso
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
        for name, quantity in assessment.quantities.items():
            if name.startswith(AT_PROBE):
                row[f"superheat_at_{name.removeprefix(AT_PROBE)}_kelvin"] = quantity.value
        row["alarms"] = " ".join(alarms.get(assessment.grid_us, ()))
        yield row


def reading_rows(readings: Iterable[tuple[int, str, object, str | None]]) -> Iterator[Row]:
    """One row for each reading as received: sample time, signal, value, unit."""
    for time_us, name, value, unit in readings:
        yield {"time": iso(time_us), "signal": name, "value": value, "unit": unit}


def write_rows(rows: Iterable[Row], form: str, out: IO[str]) -> int:
    """Write rows in one of FORMATS; returns how many there were."""
    found = list(rows)
    if form == "json":
        out.write(orjson.dumps(found, option=orjson.OPT_INDENT_2).decode() + "\n")
    elif form == "csv" and found:
        writer = csv.DictWriter(out, fieldnames=list(found[0]), restval="", extrasaction="ignore")
        writer.writeheader()
        writer.writerows(found)
    elif form == "table" and found:
        _print_table(found, out)
    return len(found)


def _print_table(rows: Sequence[Row], out: IO[str]) -> None:
    """What fits a terminal: columns that hold anything, figures to a tenth."""
    shown = [c for c in rows[0] if c == "time" or any(row.get(c) not in (None, "") for row in rows)]
    narrow = [
        c for c in shown if not c.startswith("uncertainty") and not c.endswith("_status") and c != "reason"
    ]
    table = Table(box=None, pad_edge=False)
    for column in narrow:
        figure = any(isinstance(row.get(column), float) for row in rows)
        name = column.replace("_kelvin", " K").replace("_celsius", " degC").replace("_", " ")
        table.add_column(name, justify="right" if figure else "left")
    for row in rows:
        table.add_row(*(_cell(row, column) for column in narrow))
    Console(file=out).print(table)


def _cell(row: Row, column: str) -> str:
    value = row.get(column)
    if isinstance(value, float):
        return f"{value:.1f}"
    if value is None:
        status = row.get(column.removesuffix("_kelvin") + "_status", row.get("status", ""))
        return str(status).replace("_", " ")
    return str(value)
