"""Rows of the past: each format reads back, and no value, zero and the four reasons stay apart."""

import csv
import dataclasses
import io
import json

import pytest

from agent.assess import AT_PROBE
from agent.outlets import assessment_rows, reading_rows, write_rows
from tests.outlets.views import MINUTE_US, NOON_US, NOT_DECIDABLE, UNDECIDED, assessment, decided

SHORT = {"not settled": "~3.3", "not decidable": "n/d", "missing": "missing", "not measurable": "n/m"}
READINGS = [
    (NOON_US, "suction_pipe", 12.25, "Cel"),
    (NOON_US, "bypass_valve", 0, None),
    (NOON_US + MINUTE_US, "mode", 'a "word", and a comma', None),
]


def written(rows, form):
    out = io.StringIO()
    count = write_rows(rows, form, out)
    return out.getvalue(), count


def read_csv(text):
    return list(csv.DictReader(io.StringIO(text, newline="")))


def of(*assessments, alarms=None):
    return assessment_rows(assessments, alarms or {})


def test_csv_reads_back_as_it_was():
    later = assessment(NOON_US + MINUTE_US, returned=decided(0.0, 1.7, 0.7, "suction_pipe"))
    text, count = written(of(assessment(), later, alarms={NOON_US: ("superheat-low", "probe-unfit")}), "csv")
    first, second = read_csv(text)
    assert count == 2
    assert first["time"] == "2025-11-25T12:00:00Z" and second["time"] == "2025-11-25T12:01:00Z"
    assert float(first["return_superheat_kelvin"]) == 6.0
    assert float(second["return_superheat_kelvin"]) == 0.0
    assert first["probe"] == "suction_pipe" and first["status"] == "decided"
    assert first["alarms"] == "superheat-low probe-unfit" and second["alarms"] == ""
    assert float(first["superheat_at_compressor_inlet_kelvin"]) == 9.0


@pytest.mark.parametrize("status", UNDECIDED)
def test_each_reason_stands_in_every_format(status):
    odd = UNDECIDED[status]
    assessments = [assessment(returned=odd, rise=odd, inlet=odd), assessment(NOON_US + MINUTE_US)]
    word = status.replace(" ", "_")
    row = read_csv(written(of(*assessments), "csv")[0])[0]
    assert row["status"] == row["oil_return_rise_status"] == row["compressor_inlet_superheat_status"] == word
    value = "" if odd.value is None else str(odd.value)
    assert row["return_superheat_kelvin"] == row["oil_return_rise_kelvin"] == value
    row = json.loads(written(of(*assessments), "json")[0])[0]
    assert row["status"] == word and row["return_superheat_kelvin"] == odd.value
    table, _ = written(of(*assessments), "table")
    (line,) = [line for line in table.splitlines() if "12:00:00" in line]
    assert line.split().count(SHORT[status]) == 3
    assert SHORT[status][:3] in table.splitlines()[-1] or status in table.splitlines()[-1]


def test_a_table_of_a_day_without_any_decided_value_says_why():
    table, _ = written(of(*(assessment(NOON_US + n, returned=NOT_DECIDABLE) for n in range(3))), "table")
    assert "return K" in table
    assert table.count("n/d") >= 3


def test_a_probe_that_only_a_later_layout_has_is_not_lost_in_csv():
    """The layout was changed within the stretch: one more probe from then on."""
    later = assessment(NOON_US + MINUTE_US)
    more = {**later.quantities, f"{AT_PROBE}accumulator_outlet": decided(4.5, 1, 1, "accumulator_outlet")}
    later = dataclasses.replace(later, quantities=more)
    first, second = read_csv(written(of(assessment(), later), "csv")[0])
    assert second["superheat_at_accumulator_outlet_kelvin"] == "4.5"
    assert first["superheat_at_accumulator_outlet_kelvin"] == ""
    assert second["alarms"] == ""


@pytest.mark.parametrize("form", ["csv", "json"])
def test_readings_keep_value_and_unit_as_received(form):
    text, count = written(reading_rows(READINGS), form)
    rows = read_csv(text) if form == "csv" else json.loads(text)
    assert count == 3
    assert [row["signal"] for row in rows] == ["suction_pipe", "bypass_valve", "mode"]
    assert float(rows[0]["value"]) == 12.25 and rows[0]["unit"] == "Cel"
    assert float(rows[1]["value"]) == 0 and not rows[1]["unit"]
    assert rows[2]["value"] == 'a "word", and a comma'


def test_readings_as_a_table():
    table, _ = written(reading_rows(READINGS), "table")
    assert len(table.splitlines()) == 4
    assert "12.25" in table and "Cel" in table and "None" not in table


def test_nothing_is_an_empty_list_in_json_and_nothing_at_all_otherwise():
    assert written([], "json") == ("[]\n", 0)
    assert written([], "csv") == written([], "table") == ("", 0)
